"""How far off is too far: the error of each kind that costs a set share of the margin.

No published limit was found for any of these, so they come from mechanics: the amount at which
the worst plate load of an otherwise perfect joint has grown by 1/(1 - loss). Results are
ranges over what is not known of the belt and the plates; the smallest is the one to work to.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from enum import StrEnum
from functools import partial

import numpy as np
from numpy.typing import NDArray

from splicewright.errors import Fault, InputError
from splicewright.joint.sharing import Shares, share, unguided
from splicewright.joint.stiffness import Case
from splicewright.quantities import Kind, formula

Array = NDArray[np.float64]

LOSS = 0.10
"""Share of the margin that one error may cost; assumption of this tool."""

_PROBE = 0.01
"""Share of the search at which the slope of the loads is taken."""

_STEPS = 16
_ROUNDS = 5


class Error(StrEnum):
    """What can be wrong with a joint that was made by hand."""

    OUT_OF_SQUARE = "end out of square, over the belt width"
    HOLE_LINE = "one plate out of the hole line"
    OFF_CENTRE = "the two ends off each other's centreline"
    TIGHTNESS = "plates unevenly tight: stiffness above and below the mean in turn"


SEARCH = {
    Error.OUT_OF_SQUARE: 0.05,
    Error.HOLE_LINE: 0.01,
    Error.OFF_CENTRE: 0.1,
    Error.TIGHTNESS: 0.9,
}
"""How far each error is searched: share of the belt width, for tightness of the stiffness [1]."""


@formula(
    "Δt = 2 t (1/(1 - c) - 1)",
    gives=("Δt", Kind.LENGTH),
    symbols={"thickness": "t", "loss": "c"},
    source="statics",
    limits="pulley faces flush, hinge axis midway between the belts' middles, top and bottom "
    "plates a belt thickness apart",
)
def thickness_limit(thickness: float, loss: float) -> float:
    """Difference in thickness of two joined belts that costs a share of the margin.

    Δt = 2 t (1/(1 - c) - 1): each belt's middle lies Δt/4 off the hinge axis, so top and bottom
    plates share the pull as 1/2 ± Δt/(4 t), and the worse one carries 1 + Δt/(2 t) of its due.

    Parameters
    ----------
    thickness : of the thinner belt [m]
    loss : c, share of the margin that may go [1]
    """
    return 2 * thickness * (1 / (1 - loss) - 1)


@dataclass(frozen=True, slots=True)
class CaseLimit:
    """The limit of one error under one set of assumptions; None: not reached in the search."""

    case: str
    amount: float | None


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How much of one error costs `loss` of the margin.

    Attributes
    ----------
    error : which
    loss : share of the margin [1]
    searched_to : largest amount tried [m], for tightness [1]
    cases : limit under each set of assumptions, typical first
    """

    error: Error
    loss: float
    searched_to: float
    cases: tuple[CaseLimit, ...]

    @property
    def smallest(self) -> float | None:
        """The limit to work to; None when no case reached it."""
        found = [case.amount for case in self.cases if case.amount is not None]
        return min(found) if found else None

    @property
    def typical(self) -> float | None:
        """Limit of the typical case; None when not reached."""
        return self.cases[0].amount


def tolerance(
    error: Error,
    cases: Sequence[Case],
    total_force: float,
    *,
    loss: float = LOSS,
    up_to: float | None = None,
) -> Tolerance:
    """Find how much of one error costs a share of the margin.

    Parameters
    ----------
    error : which kind
    cases : belt, plate and guidance assumptions, the typical first
    total_force : pull of the belt in running [N]
    loss : share of the margin that may go [1]
    up_to : end of the search; `SEARCH` when left out [m], for tightness [1]

    Raises
    ------
    InputError
        No case; a loss not between 0 and 1; `up_to` not above 0, or 1 and more for tightness.
    """
    if not cases:
        raise InputError(Fault("cases", "none given: give at least one set of assumptions"))
    if not 0 < loss < 1:
        raise InputError(Fault("loss", f"{loss:g} is not accepted: give more than 0, below 1"))
    spread = error is Error.TIGHTNESS
    reach = SEARCH[error] * (1.0 if spread else cases[0].edge.strip.width)
    end = reach if up_to is None else up_to
    if not end > 0 or (spread and end >= 1):
        accepted = "more than 0, below 1" if spread else "more than 0 m"
        raise InputError(Fault("up_to", f"{end:g} is not accepted: give {accepted}"))
    limits = []
    for case in cases:
        solve = partial(_SOLVERS[error], case, total_force)
        limits.append(CaseLimit(case.name, _first_reached(solve, loss, end, spread)))
    return Tolerance(error, loss, end, tuple(limits))


