"""Belt on a roll: how long it is, how thick the roll gets, what it weighs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from splicewright.plant import Belt
from splicewright.quantities import Figure, Kind, Number, Worksheet, assumed, formula

_CORE = (0.4, 0.2, 0.8)


@dataclass(frozen=True, slots=True)
class Roll:
    """A roll of belt: length wound [m], outer diameter [m], mass [kg]."""

    length: Figure
    diameter: Figure
    mass: Figure


@formula(
    "D = √(d² + 4 t L/π)",
    gives=("D", Kind.LENGTH),
    symbols={"core": "d", "thickness": "t", "length": "L"},
    source="geometry",
    limits="tightly wound; a loose roll is thicker",
)
def roll_diameter(core: Number, thickness: Number, length: Number) -> Number:
    """Outer diameter of a roll.

    Parameters
    ----------
    core : diameter it is wound on [m]
    thickness : of the belt [m]
    length : of belt on it [m]

    Returns
    -------
    float or array [m]
    """
    return np.sqrt(core**2 + 4 * thickness * length / np.pi)


@formula(
    "m = q_B L",
    gives=("m", Kind.MASS),
    symbols={"belt": "q_B", "length": "L"},
    source="geometry",
    limits="belt alone, without core and lifting gear",
)
def roll_mass(belt: float, length: float) -> float:
    """Mass of the belt on a roll [kg] from its mass per length [kg/m] and length [m]."""
    return belt * length


def roll_of(belt: Belt, length: Figure, sheet: Worksheet) -> Roll:
    """The roll on which so much of this belt arrives.

    Parameters
    ----------
    belt : what is wound
    length : of it [m]
    sheet : takes the lines
    """
    value, low, high = _CORE
    core = assumed(
        "roll.core",
        "core of the roll",
        value,
        Kind.LENGTH,
        "core of the roll not given; 400 mm taken",
        (low, high),
    )
    return Roll(
        length,
        sheet.work(
            "roll.diameter",
            "diameter of the roll",
            roll_diameter,
            core=core,
            thickness=belt.thickness,
            length=length,
        ),
        sheet.work("roll.mass", "mass of the roll", roll_mass, belt=belt.line_mass, length=length),
    )
