"""The pack of every example job, whatever the kind takes out, puts in or leaves alone.

What a kind must not ask for follows from what its crew does: common practice, no source.

Reproduced: the pack of a job that only changes the hinge pin could not be made, for page one looked
for the bolts of a joint that takes none.
"""

from __future__ import annotations

from pathlib import Path

import pypdfium2
import pytest

from depth import DEEP
from planned import SITE, planned
from splicewright.job import JointPlan, acceptance, loads_of
from splicewright.quantities import Kind, System, show
from splicewright.sheets.canvas.expansion import primitives
from splicewright.sheets.canvas.paper import A4, LETTER, Paper
from splicewright.sheets.canvas.scene import Text
from splicewright.sheets.crew_pack import crew
from splicewright.sheets.crew_pack.answer import KNOWN_LIMITS, answer
from splicewright.sheets.crew_pack.files import pack
from splicewright.sheets.drawings.loads import loads_diagram

NEW = "shuttle-new-belt"
JOBS = sorted(path.stem for path in (SITE / "jobs").glob("*.toml"))


def plan_of(job: str) -> JointPlan:
    return planned(job.partition("-")[0], job)


@pytest.mark.parametrize("job", JOBS)
def test_page_one_says_what_the_job_takes(job: str) -> None:
    made = plan_of(job)
    said = answer(made, "metric")
    names = [number["name"] for number in said["numbers"]]
    assert len(names) == len(set(names))
    bolted = {part.name for part in made.parts} & {"bolt", "rivet"}
    assert bool({"bolts and nuts", "rivets"} & set(names)) == (bool(bolted) and made.complete)
    assert said["limits"] == KNOWN_LIMITS


def test_the_pack_of_a_job_that_only_changes_the_pin_is_made() -> None:
    files = pack(plan_of("flat-emergency-pin"), "metric", A4, only="crew")
    assert files["crew-pack.pdf"].startswith(b"%PDF")


@pytest.mark.parametrize("job", ("flat-emergency-pin", "incline-worn-joint"))
def test_page_one_of_pack_and_dossier_leads_to_the_limits(job: str) -> None:
    made = pack(plan_of(job), "metric", A4)
    for name in ("crew-pack.pdf", "dossier.pdf"):
        said = pypdfium2.PdfDocument(made[name])[0].get_textpage().get_text_range()
        assert "docs/known-limits.md" in " ".join(said.split()), name


def test_the_line_of_limits_names_a_page_that_is_there() -> None:
    assert "docs/known-limits.md" in KNOWN_LIMITS
    assert (Path(__file__).parents[3] / "docs" / "known-limits.md").is_file()


def test_a_joint_that_is_mended_is_not_accepted_as_a_new_one() -> None:
    """Nobody cut an end, drew a row or set a strip of plates: no line and no box asks for it."""
    made = plan_of("flat-emergency-pin")
    sheet = acceptance(made)
    assert sheet is not None
    told = " ".join((*sheet.lines, *(m.what for m in sheet.measured)))
    for only_new in ("Diagonal", "diagonal", "Set-back", "Teeth", "bolt ends", "Torque"):
        assert only_new not in told
    assert "pin turns freely" in told and "retainers locked" in told
    plates = acceptance(plan_of("incline-emergency-plates"))
    assert plates is not None
    assert any(m.what.startswith("Torque") for m in plates.measured)
    text = crew_text("flat-emergency-pin")
    assert "Marking card" not in text and "Re-tighten" not in text
    assert "after one hour of running" in text and "Running hours until it stops (h)" in text


@pytest.mark.parametrize("job", ["incline-round", "incline-tracking"])
def test_where_nothing_is_released_no_clamp_is_asked_for(job: str) -> None:
    made, text = plan_of(job), crew_text(job)
    assert all(source.stays or source.lockable for source in made.isolation)
    assert "restraining clamp" not in text and "LATER" not in text
    assert [n["name"] for n in answer(made, "metric")["numbers"]][-1] == "time"
    stays = [source for source in made.isolation if source.stays]
    assert text.count("seen") >= len(stays) > 0


@pytest.mark.parametrize("job", JOBS)
def test_the_paper_has_a_box_for_every_value_of_the_acceptance(job: str) -> None:
    """Reproduced: three torques, three thicknesses, and two cells to write them in."""
    made = plan_of(job)
    sheet, printed = acceptance(made), crew.acceptance(made, "metric")
    assert (sheet is None) == (printed is None)
    if sheet is not None and printed is not None:
        assert [row["boxes"] for row in printed["measured"]] == [r.boxes for r in sheet.measured]
        assert max(row["boxes"] for row in printed["measured"]) <= 3  # as wide as the sheet has


@pytest.mark.parametrize("job", ["incline-round", "incline-tracking"])
def test_what_was_found_has_room_on_the_paper(job: str) -> None:
    """Reproduced: plate by plate was to be written down, and nowhere to write it."""
    text = crew_text(job)
    assert "JOB PLAN" in text and "JOINT PLAN" not in text
    assert "Photograph" in text and "Hour meter" in text and "`" not in text


def test_page_one_of_a_new_belt_says_its_length() -> None:
    made = plan_of(NEW)
    told = {n["name"]: n["value"] for n in answer(made, "metric")["numbers"]}
    assert told["new belt"] == made.belt.belt_to_have.show() and "belt out / in" not in told


def test_each_joint_of_a_piece_has_its_own_acceptance_sheet() -> None:
    text = crew_text("flat-torn-belt")
    assert "Acceptance, first joint" in text and "Acceptance, second joint" in text
    assert text.count("Taken over by") == 2


