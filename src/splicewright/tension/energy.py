"""Energy stored in a stopped conveyor: in the stretched belt, the counterweight, the load."""

from __future__ import annotations

import numpy as np

from splicewright.quantities import Kind, formula
from splicewright.tension.resistance import GRAVITY


@formula(
    "U = T² l / (2 M B)",
    gives=("U", Kind.ENERGY),
    symbols={"tension": "T", "length": "l", "modulus": "M", "width": "B"},
    source="elastic",
    limits="linear belt; the tighter end's tension taken for the whole strand (safe side)",
)
def strain_energy(tension: float, length: float, modulus: float, width: float) -> float:
    """Energy stored in a stretched strand of belt.

    Parameters
    ----------
    tension : of the strand [N]
    length : [m]
    modulus : force per width at unit strain [N/m]
    width : of the belt [m]

    Returns
    -------
    float [J]
    """
    return tension**2 * length / (2 * modulus * width)


@formula(
    "U_w = m g x",
    gives=("U_w", Kind.ENERGY),
    symbols={"mass": "m", "drop": "x"},
    source="statics",
    limits="falls from where it stands to its lower stop, or farther if the stop is missing",
)
def weight_energy(mass: float, drop: float) -> float:
    """Energy of the counterweight should it fall [J] from its mass [kg] and drop [m]."""
    return mass * GRAVITY * drop


@formula(
    "U_l = g q_G l h",
    gives=("U_l", Kind.ENERGY),
    symbols={"load": "q_G", "length": "l", "height": "h"},
    source="statics",
    limits="the load brought down to the lowest place of the carry side",
)
def load_energy(load: float, length: float, height: float) -> float:
    """Energy of the load on a run [J].

    Parameters
    ----------
    load : full load per length [kg/m]
    length : of belt that carries it [m]
    height : of its middle over the lowest place [m]
    """
    return GRAVITY * load * length * np.maximum(0.0, height)
