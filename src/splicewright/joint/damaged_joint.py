"""The loads of a damaged joint: one end on a straight pin, or both ends on a pin that bends.

Where both ends are worked, plates stand in one row: leading end first, each from the left.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splicewright.joint.findings import Findings, condition
from splicewright.joint.hinge import hold_each_other, share_both
from splicewright.joint.layout import Which
from splicewright.joint.places import Place, curve_slack, place_slack
from splicewright.joint.sharing import can_balance, share, unguided
from splicewright.joint.stiffness import Case

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

_STEPS, _FINER, _TIMES = 24, 12, 4


@dataclass(frozen=True, slots=True, eq=False)
class DamagedJoint:
    """One case with the damage and the places worked in.

    Attributes
    ----------
    case : the assumptions; with a hinge both ends are worked
    alive, strength, stiffness : of each plate; shares of a sound one's, then [N/m]
    slack : `(places, plates)` [m]
    pull : `(places,)` [N]
    """

    case: Case
    alive: Flags
    strength: Array
    stiffness: Array
    slack: Array
    pull: Array

    @classmethod
    def of(
        cls, case: Case, findings: Findings, trailing: Findings | None,
        places: Sequence[Place], curve_depth: float,
    ) -> DamagedJoint:  # fmt: skip
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
        for edge, found in ends:
            width = edge.strip.width
            state = condition(found, edge.row, width)
            own = curve_slack(edge.row.y, width, curve_depth) + state.slack
            states.append(state)
            slacks.append(np.array([place_slack(edge, place) + own for place in places]))
        alive = np.concatenate([state.alive for state in states])
        left = np.concatenate([state.stiffness for state in states])
        return cls(
            case,
            alive,
            np.concatenate([state.strength for state in states]),
            np.where(alive, left, 1.0) * case.plate_stiffness,
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

    def named(self, at: int) -> tuple[int, Which | None]:
        """Number of a plate from the left, and its end; None where one end was worked."""
        if self.case.hinge is None:
            return at + 1, None
        first = len(self.case.hinge.leading.row)
        return (at + 1, Which.LEADING) if at < first else (at + 1 - first, Which.TRAILING)

    def nearest_the_middle(self) -> int:
        """The plate that tears first when those left find no balance."""
        return int(np.where(self.alive, np.abs(self.y), np.inf).argmin())

    def loads(self, scale: float | Array, alive: Flags | None = None) -> Array:
        """Plate loads at a multiple of the pull; infinite without balance [N].

        `scale` broadcasts to `(..., places)`; returns `(..., places, plates)`.
        """
        left = self.alive if alive is None else alive
        force = np.asarray(scale) * self.pull
        if not self._balances(left):
            return np.broadcast_to(np.where(left, np.inf, 0.0), (*force.shape, len(left)))
        hinge, hold = self.case.hinge, self.case.guidance
        if hinge is None:
            return share(self.case.edge, self.stiffness, force, slack=self.slack, alive=left,
                         guidance=hold).loads  # fmt: skip
        return share_both(hinge, self.stiffness, force, slack=self.slack, alive=left,
                          guidance=hold or unguided())  # fmt: skip

    def _balances(self, left: Flags) -> bool:
        hinge, edge, hold = self.case.hinge, self.case.edge, self.case.guidance
        if hinge is not None:
            return bool(hold_each_other(hinge, left[None], hold or unguided())[0])
        swings = edge.swings and (hold is None or math.isinf(hold.swing))
        if not swings:
            return bool(left.any())
        return bool(can_balance(edge.row.y, np.ones(1), left[None], unguided())[0])

    def used(self, may: Array, scale: float = 1.0) -> Array:
        """Load over what each plate may carry, 0 for a lost one, `(places, plates)` [1]."""
        loads = self.loads(scale)
        return np.asarray(np.where(self.alive, loads / np.where(self.alive, may, 1.0), 0.0))

    def largest_pulls(self, may: Array) -> Array:
        """Largest multiple of the pull at which no plate passes `may`, `(places,)` [1].

        Searched from nothing upwards: with slack and built-in strain the loads do not grow in
        proportion, and the first overload counts.
        """
        borne = np.where(self.alive, may, 0.0).reshape(1 if self.case.hinge is None else 2, -1)
        low, high = np.zeros(len(self.pull)), borne.sum(axis=1).min() / self.pull
        for steps in (_STEPS, *[_FINER] * _TIMES):
            part = np.linspace(0.0, 1.0, steps + 1)[1:, None]
            scale = low + part * (high - low)
            over = (self.loads(scale) > may * (1 + 1e-12)).any(axis=2)
            first, some = over.argmax(axis=0), over.any(axis=0)
            at = np.arange(len(low))
            below = np.where(first > 0, scale[first - 1, at], low)
            low = np.where(some, below, high)
            high = np.where(some, scale[first, at], high)
        return low

    def losing_order(self, breaking: Array, peak: float, most: int | None = None) -> int:
        """How many plates can be lost, worst first, before the rest tears open at the peak.

        Counted no further than `most`: the fewest of all cases is asked for.
        """
        alive = self.alive.copy()
        end = int(alive.sum()) if most is None else min(most, int(alive.sum()))
        for lost in range(end):
            loads = self.loads(peak, alive)
            if self._tears_open(alive, loads, breaking, peak):
                return lost
            used = loads / np.where(alive, breaking, 1.0)
            alive[int(np.where(alive, used, -1.0).max(axis=0).argmax())] = False
        return end

    def _tears_open(self, alive: Flags, loads: Array, breaking: Array, peak: float) -> bool:
        """Take off what breaks, share again, until nothing breaks or nothing is left.

        `loads` : of the plates alive, as they are
        """
        left = alive.copy()
        while left.any():
            breaks = left & (loads > breaking).any(axis=0)
            if not breaks.any():
                return False
            left &= ~breaks
            if left.any():
                loads = self.loads(peak, left)
        return True
