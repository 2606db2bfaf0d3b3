"""Tension across the belt: between a flat pulley and the first full trough, and on a crown.

In the transition every fibre of the belt is taken as a straight line from pulley to trough
(ISO 5293 type). Fibres that go farther are stretched more; the mean over the width stays the
belt's tension. Unlike the printed formula, the fibres' sideways way and a raised pulley line
are counted. All functions take floats or arrays that broadcast.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from splicewright.quantities import Kind, Number, formula

# Gauss-Legendre on 0..1: the fibre length is smooth across a wing, 24 points are exact to
# rounding for any transition longer than the wing is wide.
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)
_NODES, _WEIGHTS = (_NODES + 1) / 2, _WEIGHTS / 2


@formula(
    "h_k = w sin λ,  w = (B - l_3)/2",
    gives=("h_k", Kind.LENGTH),
    symbols={"width": "B", "middle": "l_3", "trough": "λ"},
    source="geometry",
)
def trough_depth(width: Number, middle: Number, trough: Number) -> Number:
    """Height of the belt edges over the middle roll [m].

    Parameters
    ----------
    width : of the belt [m]
    middle : part of it that lies on the middle roll [m]
    trough : angle of the side rolls [rad]
    """
    return (width - middle) / 2 * np.sin(trough)


@formula(
    "ℓ = √[L² + (s sin λ - h)² + s² (1 - cos λ)²]",
    gives=("ℓ", Kind.DISTANCE),
    symbols={"length": "L", "out": "s", "trough": "λ", "raised": "h"},
    source="transition",
    limits="s = 0 for the part on the middle roll, s = (B - l_3)/2 at the edge",
)
def fibre_length(length: Number, out: Number, trough: Number, raised: Number) -> Number:
    """Way of one fibre through the transition.

    Parameters
    ----------
    length : of the transition [m]
    out : distance of the fibre from the corner of the trough, across the belt [m]
    trough : angle of the side rolls [rad]
    raised : top of the pulley over the top of the middle roll [m]

    Returns
    -------
    float or array [m]
    """
    up, inward = out * np.sin(trough) - raised, out * (1 - np.cos(trough))
    return np.sqrt(length**2 + up**2 + inward**2)


@formula(
    "ℓ_m = [l_3 ℓ(0) + 2 ∫ ℓ(s) ds]/B,  s from 0 to (B - l_3)/2,  ℓ(s) of L, λ and h",
    gives=("ℓ_m", Kind.DISTANCE),
    symbols={"length": "L", "width": "B", "middle": "l_3", "trough": "λ", "raised": "h"},
    source="transition",
)
def mean_fibre_length(
    length: Number, width: Number, middle: Number, trough: Number, raised: Number
) -> Number:
    """Way through the transition, mean over the belt width.

    Parameters
    ----------
    length : of the transition [m]
    width : of the belt [m]
    middle : part of it that lies on the middle roll [m]
    trough : angle of the side rolls [rad]
    raised : top of the pulley over the top of the middle roll [m]

    Returns
    -------
    float or array [m]
    """
    wing = (width - middle) / 2
    total = 0.0 * length
    for node, weight in zip(_NODES.tolist(), _WEIGHTS.tolist(), strict=True):
        total = total + weight * fibre_length(length, node * wing, trough, raised)
    return (middle * fibre_length(length, 0.0, trough, raised) + 2 * wing * total) / width


@formula(
    "t_f = (M + t) ℓ/ℓ_m - M",
    gives=("t_f", Kind.WIDTH_FORCE),
    symbols={"mean": "t", "modulus": "M", "fibre": "ℓ", "mean_fibre": "ℓ_m"},
    source="transition",
    limits="linear belt; all fibres equally long when at rest",
)
def fibre_tension(mean: Number, modulus: Number, fibre: Number, mean_fibre: Number) -> Number:
    """Tension of one fibre of the transition.

    Parameters
    ----------
    mean : tension per width of the belt there [N/m]
    modulus : of the belt, per width [N/m]
    fibre, mean_fibre : its way, and the mean over the width [m]

    Returns
    -------
    float or array, negative where the belt buckles [N/m]
    """
    return (modulus + mean) * fibre / mean_fibre - modulus


@formula(
    "s_0 = h sin λ/[2 (1 - cos λ)], between 0 and (B - l_3)/2",
    gives=("s_0", Kind.LENGTH),
    symbols={"width": "B", "middle": "l_3", "trough": "λ", "raised": "h"},
    source="transition",
    limits="0, the whole middle, when the pulley is not raised",
)
def slackest_fibre(width: Number, middle: Number, trough: Number, raised: Number) -> Number:
    """Where the slackest fibre of the transition lies, out from the corner of the trough [m].

    Parameters
    ----------
    width : of the belt [m]
    middle : part of it that lies on the middle roll [m]
    trough : angle of the side rolls [rad]
    raised : top of the pulley over the top of the middle roll [m]
    """
    # sin/(1 - cos) is 1/tan of half the angle; a flat belt has no slackest fibre, take the edge.
    half = np.tan(np.maximum(trough, 1e-9) / 2)
    return np.clip(raised / (2 * half), 0.0, (width - middle) / 2)


@dataclass(frozen=True, slots=True)
class Across:
    """Tensions per width across a transition [N/m].

    middle: over the middle roll; edge: at the belt edges; slackest: of the least tight fibre,
    below 0 the belt buckles.
    """

    middle: Number
    edge: Number
    slackest: Number

    @property
    def tightest(self) -> Number:
        """The larger of edge and middle [N/m]."""
        return np.maximum(self.edge, self.middle)


def across_transition(
    *,
    mean: Number,
    modulus: Number,
    length: Number,
    width: Number,
    middle: Number,
    trough: Number,
    raised: Number = 0.0,
) -> Across:
    """Tensions across the belt in a flat-to-trough transition of known length.

    Parameters
    ----------
    mean : tension per width of the belt there [N/m]
    modulus : of the belt, per width [N/m]
    length : of the transition, pulley to first full trough [m]
    width, middle : of the belt and of its part on the middle roll [m]
    trough : angle [rad]
    raised : top of the pulley over the top of the middle roll [m]
    """
    wing, through = (width - middle) / 2, mean_fibre_length(length, width, middle, trough, raised)
    out = slackest_fibre(width, middle, trough, raised)

    def at(where: Number) -> Number:
        fibre = fibre_length(length, where, trough, raised)
        return fibre_tension(mean, modulus, fibre, through)

    return Across(at(0.0), at(wing), at(out))


@formula(
    "k = (1 + b/B)/2",
    gives=("k", Kind.RATIO),
    symbols={"flat": "b", "width": "B"},
    source="crown",
    limits="two cones, a cylinder of width b between them",
)
def fullness_of_cones(flat: Number, width: Number) -> Number:
    """Mean of a crown of two cones over the belt width, as share of its height.

    Parameters
    ----------
    flat : width of the cylinder in the middle [m]
    width : of the belt [m]

    Returns
    -------
    float or array, 1/2 to 1 [-]
    """
    return (1 + flat / width) / 2


FULLNESS_OF_ARC = 2 / 3
"""Mean of a crown of one arc over the width, as share of its height: that of a parabola."""


@formula(
    "D_0 = D_E + 2 c",
    gives=("D_0", Kind.LENGTH),
    symbols={"edge_diameter": "D_E", "crown": "c"},
    source="geometry",
)
def middle_diameter(edge_diameter: Number, crown: Number) -> Number:
    """Diameter in the middle of a crowned pulley [m].

    Parameters
    ----------
    edge_diameter : under the belt edges [m]
    crown : radius in the middle less radius under the edges [m]
    """
    return edge_diameter + 2 * crown


@formula(
    "D_m = D_E + 2 c k",
    gives=("D_m", Kind.LENGTH),
    symbols={"edge_diameter": "D_E", "crown": "c", "fullness": "k"},
    source="crown",
    limits="k is 1/2 for a double cone, 2/3 for an arc, (1 + b/B)/2 for a cylinder of width b "
    "between two cones",
)
def mean_diameter(edge_diameter: Number, crown: Number, fullness: Number) -> Number:
    """Mean diameter of a crowned pulley under the belt.

    Parameters
    ----------
    edge_diameter : under the belt edges [m]
    crown : radius in the middle less radius under the edges [m]
    fullness : mean of the crown over the width, as share of its height [-]

    Returns
    -------
    float or array [m]
    """
    return edge_diameter + 2 * crown * fullness


@formula(
    "t_f = (M + t) (D + d)/(D_m + d) - M",
    gives=("t_f", Kind.WIDTH_FORCE),
    symbols={"mean": "t", "modulus": "M", "diameter": "D", "mean_of_all": "D_m", "thickness": "d"},
    source="crown",
    limits="belt stuck to the pulley, no help from the free belt before it: upper bound of the "
    "spread",
)
def crown_tension(
    mean: Number, modulus: Number, diameter: Number, mean_of_all: Number, thickness: Number
) -> Number:
    """Tension of the fibre that lies on one diameter of a crowned pulley.

    Parameters
    ----------
    mean : tension per width of the belt there [N/m]
    modulus : of the belt, per width [N/m]
    diameter, mean_of_all : under the fibre, and mean over the width [m]
    thickness : of the belt [m]

    Returns
    -------
    float or array, negative where the belt buckles [N/m]
    """
    return (modulus + mean) * (diameter + thickness) / (mean_of_all + thickness) - modulus
