"""Every kind of job acted through, on every example conveyor, on the carry and the return side."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from depth import sized
from job.steps.walker import WrongError, walk
from planned import SITE, planned
from splicewright.files.toml import check
from splicewright.job import JointPlan, plan
from splicewright.joint import load_ranges
from splicewright.plant import Conveyor, JobKind, Side, TakeUpKind, load_conveyor
from splicewright.plant.filling.work import fill_work
from splicewright.plant.work_file import WorkFile
from splicewright.tension.at_rest import Move

JOBS = sorted(path.stem for path in (SITE / "jobs").glob("*.toml"))
CONVEYORS = ("flat", "incline", "shuttle")

KINDS: dict[str, dict[str, Any]] = {
    "worn joint made anew": {"belt": {"cut_out": "100 mm"}},
    "piece inserted": {"belt": {"cut_out": "2 m", "insert": "2 m"}},
    "belt shortened": {"belt": {"cut_out": "150 mm"}},
    "belt lengthened": {"belt": {"cut_out": "1 m", "insert": "1.1 m"}},
    "new belt": {},
    "emergency repair": {"damage": {"what": "plates", "width": "150 mm"}},
    "emergency repair, pin": {"damage": {"what": "pin"}},
    "repair along the belt": {"damage": {"what": "rip", "length": "3 m"}},
    "repair along the belt, hole": {"damage": {"what": "hole", "length": "1 m", "width": "90 mm"}},
    "repair along the belt, edge": {
        "damage": {"what": "edge tear", "length": "1 m", "width": "50 mm"}
    },
    "inspection round": {"round": [{"name": "J1", "behind": "9 m"}]},
    "inspection round, on foot": {
        "work": {"round_way": "foot"},
        "round": [{"name": "J1", "behind": "9 m"}, {"name": "J2", "behind": "4 m"}],
    },
    "tracking trouble": {},
}


@cache
def machine(name: str) -> Conveyor:
    return load_conveyor(SITE / "conveyors" / f"{name}.toml")


def job(
    conveyor: str, kind: str, side: Side, load: str = "0 %", joint: str = "hinged"
) -> JointPlan:
    plant = machine(conveyor)
    run = max((r for r in plant.runs() if r.side is side), key=lambda r: r.length.value)
    data = {**KINDS[kind]}
    data["work"] = data.get("work", {}) | {
        "name": kind, "kind": kind.partition(",")[0], "run": run.name,
        "distance": f"{run.length.value / 2} m",
    }  # fmt: skip
    thick = {"flat": "9.5 mm", "incline": "14 mm", "shuttle": "10 mm"}[conveyor]
    data["belt"] = {"thickness": [thick], "load_left": load, **data.get("belt", {})}
    data["joint"] = {"scrapers": joint != "solid plate", "kind": joint}
    work = fill_work(check(data, WorkFile, ""), plant)
    return plan(plant, work, load_ranges((SITE / "fasteners",)))


def test_every_kind_of_job_is_acted() -> None:
    assert {k.partition(",")[0] for k in KINDS} == {kind.value for kind in JobKind}


ALL = [(c, k, s) for c in CONVEYORS for k in KINDS for s in Side]
"""Quick: each kind on each side and each conveyor, not each with each (a Latin square)."""


@pytest.mark.parametrize(
    ("conveyor", "kind", "side"), [ALL[n] for n in range(0, len(ALL), sized(5, deep=1))]
)
def test_acted_through(conveyor: str, kind: str, side: Side) -> None:
    made = job(conveyor, kind, side)
    assert made.complete == made.work.job.plated  # a joint that fits, where one is made
    walk(made)


@pytest.mark.parametrize("kind", ["worn joint made anew", "piece inserted"])
@pytest.mark.parametrize(
    ("conveyor", "joint"), [("flat", "riveted hinge"), ("shuttle", "solid plate")]
)
def test_other_plates_are_acted_through(conveyor: str, joint: str, kind: str) -> None:
    made = job(conveyor, kind, Side.RETURN, joint=joint)
    assert made.complete
    walk(made)


@pytest.mark.parametrize("kind", ["worn joint made anew", "repair along the belt"])
def test_with_load_left_on_a_slope(kind: str) -> None:
    made = job("incline", kind, Side.RETURN, load="100 %")
    walk(made)
    keys = [s.key for s in made.steps]
    # Nobody unloads a belt that no clamp holds.
    assert keys.index("clear") < keys.index("clamp") < keys.index("unload") < keys.index("release")


ALONG = [kind for kind in KINDS if kind.startswith("repair along")]


@pytest.mark.parametrize("kind", ALONG)
@pytest.mark.parametrize("conveyor", CONVEYORS)
def test_a_belt_that_stays_in_one_piece_is_not_drawn_slack(conveyor: str, kind: str) -> None:
    """Nothing is opened: no pulling clamp, no hoist across the place, no slack wanted there; and
    no clamp stands on the damage."""
    made = job(conveyor, kind, Side.RETURN)
    stopped = made.at_rest
    assert all(place.restraining for place in made.clamps.places)
    assert not any("pulling clamp" in tool.name for tool in made.tools)
    assert stopped.movement.slack.value == 0
    assert not any(force.key == "hoists" for stage in stopped.stages for force in stage.forces)
    told = [s.say() for s in (*stopped.remarks, *(row.says for row in stopped.lets_go))]
    told += [said.say() for step in made.steps for said in step.text]
    assert not any("with the hoists" in said or "is opened" in said for said in told)
    assert made.work.damage_length is not None
    assert made.clamps.restraining.value > made.work.damage_length.value / 2 + 1.0


def test_a_take_up_that_cannot_give_enough_is_slacked_as_far_as_it_goes() -> None:
    """A step that asks for 372 mm of a screw that has 152 mm cannot be done."""
    said = {}
    for conveyor in ("flat", "incline"):
        made = job(conveyor, "worn joint made anew", Side.RETURN)
        release = next(s for s in made.steps if s.key == "release").text[0].say()
        said[made.at_rest.movement.enough] = release
    assert "to the end of its travel" in said[False]
    assert "the most it may need" in said[True] and "end of its travel" not in said[True]


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_locked_now_stands_before_what_is_made_safe_later(kind: str) -> None:
    """And who reaches into a joint on a slope has no load above, which no lock holds."""
    made = job("incline", kind, Side.RETURN, load="100 %")
    lockable = [source.lockable for source in made.isolation]
    assert lockable == sorted(lockable, reverse=True)
    load = next(source for source in made.isolation if source.what == "load on the slope")
    if made.work.job.clamped:
        assert load.later
    else:
        assert "Run the belt empty" in load.make_safe.say()


@pytest.mark.parametrize("name", JOBS)
def test_the_example_jobs_are_acted_through(name: str) -> None:
    made = planned(name.partition("-")[0], name)
    belt = walk(made)
    assert belt.drive_live
    assert not belt.clamps_on
    assert belt.take_up_pulls
    assert not made.work.job_why  # every example says its kind
    titles = {s.title for s in made.steps}
    later = {s.later for s in made.isolation if s.later}
    assert later <= titles  # the isolation sheet names steps that there are
    assert len({s.key for s in made.steps}) == len(made.steps)


@pytest.mark.parametrize("name", JOBS)
def test_screws_are_turned_by_count_only_where_the_belt_is_as_long_as_before(name: str) -> None:
    """Reproduced: a belt 170 mm longer was to be tensioned by the turns counted, which leave it
    slack. Geometry: counted turns bring a screw back to where it stood."""
    made = planned(name.partition("-")[0], name)
    tension = next((s for s in made.steps if s.key == "tension"), None)
    if tension is None or made.conveyor.take_up.kind is not TakeUpKind.SCREW:
        return
    back = tension.text[0].say()
    as_before = abs(made.belt.position_after.value - made.conveyor.take_up.position.value) < 0.001
    if made.work.job is not JobKind.NEW_BELT:
        assert (", by the turns counted" in back) == as_before
    assert ("not by the turns" in back) == (", by the turns counted" not in back)


@pytest.mark.parametrize("name", JOBS)
def test_diagonals_are_marked_where_the_tape_lies_flat(name: str) -> None:
    """Reproduced: marks 2 m behind a cut that hangs 1.5 m from its pulling clamp."""
    made = planned(name.partition("-")[0], name)
    if made.limits is None or made.lengths is None or not made.work.job.joins:
        return
    out = 0.0 if made.work.job is JobKind.NEW_BELT else made.work.cut_out.value
    free = made.clamps.pulling.value - (out + made.lengths.span.value) / 2
    assert made.limits.back.value <= free - 0.05


@pytest.mark.parametrize("kind", ["inspection round", "inspection round, on foot",
                                  "tracking trouble"])  # fmt: skip
def test_the_belt_is_run_empty_before_hands_go_below_a_slope(kind: str) -> None:
    """Where nothing is clamped only the drive's lock holds; a lock holds no load on a slope."""
    made = job("incline", kind, Side.RETURN)
    emptied = [n for n, s in enumerate(made.steps)
               if any("run the belt empty" in t.say() for t in s.text)]  # fmt: skip
    locked = [n for n, s in enumerate(made.steps) if Move.LOCK_OUT in s.moves]
    assert min(emptied) <= min(locked)


