"""Plans of the invented example site that the tests of the sheets share."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

from splicewright.job import JointPlan, plan
from splicewright.joint import load_ranges
from splicewright.plant import JointKind, load_conveyor, load_work
from splicewright.sheets.crew_pack.files import pack

SITE = Path(__file__).parent.parent.parent / "examples" / "karst-hollow"
WORKS = {
    "incline": "incline-worn-joint",
    "flat": "flat-torn-belt",
    "shuttle": "shuttle-new-belt",
}
COMPLETE = tuple(WORKS)


@cache
def example(name: str) -> JointPlan:
    """A plan with a joint: triples at the edges, notched; or a strip on a reversing belt."""
    return _planned(name, ("hinged.toml", "solid.toml"))


@cache
def packed(name: str) -> dict[str, bytes]:
    """Everything in the folder of an example; drawn once for all who read in it."""
    return pack(example(name))


@cache
def without_fastener() -> JointPlan:
    """A plan for which no size fits: a range of solid plates where a hinge is asked."""
    return _planned("incline", ("solid.toml",))


@cache
def without_range() -> JointPlan:
    """A plan without any fastener data."""
    return _planned("incline", ())


@cache
def solid() -> JointPlan:
    """A plan with a solid-plate joint: no pin, no liner, no seating strips."""
    conveyor = load_conveyor(SITE / "conveyors" / "flat.toml")
    work = load_work(SITE / "jobs" / "flat-torn-belt.toml", conveyor)
    [data] = load_ranges((SITE / "fasteners" / "solid.toml",))
    # The example size wants larger pulleys than this conveyor has; a smaller one is invented.
    eased = replace(data, sizes=tuple(replace(size, smallest_pulley=0.3) for size in data.sizes))
    return plan(conveyor, replace(work, kind=JointKind.SOLID, scrapers=False), (eased,))


def _planned(name: str, ranges: tuple[str, ...]) -> JointPlan:
    conveyor = load_conveyor(SITE / "conveyors" / f"{name}.toml")
    work = load_work(SITE / "jobs" / f"{WORKS[name]}.toml", conveyor)
    return plan(conveyor, work, load_ranges(tuple(SITE / "fasteners" / r for r in ranges)))


def wanted_holes(
    joint_plan: JointPlan, which: str, *, on_paper: bool = False
) -> list[tuple[float, float]]:
    """Every hole of one end [mm], by the axes of docs/anatomy.md put on a sheet.

    The travel is up the sheet and the carry cover faces the reader, so y (left of the travel)
    runs to the left; x runs into the belt: up for the leading end, down for the trailing end.
    A drawing (`on_paper`) for a place on the return side shows the belt from its other face, where
    left and right change sides; a template is laid on the carry cover wherever it is.
    """
    assert joint_plan.layout is not None
    end = joint_plan.layout.leading if which == "leading" else joint_plan.layout.trailing
    up = 1.0 if which == "leading" else -1.0
    side = 1.0 if on_paper and from_below(joint_plan) else -1.0
    return [(side * 1000.0 * hole.y, up * 1000.0 * hole.x) for hole in end.holes]


def from_below(joint_plan: JointPlan) -> bool:
    """Whether the place of work lies on the return side, by the names in the example's files."""
    return "return" in joint_plan.work.run
