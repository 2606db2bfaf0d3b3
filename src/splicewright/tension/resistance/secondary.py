"""Secondary resistances one by one: feed, skirts of the feed zone, belt on pulleys, bearings, tilt.

Constants that are remembered rather than read are parameters of the relations; their named
assumptions and the sum over a conveyor are in `secondary_sum`.
All relations take floats or arrays that broadcast.
"""

from __future__ import annotations

import numpy as np

from splicewright.quantities import Kind, Number, formula
from splicewright.tension.resistance.main import GRAVITY


@formula(
    "F_bA = I_V ρ (v - v_0)",
    gives=("F_bA", Kind.FORCE),
    symbols={"volume_flow": "I_V", "density": "ρ", "speed": "v", "feed_speed": "v_0"},
    source="iso5048-feed",
    limits="one feed point; a feed faster than the belt drives it (negative)",
)
def feed_acceleration(
    volume_flow: Number, density: Number, speed: Number, feed_speed: Number
) -> Number:
    """Force that brings the load to belt speed.

    Parameters
    ----------
    volume_flow : of the load [m3/s]
    density : bulk density [kg/m3]
    speed : of the belt [m/s]
    feed_speed : part of the load's speed in the belt's direction as it lands [m/s]

    Returns
    -------
    float or array [N]
    """
    return volume_flow * density * (speed - feed_speed)


@formula(
    "l_b = (v² - v_0²)/(2 g μ_1)",
    gives=("l_b", Kind.DISTANCE),
    symbols={"speed": "v", "feed_speed": "v_0", "friction": "μ_1"},
    source=("iso5048-secondary", "statics"),
    limits="level belt; load dragged up to belt speed by friction alone",
)
def feed_zone_length(speed: Number, feed_speed: Number, friction: Number) -> Number:
    """Least length over which the load comes to belt speed, and skirts are needed.

    Parameters
    ----------
    speed : of the belt [m/s]
    feed_speed : of the load as it lands [m/s]
    friction : mu_1 of load on belt [-]

    Returns
    -------
    float or array, 0 for a feed faster than the belt [m]
    """
    return np.maximum(0.0, speed**2 - feed_speed**2) / (2 * GRAVITY * friction)


@formula(
    "F_f = μ_2 I_V² ρ g l_b/[((v + v_0)/2)² b_1²]",
    gives=("F_f", Kind.FORCE),
    symbols={
        "friction": "μ_2",
        "volume_flow": "I_V",
        "density": "ρ",
        "length": "l_b",
        "speed": "v",
        "feed_speed": "v_0",
        "between": "b_1",
    },
    source="iso5048-secondary",
    limits="as the skirts beyond the feed zone, at the mean of feed and belt speed",
)
def feed_zone_friction(
    friction: Number,
    volume_flow: Number,
    density: Number,
    length: Number,
    speed: Number,
    feed_speed: Number,
    between: Number,
) -> Number:
    """Friction of the load on the skirts while it comes to belt speed.

    Parameters
    ----------
    friction : mu_2 of load on board [-]
    volume_flow : of the load [m3/s]
    density : bulk density [kg/m3]
    length : of the feed zone [m]
    speed : of the belt [m/s]
    feed_speed : of the load as it lands [m/s]
    between : inside width of the boards [m]

    Returns
    -------
    float or array [N]
    """
    mean = (speed + feed_speed) / 2
    return friction * volume_flow**2 * density * GRAVITY * length / (mean**2 * between**2)


@formula(
    "F_l = k B (c + x T/B) d/D",
    gives=("F_l", Kind.FORCE),
    symbols={
        "factor": "k",
        "width": "B",
        "base": "c",
        "share": "x",
        "tension": "T",
        "thickness": "d",
        "diameter": "D",
    },
    source="iso5048-secondary",
    limits="each pulley with some wrap; remembered: k = 9, c = 140 N/m, x = 0.01 for textile, "
    "k = 12, c = 200 N/m, x = 0.01 for steel cord",
)
def belt_wrap(
    factor: Number,
    width: Number,
    base: Number,
    share: Number,
    tension: Number,
    thickness: Number,
    diameter: Number,
) -> Number:
    """Resistance of bending the belt round a pulley and back.

    Parameters
    ----------
    factor : k [-]
    width : of the belt [m]
    base : c [N/m]
    share : x of the tension [-]
    tension : mean of entering and leaving [N]
    thickness : of the belt [m]
    diameter : of the pulley [m]

    Returns
    -------
    float or array [N]
    """
    return factor * width * (base + share * tension / width) * thickness / diameter


@formula(
    "F_t = k_t d_0/D · F_T",
    gives=("F_t", Kind.FORCE),
    symbols={"factor": "k_t", "shaft": "d_0", "diameter": "D", "resultant": "F_T"},
    source="iso5048-secondary",
    limits="undriven pulleys; remembered k_t = 0.005; a drive's bearings lie in its efficiency",
)
def pulley_bearings(factor: Number, shaft: Number, diameter: Number, resultant: Number) -> Number:
    """Resistance of the bearings of an undriven pulley, at the belt.

    Parameters
    ----------
    factor : k_t [-]
    shaft : diameter in the bearings [m]
    diameter : of the pulley [m]
    resultant : of both belt tensions and the pulley's weight [N]

    Returns
    -------
    float or array [N]
    """
    return factor * shaft / diameter * resultant


@formula(
    "C = 1 + F_N/F_H",
    gives=("C", Kind.RATIO),
    symbols={"secondary": "F_N", "main": "F_H"},
    source="din22101-c",
)
def equal_coefficient(secondary: Number, main: Number) -> Number:
    """The C that would give the same secondary resistance [-] from both resistances [N]."""
    return 1 + secondary / main
