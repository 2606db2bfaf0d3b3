"""Fingers, an overlap cured cold and steel cord: the example jobs acted through and looked at.

Lengths of fingers and overlap: DIN 22102-3, tables for belts of one ply (800/1 and 1000/1 have
fingers of 1000 and 1200 mm in joints of 1500 and 1700 mm; an overlap for 400/1 of 350 mm). The
table of cords is the user's own, and none is held here.
"""

from __future__ import annotations

import itertools
from functools import cache
from pathlib import Path

import pypdfium2
import pytest
from PIL import ImageFont

from job.steps.walker import walk
from splicewright.actions.plan.plan import plan_joint
from splicewright.job import JointPlan
from splicewright.job.acceptance.lines import acceptance
from splicewright.joint import StepForm, load_ranges
from splicewright.quantities import System
from splicewright.sheets.canvas.expansion import CAP_HEIGHT, extent, primitives
from splicewright.sheets.canvas.paper import A4, BELT_REDUCTIONS, LETTER, fit
from splicewright.sheets.canvas.pdf import FONT_FOLDER
from splicewright.sheets.canvas.scene import Polyline, Text
from splicewright.sheets.crew_pack.answer import answer
from splicewright.sheets.crew_pack.files import drawings
from splicewright.sheets.crew_pack.pack import crew_pack
from splicewright.sheets.drawings.at_rest import clamp_drawing
from splicewright.sheets.drawings.step_joint import press_drawing, step_marking
from splicewright.sheets.pages.drawings import MARGIN

SITE = Path(__file__).parents[3] / "examples" / "salt-ridge"
JOBS = sorted(path.stem for path in (SITE / "jobs").glob("*.toml"))
FORMS = {
    "drift-cold": StepForm.OVERLAP,
    "gallery-finger": StepForm.FINGER,
    "trunk-cord": StepForm.CORD,
}


@cache
def plan_of_job(job: str) -> JointPlan:
    conveyor = job.partition("-")[0]
    return plan_joint(
        SITE / "conveyors" / f"{conveyor}.toml",
        SITE / "jobs" / f"{job}.toml",
        (SITE / "fasteners",),
    )


@pytest.mark.parametrize("job", JOBS)
def test_it_is_planned_acted_through_and_printed(job: str) -> None:
    plan = plan_of_job(job)
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
    plan = plan_of_job("drift-cold")
    for draw in drawings(plan).values():
        assert draw(plan, "metric").startswith(b"<svg") or draw(plan, "metric").startswith(b"<?xml")
    assert "press.svg" not in drawings(plan) and "press.svg" in drawings(plan_of_job("trunk-cord"))
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


def test_no_form_of_joint_is_told_in_the_words_of_another() -> None:
    """Fingers and cords have no steps, a cold overlap no cover strip, and what lies square no bias:
    the words are read against the drawing beside them."""
    for job in JOBS:
        plan = plan_of_job(job)
        sheet = acceptance(plan)
        assert sheet is not None and plan.step_joint is not None
        said = " ".join(
            [s.say() for step in plan.steps for s in step.text]
            + [r.what for step in plan.steps for r in step.readings]
            + [*sheet.lines, *(r.what for r in sheet.measured)]
            + [p.name for p in plan.parts]
        )
        assert "outermost step" not in said and "between the steps" not in said, job
        assert ("corner template" in said) == (plan.step_joint.bias.value > 0), job
        assert ("cover strip" in said.lower()) == (FORMS[job] is StepForm.FINGER), job
        assert ("for the bias" in said) == (plan.step_joint.bias.value > 0), job
        shown = answer(plan, "inch")
        page = " ".join(n["name"] for n in shown["numbers"])
        why = [r.reason.say() for c in plan.choice.candidates for r in c.requirements]
        assert not any("1 plies" in words for words in (*shown["turns"], *why)), job
        assert "1 plies" not in shown["fastener"]["measures"], job
        assert ("offset of the bias" in page) == (plan.step_joint.bias.value > 0), job


def test_covers_of_a_cord_joint_are_bought_as_large_as_they_are_taken_off() -> None:
    """900 mm from line to line on a belt 1 m wide: 0.9 m2 on each side, not a strip of 100 mm; and
    the film lies under the whole platen, 900 + 2 x 100 mm and the bias of 364 mm."""
    plan = plan_of_job("trunk-cord")
    sizes = {part.name: part.size.say() for part in plan.parts}
    for rubber in ("core rubber", "cover rubber, carry cover", "cover rubber, pulley cover"):
        assert sizes[rubber].startswith("0.9 m2")
    assert plan.step_joint is not None and plan.step_joint.curing is not None
    assert sizes["release film for the platens"].startswith(
        plan.step_joint.curing.press_length.show()
    )


@pytest.mark.parametrize("system", ["metric", "inch"])
def test_no_two_texts_of_the_drawings_touch(system: System) -> None:
    """As printed across A4 and Letter: in inches, numbers of one end ran into those of the other,
    and both distances of the pulling clamps lay on each other."""
    for job, paper in itertools.product(JOBS, (A4, LETTER)):
        plan = plan_of_job(job)
        across = paper.height - 2 * MARGIN
        lines = fit(step_marking(plan, system), across, 112.0, BELT_REDUCTIONS).scene
        for scene in (lines, clamp_drawing(plan, system)):
            texts = [p for _, p in primitives(scene) if isinstance(p, Text)]
            for one, other in itertools.combinations(texts, 2):
                # What is drawn later whites out its room, which is wider than its letters.
                a, b = printed(one), extent(other) if other.masked else printed(other)
                apart = max(a[0] - b[2], b[0] - a[2], a[1] - b[3], b[1] - a[3])
                assert apart > -0.8 * other.masked, (job, one.text, other.text)


def printed(text: Text) -> tuple[float, float, float, float]:
    """Left, low, right, high of a lying text as its font is wide [mm], without what hangs below."""
    assert text.rotation == 0.0
    font = ImageFont.truetype(
        FONT_FOLDER / f"SplicewrightSans-{'Bold' if text.bold else 'Regular'}.ttf", 100
    )
    wide = font.getlength(text.text) / 100 * text.size / CAP_HEIGHT
    left = text.at[0] - {"start": 0.0, "middle": wide / 2, "end": wide}[text.anchor]
    low = text.at[1] - {"base": 0.0, "middle": text.size / 2, "top": text.size}[text.baseline]
    return left, low, left + wide, low + text.size


def test_the_edges_are_named_clear_of_the_press() -> None:
    for job in ("gallery-finger", "trunk-cord"):
        parts = [p for _, p in primitives(press_drawing(plan_of_job(job)))]
        names = [p.at[1] for p in parts if isinstance(p, Text) and p.text in {"LEFT", "RIGHT"}]
        lines = [y for p in parts if isinstance(p, Polyline) for _, y in p.points]
        assert min(names) > max(lines)
