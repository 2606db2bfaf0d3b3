"""Vertical curves of a run: where the belt lies between two slopes.

A concave curve goes from a lesser to a greater slope (a valley: tension lifts the belt), a
convex one from a greater to a lesser (a brow: tension presses it down). The curve is an arc of
a circle that is tangent to both slopes. What tension does there is in `tension.across.curves`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.quantities import Kind, Number, formula, show


@formula(
    "l = R |δ_2 - δ_1|",
    gives=("l", Kind.DISTANCE),
    symbols={"radius": "R", "slope": "δ_1", "next_slope": "δ_2"},
    source="geometry",
)
def curve_length(radius: Number, slope: Number, next_slope: Number) -> Number:
    """Belt in a vertical curve [m] from its radius [m] and the two slopes [rad]."""
    return radius * np.abs(next_slope - slope)


@formula(
    "t = R tan(|δ_2 - δ_1|/2)",
    gives=("t", Kind.DISTANCE),
    symbols={"radius": "R", "slope": "δ_1", "next_slope": "δ_2"},
    source="geometry",
    limits="change of slope below 180°",
)
def curve_tangent(radius: Number, slope: Number, next_slope: Number) -> Number:
    """Distance from the corner of two slopes to where the curve begins [m].

    Parameters
    ----------
    radius : of the curve [m]
    slope, next_slope : in the direction of travel, positive uphill [rad]
    """
    return radius * np.tan(np.abs(next_slope - slope) / 2)


@formula(
    "Δz = σ R [cos δ_1 - cos(δ_1 + σ s/R)],  σ = sign(δ_2 - δ_1)",
    gives=("Δz", Kind.DISTANCE),
    symbols={"radius": "R", "slope": "δ_1", "next_slope": "δ_2", "along": "s"},
    source="geometry",
    limits="0 ≤ s ≤ l",
)
def height_in_curve(radius: Number, slope: Number, next_slope: Number, along: Number) -> Number:
    """Height gained from the start of a curve.

    Parameters
    ----------
    radius : of the curve [m]
    slope, next_slope : in the direction of travel, positive uphill [rad]
    along : belt from the start of the curve [m]

    Returns
    -------
    float or array, negative where the belt has gone down [m]
    """
    sign = np.sign(next_slope - slope)
    here = slope + sign * along / radius
    height: Number = sign * radius * (np.cos(slope) - np.cos(here))
    return height


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of a run: straight (radius None) or curved; lengths [m], slopes [rad]."""

    length: float
    slope: float
    next_slope: float
    radius: float | None

    @property
    def rise(self) -> float:
        """Height gained over the stretch [m]."""
        if self.radius is None:
            return self.length * float(np.sin(self.slope))
        return float(height_in_curve(self.radius, self.slope, self.next_slope, self.length))

    @property
    def concave(self) -> bool:
        """Whether tension lifts the belt here."""
        return self.next_slope > self.slope


def rounded(
    lengths: tuple[float, ...], slopes: tuple[float, ...], radii: tuple[float, ...]
) -> tuple[Stretch, ...]:
    """Put curves into the corners of a run given by its straight slopes.

    Parameters
    ----------
    lengths : of the straight slopes, corner to corner [m]
    slopes : of each, in the direction of travel, positive uphill [rad]
    radii : of the curve in each corner between them; 0 leaves the corner [m]

    Returns
    -------
    Straight and curved stretches in the order of travel; a straight one of no length is left out.

    Raises
    ------
    InputError
        Two neighbouring curves need more length than the slope between them has.
    """
    if len(slopes) != len(lengths) or len(radii) != len(lengths) - 1:
        raise InputError(
            Fault(
                "radii",
                f"{len(lengths)} lengths, {len(slopes)} slopes and {len(radii)} radii do not "
                "fit; each length needs its slope, each corner its radius",
            )
        )
    for number, radius in enumerate(radii, 1):
        if not (np.isfinite(radius) and radius >= 0):
            raise InputError(
                Fault(f"radius {number}", f"{radius:g} m is no radius; give 0 or more")
            )
    ends = [
        float(curve_tangent(r, a, b)) for r, a, b in zip(radii, slopes, slopes[1:], strict=False)
    ]
    stretches: list[Stretch] = []
    for n, (length, slope) in enumerate(zip(lengths, slopes, strict=True)):
        before = ends[n - 1] if n else 0.0
        after = ends[n] if n < len(ends) else 0.0
        left = length - before - after
        if left < -1e-9 * length:
            raise InputError(
                Fault(
                    f"slope {n + 1}",
                    f"its curves need {show(before + after, Kind.DISTANCE)}, the slope is "
                    f"{show(length, Kind.DISTANCE)} long; take smaller radii or join the curves",
                )
            )
        if left > 0:
            stretches.append(Stretch(left, slope, slope, None))
        if n < len(ends) and radii[n] > 0 and slopes[n + 1] != slope:
            arc = float(curve_length(radii[n], slope, slopes[n + 1]))
            stretches.append(Stretch(arc, slope, slopes[n + 1], radii[n]))
    return tuple(stretches)
