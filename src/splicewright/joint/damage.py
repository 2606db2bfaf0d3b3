"""Can it run? What a joint that lost plates, bolts or pin can still carry.

Worked under every case of belt and plate stiffness and guidance that was not measured. The
verdict goes by the worst of them and never says more than that no overload was found.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from splicewright.errors import Fault, InputError
from splicewright.joint.findings import Condition, Findings, condition
from splicewright.joint.membrane import PlateRow
from splicewright.joint.places import Place, curve_slack, place_slack
from splicewright.joint.sharing import can_balance, share, unguided
from splicewright.joint.stiffness import Case

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

LEAST_SHARE = 0.5
"""Below this share of the present pull a joint is not worth running; assumption of this tool."""

_STEPS = 48


class Verdict(StrEnum):
    """What the calculation says, in three levels. None of them is leave to run."""

    STOP = "stop: do not run this joint before it is repaired"
    REDUCE = "not at this load: only with less, watched, and repaired at the first chance"
    WATCH = "no overload found by this calculation: keep watching, repair as planned"


class Zipper(StrEnum):
    """Whether the joint would tear open plate by plate."""

    OPENS = "at the largest pull it tears open from the damage as it is"
    NEXT = "at the largest pull the loss of one more plate tears it open"
    HOLDS = "at the largest pull it holds when one more plate is lost"


DECISION = (
    "This is a calculation, not a permission. Whether the belt runs is decided by the competent "
    "person whom the site's rules name, after seeing the joint; local law, site rules and the "
    "maker's instructions go first."
)


@dataclass(frozen=True, slots=True)
class PlateRating:
    """What one sound plate carries, from the fastener range's data.

    Parameters
    ----------
    running : permitted pull in running [N]
    breaking : short pull at which it fails [N]
    """

    running: float
    breaking: float

    def __post_init__(self) -> None:
        if not 0 < self.running <= self.breaking < math.inf:
            raise InputError(
                Fault(
                    "rating",
                    f"running {self.running:g} N and breaking {self.breaking:g} N are not "
                    "accepted: give both above 0, breaking not below running",
                )
            )


@dataclass(frozen=True, slots=True)
class PlaceResult:
    """The damaged joint at one place, under one set of assumptions.

    Attributes
    ----------
    loads : of each plate, left to right; empty where the plates left find no balance [N]
    carries : largest pull over the present one at which every plate keeps to its rating [1]
    """

    loads: tuple[float, ...]
    carries: float


@dataclass(frozen=True, slots=True)
class CaseResult:
    """The damaged joint under one set of assumptions.

    Attributes
    ----------
    case : name of the assumptions
    place : where the joint is worst off
    loads : of each plate there, left to right; empty where the plates left find no balance [N]
    margin : permitted over actual load of the plate worst off, its damage counted [1]
    carries : largest pull over the present one at which every plate keeps to its rating [1]
    next_plate : which plate goes next, from the left, from 1
    next_load : its load at the largest pull, infinite without balance [N]
    zipper : what happens plate by plate at the largest pull
    losses_to_open : plates lost one after the other, worst first, until it tears open [1]
    by_place : the same joint at each place alone, in the order given
    """

    case: str
    place: str
    loads: tuple[float, ...]
    margin: float
    carries: float
    next_plate: int
    next_load: float
    zipper: Zipper
    losses_to_open: int
    by_place: tuple[PlaceResult, ...]


@dataclass(frozen=True, slots=True)
class Assessment:
    """The answer to "can it run?", as a range over all cases; typical case first.

    Attributes
    ----------
    verdict : by the worst case
    cases : all that was worked
    worst : the case the verdict goes by
    reasons : sentences for the sheet
    assumptions : what was assumed, as sentences
    decision : who must decide
    """

    verdict: Verdict
    cases: tuple[CaseResult, ...]
    worst: CaseResult
    reasons: tuple[str, ...]
    assumptions: tuple[str, ...]
    decision: str = DECISION

    @property
    def typical(self) -> CaseResult:
        """The typical case."""
        return self.cases[0]

    @property
    def margin(self) -> tuple[float, float]:
        """Smallest and largest margin of all cases [1]."""
        margins = [case.margin for case in self.cases]
        return min(margins), max(margins)

    @property
    def carries(self) -> tuple[float, float]:
        """Smallest and largest pull it carries over the present one [1]."""
        shares = [case.carries for case in self.cases]
        return min(shares), max(shares)


def can_it_run(
    cases: Sequence[Case],
    findings: Findings,
    rating: PlateRating,
    places: Sequence[Place],
    *,
    peak: float = 1.0,
    curve_depth: float = 0.0,
    least_share: float = LEAST_SHARE,
) -> Assessment:
    """Judge a damaged joint.

    Parameters
    ----------
    cases : belt, plate and guidance assumptions, the typical first
    findings : what the inspection found
    rating : of one sound plate
    places : where the joint passes, with the pull in running
    peak : largest pull (starting, stopping) over the running pull, from 1 [1]
    curve_depth : depth of the end curve the joint was made with [m]
    least_share : share of the present pull under which running is of no use: the empty
        belt's, where it is known [1]

    Raises
    ------
    InputError
        No case or place; findings that do not fit the joint or leave no plate; `peak` below
        1; `least_share` not between 0 and 1.
    """
    faults = [
        Fault(name, sentence)
        for wrong, name, sentence in (
            (not cases, "cases", "none given: give at least one set of assumptions"),
            (not places, "places", "none given: give at least the place with the largest pull"),
            (not peak >= 1, "peak", f"{peak:g} is not accepted: give 1 or more"),
            (
                not 0 <= least_share <= 1,
                "least_share",
                f"{least_share:g} is not accepted: give 0 to 1",
            ),
        )
        if wrong
    ]
    if faults:
        raise InputError(*faults)
    results = tuple(
        _judge(
            case,
            condition(findings, case.edge.row, case.edge.strip.width),
            rating,
            places,
            peak,
            curve_depth,
        )
        for case in cases
    )
    worst = min(results, key=lambda r: (r.carries, r.losses_to_open, r.margin))
    if any(r.zipper is Zipper.OPENS or r.carries < least_share for r in results):
        verdict = Verdict.STOP
    elif any(r.margin < 1 for r in results) or any(r.zipper is Zipper.NEXT for r in results):
        verdict = Verdict.REDUCE
    else:
        verdict = Verdict.WATCH
    return Assessment(
        verdict, results, worst, _reasons(results, worst, peak), _assumptions(findings, peak)
    )


def sound_margin(
    cases: Sequence[Case],
    rating: PlateRating,
    places: Sequence[Place],
    curve_depth: float = 0.0,
) -> tuple[float, float]:
    """Smallest and largest margin of the same joint without damage, over all cases [1].

    Parameters
    ----------
    cases, rating, places, curve_depth : as in `can_it_run`
    """
    found = []
    for case in cases:
        state = condition(Findings(), case.edge.row, case.edge.strip.width)
        joint = _DamagedJoint.of(case, state, places, curve_depth)
        found.append(float(rating.running / joint.loads(np.ones(1))[0].max()))
    return min(found), max(found)


def _judge(
    case: Case,
    state: Condition,
    rating: PlateRating,
    places: Sequence[Place],
    peak: float,
    curve_depth: float,
) -> CaseResult:
    """One case: loads and margin in running, then the largest pull, then plate by plate."""
    joint = _DamagedJoint.of(case, state, places, curve_depth)
    may = state.strength * rating.running
    loads = joint.loads(np.ones(1))[0]
    used = np.where(state.alive, loads / np.where(state.alive, may, 1.0), 0.0)
    if not np.isfinite(used).all():
        first = _nearest_the_middle(case.edge.row, state.alive)
        nowhere = tuple(PlaceResult((), 0.0) for _ in places)
        return CaseResult(
            case.name, places[0].name, (), 0.0, 0.0, first, math.inf, Zipper.OPENS, 0, nowhere
        )
    at = int(used.max(axis=1).argmax())
    breaking = state.strength * rating.breaking
    order = joint.losing_order(breaking, peak)
    next_loads = joint.loads(np.array([peak]))[0]
    next_used = np.where(state.alive, next_loads / np.where(state.alive, breaking, 1.0), 0.0)
    place, plate = divmod(int(next_used.argmax()), next_used.shape[1])
    zipper = (Zipper.OPENS, Zipper.NEXT)[order] if order < 2 else Zipper.HOLDS
    carries = joint.largest_pulls(may).tolist()
    return CaseResult(
        case.name,
        places[at].name,
        tuple(loads[at].tolist()),
        float(1 / used.max()),
        min(carries),
        plate + 1,
        float(next_loads[place, plate]),
        zipper,
        order,
        tuple(
            PlaceResult(tuple(row), most) for row, most in zip(loads.tolist(), carries, strict=True)
        ),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _DamagedJoint:
    """One case with the damage and the places worked in."""

    case: Case
    alive: Flags
    stiffness: Array
    slack: Array
    pull: Array

    @classmethod
    def of(
        cls, case: Case, state: Condition, places: Sequence[Place], curve_depth: float
    ) -> _DamagedJoint:
        edge = case.edge
        width = edge.strip.width
        own = curve_slack(edge.row.y, width, curve_depth) + state.slack
        return cls(
            case,
            state.alive,
            np.where(state.alive, state.stiffness, 1.0) * case.plate_stiffness,
            np.array([place_slack(edge, place) + own for place in places]),
            np.array([place.width_tension * width for place in places]),
        )

    def loads(self, scale: Array, alive: Flags | None = None) -> Array:
        """Plate loads at multiples of the pull, `(scales, places, plates)`; inf: no balance.

        scale : for all places alike `(scales,)`, or for each `(scales, places)`
        """
        left = self.alive if alive is None else alive
        edge, hold = self.case.edge, self.case.guidance
        swings = edge.swings and (hold is None or math.isinf(hold.swing))
        if swings and not can_balance(edge.row.y, np.ones(1), left[None], unguided()).all():
            return np.tile(np.where(left, np.inf, 0.0), (len(scale), len(self.pull), 1))
        return share(
            edge,
            self.stiffness,
            (scale if scale.ndim == 2 else scale[:, None]) * self.pull,
            slack=self.slack,
            alive=left,
            guidance=hold,
        ).loads

    def largest_pulls(self, may: Array) -> Array:
        """Largest multiple of the pull at which no plate passes `may`, at each place [1].

        Searched from nothing upwards: with slack and built-in strain the loads do not grow in
        proportion, and the first overload counts. All places are searched side by side.
        """
        low, high = np.zeros(len(self.pull)), may[self.alive].sum() / self.pull
        steps, here = np.linspace(0.0, 1.0, _STEPS + 1)[:, None], np.arange(len(self.pull))
        for _ in range(4):
            scale = low + (high - low) * steps
            over = (self.loads(scale[1:]) > may * (1 + 1e-12)).any(axis=2)
            first = np.where(over.any(axis=0), over.argmax(axis=0), _STEPS)
            low, high = scale[first, here], scale[np.minimum(first + 1, _STEPS), here]
        return low

    def losing_order(self, breaking: Array, peak: float) -> int:
        """How many plates can be lost, worst first, before the rest tears open at the peak."""
        alive = self.alive.copy()
        for lost in range(int(alive.sum())):
            loads = self.loads(np.array([peak]), alive)[0]
            if self._tears_open(alive, loads, breaking, peak):
                return lost
            used = loads / np.where(alive, breaking, 1.0)
            alive[int(np.where(alive, used, -1.0).max(axis=0).argmax())] = False
        return int(self.alive.sum())

    def _tears_open(self, alive: Flags, loads: Array, breaking: Array, peak: float) -> bool:
        """Take off what breaks, share again, until nothing breaks or nothing is left."""
        left = alive.copy()
        while left.any():
            breaks = left & (loads > breaking).any(axis=0)
            if not breaks.any():
                return False
            left &= ~breaks
            if left.any():
                loads = self.loads(np.array([peak]), left)[0]
        return True


def _nearest_the_middle(row: PlateRow, alive: Flags) -> int:
    """The plate that tears first when those left find no balance."""
    reach = np.where(alive, np.abs(row.y), np.inf)
    return int(reach.argmin()) + 1


def _reasons(results: Sequence[CaseResult], worst: CaseResult, peak: float) -> tuple[str, ...]:
    margins = [r.margin for r in results]
    carried = [r.carries for r in results]
    opens = min(results, key=lambda r: r.losses_to_open)
    plates = "plate" if opens.losses_to_open == 1 else "plates"
    return (
        f"The plate worst off has {min(margins):.2f} to {max(margins):.2f} times the strength "
        "it needs in running, over all assumptions.",
        f"Every plate keeps to its rating up to {100 * min(carried):.0f} to "
        f"{100 * max(carried):.0f} % of the present pull, over all assumptions.",
        f"Plate {worst.next_plate} from the left goes next ({worst.case}).",
        f"Plate by plate, {opens.zipper}: it opens after {opens.losses_to_open} more lost "
        f"{plates}, worst first, at {peak:.2f} times the running pull ({opens.case}).",
    )


def _assumptions(findings: Findings, peak: float) -> tuple[str, ...]:
    return (
        *findings.assumptions(),
        f"Largest pull taken as {peak:.2f} times the running pull.",
        "Hinge pin taken as straight; plates as springs that pull and never push.",
        "Belt behind the plates taken as sound where nothing else was found.",
        "Plates not named in the findings taken as sound and tight.",
    )
