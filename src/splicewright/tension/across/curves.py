"""What tension does in a vertical curve: lift-off, idler load, edges and middle.

In a concave curve (valley) the edges are slackened and the middle tightened, in a convex one
(brow) the other way round. Sections stay plane and the belt is linear, so a fibre at height e
over the centroid of the troughed section is stretched by e/R more than the mean.
All functions take floats or arrays that broadcast.
"""

from __future__ import annotations

import numpy as np

from splicewright.quantities import Kind, Number, formula
from splicewright.tension.resistance.main import GRAVITY


@formula(
    "R = T/(q_B g cos δ)",
    gives=("R", Kind.DISTANCE),
    symbols={"tension": "T", "belt": "q_B", "slope": "δ"},
    source="vertical-curve",
    limits="concave curve; empty belt, the largest tension met while it is empty, the steepest "
    "slope in the curve",
)
def lift_off_radius(tension: Number, belt: Number, slope: Number) -> Number:
    """Least radius of a concave curve at which the empty belt stays on its idlers.

    Parameters
    ----------
    tension : of the belt in the curve [N]
    belt : mass per length [kg/m]
    slope : steepest in the curve [rad]

    Returns
    -------
    float or array [m]
    """
    return tension / (belt * GRAVITY * np.cos(slope))


@formula(
    "e_E = w sin λ (1 - w/B),  w = (B - l_3)/2",
    gives=("e_E", Kind.LENGTH),
    symbols={"width": "B", "middle": "l_3", "trough": "λ"},
    source="vertical-curve",
    limits="three rolls; two rolls have l_3 = 0",
)
def edge_reach(width: Number, middle: Number, trough: Number) -> Number:
    """Height of the belt edges over the centroid of the troughed section [m].

    Parameters
    ----------
    width : of the belt [m]
    middle : part of it that lies on the middle roll [m]
    trough : angle of the side rolls [rad]
    """
    wing = (width - middle) / 2
    return wing * np.sin(trough) * (1 - wing / width)


@formula(
    "e_M = w² sin λ/B,  w = (B - l_3)/2",
    gives=("e_M", Kind.LENGTH),
    symbols={"width": "B", "middle": "l_3", "trough": "λ"},
    source="vertical-curve",
    limits="three rolls; two rolls have l_3 = 0",
)
def middle_reach(width: Number, middle: Number, trough: Number) -> Number:
    """Depth of the belt's middle under the centroid of the troughed section [m].

    Parameters
    ----------
    width : of the belt [m]
    middle : part of it that lies on the middle roll [m]
    trough : angle of the side rolls [rad]
    """
    wing = (width - middle) / 2
    return wing**2 * np.sin(trough) / width


@formula(
    "t_o = t + M e/R",
    gives=("t_o", Kind.WIDTH_FORCE),
    symbols={"mean": "t", "modulus": "M", "reach": "e", "radius": "R"},
    source="vertical-curve",
    limits="edges of a convex curve, middle of a concave one",
)
def outer_tension(mean: Number, modulus: Number, reach: Number, radius: Number) -> Number:
    """Tension of the fibre on the outside of a vertical curve.

    Parameters
    ----------
    mean : tension per width [N/m]
    modulus : of the belt, per width [N/m]
    reach : of the fibre from the centroid [m]
    radius : of the curve [m]

    Returns
    -------
    float or array [N/m]
    """
    return mean + modulus * reach / radius


@formula(
    "t_i = t - M e/R",
    gives=("t_i", Kind.WIDTH_FORCE),
    symbols={"mean": "t", "modulus": "M", "reach": "e", "radius": "R"},
    source="vertical-curve",
    limits="middle of a convex curve, edges of a concave one; below 0 the belt buckles there",
)
def inner_tension(mean: Number, modulus: Number, reach: Number, radius: Number) -> Number:
    """Tension of the fibre on the inside of a vertical curve.

    Parameters
    ----------
    mean : tension per width [N/m]
    modulus : of the belt, per width [N/m]
    reach : of the fibre from the centroid [m]
    radius : of the curve [m]

    Returns
    -------
    float or array, negative where the belt buckles [N/m]
    """
    return mean - modulus * reach / radius


