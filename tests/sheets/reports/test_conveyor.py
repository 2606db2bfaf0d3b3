"""The conveyor sheet read back as text: every case, every way, what is not known."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pypdfium2
import pytest

from sheets.plans import example
from splicewright.actions.conveyor.question import TENSION
from splicewright.plant import Conveyor
from splicewright.quantities import System
from splicewright.sheets.canvas.paper import A4, LETTER, Paper
from splicewright.sheets.canvas.scene import Polyline, Scene, Text, leaves
from splicewright.sheets.drawings.loop import side_view
from splicewright.sheets.drawings.tension import PENS, WORST, tension_diagram
from splicewright.sheets.pages.report import printed
from splicewright.sheets.reports.conveyor import chance, conveyor_report
from splicewright.tension import LoadCase, Study, study
from strategies import conveyor_of, invented, loop_file, outline, published, pulley, run

MM = 25.4 / 72.0
PAPERS: dict[str, Paper] = {"A4": A4, "Letter": LETTER}
RATING = 80e3


def downhill() -> Conveyor:
    return conveyor_of(
        outline(
            outline={"lift": "-20 m", "centre_distance": "180 m"},
            drives=[{"name": "d", "power": "90 kW", "brake": True}],
            take_up={"kind": "gravity", "mass": "6000 kg"},
        )
    )


@cache
def studied(name: str) -> Study:
    conveyor = {
        "incline": lambda: invented("incline"),
        "flat": lambda: invented("flat"),
        "shuttle": lambda: invented("shuttle"),
        "coal": lambda: published("sheet-coal-1800"),
        "downhill": downhill,
    }[name]()
    return study(conveyor, RATING, samples=128)


NAMES = ("incline", "flat", "shuttle", "coal", "downhill")


@cache
def pages(name: str, system: System = "metric", paper: str = "A4") -> tuple[str, ...]:
    pdf = pypdfium2.PdfDocument(printed(conveyor_report(studied(name), system), PAPERS[paper]))
    found = []
    for page in pdf:
        text = page.get_textpage()
        found.append(" ".join(text.get_text_range().replace("￾", "").split()))
        text.close()
        page.close()
    pdf.close()
    return tuple(found)


def whole(name: str, system: System = "metric", paper: str = "A4") -> str:
    return " ".join(pages(name, system, paper))


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", NAMES)
def test_pages_are_the_papers_and_not_too_many(name: str, paper: str) -> None:
    pdf = pypdfium2.PdfDocument(printed(conveyor_report(studied(name)), PAPERS[paper]))
    assert 6 <= len(pdf) <= 16
    for n in range(len(pdf)):
        width, height = (side * MM for side in pdf.get_page_size(n))
        assert (width, height) == pytest.approx(
            (PAPERS[paper].width, PAPERS[paper].height), abs=0.02
        )
    pdf.close()


@pytest.mark.parametrize("system", ["metric", "inch"])
@pytest.mark.parametrize("name", NAMES)
def test_page_one_has_the_key_numbers(name: str, system: System) -> None:
    told = studied(name)
    first = pages(name, system)[0]
    for figure in (told.demand.running, told.demand.starting, told.demand.belt_safety):
        assert figure.show(system) in first
    assert told.conveyor.name in first
    assert chance(told) in first
    for said in told.demand.findings:
        assert said.say(system) in first
    assert "a competent person must check these numbers" in first
    assert ("INVENTED DATA" in first) is told.conveyor.invented


@pytest.mark.parametrize("name", NAMES)
def test_every_case_is_in_the_table_with_its_numbers(name: str) -> None:
    told, text = studied(name), whole(name)
    for case in (*told.demand.cases, *told.demand.other_cases):
        row = f"{case.case.value} {case.pull.show()} {case.power.show()} {case.largest.show()}"
        assert row in text
    back = (*told.demand.reverse_cases, *told.demand.other_reverse_cases)
    for case in back:
        row = (
            f"back, {case.case.value} {case.pull.show()} {case.power.show()} {case.largest.show()}"
        )
        assert row in text
    # Rare cases too: none is only counted in the exceptional tension.
    rare = [c.case for c in back if not (c.case.steady or c.case.transient)]
    assert bool(rare) is told.conveyor.reversing
    assert ("worst loading: " in text) is (told.demand.worst is not None)


def test_second_looks_are_side_by_side_with_reasons() -> None:
    told, text = studied("incline"), whole("incline")
    for opinion in told.second_look.opinions:
        assert f"{opinion.handbook.show()} {opinion.resistance.show()}" in text
        assert opinion.reason in text
    for look in told.second_look.pulleys:
        assert look.least is None or f"{look.fitted.show()} {look.least.show()}" in text
    for turn in told.second_look.transitions:
        assert turn.needed is not None and turn.needed.show() in text
    assert "concave" in text


def test_the_stopped_belt_both_ways_and_where_its_load_lies() -> None:
    told, text = studied("incline"), whole("incline")
    for way in (told.run_back.back, told.run_back.forward):
        row = f"{way.name} {way.pull.show()} {way.may_move.show()} {way.sure_to_move.show()}"
        assert f"{row} {way.loaded}" in text
    # By hand: 600 t/h at 2 m/s over 34 m of lift.
    assert told.run_back.back.pull.value == pytest.approx(9.81 * 600 / 3.6 / 2 * 34)
    [rest] = told.load_rests
    assert f"{rest.run} {rest.slope.show()} {rest.surcharge.show()} {rest.bears.show()}" in text
    assert told.run_back.says.say() in pages("incline")[0]
    assert "Stopped with load on the belt" not in whole("shuttle")


def test_a_crown_has_its_row_and_its_finding() -> None:
    conveyor = conveyor_of(
        loop_file(
            pulley("tail", "tail", crown="3/16 in"),
            run("carry", "carry", "60 m"),
            pulley("head", "head", drive="d"),
            run("back", "return", "60 m"),
            drives=[{"name": "d"}],
        )
    )
    told = study(conveyor, samples=64)
    pdf = pypdfium2.PdfDocument(printed(conveyor_report(told, "inch")))
    text = " ".join(
        " ".join(page.get_textpage().get_text_range().replace("￾", "").split()) for page in pdf
    )
    [crown] = told.second_look.crowns
    figures = (crown.crown, crown.mean, crown.middle, crown.edge, crown.permitted)
    assert "tail " + " ".join(f.show("inch") for f in figures) in text
    assert "3/16 in" in text
    said = [s.say("inch") for s in told.second_look.findings if "crown" in s.say("inch")]
    assert said and all(s in text for s in said)


def test_what_is_not_known() -> None:
    told, text = studied("shuttle"), whole("shuttle")
    span = told.unknowns.running
    low, median, high = (f"{v / 1e3:.3g} N/mm" for v in (span.low, span.median, span.high))
    assert f"{low} {median} {high}" in text
    assert "128 samples, seed 20251" in text
    assert told.unknowns.influences[0].given.label in text


def test_extrapolation_is_marked_on_the_sheet() -> None:
    # C below 80 m of centre distance: among the findings, beside the terms, among assumptions.
    assert whole("shuttle").count("beyond its range") >= 3
    assert "beyond its range" not in whole("incline")


@pytest.mark.parametrize(
    ("belt", "take_up", "message"),
    [
        # Thinner than the pulley table begins; more tension than a tenth of the strength, where
        # it ends.
        ({"marking": "EP 200/2 2+1", "thickness": "4.3 mm"}, "1500 kg", "below the table"),
        ({"marking": "EP 200/2 3+1", "thickness": "6.5 mm"}, "8000 kg", "% of the permitted"),
    ],
    ids=["below", "beyond"],
)
def test_a_pulley_table_left_is_marked_on_the_sheet(
    belt: dict[str, str], take_up: str, message: str
) -> None:
    told = study(
        conveyor_of(outline(belt=belt, take_up={"kind": "gravity", "mass": take_up})), samples=64
    )
    remarks = [p.remark.say() for p in told.second_look.pulleys]
    assert any(message in r for r in remarks), remarks
    pdf = pypdfium2.PdfDocument(printed(conveyor_report(told)))
    text = " ".join(
        " ".join(page.get_textpage().get_text_range().replace("￾", "").split()) for page in pdf
    )
    assert message in text


def test_no_sample_above_is_not_called_impossible() -> None:
    told = study(invented("incline"), 1e9, samples=128)
    assert told.unknowns.exceeded == 0
    assert chance(told) == "under 1 in 128"
    assert chance(study(invented("incline"), samples=64)) == "-"


def test_a_small_chance_is_not_rounded_to_none() -> None:
    told = studied("incline")
    one = replace(told, unknowns=replace(told.unknowns, exceeded=3 / 2**20))
    assert chance(one) == f"{100 * 3 / 2**20:.3g} %"
    assert chance(replace(told, unknowns=replace(told.unknowns, exceeded=0.1234))) == "12.34 %"


def test_same_study_same_bytes() -> None:
    one = TENSION.files(studied("flat"), "metric", A4)
    again = TENSION.files(study(invented("flat"), RATING, samples=128), "metric", A4)
    assert one == again
    assert set(one) == {"conveyor-sheet.pdf", "study.json", "loop.svg", "tension.svg"}
    assert "tension-reverse.svg" in TENSION.files(studied("shuttle"), "metric", A4)


def test_study_json_gives_the_study_back() -> None:
    for name in NAMES:
        told = studied(name)
        assert Study.from_json(told.to_json()) == told


def words(scene: Scene) -> list[str]:
    return [i.text for _, i in leaves(scene) if isinstance(i, Text)]


@pytest.mark.parametrize("name", NAMES)
def test_all_cases_are_overlaid_and_lettered(name: str) -> None:
    told = studied(name)
    scene = tension_diagram(told, every=True)
    drawn = [i.pen for _, i in leaves(scene) if isinstance(i, Polyline)]
    cases = [c.case for c in (*told.demand.cases, *told.demand.other_cases)]
    assert all(drawn.count(PENS[case]) == 1 for case in cases)
    assert (WORST in drawn) is (told.demand.worst is not None)
    said = words(scene)
    for letter, case in zip("abcdefghi", (c for c in LoadCase if c in cases), strict=False):
        assert letter in said  # on its line
        assert f"{letter}  {case.value}" in said  # in the key


def test_lines_differ_without_colour() -> None:
    looks = {(pen.dash, pen.width) for pen in (*PENS.values(), WORST)}
    assert len(looks) == len(PENS) + 1
    assert all(pen.grey == 0 for pen in PENS.values())


def test_stuck_load_is_drawn_as_a_step_at_the_discharge() -> None:
    told = studied("incline")
    [line] = [
        i for _, i in leaves(tension_diagram(told, every=True))
        if isinstance(i, Polyline) and i.pen is PENS[LoadCase.BLOCKED]
    ]  # fmt: skip
    full = next(
        i for _, i in leaves(tension_diagram(told, every=True))
        if isinstance(i, Polyline) and i.pen is PENS[LoadCase.FULL]
    )  # fmt: skip
    # Up to the discharge the stuck belt carries what the full one does.
    tops = sorted(y for _, y in line.points)[-2:]
    at = next(n for n, p in enumerate(line.points) if p[1] == tops[1])
    assert line.points[at - 1][0] == line.points[at][0]
    assert line.points[at - 1][1] == pytest.approx(max(y for _, y in full.points))


def test_side_view_of_a_study_marks_no_place_of_work() -> None:
    assert not any("PLACE OF WORK" in text for text in words(side_view(studied("incline"))))


def test_the_dossier_tells_the_exceptional_tension() -> None:
    from splicewright.sheets.crew_pack.dossier import dossier

    told = example("incline")
    pdf = pypdfium2.PdfDocument(dossier(told))
    text = " ".join(
        " ".join(page.get_textpage().get_text_range().replace("￾", "").split()) for page in pdf
    )
    assert told.demand.exceptional is not None
    said = f"Exceptional (blocked chute, holdback engaged): {told.demand.exceptional.show()}"
    assert said in text
