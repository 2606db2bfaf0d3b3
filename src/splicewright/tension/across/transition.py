"""How long the transition from a flat pulley to the first full trough must be.

Three opinions stand side by side: straight fibres with edge and middle checked, the published
lower bound, and the short formulas. All functions take floats or arrays that broadcast.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from splicewright.quantities import Kind, Number, formula
from splicewright.tension.across.width import across_transition

LEAST_LENGTH_FACTOR: dict[bool, float] = {True: 8.5, False: 14.0}
"""c_Td of GB 50431 clause 10.4.1, by whether the carcass is textile (polyester, polyamide)."""


@formula(
    "L with max(t_E, t_M) = t_perm, t_E and t_M from t, M, B, l_3, λ and h",
    gives=("L", Kind.DISTANCE),
    symbols={
        "permitted": "t_perm",
        "mean": "t",
        "modulus": "M",
        "width": "B",
        "middle": "l_3",
        "trough": "λ",
        "raised": "h",
    },
    source="transition",
    limits="found by halving; infinite where the mean tension alone reaches what is permitted",
)
def length_for_edge(
    permitted: Number,
    mean: Number,
    modulus: Number,
    width: Number,
    middle: Number,
    trough: Number,
    raised: Number,
) -> Number:
    """Shortest transition at which the tightest fibre stays within a permitted tension.

    Parameters
    ----------
    permitted : tension per width of a fibre; 130 % of rated tension by ISO 5293 [N/m]
    mean : largest tension per width of the belt there [N/m]
    modulus : of the belt, per width [N/m]
    width, middle : of the belt and of its part on the middle roll [m]
    trough : angle [rad]
    raised : top of the pulley over the top of the middle roll [m]

    Returns
    -------
    float or array [m]
    """

    def too_short(length: Any) -> Any:
        tensions = across_transition(
            mean=mean,
            modulus=modulus,
            length=length,
            width=width,
            middle=middle,
            trough=trough,
            raised=raised,
        )
        return tensions.tightest > permitted

    return _shortest(too_short, permitted, mean, modulus, width, middle, trough, raised)


@formula(
    "L with min t_f = t_min, t_f from t, M, B, l_3, λ and h",
    gives=("L", Kind.DISTANCE),
    symbols={
        "least": "t_min",
        "mean": "t",
        "modulus": "M",
        "width": "B",
        "middle": "l_3",
        "trough": "λ",
        "raised": "h",
    },
    source="transition",
    limits="found by halving; infinite where the mean tension itself is below the least",
)
def length_for_middle(
    least: Number,
    mean: Number,
    modulus: Number,
    width: Number,
    middle: Number,
    trough: Number,
    raised: Number,
) -> Number:
    """Shortest transition at which no fibre falls below a least tension.

    Parameters
    ----------
    least : tension per width every fibre keeps, 0 for no buckling of the middle [N/m]
    mean : smallest tension per width of the belt there [N/m]
    modulus : of the belt, per width [N/m]
    width, middle : of the belt and of its part on the middle roll [m]
    trough : angle [rad]
    raised : top of the pulley over the top of the middle roll [m]

    Returns
    -------
    float or array [m]
    """

    def too_short(length: Any) -> Any:
        tensions = across_transition(
            mean=mean,
            modulus=modulus,
            length=length,
            width=width,
            middle=middle,
            trough=trough,
            raised=raised,
        )
        return tensions.slackest < least

    return _shortest(too_short, least, mean, modulus, width, middle, trough, raised)


def _shortest(too_short: Any, *inputs: Number) -> Number:
    """Halve the logarithm of the length between a hundredth and 100,000 belt widths.

    The spread of fibre tensions falls with every added length, so one length divides them.
    """
    width = inputs[3]
    shape = np.broadcast_shapes(*(np.shape(a) for a in inputs))
    low = np.broadcast_to(0.01 * np.asarray(width, dtype=np.float64), shape).copy()
    high = np.broadcast_to(1e5 * np.asarray(width, dtype=np.float64), shape).copy()
    never, always = too_short(high), ~np.asarray(too_short(low))
    for _ in range(60):
        half = np.sqrt(low * high)
        short = too_short(half)
        low, high = np.where(short, half, low), np.where(short, high, half)
    return np.where(never, np.inf, np.where(always, 0.0, high))[()]


@formula(
    "l_Td = c_Td h_Td",
    gives=("l_Td", Kind.DISTANCE),
    symbols={"factor": "c_Td", "height": "h_Td"},
    source="gb50431-transition",
    limits="a lower bound; edge and middle tension are checked besides",
)
def least_transition(factor: Number, height: Number) -> Number:
    """Lower bound of the transition length.

    Parameters
    ----------
    factor : 8.5 for polyester and polyamide, 14 for steel cord [-]
    height : of the belt edges over the pulley's top [m]

    Returns
    -------
    float or array [m]
    """
    return factor * height
