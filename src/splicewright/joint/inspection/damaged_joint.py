"""The loads of a damaged joint: one end on a straight pin, or both ends on a pin that bends.

Where both ends are worked, plates stand in one row: leading end first, each from the left. The
sound joint's response is worked once for each set of assumptions and kept; damage changes a few
rows of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from splicewright.joint.inspection.plate_condition import Findings, condition
from splicewright.joint.layout import End
from splicewright.joint.loads.hinge import hold_each_other
from splicewright.joint.loads.limit_crossing import crossing
from splicewright.joint.loads.places import Place, curve_slack, place_slack
from splicewright.joint.loads.response import Response, response_of
from splicewright.joint.loads.sharing import can_balance, unguided
from splicewright.joint.loads.stiffness import Case

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

_STEPS = 24
EQUAL = 1e-9
"""Difference of loads, of the larger one, below which they are the same [1]."""


@dataclass(frozen=True, slots=True, eq=False)
class DamagedJoint:
    """One case with the damage and the places worked in.

    Attributes
    ----------
    case : the assumptions; with a hinge both ends are worked
    alive, strength : of each plate; the second a share of a sound one's
    response : how what is left answers; None where nothing balances
    slack : `(places, plates)` [m]
    pull : `(places,)` [N]
    """

    case: Case
    alive: Flags
    strength: Array
    response: Response | None
    slack: Array
    pull: Array

    @classmethod
    def of(
        cls,
        case: Case,
        findings: Findings,
        trailing: Findings | None,
        places: Sequence[Place],
        curve_depth: float,
    ) -> DamagedJoint:
        """Turn findings, places and end curve into plates.

        Raises
        ------
        InputError
            Findings that do not fit the joint or leave no plate on an end.
        """
        hinge = case.hinge
        ends = [(case.edge, findings)]
        if hinge is not None:
            ends = [(hinge.leading, findings), (hinge.trailing, trailing or Findings())]
        states, slacks = [], []
        for edge, end_findings in ends:
            width = edge.strip.width
            state = condition(end_findings, edge.row, width)
            own = curve_slack(edge.row.y, width, curve_depth) + state.slack
            states.append(state)
            slacks.append(np.array([place_slack(edge, place) + own for place in places]))
        alive = np.concatenate([state.alive for state in states])
        left = np.where(alive, np.concatenate([state.stiffness for state in states]), 0.0)
        response = None
        if _balances(case, alive):
            weaker = np.flatnonzero(left < 1)
            response = response_of(case)
            if weaker.size:
                response = response.changed(weaker, left[weaker] * case.plate_stiffness)
        return cls(
            case,
            alive,
            np.concatenate([state.strength for state in states]),
            response,
            np.concatenate(slacks, axis=1),
            np.array([place.width_tension * case.edge.strip.width for place in places]),
        )

    @property
    def name(self) -> str:
        """Of the assumptions."""
        return self.case.name

    @property
    def y(self) -> Array:
        """Plate middles [m]."""
        return self.case.edge.row.y if self.case.hinge is None else self.case.hinge.y

    def named(self, at: int) -> tuple[int, End | None]:
        """Number of a plate from the left, and its end; None where one end was worked."""
        if self.case.hinge is None:
            return at + 1, None
        first = len(self.case.hinge.leading.row)
        return (at + 1, End.LEADING) if at < first else (at + 1 - first, End.TRAILING)

    def nearest_the_middle(self) -> int:
        """The plate that tears first when those left find no balance."""
        return int(np.where(self.alive, np.abs(self.y), np.inf).argmin())

    def loads(self, scale: float | Array, response: Response | None) -> Array:
        """Plate loads at a multiple of the pull; infinite without balance [N].

        `scale` broadcasts to `(..., places)`; `response` is the joint's own, or that of what is
        left of it; returns `(..., places, plates)`.
        """
        force = np.asarray(scale) * self.pull
        if response is None:
            return np.broadcast_to(np.where(self.alive, np.inf, 0.0), (*force.shape, len(self.y)))
        return response.loads(force, self.slack)

    def used(self, may: Array, scale: float = 1.0) -> Array:
        """Load over what each plate may carry, 0 for a lost one, `(places, plates)` [1]."""
        loads = self.loads(scale, self.response)
        return np.asarray(np.where(self.alive, loads / np.where(self.alive, may, 1.0), 0.0))

    def largest_pulls(self, may: Array) -> Array:
        """Largest multiple of the pull at which no plate passes `may`, `(places,)` [1].

        Searched from nothing upwards: with slack and built-in strain the loads do not grow in
        proportion, and the first overload counts.
        """
        borne = np.where(self.alive, may, 0.0).reshape(1 if self.case.hinge is None else 2, -1)
        high = borne.sum(axis=1).min() / self.pull
        steps = np.linspace(0.0, 1.0, _STEPS + 1)
        over = self._over(steps[1:, None] * high, may)
        multiples: Array = high.copy()
        for place in np.flatnonzero((over > 0).any(axis=0)):
            most, first = float(high[place]), int((over[:, place] > 0).argmax())
            below = (0.0, -1.0)
            if first > 0:
                below = float(steps[first]) * most, float(over[first - 1, place])
            above = float(steps[first + 1]) * most, float(over[first, place])
            multiples[place] = crossing(partial(self._at(int(place))._passed, may), below, above)
        return multiples

    def _over(self, scale: Array, may: Array) -> Array:
        """By how much the plate worst off passes what it may carry, `(..., places)` [1]."""
        left = self.alive
        used: Array = self.loads(scale, self.response)[..., left] / may[left]
        return np.asarray(used.max(axis=-1) - 1, dtype=np.float64)

    def _passed(self, may: Array, scale: float) -> float:
        return float(self._over(np.array([scale]), may)[0])

    def _at(self, place: int) -> DamagedJoint:
        """The same joint at one place alone."""
        return DamagedJoint(
            self.case,
            self.alive,
            self.strength,
            self.response,
            self.slack[[place]],
            self.pull[[place]],
        )

    def losing_order(self, breaking: Array, peak: float, most: int | None = None) -> int:
        """How many plates can be lost, worst first, before the rest tears open at the peak.

        Counted no further than `most`: the fewest of all cases is asked for.
        """
        response = self.response
        end = int(self.alive.sum()) if most is None else min(most, int(self.alive.sum()))
        for lost in range(end):
            loads = self.loads(peak, response)
            if response is None or self._tears_open(response, loads, breaking, peak):
                return lost
            used = np.where(response.alive, loads / np.where(response.alive, breaking, 1.0), -1.0)
            response = self._without(response, np.array([first_largest(used.max(axis=0))]))
        return end

    def _tears_open(self, response: Response, loads: Array, breaking: Array, peak: float) -> bool:
        """Take off what breaks, share again, until nothing breaks or nothing is left.

        `loads` : of the plates alive, as they are
        """
        left: Response | None = response
        while left is not None:
            breaks = left.alive & (loads > breaking).any(axis=0)
            if not breaks.any():
                return False
            left = self._without(left, np.flatnonzero(breaks))
            loads = self.loads(peak, left)
        return True

    def _without(self, response: Response, plates: NDArray[np.intp]) -> Response | None:
        """What is left when plates are lost; None when that balances nothing."""
        alive = response.alive.copy()
        alive[plates] = False
        if not _balances(self.case, alive):
            return None
        return response.changed(plates, np.zeros(len(plates)))


def first_largest(values: Array) -> int:
    """Place of the largest value in the flattened list; of equal ones the first.

    Plates opposite each other often carry the same to the last digits: rounding must not say
    which of them goes next.
    """
    flat = values.reshape(-1)
    return int((flat >= flat.max() * (1 - EQUAL)).argmax())


def _balances(case: Case, left: Flags) -> bool:
    """Whether the plates left can hold the pull."""
    hinge, edge, hold = case.hinge, case.edge, case.guidance
    if hinge is not None:
        return bool(hold_each_other(hinge, left[None], hold or unguided())[0])
    swings = edge.swings and (hold is None or math.isinf(hold.swing))
    if not swings:
        return bool(left.any())
    return bool(can_balance(edge.row.y, np.ones(1), left[None], unguided())[0])
