"""Fingers, an overlap cured cold and steel cord: the example jobs acted through and looked at.

Lengths of fingers and overlap: DIN 22102-3, tables for belts of one ply (800/1 and 1000/1 have
fingers of 1000 and 1200 mm in joints of 1500 and 1700 mm; an overlap for 400/1 of 350 mm). The
table of cords is the user's own, and none is held here.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pypdfium2
import pytest

from job.steps.walker import walk
from splicewright.actions.plan.plan import plan_joint
from splicewright.job import JointPlan
from splicewright.job.acceptance.lines import acceptance
from splicewright.joint import StepForm, load_ranges
from splicewright.sheets.crew_pack.files import drawings
from splicewright.sheets.crew_pack.pack import crew_pack

SITE = Path(__file__).parents[3] / "examples" / "salt-ridge"
JOBS = sorted(path.stem for path in (SITE / "jobs").glob("*.toml"))
FORMS = {
    "drift-cold": StepForm.OVERLAP,
    "gallery-finger": StepForm.FINGER,
    "trunk-cord": StepForm.CORD,
}


@cache
def made(job: str) -> JointPlan:
    conveyor = job.partition("-")[0]
    return plan_joint(
        SITE / "conveyors" / f"{conveyor}.toml",
        SITE / "jobs" / f"{job}.toml",
        (SITE / "fasteners",),
    )


@pytest.mark.parametrize("job", JOBS)
def test_it_is_planned_acted_through_and_printed(job: str) -> None:
    plan = made(job)
    assert plan.fastener is not None and plan.fastener.steps is not None
    assert plan.fastener.steps.form is FORMS[job]
    belt = walk(plan)
    assert belt.belt == "joined" and belt.drive_live
    pdf = pypdfium2.PdfDocument(crew_pack(plan))
    assert len(pdf) <= 16
    text = " ".join(page.get_textpage().get_text_range() for page in pdf)
    for step in plan.steps:
        assert step.title in " ".join(text.split())
    assert "1 steps" not in text


def test_what_cures_cold_needs_no_press_anywhere() -> None:
    plan = made("drift-cold")
    for draw in drawings(plan).values():
        assert draw(plan, "metric").startswith(b"<svg") or draw(plan, "metric").startswith(b"<?xml")
    assert "press.svg" not in drawings(plan) and "press.svg" in drawings(made("trunk-cord"))
    sheet = acceptance(plan)
    assert sheet is not None
    said = [s.say() for step in plan.steps for s in step.text]
    said += [c for step in plan.steps for c in step.cautions] + [*sheet.lines]
    said += [s.say() for s in plan.questions]
    said += [tool.name for tool in plan.tools] + [part.name for part in plan.parts]
    for words in said:
        assert not any(w in words.lower() for w in ("platen", "vulcanising press", "heat to"))
    text = " ".join(said)
    # Nothing pulls before it has bonded, and everything only after the maker's longer time.
    cure = next(step for step in plan.steps if step.key == "cure")
    assert any(reading.low == 4 * 3600.0 for reading in cure.readings)
    assert "Full load only 1 d after" in text or "Full load only 24 h after" in text
    assert any("tag for the start button" in tool.name for tool in plan.tools)


def test_the_lengths_are_those_of_the_standard() -> None:
    sizes = {
        (s.form, s.strength[1] / 1e3): s
        for one in load_ranges((SITE / "fasteners",))
        for s in one.steps
    }
    for strength, finger, joint in ((800, 1.0, 1.5), (1000, 1.2, 1.7)):
        size = sizes[StepForm.FINGER, strength]
        assert size.step_length == pytest.approx(finger)
        assert size.press_beyond is not None
        assert size.step_length + 2 * size.press_beyond == pytest.approx(joint)
    assert sizes[StepForm.OVERLAP, 500].step_length == pytest.approx(0.35)
