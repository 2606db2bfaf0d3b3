"""One verdict of a plan: what headline, bar, numbers and body say of it cannot disagree.

In a trial a page said "take-up left 13.5 m" of 6 m of travel, and "meets every requirement" above
"ends do not come together". Expected: arithmetic on belt out, belt in and travel.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from planned import SITE
from splicewright.job import plan
from splicewright.job.plan_verdict import plan_verdict
from splicewright.plant import Work, load_conveyor, load_work
from splicewright.quantities import Given
from splicewright.sheets.crew_pack.answer import answer
from splicewright.web.plan.words import numbers as shown_on_pages


def _work(cut_out: float, insert: float) -> tuple[object, Work]:
    conveyor = load_conveyor(SITE / "conveyors" / "incline.toml")
    work = load_work(SITE / "jobs" / "incline-worn-joint.toml", conveyor)

    def given(of: Given, value: float) -> Given:
        return replace(of, value=value, low=value, high=value)

    changed = replace(work, cut_out=given(work.cut_out, cut_out), insert=given(work.insert, insert))
    return conveyor, changed


def test_a_take_up_that_ends_just_at_its_tight_end_has_none_left_and_stands() -> None:
    conveyor, work = _work(0.3, 0.0)
    made = plan(conveyor, work)  # type: ignore[arg-type]
    left = replace(made.belt.left, value=0.0)
    found = plan_verdict(replace(made, belt=replace(made.belt, left=left)))
    assert "beyond" not in found.take_up.say()
    assert not any("take-up would stand" in said.say() for said in found.blocks)


@pytest.mark.parametrize(
    ("cut_out", "insert", "stands", "says"),
    [
        # The take-up of the example: 6 m of travel, two strands; where it stands is in its file.
        (0.3, 0.0, True, "take-up left"),
        (4.0, 0.0, True, "take-up left"),  # 5 m of belt there: they go into the joint, not more
        (40.0, 0.0, False, "beyond its slack end"),
        (0.0, 40.0, False, "beyond its tight end"),
    ],
)
def test_headline_bar_numbers_and_body_say_one_thing(
    cut_out: float, insert: float, stands: bool, says: str
) -> None:
    conveyor, work = _work(cut_out, insert)
    made = plan(conveyor, work)  # type: ignore[arg-type]
    found = plan_verdict(made)
    take_up = made.conveyor.take_up
    change = insert - cut_out + work.joints * made.belt.joint_span.value
    after = take_up.position.value + change / take_up.strands
    inside = 0 <= after <= take_up.travel.value
    assert inside == ("left" in found.take_up.say())
    assert says in found.take_up.say()
    told = answer(made, "metric")
    # Without ranges no fastener fits: that stands first, and alone where the belt is right.
    others = [said for said in told["blocks"] if said != "No fastener fits"]
    assert bool(others) != stands
    assert told["take_up"] == found.take_up.say("metric")
    numbers = " ".join(n["note"] for n in told["numbers"])
    assert told["take_up"] in numbers
    if not made.belt.closes:
        assert any("do not come together" in said for said in others)
    # Not enough in a number's note, and that it may not be enough in a warning, are one thing.
    short = any("may not give enough" in said.say() for said in made.warnings)
    assert short == (made.belt.closes and not made.at_rest.movement.enough)
    (slack,) = (one for one in shown_on_pages(made, "metric") if one.name == "slack needed")
    assert short == ("enough to close the joint, stretch and sag not counted" in slack.note)
    assert slack.note.endswith("NOT enough to close the joint") == (not made.belt.closes)
    assert short == (cut_out == 4.0)
    assert found.stands == (not told["blocks"])
