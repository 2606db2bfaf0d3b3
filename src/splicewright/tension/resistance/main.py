"""Resistances to motion by ISO 5048 and DIN 22101: one function for each relation.

All functions take floats or NumPy arrays that broadcast, and give the same.
"""

from __future__ import annotations

import numpy as np

from splicewright.quantities import Kind, formula

GRAVITY = 9.81
"""Acceleration of free fall as the standards' examples use it [m/s2]."""


@formula(
    "F_H = g l [f q_R + f_L (q_B + q_G) cos δ],  cos δ = √(1 - (h/l)²)",
    gives=("F_H", Kind.FORCE),
    symbols={
        "friction": "f",
        "load_friction": "f_L",
        "length": "l",
        "rolls": "q_R",
        "belt": "q_B",
        "load": "q_G",
        "rise": "h",
    },
    source="iso5048-main",
    limits="one straight run; the standard has one factor f for rolls, belt and load (f_L = f)",
)
def main_resistance(
    friction: float,
    load_friction: float,
    length: float,
    rolls: float,
    belt: float,
    load: float,
    rise: float,
) -> float:
    """Main resistance of one run: idlers turning, belt and load flexing.

    Parameters
    ----------
    friction, load_friction : factors f of rolls and of belt with load [-]
    length : along the belt [m]
    rolls, belt, load : masses per length [kg/m]
    rise : of the run [m]

    Returns
    -------
    float, never negative for positive inputs [N]
    """
    cosine = np.sqrt(1 - np.minimum(1.0, (rise / length) ** 2))
    return GRAVITY * length * (friction * rolls + load_friction * (belt + load) * cosine)


@formula(
    "F_St = g h (q_B + q_G)",
    gives=("F_St", Kind.FORCE),
    symbols={"belt": "q_B", "load": "q_G", "rise": "h"},
    source="iso5048-slope",
    limits="the belt's own part cancels round the loop but not at a station",
)
def slope_resistance(belt: float, load: float, rise: float) -> float:
    """Slope resistance of one run, belt and load.

    Parameters
    ----------
    belt, load : masses per length [kg/m]
    rise : of the run, negative downhill [m]

    Returns
    -------
    float, negative downhill [N]
    """
    return GRAVITY * rise * (belt + load)


@formula(
    "F_N = (C - 1) F_H",
    gives=("F_N", Kind.FORCE),
    symbols={"coefficient": "C", "main": "F_H"},
    source="din22101-c",
    limits="centre distance of 80 m and more; shared along the loop in proportion to F_H",
)
def secondary_resistance(coefficient: float, main: float) -> float:
    """Secondary resistances all at once.

    Parameters
    ----------
    coefficient : C [-]
    main : main resistance [N]

    Returns
    -------
    float [N]
    """
    return (coefficient - 1) * main


@formula(
    "F_ε = C_ε μ_0 L_ε (q_B + q_G) g cos δ sin ε",
    gives=("F_ε", Kind.FORCE),
    symbols={
        "coefficient": "C_ε",
        "friction": "μ_0",
        "length": "L_ε",
        "belt": "q_B",
        "load": "q_G",
        "cosine": "cos δ",
        "tilt": "ε",
    },
    source="iso5048-special",
    limits="carry side, three equal rolls",
)
def tilt_resistance(
    coefficient: float,
    friction: float,
    length: float,
    belt: float,
    load: float,
    cosine: float,
    tilt: float,
) -> float:
    """Special resistance of idlers set forward.

    Parameters
    ----------
    coefficient : C_eps, 0.40 at 30 deg trough, 0.43 at 35 deg, 0.50 at 45 deg [-]
    friction : mu_0 between belt and rolls [-]
    length : over which the idlers are tilted [m]
    belt, load : masses per length [kg/m]
    cosine : of the slope [-]
    tilt : eps [rad]

    Returns
    -------
    float [N]
    """
    return coefficient * friction * length * (belt + load) * GRAVITY * cosine * np.sin(tilt)