@formula(
    "R = M e/(t_perm - t)",
    gives=("R", Kind.DISTANCE),
    symbols={"permitted": "t_perm", "mean": "t", "modulus": "M", "reach": "e"},
    source="vertical-curve",
    limits="infinite where the mean tension alone reaches what is permitted",
)
def radius_for_outer(permitted: Number, mean: Number, modulus: Number, reach: Number) -> Number:
    """Least radius at which the outer fibre stays within a permitted tension.

    Parameters
    ----------
    permitted : tension per width of the fibre [N/m]
    mean : largest tension per width of the belt in the curve [N/m]
    modulus : of the belt, per width [N/m]
    reach : of the fibre from the centroid [m]

    Returns
    -------
    float or array [m]
    """
    return _over(modulus * reach, permitted - mean)


@formula(
    "R = M e/(t - t_min)",
    gives=("R", Kind.DISTANCE),
    symbols={"least": "t_min", "mean": "t", "modulus": "M", "reach": "e"},
    source="vertical-curve",
    limits="infinite where the mean tension itself is below the least",
)
def radius_for_inner(least: Number, mean: Number, modulus: Number, reach: Number) -> Number:
    """Least radius at which the inner fibre keeps a least tension.

    Parameters
    ----------
    least : tension per width the fibre must keep, 0 for no buckling [N/m]
    mean : smallest tension per width of the belt in the curve [N/m]
    modulus : of the belt, per width [N/m]
    reach : of the fibre from the centroid [m]

    Returns
    -------
    float or array [m]
    """
    return _over(modulus * reach, mean - least)


def _over(above: Number, below: Number) -> Number:
    """A ratio that is infinite where nothing is left below."""
    room = np.asarray(below, dtype=np.float64)
    return np.where(room > 0, above / np.where(room > 0, room, 1.0), np.inf)[()]


def convex_radius(
    *,
    smallest: Number,
    largest: Number,
    permitted: Number,
    least: Number,
    modulus: Number,
    width: Number,
    middle: Number,
    trough: Number,
) -> Number:
    """Least radius of a convex curve: edges within what is permitted, middle not slack.

    Parameters
    ----------
    smallest, largest : tension per width of the belt in the curve, over the load cases [N/m]
    permitted : tension per width of the edges [N/m]
    least : tension per width the middle keeps, 0 for no buckling [N/m]
    modulus : of the belt, per width [N/m]
    width, middle : of the belt and of its part on the middle roll [m]
    trough : angle [rad]
    """
    outer = radius_for_outer(permitted, largest, modulus, edge_reach(width, middle, trough))
    inner = radius_for_inner(least, smallest, modulus, middle_reach(width, middle, trough))
    return np.maximum(outer, inner)


def concave_radius(
    *,
    smallest: Number,
    largest: Number,
    permitted: Number,
    least: Number,
    modulus: Number,
    width: Number,
    middle: Number,
    trough: Number,
    belt: Number,
    slope: Number,
    empty: Number,
) -> Number:
    """Least radius of a concave curve: belt on its idlers, edges not slack, middle permitted.

    Parameters
    ----------
    smallest, largest : tension per width of the belt in the curve, over the load cases [N/m]
    permitted : tension per width of the middle [N/m]
    least : tension per width the edges keep, 0 for no buckling [N/m]
    modulus : of the belt, per width [N/m]
    width, middle : of the belt and of its part on the middle roll [m]
    trough : angle [rad]
    belt : mass per length [kg/m]
    slope : steepest in the curve [rad]
    empty : largest tension per width met in the curve with no load lying in it [N/m]
    """
    outer = radius_for_outer(permitted, largest, modulus, middle_reach(width, middle, trough))
    inner = radius_for_inner(least, smallest, modulus, edge_reach(width, middle, trough))
    lift = lift_off_radius(empty * width, belt, slope)
    return np.maximum(np.maximum(outer, inner), lift)
