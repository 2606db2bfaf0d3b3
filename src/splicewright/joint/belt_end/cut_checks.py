"""Is it square? The checks as they are done by hand, on a marked line and after the cut.

Each gives the error over the belt width and how much of it may be the tape's.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from splicewright.errors import Fault, InputError
from splicewright.joint.belt_end.centreline import READING
from splicewright.quantities import Kind, formula

FIT = 0.02
"""Lengths that miss the belt's width or the distance back by more than this share of the width
are misread or mixed up; assumption of this tool [1]."""


@formula(
    "s = (r_R² - r_L²)/(2 l)",
    gives=("s", Kind.LENGTH),
    symbols={"left": "r_L", "right": "r_R", "back": "l"},
    source="geometry",
    limits="line centred on the belt, point on the centreline",
)
def error_by_arcs(left: float, right: float, back: float) -> float:
    """Out of square from equal arcs: left end further into the belt than the right [m].

    Parameters
    ----------
    left, right : from a point on the centreline to the line's ends [m]
    back : from the line to the point [m]
    """
    return (right**2 - left**2) / (2 * back)


@formula(
    "s = (d_R² - d_L²)/(4 l)",
    gives=("s", Kind.LENGTH),
    symbols={"left": "d_L", "right": "d_R", "back": "l"},
    source="geometry",
    limits="edges parallel, equal lengths marked back along both",
)
def error_by_diagonals(left: float, right: float, back: float) -> float:
    """Out of square from diagonals: left end further into the belt than the right [m].

    Parameters
    ----------
    left, right : diagonal from that end of the line to the mark on the other edge [m]
    back : length marked back along both edges [m]
    """
    return (right**2 - left**2) / (4 * back)


@formula(
    "s = l_R - l_L",
    gives=("s", Kind.LENGTH),
    symbols={"left": "l_L", "right": "l_R"},
    source="geometry",
    limits="from a line known to be square, to the cut",
)
def error_by_edges(left: float, right: float) -> float:
    """Out of square from lengths along both edges: left end further into the belt [m].

    Parameters
    ----------
    left, right : from the square line to the cut along that edge [m]
    """
    return right - left


@dataclass(frozen=True, slots=True)
class HandCheck:
    """Out of square as a hand check finds it.

    Attributes
    ----------
    out_of_square : left end further into the belt than the right [m]
    uncertainty : largest error when each length is read to `reading` [m]
    """

    out_of_square: float
    uncertainty: float


def check_equal_arcs(
    left: float, right: float, back: float, width: float, reading: float = READING
) -> HandCheck:
    """Arcs from a point on the centreline to both ends of the line across.

    s = (r_right^2 - r_left^2) / (2 l): a line centred on the belt and turned by φ has its ends
    at r^2 = l^2 + B^2/4 ∓ l B sin φ, and s = B sin φ.

    Parameters
    ----------
    left, right : from the point to the line's left and right end [m]
    back : from the line to the point, along the centreline [m]
    width : belt width [m]
    reading : smallest step of the readings [m]

    Raises
    ------
    InputError
        Lengths that make no triangle with the belt, beyond `FIT`.
    """
    _positive(left=left, right=right, back=back, width=width)
    # Apollonius: the point's distance to the middle of the line is the median.
    square = (left**2 + right**2) / 2 - width**2 / 4
    median = math.sqrt(square) if square > 0 else 0.0
    if abs(median - back) > FIT * width:
        raise InputError(
            Fault(
                "arcs",
                f"{left * 1e3:g} and {right * 1e3:g} mm cannot be: on a {width * 1e3:g} mm belt "
                f"they put the point {median * 1e3:.0f} mm back, not {back * 1e3:g} mm; measure "
                "again",
            )
        )
    error = error_by_arcs(left, right, back)
    return HandCheck(error, reading * (left + right) / (2 * back))


def check_diagonals(
    from_left: float, from_right: float, back: float, width: float, reading: float = READING
) -> HandCheck:
    """Diagonals of the figure with equal lengths marked back along both edges.

    A parallelogram with sides l and W leaning by s: d_right^2 - d_left^2 = 4 l s, where
    d_left runs from the left end of the line across to the right mark.

    Parameters
    ----------
    from_left, from_right : diagonal from that end of the line to the mark on the other edge [m]
    back : length marked back along both edges [m]
    width : belt width [m]
    reading : smallest step of the readings [m]

    Raises
    ------
    InputError
        Diagonals that no such figure has, beyond `FIT`.
    """
    _positive(from_left=from_left, from_right=from_right, back=back, width=width)
    square = (from_left**2 + from_right**2) / 2 - back**2
    across = math.sqrt(square) if square > 0 else 0.0
    if abs(across - width) > FIT * width:
        raise InputError(
            Fault(
                "diagonals",
                f"{from_left * 1e3:g} and {from_right * 1e3:g} mm cannot be: with "
                f"{back * 1e3:g} mm marked back they make a belt {across * 1e3:.0f} mm wide, not "
                f"{width * 1e3:g} mm; measure again",
            )
        )
    error = error_by_diagonals(from_left, from_right, back)
    return HandCheck(error, reading * (from_left + from_right) / (4 * back))


def check_edge_lengths(left: float, right: float, reading: float = READING) -> HandCheck:
    """Lengths along both edges from a line known to be square to the cut: s = l_right - l_left."""
    _positive(left=left, right=right)
    return HandCheck(error_by_edges(left, right), reading)


class CutVerdict(StrEnum):
    """What a check after the cut comes to."""

    PASS = "within the limit"
    RECUT = "out of the limit: cut again"
    MEASURE = "too close to call: measure again, more finely"


@dataclass(frozen=True, slots=True)
class CutJudgement:
    """A cut against its limit: error, its uncertainty, the limit [m], and the verdict."""

    verdict: CutVerdict
    error: float
    uncertainty: float
    limit: float


def judge_cut(check: HandCheck, limit: float) -> CutJudgement:
    """Pass a cut only when its error and the doubt about it together are within the limit.

    Raises
    ------
    InputError
        A limit not above 0.
    """
    _positive(limit=limit)
    error = abs(check.out_of_square)
    if error + check.uncertainty <= limit:
        verdict = CutVerdict.PASS
    elif error - check.uncertainty > limit:
        verdict = CutVerdict.RECUT
    else:
        verdict = CutVerdict.MEASURE
    return CutJudgement(verdict, check.out_of_square, check.uncertainty, limit)


def _positive(**values: float) -> None:
    faults = [
        Fault(name, f"{value * 1e3:g} mm is not accepted: give a length above 0")
        for name, value in values.items()
        if not (math.isfinite(value) and value > 0)
    ]
    if faults:
        raise InputError(*faults)
