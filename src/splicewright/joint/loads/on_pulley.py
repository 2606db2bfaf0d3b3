"""Stiff plates on a round pulley: how far the hinge opens and how far a plate stands off."""

from __future__ import annotations

import math

from splicewright.errors import Fault, InputError
from splicewright.quantities import Kind, formula


@formula(
    "D_p = D + h",
    gives=("D_p", Kind.LENGTH),
    symbols={"diameter": "D", "thickness": "h"},
    source="geometry",
    limits="pin in the middle of the belt's thickness; D over the lagging",
)
def pin_circle(diameter: float, thickness: float) -> float:
    """Circle the hinge pin runs on round a pulley.

    D_p = D + h

    Parameters
    ----------
    diameter : of the pulley over its lagging [m]
    thickness : of the belt [m]
    """
    return diameter + thickness


@formula(
    "λ = l/D",
    gives=("λ", Kind.RATIO),
    symbols={"plate_length": "l", "diameter": "D"},
    source="geometry",
)
def length_over_diameter(plate_length: float, diameter: float) -> float:
    """Stiff length over the pulley it goes round [1].

    Parameters
    ----------
    plate_length : that stays straight [m]
    diameter : of the pulley [m]
    """
    return plate_length / diameter


@formula(
    "θ = 2 arcsin(l/D)",
    gives=("θ", Kind.ANGLE),
    symbols={"plate_length": "l", "diameter": "D"},
    source="geometry",
    limits="plates lie as chords on the pulley; D over the line through the hinge pins",
)
def hinge_angle(plate_length: float, diameter: float) -> float:
    """Angle the hinge opens to on a pulley.

    θ = 2 arcsin(l/D): each side is a chord of length l and turns by half of it.

    Parameters
    ----------
    plate_length : from the pin axis to the plate's far end [m]
    diameter : of the circle the pin runs on: pulley, lagging and twice the pin's height [m]

    Raises
    ------
    InputError
        A plate as long as the circle is wide, or a length not above 0.
    """
    if not 0 < plate_length < diameter:
        raise InputError(
            Fault(
                "plate_length",
                f"{plate_length * 1e3:g} mm is not accepted: give more than 0 mm and less than "
                f"the {diameter * 1e3:g} mm the pin runs on",
            )
        )
    return 2 * math.asin(plate_length / diameter)


@formula(
    "h = D/2 - √(D²/4 - l²/4)",
    gives=("h", Kind.LENGTH),
    symbols={"plate_length": "l", "diameter": "D"},
    source="geometry",
    limits="about l²/(4 D)",
)
def plate_sagitta(plate_length: float, diameter: float) -> float:
    """How far the middle of a straight plate stands off the arc the belt would take.

    h = D/2 - √(D²/4 - l²/4)

    Parameters
    ----------
    plate_length : along the belt [m]
    diameter : of the arc: pulley and lagging, for the bottom plate [m]

    Raises
    ------
    InputError
        A plate longer than the arc is wide, or a length not above 0.
    """
    if not 0 < plate_length <= diameter:
        raise InputError(
            Fault(
                "plate_length",
                f"{plate_length * 1e3:g} mm is not accepted: give more than 0 mm and no more than "
                f"the pulley's {diameter * 1e3:g} mm",
            )
        )
    # (l/2)^2 over the sum instead of the difference: no digits lost on large pulleys.
    half = plate_length / 2
    return half**2 / (diameter / 2 + math.sqrt(diameter**2 / 4 - half**2))


@formula(
    "D = l / sin(θ/2)",
    gives=("D", Kind.LENGTH),
    symbols={"plate_length": "l", "angle": "θ"},
    source="geometry",
)
def smallest_circle(plate_length: float, angle: float) -> float:
    """Smallest circle the pin may run on for the angle the hinge allows.

    D = l / sin(θ/2)

    Parameters
    ----------
    plate_length : from the pin axis to the plate's far end [m]
    angle : the hinge allows [rad]
    """
    return plate_length / math.sin(angle / 2)
