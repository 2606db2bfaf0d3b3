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

from splicewright.errors import Fault, InputError
from splicewright.joint.inspection.damaged_joint import EQUAL, DamagedJoint, first_largest
from splicewright.joint.inspection.plate_condition import Findings
from splicewright.joint.inspection.verdict import Verdict
from splicewright.joint.layout import End
from splicewright.joint.loads.places import Place
from splicewright.joint.loads.stiffness import Case

LEAST_SHARE = 0.5
"""Below this share of the present pull a joint is not worth running; assumption of this tool."""


class Zipper(StrEnum):
    """Whether the joint would tear open plate by plate."""

    OPENS = "at the largest pull it tears open from the damage as it is"
    NEXT = "at the largest pull the loss of one more plate tears it open"
    HOLDS = "at the largest pull it holds when one more plate is lost"


DECISION = (
    "This is a calculation, not a permission. Whether the belt runs is decided by the competent "
    "person whom the site's rules name, after seeing the joint; local law, site rules and the "
    "maker's instructions take precedence."
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
class CaseResult:
    """The damaged joint under one set of assumptions.

    Attributes
    ----------
    case : name of the assumptions
    place : where the joint is worst off
    end : belt end of the plate worst off; None where only one end was worked
    loads_at : of each plate at each place, left to right, leading end before trailing where
        both were worked; empty where the plates left find no balance [N]
    at : index of `place`
    margin : permitted over actual load of the plate worst off, its damage counted [1]
    carries_at : for each place the largest pull over the present one at which every plate
        keeps to its rating [1]
    next_plate, next_end : which plate goes next, from the left, from 1
    next_load : its load at the largest pull, infinite without balance [N]
    zipper : what happens plate by plate at the largest pull
    losses_to_open : plates lost one after the other, worst first, until it tears open; not
        counted beyond the fewest of the cases before, from 2 on [1]
    """

    case: str
    place: str
    end: End | None
    loads_at: tuple[tuple[float, ...], ...]
    at: int
    margin: float
    carries_at: tuple[float, ...]
    next_plate: int
    next_end: End | None
    next_load: float
    zipper: Zipper
    losses_to_open: int

    @property
    def loads(self) -> tuple[float, ...]:
        """Plate loads where the joint is worst off; empty without balance [N]."""
        return self.loads_at[self.at] if self.loads_at else ()

    @property
    def carries(self) -> float:
        """Largest pull over the present one that every place bears [1]."""
        return min(self.carries_at)


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
    trailing: Findings | None = None,
    peak: float = 1.0,
    curve_depth: float = 0.0,
    least_share: float = LEAST_SHARE,
) -> Assessment:
    """Judge a damaged joint.

    Parameters
    ----------
    cases : belt, plate, pin and guidance assumptions, the typical first
    findings : what the inspection found; on the leading end, where the cases hold both ends
    trailing : what it found on the trailing end; sound when left out
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
    results: list[CaseResult] = []
    for case in cases:
        joint = DamagedJoint.of(case, findings, trailing, places, curve_depth)
        fewest = min((r.losses_to_open for r in results), default=None)
        results.append(_judge(joint, places, rating, peak, fewest))
    worst = _worst(results)
    if any(r.zipper is Zipper.OPENS or r.carries < least_share for r in results):
        verdict = Verdict.STOP
    elif any(r.margin < 1 for r in results) or any(r.zipper is Zipper.NEXT for r in results):
        verdict = Verdict.REDUCE
    else:
        verdict = Verdict.WATCH
    return Assessment(
        verdict, tuple(results), worst, _reasons(results, worst, peak), _assumptions(findings, peak)
    )


def _worst(results: Sequence[CaseResult]) -> CaseResult:
    """The case that carries least; of those alike the one with the least margin, or the first.

    Where statics alone give the loads many cases carry the same: rounding must not choose.
    """
    least = min(r.carries for r in results)
    alike = [r for r in results if r.carries <= least * (1 + EQUAL)]
    margin = min(r.margin for r in alike)
    return next(r for r in alike if r.margin <= margin * (1 + EQUAL))


def margins(
    cases: Sequence[Case],
    findings: Findings,
    rating: PlateRating,
    places: Sequence[Place],
    curve_depth: float = 0.0,
    trailing: Findings | None = None,
) -> tuple[float, float]:
    """Smallest and largest margin in running over all cases, as `can_it_run` works them [1]."""
    per_case = []
    for case in cases:
        joint = DamagedJoint.of(case, findings, trailing, places, curve_depth)
        per_case.append(1 / float(joint.used(joint.strength * rating.running).max()))
    return min(per_case), max(per_case)


def _judge(
    joint: DamagedJoint,
    places: Sequence[Place],
    rating: PlateRating,
    peak: float,
    fewest: int | None,
) -> CaseResult:
    """One case: loads and margin in running, then the largest pull, then plate by plate."""
    may, breaking = joint.strength * rating.running, joint.strength * rating.breaking
    used = joint.used(may)
    if not np.isfinite(used).all():
        first, end = joint.named(joint.nearest_the_middle())
        nothing = (0.0,) * len(places)
        return CaseResult(
            joint.name,
            places[0].name,
            end,
            (),
            0,
            0.0,
            nothing,
            first,
            end,
            math.inf,
            Zipper.OPENS,
            0,
        )
    at, worst = divmod(first_largest(used), used.shape[1])
    order = joint.losing_order(breaking, peak, None if fewest is None else max(fewest, 2))
    next_used = joint.used(breaking, peak)
    place, plate = divmod(first_largest(next_used), next_used.shape[1])
    number, end = joint.named(plate)
    return CaseResult(
        case=joint.name,
        place=places[at].name,
        end=joint.named(worst)[1],
        loads_at=tuple(tuple(row) for row in joint.loads(1.0, joint.response).tolist()),
        at=at,
        margin=float(1 / used.max()),
        carries_at=tuple(joint.largest_pulls(may).tolist()),
        next_plate=number,
        next_end=end,
        next_load=float(next_used[place, plate] * breaking[plate]),
        zipper=(Zipper.OPENS, Zipper.NEXT)[order] if order < 2 else Zipper.HOLDS,
        losses_to_open=order,
    )


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
        f"Plate {worst.next_plate} from the left"
        + (f", {worst.next_end.value}," if worst.next_end else "")
        + f" goes next ({worst.case}).",
        f"Plate by plate, {opens.zipper}: it opens after {opens.losses_to_open} more lost "
        f"{plates}, worst first, at {peak:.2f} times the running pull ({opens.case}).",
    )


def _assumptions(findings: Findings, peak: float) -> tuple[str, ...]:
    return (
        *findings.assumptions(),
        f"Largest pull taken as {peak:.2f} times the running pull.",
        "Plates as springs that pull and never push.",
        "Belt behind the plates taken as sound where nothing else was found.",
        "Plates not named in the findings taken as sound and tight.",
    )
