"""What catches a belt end when one thing lets go: peak force, speed, how far it moves.

A clamp that slips lets its strand go. A wave of slack runs into the belt and its end flies off,
held back only by the belt's own inertia, until a chain or hoist that stood by takes it. The belt
behind the end acts as a damper of resistance Z = √(m' M B); the clamp is a mass, the tackle a
spring, slack in it a gap. That is a damped oscillator, solved in closed form. Waves that come back
from the far end are left out: they come after the peak.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from splicewright.plant import assumptions as assume
from splicewright.plant.filling.origin import assuming
from splicewright.quantities import Figure, Given, Kind, Number, Worksheet, formula
from splicewright.tension.at_rest.bounds import Bounds
from splicewright.tension.at_rest.rest import Rest
from splicewright.tension.at_rest.strands import end_of
from splicewright.tension.resistance.main import GRAVITY

_STEPS = 40
"""Halvings of the search for the moment the gap is closed: to a part in 10^12 of its bracket."""


@formula(
    "Z = √(m' M B)",
    gives=("Z", Kind.RATIO),
    symbols={"mass": "m'", "stiffness": "M B"},
    source=("newton", "elastic"),
    limits="thin elastic strip, waves along it, no friction; in kg/s",
)
def wave_resistance(mass: Number, stiffness: Number) -> Number:
    """Force a belt end needs for each metre per second it is moved along [kg/s].

    Parameters
    ----------
    mass : of belt, and of load that moves with it, per length [kg/m]
    stiffness : belt modulus times width [N]
    """
    return np.sqrt(mass * stiffness)


@formula(
    "v = (F/Z)(1 - e^(-Z t/m)),  x = (F/Z)(t - (m/Z)(1 - e^(-Z t/m))) = δ",
    gives=("v", Kind.SPEED),
    symbols={"force": "F", "gap": "δ", "resistance": "Z", "mass": "m"},
    source=("newton", "elastic"),
    limits="the strand's tension F pulls the clamp until it has moved by the gap",
)
def speed_across(force: Number, gap: Number, resistance: Number, mass: Number) -> Number:
    """Speed of a belt end when it has moved by a gap.

    Parameters
    ----------
    force : tension of the strand that was let go [N]
    gap : slack of what will catch it [m]
    resistance : of the belt behind it [kg/s]
    mass : of the clamp [kg]

    Returns
    -------
    float or array, at most F/Z [m/s]
    """
    force, gap = np.asarray(force, dtype=np.float64), np.asarray(gap, dtype=np.float64)
    if not np.any(gap):
        return np.zeros(np.broadcast_shapes(force.shape, np.shape(resistance), np.shape(mass)))[()]
    top, lag = force / resistance, mass / resistance
    low = np.zeros(np.broadcast_shapes(np.shape(top), np.shape(lag), gap.shape))
    high = (
        low
        + gap / np.maximum(top, 1e-12)
        + 3 * lag
        + np.sqrt(2 * lag * gap / np.maximum(top, 1e-12))
    )
    for _ in range(_STEPS):
        middle = (low + high) / 2
        moved = top * (middle + lag * np.expm1(-middle / lag))
        low, high = np.where(moved < gap, middle, low), np.where(moved < gap, high, middle)
    return (-top * np.expm1(-high / lag))[()]


@formula(
    "v = √(2 F δ/(m + F/g))",
    gives=("v", Kind.SPEED),
    symbols={"force": "F", "gap": "δ", "mass": "m"},
    source="newton",
    limits="a short strand that hangs slack at its far end: its own weight F drives it, and no "
    "belt behind it slows it",
)
def falling_speed(force: Number, gap: Number, mass: Number) -> Number:
    """Speed of a short strand that falls by a gap, driven by its own weight.

    Parameters
    ----------
    force : weight that pulls [N]
    gap : slack of what will catch it [m]
    mass : of the clamp [kg]

    Returns
    -------
    float or array [m/s]
    """
    return np.sqrt(2 * force * np.asarray(gap) / (mass + np.asarray(force) / GRAVITY))[()]


@formula(
    "F_p = F + k max y(t),  m y'' + Z y' + k y = 0,  y(0) = -F/k, y'(0) = v",
    gives=("F_p", Kind.FORCE),
    symbols={"force": "F", "speed": "v", "resistance": "Z", "mass": "m", "spring": "k"},
    source=("newton", "elastic"),
    limits="damped oscillator: strand tension F on a mass m caught at speed v by a spring k; the "
    "first peak; at rest and heavily damped it is F, undamped F + √(F² + k m v²)",
)
def catching_peak(
    force: Number, speed: Number, resistance: Number, mass: Number, spring: Number
) -> Number:
    """Largest force in the tackle that catches a belt end.

    Parameters
    ----------
    force : tension of the strand [N]
    speed : of its end when the tackle comes tight [m/s]
    resistance : of the belt behind it [kg/s]
    mass : of the clamp [kg]
    spring : stiffness of the tackle [N/m]

    Returns
    -------
    float or array, not below the force [N]
    """
    decay = np.asarray(resistance, dtype=np.float64) / (2 * mass)
    own = np.asarray(spring, dtype=np.float64) / mass
    # Deflection y from rest under F: y(0) = -F/k, y'(0) = v. Peak where y' = 0.
    y0, v0 = -force / np.asarray(spring, dtype=np.float64), np.asarray(speed, dtype=np.float64)
    squared = own - decay**2
    turning = np.sqrt(np.maximum(np.abs(squared), 1e-9))
    b = (v0 + decay * y0) / turning
    slope_a, slope_b = v0, -(decay * b + turning * y0)
    under = squared > 0
    phase = np.arctan2(slope_a, -slope_b)
    phase = np.where(phase < 0, phase + np.pi, phase)
    swing = np.exp(-decay * phase / turning) * (y0 * np.cos(phase) + b * np.sin(phase))
    # Overdamped: sinh and cosh in place of sine and cosine, no second chance to turn.
    slope_h = decay * b - turning * y0
    share = np.clip(
        slope_a / np.where(np.abs(slope_h) > 1e-12, slope_h, np.inf), -1 + 1e-12, 1 - 1e-12
    )
    late = np.arctanh(share)
    creep = np.where(
        late > 0, np.exp(-decay * late / turning) * (y0 * np.cosh(late) + b * np.sinh(late)), 0.0
    )
    over = np.where(under, swing, np.maximum(creep, 0.0))
    return (force + spring * np.maximum(over, 0.0))[()]


@formula(
    "k = F/e",
    gives=("k", Kind.RATIO),
    symbols={"force": "F", "give": "e"},
    source="elastic",
    limits="in N/m; e the give of chain, sling, hoist and clamp under the force they hold",
)
def tackle_stiffness(force: Number, give: Number) -> Number:
    """Stiffness of what holds a strand [N/m], from its force [N] and its give under it [m]."""
    return np.maximum(force, 1.0) / give


@formula(
    "m = q_c B",
    gives=("m", Kind.MASS),
    symbols={"mass": "q_c", "width": "B"},
    source="arithmetic",
)
def clamp_mass(mass: Number, width: Number) -> Number:
    """Mass of a clamp [kg] from its mass for each metre of belt width [kg/m] and the width [m]."""
    return mass * width


@dataclass(frozen=True, slots=True)
class Catch:
    """What decides how hard a belt end is caught, and how far it comes.

    resistance : wave resistance of the belt [kg/s]; mass : of a clamp [kg]
    give, most_give : of the tackle under what it holds: stiff for the shock, soft for the way [m]
    gap, loose : slack of a snug tackle, and of one left loose [m]
    """

    resistance: Figure
    mass: Figure
    give: Given
    most_give: Given
    gap: Given
    loose: Given


def catch_of(rest: Rest, sheet: Worksheet) -> Catch:
    """The inputs of a catch, each at its bad end: light soft belt, heavy clamp, stiff tackle."""
    belt = rest.conveyor.belt
    mass = sheet.work(
        "at_rest.clamp_mass",
        "mass of a clamp",
        clamp_mass,
        width=belt.width,
        mass=end_of(
            assuming("at_rest.clamp_line_mass", "clamp for each metre of width", assume.CLAMP_MASS),
            "high",
        ),
    )
    stiffness = sheet.found(
        "at_rest.belt_stiffness",
        "belt modulus times width, low end",
        rest.unknown.stiffness.low,
        Kind.FORCE,
        "modulus times width",
        [end_of(belt.modulus, "low"), belt.width],
        "elastic",
    )
    resistance = sheet.work(
        "at_rest.wave_resistance",
        "wave resistance of the belt, in kg/s",
        wave_resistance,
        mass=end_of(belt.line_mass, "low"),
        stiffness=stiffness,
    )
    slack = assuming(
        "at_rest.chain_slack", "slack in chains and hoists that stand by", assume.CHAIN_SLACK
    )
    give = assuming("at_rest.tackle_give", "give of the tackle", assume.TACKLE_GIVE)
    return Catch(
        resistance, mass, end_of(give, "low"), end_of(give, "high"), slack, end_of(slack, "high")
    )


def on_clamps(bounds: Bounds, catch: Catch) -> Number:
    """Largest force on a restraining clamp over all stages and single failures [N].

    What the ratings come to, without their lines: for many variants of an input at once.
    """
    ends = [
        bounds.acting.largest.value,
        bounds.draw.largest.value,
        *(v for s in bounds.sides for v in (s.sudden.value, s.hold.largest.value)),
    ]
    held = [s.acting.value for s in bounds.sides]
    peak = caught(np.max(np.stack(np.broadcast_arrays(*ends)), axis=0), catch)
    return np.max(np.stack(np.broadcast_arrays(peak, *held)), axis=0)


def on_hoists(bounds: Bounds, catch: Catch) -> Number:
    """The same on hoists and pulling clamps [N]: what a clamp that lets go throws on them, or what
    they draw and hold with."""
    sudden = [s.sudden.value for s in bounds.sides]
    held = [bounds.draw.largest.value, *(s.hold.largest.value for s in bounds.sides)]
    peak = caught(np.max(np.stack(np.broadcast_arrays(*sudden)), axis=0), catch)
    return np.max(np.stack(np.broadcast_arrays(peak, *held)), axis=0)


def caught(force: Number, catch: Catch) -> Number:
    """Peak force of a snug catch of a strand [N], from the force that held it [N]."""
    resistance, mass = catch.resistance.value, catch.mass.value
    speed = speed_across(force, catch.gap.value, resistance, mass)
    return catching_peak(force, speed, resistance, mass, tackle_stiffness(force, catch.give.value))
