"""The belt's centreline from what a crew can measure, and the square line across it.

Axes: a straight line is stretched along the belt; x runs along it from the rough end into the
belt, y is the offset from it, positive to the left when facing in the direction of travel.
How it is done by hand, points over 5 to 7 m of belt, is common practice and has no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.quantities import Kind, formula

READING = 1e-3
"""What a tape on a belt can be read to [m]; no fit claims less scatter than this allows."""

CONFIDENCE = 0.95
"""Confidence of every uncertainty given here [1]."""

SHORT_SPAN = 5.0
"""Points over less belt than this do not tell its line from its waviness; common practice [m]."""


@formula(
    "s = B b",
    gives=("s", Kind.LENGTH),
    symbols={"width": "B", "slope": "b"},
    source="geometry",
    limits="small angles",
)
def out_of_square(width: float, slope: float) -> float:
    """Out of square over the belt width from an angle.

    Parameters
    ----------
    width : belt width [m]
    slope : angle between the line across and the square line [rad]
    """
    return width * slope


@dataclass(frozen=True, slots=True)
class Centreline:
    """The line y = offset + slope x through the measured midpoints.

    Attributes
    ----------
    offset, slope : of the line [m], [1]
    slope_uncertainty : half width of its 95 % interval [1]
    scatter : standard deviation of a midpoint about the line, not below what the tape allows
        [m]
    residuals : measured midpoint less the line, at each station [m]
    bow : height of the belt's bow over the measured span, positive when its middle lies to
        the left; from a parabola through the midpoints [m]
    bow_uncertainty : half width of its 95 % interval; None from three points, which leave
        nothing to judge it by [m]
    mean_station, spread : middle of the stations [m] and sum of squares about it [m2]
    stations : number of them [1]
    span : from first to last [m]
    """

    offset: float
    slope: float
    slope_uncertainty: float
    scatter: float
    residuals: tuple[float, ...]
    bow: float
    bow_uncertainty: float | None
    mean_station: float
    spread: float
    stations: int
    span: float

    def at(self, x: float) -> float:
        """Centre of the belt at a station [m]."""
        return self.offset + self.slope * x

    def uncertainty_at(self, x: float) -> float:
        """Half width of the 95 % interval of the centre at a station [m]."""
        share = 1 / self.stations + (x - self.mean_station) ** 2 / self.spread
        return _quantile(self.stations - 2) * self.scatter * math.sqrt(share)

    @property
    def bowed(self) -> bool:
        """True when the bow stands out of the scatter: the belt itself is curved there."""
        return self.bow_uncertainty is not None and abs(self.bow) > self.bow_uncertainty

    @property
    def end_lean(self) -> float:
        """Angle between the belt at its first station and the fitted line, 4 h / L [rad].

        On a bowed belt a cut square to the line is out of square to the end by B times this.
        """
        return 4 * self.bow / self.span

    @property
    def short(self) -> bool:
        """True when the stations span less belt than common practice asks for."""
        return self.span < SHORT_SPAN


def midpoints_from_edges(left: Sequence[float], right: Sequence[float]) -> tuple[float, ...]:
    """Midpoints from the offsets of both belt edges to the stretched line [m].

    Raises
    ------
    InputError
        Lists of different length, or a left edge not to the left of the right one.
    """
    if len(left) != len(right):
        raise InputError(
            Fault("edges", f"{len(left)} left and {len(right)} right: give a pair at each station")
        )
    for number, (one, other) in enumerate(zip(left, right, strict=True), 1):
        if not one > other:
            raise InputError(
                Fault(
                    "edges",
                    f"station {number}: left edge at {one * 1e3:g} mm is not to the left of the "
                    f"right edge at {other * 1e3:g} mm; offsets to the left are positive",
                )
            )
    return tuple((one + other) / 2 for one, other in zip(left, right, strict=True))


def midpoints_from_sound_edge(
    offsets: Sequence[float], width: float, side: Literal["left", "right"]
) -> tuple[float, ...]:
    """Midpoints when one edge is worn: the sound edge moved in by half the new width [m]."""
    half = -width / 2 if side == "left" else width / 2
    return tuple(offset + half for offset in offsets)


def fit_centreline(
    stations: Sequence[float],
    midpoints: Sequence[float],
    *,
    belt_length: float | None = None,
    reading: float = READING,
) -> Centreline:
    """Least-squares centreline through midpoints, with its uncertainty.

    y = a + b x by least squares; U_b = t s / sqrt(sum (x - x_mean)^2), t of Student with n - 2
    degrees of freedom, s the scatter or reading / sqrt(12), whichever is larger.

    Parameters
    ----------
    stations : distances of the measured points from the rough end [m]
    midpoints : offset of the belt's middle there [m]
    belt_length : belt that lies flat and was measured; stations must be on it [m]
    reading : smallest step of the readings [m]

    Raises
    ------
    InputError
        Fewer than three points; unequal lists; two stations at one place; a station off the
        belt; a value that is no number.
    """
    _check_points(stations, midpoints, belt_length)
    x, y = np.asarray(stations, dtype=np.float64), np.asarray(midpoints, dtype=np.float64)
    n = len(x)
    middle = float(x.mean())
    arm = x - middle
    spread = float(arm @ arm)
    slope = float(arm @ y) / spread
    offset = float(y.mean()) - slope * middle
    residuals = y - offset - slope * x
    floor = reading / math.sqrt(12)
    scatter = max(math.sqrt(float(residuals @ residuals) / (n - 2)), floor)
    span = float(np.ptp(x))
    bow, bow_uncertainty = _bow(arm, residuals, span, floor)
    return Centreline(
        offset,
        slope,
        _quantile(n - 2) * scatter / math.sqrt(spread),
        scatter,
        tuple(residuals.tolist()),
        bow,
        bow_uncertainty,
        middle,
        spread,
        n,
        span,
    )


def _bow(
    arm: np.ndarray, residuals: np.ndarray, span: float, floor: float
) -> tuple[float, float | None]:
    """Bow height of the parabola through the midpoints and its uncertainty, both [m].

    The square term made orthogonal to the line leaves the line's fit as it is; over a span L
    a parabola c x^2 stands c L^2/4 off its chord, to the side away from its hollow.
    """
    square = arm**2
    basis = np.column_stack([np.ones_like(arm), arm])
    square = square - basis @ np.linalg.lstsq(basis, square, rcond=None)[0]
    weight = float(square @ square)
    c = float(square @ residuals) / weight
    height = span**2 / 4
    free = len(arm) - 3
    if free < 1:
        return -c * height, None
    left = residuals - c * square
    scatter = max(math.sqrt(float(left @ left) / free), floor)
    return -c * height, _quantile(free) * scatter / math.sqrt(weight) * height


@dataclass(frozen=True, slots=True)
class SquareLine:
    """The line square across the belt through a point of its centreline.

    Attributes
    ----------
    at, centre : that point, along and across [m]
    left, right : where the line meets the belt's edges, along [m]
    uncertainty : 95 % half width of how far either end may be off [m]
    """

    at: float
    centre: float
    left: float
    right: float
    uncertainty: float


@formula(
    "x_L = x_0 - b B/2",
    gives=("x_L", Kind.DISTANCE),
    symbols={"at": "x_0", "slope": "b", "width": "B"},
    source="geometry",
    limits="small angles",
)
def square_at_left(at: float, slope: float, width: float) -> float:
    """Where the square line meets the left edge, from the rough end into the belt.

    Parameters
    ----------
    at : where it crosses the centreline [m]
    slope : of the centreline to the stretched line, left positive [1]
    width : belt width [m]
    """
    return at - slope * width / 2


@formula(
    "x_R = x_0 + b B/2",
    gives=("x_R", Kind.DISTANCE),
    symbols={"at": "x_0", "slope": "b", "width": "B"},
    source="geometry",
    limits="small angles",
)
def square_at_right(at: float, slope: float, width: float) -> float:
    """Where the square line meets the right edge, from the rough end into the belt.

    Parameters
    ----------
    at : where it crosses the centreline [m]
    slope : of the centreline to the stretched line, left positive [1]
    width : belt width [m]
    """
    return at + slope * width / 2


@formula(
    "c = x_square - x_drawn",
    gives=("c", Kind.LENGTH),
    symbols={"square": "x_square", "drawn": "x_drawn"},
    source="geometry",
)
def move_into_belt(square: float, drawn: float) -> float:
    """How far an end of the drawn line is to be moved into the belt; towards the end below 0.

    Parameters
    ----------
    square, drawn : where the square and the drawn line meet that edge [m]
    """
    return square - drawn


def square_line(centreline: Centreline, width: float, at: float) -> SquareLine:
    """Draw the square line at a station.

    The direction (1, b) has (-b, 1) square to it: left end x - b B/2, right end x + b B/2.

    Parameters
    ----------
    centreline : as fitted
    width : belt width [m]
    at : where the line crosses the centreline [m]
    """
    left, right = (
        where(at, centreline.slope, width) for where in (square_at_left, square_at_right)
    )
    spare = out_of_square(width, centreline.slope_uncertainty) / 2
    return SquareLine(at, centreline.at(at), left, right, spare)


@dataclass(frozen=True, slots=True)
class Correction:
    """How to move a line drawn across the belt so that it is square.

    Attributes
    ----------
    left, right : move this end into the belt (positive) or towards the end (negative) [m]
    out_of_square : left end further into the belt than the right, beyond square [m]
    uncertainty : 95 % half width of `out_of_square` [m]
    """

    left: float
    right: float
    out_of_square: float
    uncertainty: float


def correct(line: SquareLine, drawn_left: float, drawn_right: float) -> Correction:
    """Compare a drawn line, or a cut end, with the square line; ends are stations [m]."""
    left, right = move_into_belt(line.left, drawn_left), move_into_belt(line.right, drawn_right)
    return Correction(left, right, right - left, 2 * line.uncertainty)


def _quantile(freedom: int) -> float:
    """Student's t, two-sided at `CONFIDENCE`."""
    from scipy.special import stdtrit

    return float(stdtrit(freedom, 0.5 + CONFIDENCE / 2))


def _check_points(
    stations: Sequence[float], midpoints: Sequence[float], belt_length: float | None
) -> None:
    faults = []
    n = len(stations)
    if n != len(midpoints):
        faults.append(
            Fault("midpoints", f"{len(midpoints)} for {n} stations: give one at each station")
        )
    if n < 3:
        faults.append(
            Fault(
                "stations",
                f"{n} given: at least 3 are needed, two points always make a line and say "
                "nothing of how far it may be off",
            )
        )
    if not all(math.isfinite(value) for value in (*stations, *midpoints)):
        faults.append(Fault("midpoints", "a value is not a number: give lengths"))
    if len(set(stations)) < n:
        twice = next(x for x in stations if list(stations).count(x) > 1)
        faults.append(Fault("stations", f"{twice:g} m is given twice: give each station once"))
    for x in stations:
        if x < 0 or (belt_length is not None and x > belt_length):
            end = "the belt" if belt_length is None else f"the {belt_length:g} m of belt"
            faults.append(Fault("stations", f"{x:g} m is off {end}: give 0 m or more on it"))
    if faults:
        raise InputError(*faults)