def test_a_take_up_that_may_not_give_enough_stands_on_page_one() -> None:
    for name in JOBS:
        made = planned(name.partition("-")[0], name)
        told = any("may not give enough" in said.say() for said in made.warnings)
        short = made.work.job.clamped and made.belt.closes and not made.at_rest.movement.enough
        assert told == short, name


def test_a_new_belt_is_told_where_it_is_cut_to_length() -> None:
    """By hand: slacked to its end, the screw takes up twice its 150 mm again, less the joint."""
    made = planned("shuttle", "shuttle-new-belt")
    assert made.lengths is not None
    said = next(s for s in made.steps if s.key == "mark")
    past = made.worksheet.find("new_belt.past").figure.value  # type: ignore[union-attr]
    slack, after = 0.0, made.belt.position_after.value
    assert past == pytest.approx(2 * (after - slack) - made.lengths.span.value)
    assert any("Second cut line" in text.say() for text in said.text)


def test_a_vulcanised_joint_is_planned_for_the_width_that_was_measured() -> None:
    made = planned("incline", "incline-vulcanised")
    [width] = [r for s in made.steps for r in s.readings if r.what == "Belt width, both ends"]
    assert "998 mm" in width.limit.say()


def test_every_kind_has_an_example() -> None:
    assert {planned(n.partition("-")[0], n).work.job for n in JOBS} == set(JobKind)


