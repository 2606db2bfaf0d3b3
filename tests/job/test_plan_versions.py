"""Which steps of two plans are the same: what a crew reads, measures, signs and draws there.

Source of what is expected: the printed crew packs of both plans, laid side by side. A belt that is
measured thinner within the size's span moves no plate; another belt width moves all of them;
another place of work moves the barriers before it moves a plate.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from planned import SITE, planned
from splicewright.actions.plan.again import answers_of, draft_again
from splicewright.job import JointPlan, plan
from splicewright.job.plan_versions import Change, holds, step_changes
from splicewright.joint import Range, load_ranges
from splicewright.plant import JobKind, Reason
from strategies import conveyor_of, outline, work_of

RANGES = load_ranges((SITE / "fasteners",))
MACHINE = {"park", "permit", "isolate", "place", "survey", "slack", "open"}


def again(before: JointPlan, ranges: tuple[Range, ...] = RANGES, **changed: list[str]) -> JointPlan:
    answers = answers_of(before.work, "metric") | changed
    draft = draft_again(before, before.conveyor, answers, "metric", ranges)
    assert draft.plan is not None and not draft.faults
    return draft.plan


@pytest.fixture(scope="module")
def first() -> JointPlan:
    return planned("incline", "incline-worn-joint")


def _changed(before: JointPlan, after: JointPlan) -> set[str]:
    return {c.step.key for c in step_changes(before, after) if c.change is not Change.SAME}


@pytest.mark.parametrize(
    ("conveyor", "job"),
    [("incline", "incline-worn-joint"), ("incline", "incline-emergency-plates"),
     ("incline", "incline-round"), ("incline", "incline-rip"), ("shuttle", "shuttle-new-belt"),
     ("flat", "flat-lengthened"), ("incline", "incline-vulcanised")],
)  # fmt: skip
def test_nothing_changed_is_the_very_same_plan(conveyor: str, job: str) -> None:
    before = planned(conveyor, job)
    after = again(before)
    assert after.work == before.work or before.work.distance.assumed
    assert after.id == before.id or before.work.distance.assumed
    assert not _changed(before, after)


def test_a_kind_that_nobody_stated_stays_unstated() -> None:
    """A file without `kind` tells its kind from reason and lengths, and goes on doing so."""
    conveyor = conveyor_of(outline())
    before = plan(conveyor, work_of(conveyor, work={"run": "carry run", "distance": "8 m"}))
    assert before.work.job_why
    assert again(before, ranges=()).work == before.work


def test_another_kind_of_job_is_planned_as_that(first: JointPlan) -> None:
    after = again(first, job=[JobKind.SHORTENED.value], cut_out=["1.2 m"], insert=[])
    assert after.work.job is JobKind.SHORTENED and after.work.reason is Reason.SHORTEN
    assert after.work.cut_out.value == pytest.approx(1.2) and after.work.run == first.work.run


def test_more_time_changes_no_step(first: JointPlan) -> None:
    after = again(first, window=["11 h"])
    assert after.id != first.id and not _changed(first, after)


def test_a_thinner_belt_of_the_same_size_needs_other_bolts_and_no_other_holes(
    first: JointPlan,
) -> None:
    after = again(first, thickness=["12.1 mm"] * 5)
    assert first.fastener is not None and after.fastener is not None
    assert after.fastener.name == first.fastener.name
    changed = _changed(first, after)
    assert {"seat", "tighten", "check", "measure"} <= changed
    assert not changed & (MACHINE | {"clamp", "cut", "punch", "mark"})
    seat = next(c for c in step_changes(first, after) if c.step.key == "seat")
    assert any("bolt" in line.say() for line in seat.now)


def test_one_more_person_is_one_more_lock(first: JointPlan) -> None:
    assert "isolate" in _changed(first, again(first, people=["4"]))


def test_another_width_changes_what_is_at_the_joint_and_no_lock(first: JointPlan) -> None:
    after = again(first, width=["960 mm"])
    changed = _changed(first, after)
    assert {"whole", "mark", "cut", "punch", "seat", "check", "run"} <= changed
    assert not changed & MACHINE
    punch = next(c for c in step_changes(first, after) if c.step.key == "punch")
    assert any("holes" in line.say() for line in punch.now)
    assert any("66 holes" in line.say() for line in punch.before)


def test_another_place_changes_every_step(first: JointPlan) -> None:
    after = again(first, distance=["25 m"])
    assert _changed(first, after) == {step.key for step in first.steps}


def test_what_only_a_drawing_shows_counts(first: JointPlan) -> None:
    assert first.layout is not None
    moved = replace(first.layout.leading, setback_left=first.layout.leading.setback_left + 0.004)
    other = replace(first, id="otherdrawn", layout=replace(first.layout, leading=moved))
    assert not holds(first, other, "punch") and not holds(first, other, "mark")
    assert holds(first, other, "isolate") and holds(first, other, "clamp")


def test_another_hold_point_is_told_in_its_words(first: JointPlan) -> None:
    held = next(s for s in first.steps if s.hold_point is not None)
    new = replace(held, hold_point="both shifts agree on the length")
    steps = tuple(new if s is held else s for s in first.steps)
    told = step_changes(first, replace(first, id="otherhold", steps=steps))
    [change] = [c for c in told if c.change is not Change.SAME]
    assert (change.step.key, change.change) == (held.key, Change.CHANGED)
    assert [line.say() for line in change.now] == ["Hold point: both shifts agree on the length"]
    assert [line.say() for line in change.before] == [f"Hold point: {held.hold_point}"]


def test_steps_that_come_and_go(first: JointPlan) -> None:
    after = again(first, scrapers=["no"])
    gone = [c for c in step_changes(first, after) if c.change is Change.GONE]
    assert [c.step.key for c in gone] == ["skive"]
    back = [c for c in step_changes(after, first) if c.change is Change.NEW]
    assert [c.step.key for c in back] == ["skive"]
    assert not holds(first, after, "skive") and not holds(after, first, "skive")
