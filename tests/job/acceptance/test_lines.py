"""The acceptance sheet as data, and values of a step judged against the plan."""

from __future__ import annotations

from pathlib import Path

import pytest

from splicewright.actions.plan.plan import plan_joint
from splicewright.job import (
    AgainstLimits,
    JointPlan,
    Reading,
    acceptance,
    asked_of,
    judge,
    judge_step,
    lines_to_tick,
    printed_limits,
)
from splicewright.joint import End
from splicewright.quantities import Kind, System, read, sentence, show

SITE = Path(__file__).parents[3] / "examples" / "karst-hollow"
JOBS = {"incline": "incline-worn-joint", "flat": "flat-torn-belt", "shuttle": "shuttle-new-belt"}


@pytest.fixture(scope="module", params=sorted(JOBS))
def plan(request: pytest.FixtureRequest) -> JointPlan:
    conveyor, work = request.param, JOBS[request.param]
    return plan_joint(SITE / "conveyors" / f"{conveyor}.toml", SITE / "jobs" / f"{work}.toml")


def test_every_box_of_a_step_has_a_name_of_its_own(plan: JointPlan) -> None:
    for step in plan.steps:
        names = [r.what for r in asked_of(plan, step) if not r.of_pair]
        assert len(names) == len(set(names)), step.key


def test_limits_of_the_acceptance_sheet_are_those_of_the_plan(plan: JointPlan) -> None:
    asked = acceptance(plan)
    assert asked is not None and plan.limits is not None and plan.fastener is not None
    by_name = {r.what: r for r in asked.measured}
    diagonals = by_name["Difference of the diagonals, cut ends"]
    assert diagonals.high == plan.limits.diagonals.value
    assert plan.limits.diagonals.show() in diagonals.limit.say()
    torque = plan.fastener.size.seat_torque
    assert ("Torque, three bolts tried" in by_name) == (torque is not None)
    if torque is not None:
        low, high = (
            by_name["Torque, three bolts tried"].low,
            by_name["Torque, three bolts tried"].high,
        )
        assert low is not None and high is not None and low < torque < high
    (check,) = [s for s in plan.steps if s.key == "check"]
    assert asked_of(plan, check) == check.readings + asked.measured


def test_a_plan_without_a_joint_has_no_acceptance_sheet() -> None:
    plan = plan_joint(SITE / "conveyors" / "incline.toml", SITE / "jobs" / "incline-tracking.toml")
    assert plan.layout is None and acceptance(plan) is None
    for step in plan.steps:
        assert asked_of(plan, step) == step.readings


def test_a_vulcanised_joint_is_accepted_line_by_line_as_one_of_plates_is() -> None:
    plan = plan_joint(
        SITE / "conveyors" / "incline.toml", SITE / "jobs" / "incline-vulcanised.toml"
    )
    sheet = acceptance(plan)
    assert sheet is not None and len(sheet.lines) >= 6 and len(sheet.measured) >= 4
    check = next(step for step in plan.steps if step.key == "check")
    assert asked_of(plan, check) == check.readings + sheet.measured
    assert lines_to_tick(plan, check) == len(sheet.lines)
    said = " ".join(sheet.lines) + " ".join(r.what for r in sheet.measured)
    for word in ("blister", "chalk line", "edges", "Hardness", "Thickness"):
        assert word in said
    assert "bolt" not in said and "Torque" not in said
    # Along one edge, from the outermost line to the other: what the page of the lines shows there.
    joint = plan.step_joint
    assert joint is not None
    for which in End:
        at = [mark.left for mark in joint.marks(which)]
        length = sheet.measured[0].limit.say()
        assert length == show(max(at) - min(at), Kind.LENGTH)


@pytest.mark.parametrize("system", ["metric", "inch"])
def test_what_the_sheet_allows_is_within(plan: JointPlan, system: str) -> None:
    for step in plan.steps:
        for reading in asked_of(plan, step):
            for limit in (reading.low, reading.high):
                if limit is None:
                    continue
                told: System = "inch" if system == "inch" else "metric"
                printed = show(limit, reading.kind, told)
                if printed not in reading.limit.say(told):
                    continue
                assert judge(reading, read(printed, reading.kind)) is AgainstLimits.WITHIN, printed


def test_printed_limits_are_never_narrower_and_hardly_wider(plan: JointPlan) -> None:
    for step in plan.steps:
        for reading in asked_of(plan, step):
            low, high = printed_limits(reading)
            if reading.low is not None and low is not None:
                assert 0.98 * reading.low <= low <= reading.low
            if reading.high is not None and high is not None:
                assert reading.high <= high <= 1.05 * reading.high


def test_two_lengths_are_judged_by_their_difference() -> None:
    readings = (
        Reading("diagonals", Kind.LENGTH, None, None, 2, sentence("equal")),
        Reading("their difference", Kind.LENGTH, 0.0, 0.002, 1, sentence("2 mm"), of_pair=True),
        Reading("thickness", Kind.LENGTH, 0.011, 0.016, 3, sentence("11 to 16 mm")),
    )
    assert judge_step(readings, {}) == ()
    one = judge_step(readings, {("diagonals", 1): 1.414})
    assert [(a.what, a.box, a.verdict) for a in one] == [("diagonals", 1, AgainstLimits.OPEN)]
    # The longer one first and the longer one last are the same difference.
    for pair in ((1.414, 1.417), (1.417, 1.414)):
        values = {("diagonals", 1): pair[0], ("diagonals", 2): pair[1]}
        found = judge_step(readings, values | {("thickness", 3): 0.0105, ("unknown", 1): 1.0})
        assert [(a.what, a.box, a.verdict) for a in found] == [
            ("diagonals", 1, AgainstLimits.OPEN), ("diagonals", 2, AgainstLimits.OPEN),
            ("diagonals", 0, AgainstLimits.HIGH), ("thickness", 3, AgainstLimits.LOW),
        ]  # fmt: skip
        assert found[2].value == pytest.approx(0.003)
