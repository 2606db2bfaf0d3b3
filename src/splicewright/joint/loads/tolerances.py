"""How far off is too far: the error of each kind that costs a set share of the margin.

No published limit was found for any of these, so they come from mechanics: the amount at which
the worst plate load of an otherwise perfect joint has grown by 1/(1 - loss). Results are
ranges over what is not known of the belt and the plates; the smallest is the one to work to.

An error that each end can have, out of square, a plate out of the hole line, bolts unevenly
tight, is counted on both ends at once and the worse way round: the limit is asked of each end by
itself, the same crew makes both with the same tools, and the other end may be as far off.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from splicewright.errors import Fault, InputError
from splicewright.joint.loads.hinge import Hinge, hinge_inverse, share_both
from splicewright.joint.loads.limit_crossing import crossing
from splicewright.joint.loads.membrane import EdgeCompliance, PlateRow
from splicewright.joint.loads.response import Response, response_of
from splicewright.joint.loads.sharing import unguided
from splicewright.joint.loads.stiffness import Case
from splicewright.quantities import Kind, formula

Array = NDArray[np.float64]

LOSS = 0.10
"""Share of the margin that one error may cost; assumption of this tool."""

_PROBE, _STEPS = 0.01, 16


class Error(StrEnum):
    """What can be wrong with a joint that was made by hand."""

    OUT_OF_SQUARE = "ends out of square, over the belt width"
    HOLE_LINE = "one plate of each end out of the hole line"
    OFF_CENTRE = "the two ends off each other's centreline"
    TIGHTNESS = "plates unevenly tight: stiffness alternately above and below the mean"


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
        amounts = [case.amount for case in self.cases if case.amount is not None]
        return min(amounts) if amounts else None

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
    cases : belt, plate, pin and guidance assumptions, the typical first
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
    limits = [
        CaseLimit(case.name, _first_reached(_LOADS[error](case, total_force), loss, end))
        for case in cases
    ]
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
    loads = _LOADS[error](case, total_force)
    return float(1 - loads(0.0).max() / loads(amount).max())


Loads = Callable[[float], Array]
"""Amount of an error to the loads it gives, `(variants, plates)` [N]."""


def _first_reached(loads: Loads, loss: float, end: float) -> float | None:
    """Smallest amount at which the worst load has grown by 1/(1 - loss)."""
    limit = float(loads(0.0).max()) / (1 - loss)

    def over(amount: float) -> float:
        return float(loads(amount).max()) / limit - 1

    # While every plate bears most loads are straight lines: a small step tells where to look.
    below, probe = (0.0, -loss), _PROBE * end
    slope = (over(probe) + loss) / probe
    reach = min(end, 1.2 * loss / slope) if slope * end > 1e-6 else end
    while True:
        now = over(reach)
        if now > 0:
            return crossing(over, below, (reach, now))
        if reach >= end:
            return None
        below, reach = (reach, now), min(end, reach + end / _STEPS)


def _along(response: Response, force: float, patterns: Array) -> Loads:
    """Loads under slack in the given patterns `(variants, plates)`, times the amount."""
    sound, rise = force * response.even, -patterns @ response.taken

    def loads(amount: float) -> Array:
        linear = np.asarray(sound + amount * rise)
        if linear.min() >= 0:
            return linear
        return response.loads(np.full(len(patterns), force), amount * patterns)

    return loads


def _rows(case: Case) -> tuple[PlateRow, ...]:
    if case.hinge is None:
        return (case.edge.row,)
    return case.hinge.leading.row, case.hinge.trailing.row


def _out_of_square(case: Case, force: float) -> Loads:
    """Both ends long on one side, or on opposite ones; a row off the middle minds which."""
    leans = [row.y / case.edge.strip.width for row in _rows(case)]
    signs = (1.0, -1.0)
    patterns = [
        sign * np.concatenate([leans[0], *(way * lean for lean in leans[1:])])
        for sign in signs
        for way in signs[: len(leans)]
    ]
    return _along(response_of(case), force, np.array(patterns))


def _hole_line(case: Case, force: float) -> Loads:
    """The plate that stands ahead of the others pulls first; any one of each end may be it.

    As built: teeth that bed in under load even this out in part.
    """
    response, n = response_of(case), len(case.edge.row)
    ahead = np.eye(len(response.even))
    patterns = -ahead[:n]
    if case.hinge is not None:
        # One end alone asks no more: over the plates of the other end what helps adds up to nil.
        patterns = (patterns[:, None, :] - ahead[n:]).reshape(-1, len(ahead))
    return _along(response, force, patterns)


def _off_centre(case: Case, force: float) -> Loads:
    """Two belts whose lines of pull are a apart: F a/2 on either end, whatever guides them.

    Balance of the pin, which no guide touches, wants the pulls of both ends in one line. For
    plates without a pin each case's guidance carries off its part; a locked weft all of it.
    """
    hinge = case.hinge
    if hinge is not None:
        hold, plate = case.guidance or unguided(), case.plate_stiffness

        def apart(amount: float) -> Array:
            ways = [_shifted(hinge, way * amount) for way in (1.0, -1.0)]
            loads = force * np.array([hinge_inverse(one, plate, hold)[0] for one in ways])
            if loads.min() >= 0:
                return loads
            return np.array([share_both(one, plate, force, guidance=hold) for one in ways])

        return apart
    response = response_of(case)
    lever = np.array([0.5, -0.5]) * force if case.edge.swings else np.zeros(2)

    def turned(amount: float) -> Array:
        nothing = np.zeros((2, len(response.even)))
        return response.loads(np.full(2, force), nothing, amount * lever)

    return turned


def _shifted(hinge: Hinge, apart: float) -> Hinge:
    """The hinge seen from the middle between two belts whose centrelines are apart [m]."""
    return replace(
        hinge, leading=_moved(hinge.leading, apart / 2), trailing=_moved(hinge.trailing, -apart / 2)
    )


def _moved(edge: EdgeCompliance, left: float) -> EdgeCompliance:
    row = PlateRow(tuple(y + left for y in edge.row.centres), edge.row.plate_width)
    return replace(edge, row=row)


def _tightness(case: Case, force: float) -> Loads:
    """Plates stiffer and softer in turn, either kind first: the pattern that parts most."""
    response, k = response_of(case), case.plate_stiffness
    sound, n = force * response.even, len(case.edge.row)
    turn = np.where(np.arange(n) % 2 == 0, 1.0, -1.0)
    patterns = np.array([turn, -turn])
    if case.hinge is not None:
        other = np.where(np.arange(len(response.even) - n) % 2 == 0, 1.0, -1.0)
        patterns = np.array(
            [np.concatenate([one, way * other]) for one in (turn, -turn) for way in (1.0, -1.0)]
        )

    def uneven(amount: float) -> Array:
        stiffness = k * (1 + amount * patterns)
        # What each plate gives way more than a sound one is slack in proportion to its load.
        softer = 1 / stiffness - 1 / k
        system = np.eye(len(sound)) + response.taken * softer[:, None, :]
        return np.asarray(
            np.linalg.solve(system, np.broadcast_to(sound, patterns.shape)[..., None])[..., 0]
        )

    return uneven


_LOADS: dict[Error, Callable[[Case, float], Loads]] = {
    Error.OUT_OF_SQUARE: _out_of_square,
    Error.HOLE_LINE: _hole_line,
    Error.OFF_CENTRE: _off_centre,
    Error.TIGHTNESS: _tightness,
}
