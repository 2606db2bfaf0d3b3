"""The pack of every example job, whatever the kind takes out, puts in or leaves alone.

What a kind must not ask for follows from what its crew does: common practice, no source.

Reproduced: the pack of a job that only changes the hinge pin could not be made, for page one looked
for the bolts of a joint that takes none.
"""

from __future__ import annotations

from pathlib import Path

import pypdfium2
import pytest

from planned import SITE, planned
from splicewright.job import JointPlan, acceptance
from splicewright.sheets.canvas.paper import A4
from splicewright.sheets.crew_pack import crew
from splicewright.sheets.crew_pack.answer import KNOWN_LIMITS, answer
from splicewright.sheets.crew_pack.files import pack

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


def crew_text(job: str) -> str:
    files = pack(plan_of(job), "metric", A4, only="crew")
    pdf = pypdfium2.PdfDocument(files["crew-pack.pdf"])
    found = " ".join(page.get_textpage().get_text_range() for page in pdf)
    pdf.close()
    return " ".join(found.split())