def cost(error: Error, case: Case, total_force: float, amount: float) -> float:
    """Share of the margin that an error of known amount takes, in one case.

    Parameters
    ----------
    error, case : as for `tolerance`
    total_force : pull of the belt in running [N]
    amount : of the error [m], for tightness [1]

    Returns
    -------
    float, 0 to 1 [-]
    """
    loads = _SOLVERS[error](case, total_force, np.array([0.0, amount])).loads
    sound, worst = loads.max(axis=(1, 2))
    return float(1 - sound / worst)


Solver = Callable[[Array], Shares]
"""Amounts of an error to the loads they give, `(amounts, variants, plates)`."""


def _first_reached(solve: Solver, loss: float, end: float, bent: bool) -> float | None:
    """Smallest amount at which the worst load has grown by 1/(1 - loss).

    While every plate bears the loads are straight lines of a slack or a moment: two amounts
    give the answer, a third proves that all bear there. Only `bent` ones are searched at once.
    """
    start = solve(np.array([0.0, _PROBE * end]))
    limit = float(start.loads[0].max()) / (1 - loss)
    if not bent and start.bearing.all():
        rise = (start.loads[1] - start.loads[0]) / (_PROBE * end)
        rising = rise * end > 1e-6 * limit
        if not rising.any():
            return None
        amount = float(((limit - start.loads[0])[rising] / rise[rising]).min())
        if solve(np.array([min(amount, end)])).bearing.all():
            return amount if amount <= end else None
    low, high = 0.0, end
    for _ in range(_ROUNDS):
        amounts = np.linspace(low, high, _STEPS + 1)
        over = solve(amounts).loads.max(axis=(1, 2)) > limit
        if not over.any():
            return None
        first = max(int(over.argmax()), 1)
        low, high = float(amounts[first - 1]), float(amounts[first])
    return low


def _out_of_square(case: Case, force: float, amounts: Array) -> Shares:
    """Either way: a row that is not in the middle of the belt minds which."""
    lean = case.edge.row.y / case.edge.strip.width
    slack = amounts[:, None, None] * np.array([lean, -lean])
    return share(case.edge, case.plate_stiffness, force, slack=slack, guidance=case.guidance)


def _hole_line(case: Case, force: float, amounts: Array) -> Shares:
    """The plate that stands ahead of the others pulls first; any plate may be it.

    As built: teeth that bed in under load even this out in part.
    """
    slack = -amounts[:, None, None] * np.eye(len(case.edge.row))
    return share(case.edge, case.plate_stiffness, force, slack=slack, guidance=case.guidance)


def _off_centre(case: Case, force: float, amounts: Array) -> Shares:
    """Two belts whose lines of pull are a apart bring F a/2 to each end.

    Guides carry that moment off before it reaches the plates in part; each case's own guidance
    says how far. A belt whose weft is locked carries all of it.
    """
    both_ways = [(amount, sign) for amount in amounts.tolist() for sign in (1.0, -1.0)]
    if not case.edge.swings:
        return share(case.edge, case.plate_stiffness, np.full((len(amounts), 2), force))
    hold = case.guidance or unguided()
    found = [
        share(
            case.edge,
            case.plate_stiffness,
            force,
            guidance=hold.with_moment(sign * force * amount / 2),
        )
        for amount, sign in both_ways
    ]
    shape = (len(amounts), 2)
    return Shares(
        *(
            np.reshape(values, (*shape, *values[0].shape))
            for part in fields(Shares)
            for values in ([getattr(one, part.name) for one in found],)
        )
    )


def _tightness(case: Case, force: float, amounts: Array) -> Shares:
    """Plates stiffer and softer in turn, either kind first: the pattern that parts most."""
    turn = np.where(np.arange(len(case.edge.row)) % 2 == 0, 1.0, -1.0)
    pattern = np.array([turn, -turn])
    stiffness = case.plate_stiffness * (1 + amounts[:, None, None] * pattern)
    return share(case.edge, stiffness, force, guidance=case.guidance)


_SOLVERS: dict[Error, Callable[[Case, float, Array], Shares]] = {
    Error.OUT_OF_SQUARE: _out_of_square,
    Error.HOLE_LINE: _hole_line,
    Error.OFF_CENTRE: _off_centre,
    Error.TIGHTNESS: _tightness,
}