@formula(
    "F_gl = μ_2 I_V² ρ g l / (v² b_1²)",
    gives=("F_gl", Kind.FORCE),
    symbols={
        "friction": "μ_2",
        "volume_flow": "I_V",
        "density": "ρ",
        "length": "l",
        "speed": "v",
        "between": "b_1",
    },
    source="iso5048-special",
)
def skirt_resistance(
    friction: float, volume_flow: float, density: float, length: float, speed: float, between: float
) -> float:
    """Special resistance of skirt boards outside the feed zone.

    Parameters
    ----------
    friction : mu_2 of load on board [-]
    volume_flow : of the load [m3/s]
    density : bulk density [kg/m3]
    length : of the boards [m]
    speed : of the belt [m/s]
    between : inside width [m]

    Returns
    -------
    float [N]
    """
    return friction * volume_flow**2 * density * GRAVITY * length / (speed**2 * between**2)


@formula(
    "F_r = A p μ_3",
    gives=("F_r", Kind.FORCE),
    symbols={"area": "A", "pressure": "p", "friction": "μ_3"},
    source="iso5048-special",
)
def cleaner_resistance(area: float, pressure: float, friction: float) -> float:
    """Special resistance of a cleaner.

    Parameters
    ----------
    area : of contact [m2]
    pressure : of the blade on the belt [Pa]
    friction : mu_3 [-]

    Returns
    -------
    float [N]
    """
    return area * pressure * friction


@formula(
    "F_a = k_a B",
    gives=("F_a", Kind.FORCE),
    symbols={"per_width": "k_a", "width": "B"},
    source="iso5048-special",
)
def plough_resistance(per_width: float, width: float) -> float:
    """Special resistance of a plough.

    Parameters
    ----------
    per_width : k_a, 1500 N/m in the published examples [N/m]
    width : of the belt [m]

    Returns
    -------
    float [N]
    """
    return per_width * width


@formula(
    "F_x = k_x (F_H + F_N)",
    gives=("F_x", Kind.FORCE),
    symbols={"share": "k_x", "main": "F_H", "secondary": "F_N"},
    source="practice",
)
def allowance(share: float, main: float, secondary: float) -> float:
    """An allowance stated by the user as a share of main and secondary resistance.

    Parameters
    ----------
    share : [-]
    main, secondary : resistances [N]

    Returns
    -------
    float [N]
    """
    return share * (main + secondary)


@formula(
    "I_V = Q/ρ",
    gives=("I_V", Kind.VOLUME_FLOW),
    symbols={"rate": "Q", "density": "ρ"},
    source="arithmetic",
)
def volume_flow_of(rate: float, density: float) -> float:
    """Volume flow of a mass flow [m3/s] from rate [kg/s] and bulk density [kg/m3]."""
    return rate / density


@formula(
    "Q = q_G v",
    gives=("Q", Kind.MASS_FLOW),
    symbols={"load": "q_G", "speed": "v"},
    source="arithmetic",
)
def mass_flow_of(load: float, speed: float) -> float:
    """Mass flow [kg/s] of a load per length [kg/m] at a speed [m/s]."""
    return load * speed


@formula(
    "P_A = F_U v",
    gives=("P_A", Kind.POWER),
    symbols={"pull": "F_U", "speed": "v"},
    source="iso5048-total",
)
def pulley_power(pull: float, speed: float) -> float:
    """Power at the driven pulleys [W] from the pull [N] and belt speed [m/s]."""
    return pull * speed


@formula(
    "P_M = k P_A/η  (P_A ≥ 0),  k P_A η  (braking)",
    gives=("P_M", Kind.POWER),
    symbols={"share": "k", "power": "P_A", "efficiency": "η"},
    source="iso5048-total",
)
def motor_power(share: float, power: float, efficiency: float) -> float:
    """Power one motor must give, or takes back when braking.

    Parameters
    ----------
    share : of the whole pull that its drive gives [-]
    power : at all driven pulleys [W]
    efficiency : motor to pulley [-]

    Returns
    -------
    float, negative when braking [W]
    """
    return share * (np.maximum(power, 0.0) / efficiency + np.minimum(power, 0.0) * efficiency)
