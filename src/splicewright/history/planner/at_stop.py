"""The running joints at a stop, and what renewing each there is worth: one value for all who ask.

The planner's page and the choice of joints for a shutdown both ask whether a joint is renewed at a
stop or left until the one after it. Both ask it here, so that the same lives give the same joints.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.fleet.joints import FleetJoint, fitted, grouped, life_of
from splicewright.history.life.draws import Draws, laws_for
from splicewright.history.planner.next_stop import (
    LookWorth,
    PlannerCosts,
    RenewalAge,
    StopChoice,
    WarningTime,
    between_stops,
    choose_at_stop,
    long_run_rates,
    renewal_age,
    worth_of_look,
)
from splicewright.quantities.going_on import go_on

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True)
class AtStop:
    """Running joints at a stop.

    Attributes
    ----------
    runs : the joints
    laws : of life that the records leave open; groups : how many groups share them
    whose : position of each joint's group, (joints,)
    ages : use of each by now, (joints,) [measure]
    first, second : use ahead until the stop and until the one after it, (joints,) [measure]
    """

    runs: tuple[FleetJoint, ...]
    laws: Draws
    groups: int
    whose: NDArray[np.intp]
    ages: Array
    first: Array
    second: Array

    def choice(self, costs: PlannerCosts) -> StopChoice:
        """What leaving each joint costs more than renewing it, by each law."""
        rates = long_run_rates(self.laws, costs)[:, self.whose]
        return choose_at_stop(self._between, rates, costs.dearer)

    @cached_property
    def _between(self) -> tuple[Array, Array]:
        """What no cost changes: worked once for the stated, half and double cost."""
        return between_stops(self.laws, self.whose, self.ages, self.first, self.second)

    def fails(self) -> tuple[Array, Array]:
        """Chances of failing before the stop, and before the one after it, (draws, joints)."""
        first, second = (
            self.laws.chance_of_failing(self.whose, self.ages, end)
            for end in (self.first, self.second)
        )
        return first, second

    def fails_renewed(self) -> Array:
        """Chance that a joint comes to the stop, is renewed there, and fails before the one after
        it, (draws, joints)."""
        good = 1 - self.laws.chance_of_failing(self.whose, self.ages, self.first)
        new = np.zeros_like(self.ages)
        return np.asarray(
            good * self.laws.chance_of_failing(self.whose, new, self.second - self.first)
        )

    def rules(self, costs: PlannerCosts) -> list[RenewalAge]:
        """The cheapest age of each group."""
        return [renewal_age(self.laws, n, costs) for n in range(self.groups)]

    def looks(self, some: NDArray[np.intp], costs: PlannerCosts, warning: WarningTime) -> LookWorth:
        """Worth of an inspection of some of them."""
        go_on()
        return worth_of_look(
            self.laws,
            self.whose[some],
            self.ages[some],
            self.first[some],
            self.second[some],
            long_run_rates(self.laws, costs),
            costs,
            warning,
        )


def at_stop(joints: Sequence[FleetJoint], today: date, stop: date, after: date) -> AtStop | None:
    """The running joints at a stop; None where none runs.

    Parameters
    ----------
    joints : all of them, those that failed too
    today, stop, after : now, the stop, the one after it

    Raises
    ------
    InputError
        Stops out of order; no failure is on file.
    """
    if stop < today:
        raise InputError(Fault("stop", f"{stop} is before today, {today}"))
    if not stop < after:
        raise InputError(
            Fault("stop after the next", f"{after} is not after the coming stop, {stop}")
        )
    lived = [j for j in joints if j.life is not None]
    groups, index = grouped(lived)
    rows = [n for n, j in enumerate(lived) if j.running]
    if not rows:
        return None
    laws = fitted(groups, index, [life_of(j) for j in lived]).draws(laws_for(len(rows)))
    runs = tuple(lived[n] for n in rows)
    a_day = np.array([j.per_day for j in runs])
    ends = (a_day * (day - today).days for day in (stop, after))
    ages = np.array([life_of(j).good for j in runs])
    return AtStop(runs, laws, len(groups), index[rows], ages, *ends)