def test_the_walker_sees_what_is_wrong() -> None:
    """The class of faults of before: each put back in, each seen."""
    made = planned("incline", "incline-worn-joint")
    by_key = {s.key: s for s in made.steps}
    steps = list(made.steps)

    def swapped(one: str, other: str) -> JointPlan:
        order = list(steps)
        a, b = steps.index(by_key[one]), steps.index(by_key[other])
        order[a], order[b] = order[b], order[a]
        return replace(made, steps=tuple(order))

    wrong = [
        swapped("isolate", "park"),  # run empty after the lock-out
        swapped("mark", "slack"),  # square line where clamps stand
        swapped("release", "clamp"),
        swapped("measure", "whole"),  # thickness across a cut that is not made
        swapped("chains", "open"),
        swapped("ease", "tension"),
        swapped("tension", "inch"),
        replace(made, parts=tuple(p for p in made.parts if p.name != "hinge pin")),
        replace(made, tools=tuple(t for t in made.tools if "punch" not in t.name)),
        replace(made, tools=tuple(t for t in made.tools if "power" not in t.name)),
        replace(made, steps=tuple(replace(s, readings=()) for s in steps)),
        replace(made, steps=tuple(
            replace(s, hold_point="Every line of the isolation sheet is ticked.")
            if s.key == "isolate" else s for s in steps)),
    ]  # fmt: skip
    for plan_ in wrong:
        with pytest.raises(WrongError):
            walk(plan_)


def test_moves_follow_each_other_on_the_stopped_belt_too() -> None:
    from splicewright.tension.at_rest.state import states

    for name in JOBS:
        moves = [m for s in planned(name.partition("-")[0], name).steps for m in s.moves]
        assert len(states(moves)) == len(moves)  # refused where one cannot follow
    assert Move.PULL_IN in [
        m for s in planned("shuttle", "shuttle-new-belt").steps for m in s.moves
    ]