def test_of_a_new_belt_the_old_joint_is_opened_and_nothing_is_marked_before() -> None:
    """Common practice, no source: a joint was brought to the place, so its pin is drawn."""
    steps = {step.key: " ".join(s.say() for s in step.text) for step in plan_of(NEW).steps}
    assert "draw its pin" in steps["open"] and "marked line" not in steps["open"]
    assert "old joint" not in steps["cut"]
    assert "first tension low" in steps["tension"]


READ = JOBS if DEEP else ["flat-emergency-pin", "incline-rip", "shuttle-solid"]
SHEETS: list[tuple[System, Paper]] = [("metric", A4), ("inch", LETTER)]


@pytest.mark.parametrize("job", READ)
@pytest.mark.parametrize(("system", "paper"), SHEETS)
def test_no_page_parts_an_act_from_what_can_hurt_in_it(
    job: str, system: System, paper: Paper
) -> None:
    """Overleaf nobody sees what a caution, a value or a signature belongs to. A caution stands
    before the act, as on the phone (common practice, no source)."""
    for page in crew_pages(job, system, paper):
        body = page.split("NOT FOR REAL WORK", 1)[-1].strip()
        assert not body.startswith(("CARE", "HOLD POINT", "Checked by", "In this order"))
        # The words above the steps stand with the first of them.
        assert "In this order" not in page or "HOLD POINT" in page
    text = " ".join(crew_pages(job, system, paper))
    made = plan_of(job)
    for step in made.steps:
        told = " ".join(step.text[0].say(system).split())
        if step.cautions:
            before = text[: text.index(told)].rsplit(step.title, 1)[-1]
            assert "CARE" in before, step.title


@pytest.mark.parametrize("job", ["flat-edge", "incline-rip", "incline-emergency-plates"])
@pytest.mark.parametrize(("system", "paper"), SHEETS)
def test_isolation_is_one_sheet(job: str, system: System, paper: Paper) -> None:
    """Who is in stands on the page of what was locked, on Letter too."""
    [sheet] = [p for p in crew_pages(job, system, paper) if "Isolation Work down the list" in p]
    assert "People and locks" in sheet and "All out, locks off, given back" in sheet


@pytest.mark.parametrize("job", ["flat-edge", "incline-rip", "shuttle-hole"])
def test_a_repair_along_the_belt_is_recorded_and_looked_at_again(job: str) -> None:
    """Its last page held a few lines and no box for what its last step tells to write down."""
    told = crew_text(job)
    assert "JOB PLAN" in told and "JOINT PLAN" not in told
    record = told[told.index("Record of the repair") :]
    for asked in ("its cause", "Stops on: date, hours", "Told in person", "Hour meter", "lots"):
        assert asked in record
    assert "after one hour of running" in told[told.index("Follow-up") :]
    assert ("Re-tighten the plates" in told) == (job == "incline-rip")
    # A belt in one piece has no cut to keep away from, and is not drawn as cut.
    assert "or the damage." in told and "or the cut." not in told


def test_plates_that_span_both_ends_are_not_counted_on_each() -> None:
    """Solid plates: one row across both ends, built on the cover that lies up."""
    told = crew_text("shuttle-solid")
    assert "19 plates across both ends" in told and "on each end: 19" not in told
    assert "each end by itself" not in told
    assert "Turn both ends over" not in told and "bottom plates on top" in told
    assert "Turn both ends over" in crew_text("flat-riveted")
    made = plan_of("shuttle-solid")
    # One gap in step and drawing: the range's cut lies 1 mm behind the middle, on each side.
    assert "until the ends butt square, 2 mm from cut to cut" in told
    drawn = {
        p.text for _, p in primitives(loads_diagram(made, loads_of(made))) if isinstance(p, Text)
    }
    assert "pin" not in drawn and "cut" in drawn


def test_a_riveted_joint_has_no_bolts_or_nuts_in_its_steps() -> None:
    steps = " ".join(s.say() for step in plan_of("flat-riveted").steps for s in step.text)
    assert "bolts are chosen" not in steps and "rivets are chosen" in steps


def test_what_a_clamp_may_have_to_hold_is_what_its_rating_comes_from() -> None:
    """112 kN is twice 56 kN, but the step said 30.5 kN: the force with nothing let go."""
    made = plan_of("incline-rip")
    [step] = [s for s in made.steps if s.key == "clamp"]
    told = " ".join(s.say() for s in step.text)
    held = made.at_rest.ratings.clamps.value / made.work.clamp_factor.value
    assert f"hold up to {show(held, Kind.FORCE)} if one thing lets go" in told


@pytest.mark.parametrize("job", ["flat-edge", "incline-emergency-plates"])
def test_chains_are_let_out_as_far_as_the_belt_may_move(job: str) -> None:
    made = plan_of(job)
    [step] = [s for s in made.steps if s.key == "ease"]
    gives = made.at_rest.movement.take_up.show()
    assert f"both chains by {gives} or more" in " ".join(s.say() for s in step.text)


def crew_pages(job: str, system: System, paper: Paper) -> list[str]:
    files = pack(plan_of(job), system, paper, only="crew")
    pdf = pypdfium2.PdfDocument(files["crew-pack.pdf"])
    found = [" ".join(page.get_textpage().get_text_range().split()) for page in pdf]
    pdf.close()
    return found


def crew_text(job: str) -> str:
    return " ".join(crew_pages(job, "metric", A4))
