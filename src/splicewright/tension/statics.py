"""Relations of a belt at rest: hanging strands, load on the way, drawing.

Friction is never credited where it would help, and added where it would hurt.
"""

from __future__ import annotations

import numpy as np

from splicewright.quantities import Kind, formula
from splicewright.tension.resistance import GRAVITY


@formula(
    "T = max(0, T_t + g q_B (z - z_t) + W_G + Σ F_f)",
    gives=("T", Kind.FORCE),
    symbols={
        "take_up": "T_t",
        "belt": "q_B",
        "height": "z",
        "take_up_height": "z_t",
        "load": "W_G",
        "friction": "Σ F_f",
    },
    source="statics",
    limits="friction added (safe high side); walked from the take-up without crossing a driven "
    "pulley, which is taken as locked",
)
def tension_at_rest(
    take_up: float,
    belt: float,
    height: float,
    take_up_height: float,
    load: float,
    friction: float,
) -> float:
    """Highest tension the stopped belt can hold at a place.

    Parameters
    ----------
    take_up : tension at the take-up [N]
    belt : mass per length [kg/m]
    height, take_up_height : of the place and of the take-up [m]
    load : weight component of the load on the rising parts of the way [N]
    friction : sum of main resistances on the way [N]

    Returns
    -------
    float, not below zero [N]
    """
    hanging = GRAVITY * belt * (height - take_up_height)
    return np.maximum(0.0, take_up + hanging + load + friction)


@formula(
    "W_G = g k q_G h",
    gives=("W_G", Kind.FORCE),
    symbols={"load": "q_G", "share": "k", "climb": "h"},
    source="statics",
    limits="rising parts of the way from the take-up only: load on falling parts is not credited",
)
def load_on_the_way(load: float, share: float, climb: float) -> float:
    """Weight of the load along the rising part of one run.

    Parameters
    ----------
    load : full load per length [kg/m]
    share : of it left on the belt [-]
    climb : height the run gains on the way from the take-up [m]

    Returns
    -------
    float, not negative [N]
    """
    return GRAVITY * share * load * np.maximum(0.0, climb)


@formula(
    "q = k q_G",
    gives=("q", Kind.LINE_MASS),
    symbols={"share": "k", "load": "q_G"},
    source="arithmetic",
)
def load_left(share: float, load: float) -> float:
    """Load per length left on the stopped belt [kg/m]."""
    return share * load


@formula(
    "F = g q_B max(0, Δz) + g q_G h* + T_t + F_f",
    gives=("F", Kind.FORCE),
    symbols={
        "belt": "q_B",
        "load": "q_G",
        "pulls": "h*",
        "fall": "Δz",
        "take_up": "T_t",
        "friction": "F_f",
    },
    source="statics",
    limits="load lying where it pulls most; friction added, none credited; the driven pulley is "
    "not trusted to hold",
)
def strand_weight(
    belt: float, load: float, pulls: float, fall: float, take_up: float, friction: float
) -> float:
    """What a clamp must hold of the belt on one side of a cut.

    Parameters
    ----------
    belt, load : masses per length, the load of a full belt [kg/m]
    pulls : height over which full load pulls on this side [m]
    fall : height over which the strand hangs [m]
    take_up : tension that may still act [N]
    friction : that may have locked tension in [N]

    Returns
    -------
    float [N]
    """
    return GRAVITY * (belt * np.maximum(0.0, fall) + load * pulls) + take_up + friction


@formula(
    "F_p = g q_B max(0, Δz) + Σ F_f",
    gives=("F_p", Kind.FORCE),
    symbols={"belt": "q_B", "rise": "Δz", "friction": "Σ F_f"},
    source="statics",
    limits="all belt from the take-up to the place of work is drawn; friction added",
)
def drawing_force(belt: float, rise: float, friction: float) -> float:
    """Force to draw one belt end along its run.

    Parameters
    ----------
    belt : mass per length [kg/m]
    rise : it must be drawn up [m]
    friction : resistance of idlers and belt on the way [N]

    Returns
    -------
    float [N]
    """
    return GRAVITY * belt * np.maximum(0.0, rise) + friction
