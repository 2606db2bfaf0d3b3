"""The joints of a fleet, and how likely each is to fail in the time ahead."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from splicewright.history.arrays import Array
from splicewright.history.life.lives import Life, Lives, gather
from splicewright.history.life.pooling import Prior
from splicewright.history.life.pooling_fleet import ManyGroups, pool_many

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Duty:
    """A task due at a joint."""

    task: str
    due: date
    why: str = ""


@dataclass(frozen=True, slots=True)
class FleetJoint:
    """A joint in a belt, or one that was.

    joint, conveyor, site : names
    life : what is known of it; None before it has run
    per_day : use ahead of it [measure per day]
    id : of the joint, for links
    conveyor_id : identity of its conveyor; conveyors of one name are told apart by it
    running : it is in the belt and has not failed
    must_not_run : the last inspection found that
    duties : what is due at it
    watched : days between which it was watched; None before it has run
    stands : since when it stands in the belt without running; None while it runs
    kind : of joint; empty where it is not known
    """

    joint: str
    conveyor: str
    site: str
    life: Life | None
    per_day: float
    id: str = ""
    conveyor_id: str = ""
    running: bool = True
    must_not_run: bool = False
    duties: tuple[Duty, ...] = ()
    watched: tuple[date, date] | None = None
    stands: date | None = None
    kind: str = ""


def group_of(joint: FleetJoint) -> str:
    """The group it belongs to: its conveyor, by identity."""
    return joint.conveyor_id or joint.conveyor


def life_of(joint: FleetJoint) -> Life:
    """Its life; only for a joint that has run."""
    assert joint.life is not None
    return joint.life


def grouped(lived: Sequence[FleetJoint]) -> tuple[list[str], NDArray[np.intp]]:
    """Names of the groups, and the position in them of each joint that has run."""
    groups = list(dict.fromkeys(group_of(j) for j in lived))
    place = {g: n for n, g in enumerate(groups)}
    return groups, np.array([place[group_of(j)] for j in lived], dtype=np.intp)


def fitted(
    groups: Sequence[str],
    index: NDArray[np.intp],
    lives: Sequence[Life],
    prior: Prior | None = None,
) -> ManyGroups:
    """The lives of all groups.

    Raises InputError: no failure is among them.
    """
    every = gather(lives)
    order = np.argsort(index, kind="stable")
    cuts = np.searchsorted(index[order], np.arange(len(groups) + 1))
    by_group = {}
    for n, name in enumerate(groups):
        rows = order[cuts[n] : cuts[n + 1]]
        by_group[name] = Lives(
            every.good[rows], every.bad[rows], every.entered[rows], every.count[rows], every.measure
        )
    return pool_many(by_group, prior)


def chances_ahead(
    joints: Sequence[FleetJoint], prior: Prior | None = None
) -> Callable[[float], Array]:
    """How likely each running joint is to fail within a number of days, for any such number.

    joints : all of them, those that failed too
    prior : what is believed beforehand
    Returns days -> chances by each law that the records leave open, (draws, running joints). Raises
    InputError: no failure is on file, so nothing can be said.
    """
    lived = [j for j in joints if j.life is not None]
    groups, index = grouped(lived)
    laws = fitted(groups, index, [life_of(j) for j in lived], prior).draws()
    rows = [n for n, j in enumerate(lived) if j.running]
    runs, whose = [lived[n] for n in rows], index[rows]
    ages = np.array([life_of(j).good for j in runs], dtype=np.float64)
    rates = np.array([j.per_day for j in runs], dtype=np.float64)
    return lambda days: laws.chance_of_failing(whose, ages, rates * days)
