"""Crew pack and dossier read back as text and as pictures: nothing a crew needs may be missing.

Text is read with pypdfium2 in the order of the document, table rows with pdfplumber; the QR code
with zxing-cpp, which shares no code with the library that wrote it.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from ctypes import c_double
from functools import cache, partial
from math import hypot
from typing import Any

import pypdfium2
import pypdfium2.raw as pdfium
import pytest
import zxingcpp

from depth import DEEP
from planned import SITE, planned
from sheets.plans import COMPLETE, example, solid, without_fastener, without_range
from splicewright.job import DEFER, JointLoads, JointPlan, loads_of
from splicewright.joint.loads.making_limits import DERIVED
from splicewright.plant import JobKind
from splicewright.quantities import Given, Kind, System, show
from splicewright.sheets.canvas.expansion import primitives
from splicewright.sheets.canvas.paper import A4, LETTER, Paper
from splicewright.sheets.canvas.scene import Text
from splicewright.sheets.crew_pack.card import card
from splicewright.sheets.crew_pack.dossier import dossier
from splicewright.sheets.crew_pack.pack import crew_pack
from splicewright.sheets.drawings.at_rest import clamp_drawing

MM = 25.4 / 72.0
PAPERS = {"A4": A4, "Letter": LETTER}
SYSTEMS: tuple[System, ...] = ("metric", "inch")
USUAL: dict[System, str] = {"metric": "A4", "inch": "Letter"}
SETS = [(s, p) for s in SYSTEMS for p in PAPERS if DEEP or USUAL[s] == p]
"""Units and paper: as they usually go together, and crosswise in the deep run."""
PLANS: dict[str, Callable[[], JointPlan]] = {
    **{name: partial(example, name) for name in COMPLETE},
    "solid": solid,
    "without fastener": without_fastener,
    "without range": without_range,
}


MAKERS: dict[str, Callable[..., bytes]] = {"crew": crew_pack, "dossier": dossier}


@cache
def _loads(name: str) -> JointLoads | None:
    told = PLANS[name]()
    return loads_of(told) if told.complete else None


@cache
def _pdf_of(name: str, system: System, paper: str, which: str) -> bytes:
    return MAKERS[which](PLANS[name](), system, PAPERS[paper], loads=_loads(name))


def pdf_of(name: str, system: System = "metric", paper: str = "", which: str = "crew") -> bytes:
    """A PDF of the plan, on the paper usual with these units where none is asked for."""
    return _pdf_of(name, system, paper or USUAL[system], which)


@cache
def pages(
    name: str, system: System = "metric", paper: str = "", which: str = "crew"
) -> tuple[str, ...]:
    """The text of every page, blanks and line ends made one space."""
    pdf = pypdfium2.PdfDocument(pdf_of(name, system, paper, which))
    found = []
    for page in pdf:
        text_page = page.get_textpage()
        found.append(plain(text_page.get_text_range()))
        text_page.close()
        page.close()
    pdf.close()
    return tuple(found)


def plain(text: str) -> str:
    return " ".join(text.replace("￾", "").split())


CREW = {
    "Isolation": "Isolation Work down the list",
    "Parts, tools, packing list": "Parts, tools, packing list Tick when packed",
    "Steps": "Steps In this order.",
    "Follow-up": "Follow-up A new joint settles",
    "Acceptance": "Fill in before the clamps",
    "Marking card": "Marking card, ",
}
"""Sections of the crew pack in their order, and the words each begins with."""
DOSSIER = ("Marking and cutting", "Plates and holes", "Finished joint", "Plate loads",
           "Bolts and smallest pulley", "Loop and demand", "Worksheet")  # fmt: skip


def page_of(name: str, heading: str, system: System = "metric") -> str:
    """A section of either PDF, up to the next; in the crew pack they follow on one page."""
    if heading in CREW:
        whole = " ".join(pages(name, system))
        start = whole.index(CREW[heading])
        ends = [whole.find(words, start + 1) for words in CREW.values()]
        return whole[start : min((end for end in ends if end > 0), default=len(whole))]
    taken, inside = [], False
    for text in pages(name, system, which="dossier")[1:]:
        body = text.split("NOT FOR REAL WORK", 1)[-1].strip()
        started = next((h for h in DOSSIER if body.startswith(h)), None)
        inside = started == heading if started else inside
        if inside:
            taken.append(text)
    assert taken, heading
    return " ".join(taken)


KINDS = sorted(
    (job.name.split("-")[0], job.stem) for job in (SITE / "jobs").glob("*.toml")
)  # fmt: skip
QUICK = {"flat-emergency-pin", "incline-vulcanised", "incline-round", "shuttle-hole"}


@pytest.mark.parametrize(("conveyor", "job"), [k for k in KINDS if DEEP or k[1] in QUICK])
def test_every_kind_of_job_has_its_pack(conveyor: str, job: str) -> None:
    """Parts that a kind does not need (an emergency pin has no bolts) are no reason to have none;
    letters and pages are those of any pack."""
    told = planned(conveyor, job)
    pdf = pypdfium2.PdfDocument(crew_pack(told))
    assert len(pdf) <= 16
    assert min(size for page in pdf for _, size in letters(page)) >= 9.95
    whole = plain(" ".join(page.get_textpage().get_text_range() for page in pdf))
    for step in told.steps:
        assert step.title in whole
    for part in told.parts:
        assert part.name in whole
    assert ("Acceptance Fill in before" in whole) == told.work.job.plated
    pdf.close()


@pytest.mark.parametrize("which", MAKERS)
@pytest.mark.parametrize(("system", "paper"), SETS)
@pytest.mark.parametrize("name", PLANS)
def test_pages_are_exactly_the_papers_and_not_too_many(
    name: str, system: System, paper: str, which: str
) -> None:
    """What a crew carries for a plain joint stays thin."""
    sheet: Paper = PAPERS[paper]
    pdf = pypdfium2.PdfDocument(pdf_of(name, system, paper, which))
    sizes = [tuple(side * MM for side in pdf.get_page_size(n)) for n in range(len(pdf))]
    work = PLANS[name]().work
    plain_joint = work.joints == 1 and work.job is not JobKind.NEW_BELT
    assert len(sizes) <= {"crew": 14 if plain_joint else 16, "dossier": 22}[which]
    for size in sizes:
        assert sorted(size) == pytest.approx(sorted((sheet.width, sheet.height)), abs=0.02)
    lying = sum(1 for wide, high in sizes if wide > high)
    assert lying == ({"crew": 1, "dossier": 3}[which] if PLANS[name]().complete else 0)
    pdf.close()


@pytest.mark.parametrize(("system", "paper"), SETS)
@pytest.mark.parametrize("name", COMPLETE)
def test_no_page_of_the_crew_pack_is_half_empty(name: str, system: System, paper: str) -> None:
    """The lowest ink above the foot line lies in the lower half of the page."""
    pdf = pypdfium2.PdfDocument(pdf_of(name, system, paper))
    for n in range(len(pdf)):
        grey = pdf[n].render(scale=0.5, grayscale=True).to_numpy()
        rows = [k for k, row in enumerate(grey[: int(0.92 * len(grey))]) if row.min() < 160]
        assert max(rows) > 0.5 * len(grey), n + 1
    pdf.close()


@pytest.mark.parametrize(("system", "paper"), SETS)
@pytest.mark.parametrize("name", COMPLETE)
def test_a_step_stands_on_one_page(name: str, system: System, paper: str) -> None:
    """Reproduced: clamps were set at the foot of a page, what can hurt there stood overleaf."""
    for step in PLANS[name]().steps:
        words = [step.title, *(plain(said.say(system)) for said in step.text), "CARE", "HOLD POINT"]
        words = words[: -2 if step.hold_point is None else None]
        words += [plain(step.hold_point)] if step.hold_point else []
        words += [plain(reading.what) for reading in step.readings]
        words = [w for w in words if w != "CARE" or step.cautions]
        assert any(all(w in page for w in words) for page in pages(name, system, paper)), step.title


@pytest.mark.parametrize(("system", "paper"), SETS)
@pytest.mark.parametrize("name", COMPLETE)
def test_the_isolation_sheet_is_one_sheet(name: str, system: System, paper: str) -> None:
    """It is carried to the isolators by itself: who is in and who proved it stand on it."""
    [sheet] = [page for page in pages(name, system, paper) if CREW["Isolation"] in page]
    assert "People and locks" in sheet and "All out, locks off" in sheet


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", COMPLETE)
def test_nothing_is_parted_by_the_drawing_of_the_clamps(name: str, system: System) -> None:
    told, whole = PLANS[name](), " ".join(pages(name, system))
    last = plain(told.at_rest.lets_go[-1].says.say(system))
    drawn = whole.index("Where the clamps stand")
    assert whole.index(last) < drawn < whole.index("In the order of travel")
    assert plain(told.clamps.remarks[-1].say(system)) in whole[drawn : whole.index("Parts, tools")]
    [parts] = [page for page in pages(name, system) if CREW["Parts, tools, packing list"] in page]
    assert all(part.name in parts for part in told.parts)
    heads = [page for page in pages(name, system) if CREW["Steps"] in page]
    assert told.steps[0].title in heads[0]  # the head of the steps stands with the first


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", COMPLETE)
def test_no_number_is_torn_from_its_unit(name: str, system: System) -> None:
    pdf = pypdfium2.PdfDocument(pdf_of(name, system))
    for n in range(2, len(pdf) - 1):  # page one has cells of numbers alone, the card lies across
        text = pdf[n].get_textpage().get_text_range()
        assert not re.search(r"\d\r?\n(mm|kN|N m|lbf|in|%|\*)(?![a-z])", text), n + 1
    pdf.close()


@pytest.mark.parametrize(("system", "paper"), SETS)
@pytest.mark.parametrize("name", [*COMPLETE, "solid"])
def test_plate_loads_and_acceptance_are_one_page_each(
    name: str, system: System, paper: str
) -> None:
    here = [t for t in pages(name, system, paper, "dossier") if " Plate loads " in f" {t} "]
    told = _loads(name)
    assert told is not None
    [page] = [text for text in here if "How accurate: each of these errors alone uses up" in text]
    assert plain(told.assumptions[-1].say(system)) in page
    for limit in told.limits.every:
        assert limit.smallest.show(system) in page
    sheets = [text for text in pages(name, system, paper) if "Taken over by" in text]
    assert len(sheets) == PLANS[name]().work.joints
    for acceptance in sheets:
        assert "Check" in acceptance and told.limits.diagonals.show(system) in acceptance


@pytest.mark.parametrize(("system", "paper"), SETS)
@pytest.mark.parametrize("name", PLANS)
def test_the_answer_is_one_page(name: str, system: System, paper: str) -> None:
    told = PLANS[name]()
    first, second = pages(name, system, paper)[:2]
    assert "JOINT PLAN" in first
    assert DEFER in first
    assert told.conveyor.name in first
    for rating in (told.at_rest.ratings.clamps, told.at_rest.ratings.hoists):
        assert rating.show(system) in first
    assert told.belt.position_after.show(system) in first
    assert told.timing.likely.show(system) in first
    assert "Isolation" in first + second
    best = told.fastener
    if best is None:
        assert "No fastener chosen" in first
        for candidate in told.choice.candidates[:3]:
            assert candidate.name in first
            for miss in candidate.missed:
                assert plain(f"{miss.name}: {miss.reason.say(system)}") in first
        return
    assert best.size.name in first
    assert best.material in first
    for requirement in best.requirements:
        if requirement.name in {"running tension", "starting tension"}:
            assert f"needed {requirement.show_needed(system)}" in first
            assert f"rated {requirement.show_has(system)}" in first
            assert requirement.margin is not None
            assert f"margin {show(requirement.margin, Kind.SHARE)}" in first
    for sentence in told.warnings:
        assert plain(sentence.say(system)) in first
    front = pages(name, system, paper, "dossier")[0]
    for sentence in told.choice.turns:
        assert plain(sentence.say(system)) in front


NUMBER = re.compile(r"\d+(?:-\d+/\d+|/\d+|\.\d+)?")


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", PLANS)
def test_every_number_on_page_one_comes_from_the_plan(name: str, system: System) -> None:
    told = PLANS[name]()
    allowed = set(NUMBER.findall(_everything(told, system)))
    body = re.sub(r"Page \d+ of \d+", "", pages(name, system)[0]).replace(told.id, "")
    strange = {number for number in NUMBER.findall(body) if number not in allowed}
    assert strange == set()


def _everything(plan: JointPlan, system: System) -> str:
    """Every number the plan can say, in words, in one text."""
    said: list[str] = [plan.conveyor.name, plan.conveyor.belt.marking, plan.work.name]
    for entry in plan.worksheet.entries:
        if isinstance(entry, Given):
            said += [show(v, entry.kind, system) for v in (entry.value, entry.low, entry.high)]
        else:
            said.append(entry.figure.show(system))
    said += [s.say(system) for s in (*plan.warnings, *plan.choice.turns, *plan.choice.reasons)]
    loads = loads_of(plan) if plan.complete else None
    said += [s.say(system) for s in (loads.overload, loads.proposal) if s] if loads else []
    said += [plan.work.distance.show(system), plan.work.cut_out.show(system)]
    said += [plan.work.insert.show(system), str(plan.work.joints)]
    said += [plan.conveyor.take_up.travel.show(system), str(len(plan.worksheet.assumptions()))]
    said += [plan.timing.window.show()] if plan.timing.window else []
    said.append(plan.timing.man_hours)
    for candidate in plan.choice.candidates:
        size = candidate.size
        said.append(candidate.name)
        for value in (*size.thickness, size.pitch, size.pin):
            said.append(show(value, Kind.LENGTH, system))
        for r in candidate.requirements:
            said += [r.show_needed(system), r.show_has(system), r.reason.say(system)]
            said += [show(r.margin, Kind.SHARE)] if r.margin is not None else []
    for part in plan.parts:
        said += [part.size.say(system), str(part.total), str(part.count)]
    if plan.layout is not None:
        singles = [list(plan.layout.pieces).count(n) for n in set(plan.layout.pieces)]
        said += [str(plan.layout.count), str(len(plan.layout.leading.holes)), "1"]
        said += [str(n) for n in singles]
        for end in plan.layout.ends:
            said += [show(v, Kind.LENGTH, system) for v in (end.notch_width, end.notch_length)]
    if plan.lengths is not None:
        said.append(str(plan.lengths.seating_strips))
    return " ".join(said)


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", PLANS)
def test_every_step_caution_reading_and_hold_point_is_printed(name: str, system: System) -> None:
    told = PLANS[name]()
    text = page_of(name, "Steps", system)
    met: set[str] = set()
    starred = any(DERIVED in r.limit.say(system) for step in told.steps for r in step.readings)
    assert (plain(f"A limit with a star is {DERIVED}.") in text) == starred
    for step in told.steps:
        assert step.title in text
        assert step.time.show() in text
        for sentence in step.text:
            assert plain(sentence.say(system)) in text
        # In full where it is met first, then by its first sentence.
        care = [c.split(". ")[0].rstrip(".") + "." if c in met else c for c in step.cautions]
        met |= set(step.cautions)
        if step.cautions:
            assert plain(f"CARE {' '.join(care)}") in text
        for reading in step.readings:
            assert reading.what in text
            assert plain(reading.limit.say(system).replace(f" ({DERIVED})", " *")) in text
        if step.hold_point is not None:
            assert plain(f"HOLD POINT {step.hold_point}") in text
    assert text.count("HOLD POINT") == sum(1 for s in told.steps if s.hold_point)
    assert text.count("Checked by") == text.count("HOLD POINT")
    if not told.complete:
        assert "the steps end with the belt made safe" in text


@pytest.mark.parametrize("name", PLANS)
def test_isolation_has_every_source_and_every_force(name: str) -> None:
    told = PLANS[name]()
    text = page_of(name, "Isolation")
    assert DEFER in text
    for source in told.isolation:
        for said in (
            source.what,
            # LOOK says itself that nothing is stated.
            *(
                s.say()
                for s in (source.how_much, source.make_safe, source.prove)[not source.known :]
            ),
        ):
            assert plain(said) in text
    look = sum(1 for source in told.isolation if not source.known)
    assert text.count("LOOK") == look + 1  # and once where it is explained
    stopped = told.at_rest
    bounds, stored = stopped.bounds, stopped.energies
    for figure in (
        bounds.acting.largest, stopped.acting_per_width, bounds.released.largest,
        *(side.hold.largest for side in bounds.sides), bounds.draw.largest,
        stopped.run_back.most, stored.belt, stored.load,
    ):  # fmt: skip
        assert f"{figure.label} {figure.show()}" in text
    for rating in (stopped.ratings.clamps, stopped.ratings.hoists):
        assert plain(rating.label) in text and f"{rating.show()} or more" in text
    assert "Safe side." in text
    for remark in stopped.remarks:
        assert plain(remark.say()) in text
    assert text.count("locked") >= len(told.isolation)


@pytest.mark.parametrize("name", COMPLETE)
def test_parts_tools_and_record(name: str) -> None:
    told = example(name)
    text = page_of(name, "Parts, tools, packing list")
    for part in told.parts:
        assert part.name in text
        assert plain(part.size.say()) in text
    for tool in told.tools:  # a line may end at a hyphen, which is then read as none
        assert plain(tool.name).replace("-", "") in text.replace("-", "")
    seat = page_of(name, "Acceptance")
    for words in ("Teeth through the pulley cover", "Carry cover raised evenly", "No plate tilted",
                  "No bolt head turned", "Built by", "Checked by"):  # fmt: skip
        assert words in seat
    follow = page_of(name, "Follow-up")
    assert f"after {told.follow_up.retighten_after.show()} of running" in follow
    assert f"{told.follow_up.inspect_after.show()} after the restart" in follow


def test_solid_plates_have_no_pin_or_liner_to_look_at() -> None:
    seat = page_of("solid", "Acceptance")
    assert "pin" not in seat.lower().replace("pinch", "")
    assert "liner" not in seat.lower()


@pytest.mark.parametrize("name", PLANS)
def test_demand_shows_both_ways_and_every_requirement(name: str) -> None:
    told = PLANS[name]()
    text = page_of(name, "Loop and demand")
    if told.demand.nameplate is not None:
        assert told.demand.nameplate.pull.show() in text
    for case in (*told.demand.cases, *told.demand.reverse_cases):
        assert case.pull.show() in text
        assert case.largest.show() in text
    for passing in told.demand.passings:
        assert passing.running.show() in text
    for candidate in told.choice.candidates[:1]:
        for requirement in candidate.requirements:
            assert plain(requirement.reason.say()) in text


@pytest.mark.parametrize("name", PLANS)
def test_worksheet_has_every_assumption_and_says_what_is_left_out(name: str) -> None:
    told = PLANS[name]()
    text = page_of(name, "Worksheet")
    for given in told.worksheet.assumptions():
        if given.value or not given.key.startswith("timing."):
            assert given.label in text
    for key in ("demand.running", "demand.starting", "at_rest.clamp_rating", "take_up.after"):
        assert key in text
    assert f"{len(told.worksheet.entries)} entries in all" in text
    assert "plan.json has them" in text


@pytest.mark.parametrize("name", ["flat", "solid", "without fastener"])
def test_inch_pack_has_no_metric_number_outside_names(name: str) -> None:
    """Names of sizes and belt markings are metric by their open designation; they stay."""
    told = PLANS[name]()
    told_twice = (*pages(name, "inch"), *pages(name, "inch", which="dossier"))
    crew = " ".join(told_twice).split("Every number with its formula", 1)[0]
    for candidate in told.choice.candidates:
        crew = crew.replace(candidate.size.name, "")
    assert re.findall(r"\d (?:mm|m|kN|N/mm|kg|kW|kJ|m/s|N m)\b", crew) == []
    assert "lbf" in crew


@pytest.mark.parametrize("which", MAKERS)
@pytest.mark.parametrize("name", PLANS)
def test_every_page_has_plan_number_page_number_and_the_invented_mark(
    name: str, which: str
) -> None:
    told = PLANS[name]()
    texts = pages(name, which=which)
    for number, text in enumerate(texts, 1):
        assert f"Page {number} of {len(texts)}" in text
        assert f"Plan {told.id}" in text
        assert "INVENTED DATA: NOT FOR REAL WORK" in text
        assert told.work.name in text


@pytest.mark.parametrize("name", PLANS)
def test_qr_code_is_the_plans_id(name: str) -> None:
    pdf = pypdfium2.PdfDocument(pdf_of(name))
    page = pdf[0]
    picture = page.render(scale=2).to_pil()
    [code] = zxingcpp.read_barcodes(picture)
    assert code.text == f"splicewright:plan:{PLANS[name]().id}"
    page.close()
    pdf.close()


def letters(page: Any) -> list[tuple[float, float]]:
    """Height above the foot of the page and size of every printed letter [pt]."""
    text, found = page.get_textpage(), []
    turned, edges = pdfium.FS_MATRIX(), [c_double() for _ in range(4)]
    for n in range(pdfium.FPDFText_CountChars(text)):
        if pdfium.FPDFText_IsGenerated(text, n):
            continue
        pdfium.FPDFText_GetMatrix(text, n, turned)
        pdfium.FPDFText_GetCharBox(text, n, *edges)
        # Left, right, bottom, top.
        found.append(
            (edges[3].value, pdfium.FPDFText_GetFontSize(text, n) * hypot(turned.c, turned.d))
        )
    text.close()
    return found


@pytest.mark.parametrize("name", PLANS)
def test_what_the_crew_reads_is_ten_points_or_more(name: str) -> None:
    pdf = pypdfium2.PdfDocument(pdf_of(name))
    assert min(size for page in pdf for _, size in letters(page)) >= 9.95
    pdf.close()


@pytest.mark.parametrize("name", COMPLETE)
def test_letters_of_the_crews_drawings_are_ten_points_or_more(name: str) -> None:
    """A letter of 10 pt has capitals of 10 pt times the font's capital height, 0.698 em."""
    for scene in (card(example(name)), clamp_drawing(example(name))):
        sizes = [part.size for _, part in primitives(scene) if isinstance(part, Text)]
        assert min(sizes) * 72.0 / 25.4 / 0.698 >= 9.95


def test_the_appendix_can_be_read() -> None:
    pdf = pypdfium2.PdfDocument(pdf_of("incline", which="dossier"))
    assert min(size for page in pdf for _, size in letters(page)) >= 7.4
    pdf.close()


@pytest.mark.parametrize("which", MAKERS)
@pytest.mark.parametrize("name", ["incline", "without range"])
def test_same_plan_same_bytes(name: str, which: str) -> None:
    again = JointPlan.from_json(PLANS[name]().to_json())
    assert MAKERS[which](again) == pdf_of(name, which=which)
