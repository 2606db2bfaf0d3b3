"""Bolts of a plate joint: clamp force and torque, what run-in takes, who carries the pull.

Torque and preload of joints on rubber are known within wide ranges only; every function here
works one value, and `clamp_range` carries the ends of the friction through. The fastener
maker's torque or seat mark takes precedence.
"""

from __future__ import annotations

import math

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.quantities import Given, Kind, assumed, formula

FLANK = math.radians(30)
"""Half of the thread angle, metric and unified threads alike."""


def assumed_friction() -> Given:
    """Friction of thread and nut face when nothing is known of coating and grease [1]."""
    return assumed(
        "bolt.friction",
        "friction of thread and nut face",
        0.15,
        Kind.RATIO,
        "zinc-plated steel as delivered; greased lower, rusty higher; from memory",
        (0.08, 0.25),
    )


COARSE = ((4, 0.7), (5, 0.8), (6, 1.0), (8, 1.25), (10, 1.5), (12, 1.75), (14, 2.0), (16, 2.0),
          (20, 2.5), (24, 3.0))  # fmt: skip
"""Coarse pitches of metric threads by ISO 261, diameter and pitch [mm]; from memory."""


def assumed_pitch(diameter: float) -> Given:
    """Thread pitch where the range does not state it [m]: the coarse one of the nearest bolt."""
    nearest = min(COARSE, key=lambda pair: abs(pair[0] - 1e3 * diameter))
    pitch = 1e-3 * nearest[1] * (1e3 * diameter / nearest[0])
    return assumed(
        "bolt.pitch",
        "thread pitch",
        pitch,
        Kind.LENGTH,
        "not in the range data: coarse metric thread taken; from memory",
        (0.6 * pitch, 1.25 * pitch),
    )


def assumed_nut_face(diameter: float) -> Given:
    """Mean diameter of the face the nut turns on where the range does not state it [m]."""
    return assumed(
        "bolt.nut_face",
        "mean diameter of the nut's face",
        1.4 * diameter,
        Kind.LENGTH,
        "not in the range data: 1.4 times the bolt taken",
        (1.25 * diameter, 1.7 * diameter),
    )


def assumed_stress() -> Given:
    """Tension of a plate bolt where the range states neither torque nor clamp force [Pa]."""
    return assumed(
        "bolt.stress",
        "tension in a tightened plate bolt",
        100e6,
        Kind.PRESSURE,
        "neither torque nor clamp force in the range data: the rubber, not the bolt, "
        "sets the seat, so bolts are stressed low; assumption of this tool",
        (50e6, 160e6),
    )


def assumed_grip() -> Given:
    """Friction between plates and covers [1]."""
    return assumed(
        "bolt.grip",
        "friction between plate and cover",
        0.4,
        Kind.RATIO,
        "rubber on steel, dry; wet, greasy or dusty low; from memory",
        (0.15, 0.7),
    )


KEPT_CLAMP = 0.8
"""Share of the first clamp force at which nuts are gone over again; assumption of this tool."""


def assumed_relaxation() -> Given:
    """Clamp lost per tenfold of time by rubber under the plates [1]."""
    return assumed(
        "bolt.relaxation",
        "clamp force lost per tenfold of time",
        0.05,
        Kind.SHARE,
        "relaxation of filled rubber, from memory; oil, heat and thick covers more",
        (0.02, 0.10),
    )


@formula(
    "d_2 = d - 0.649519 P",
    gives=("d_2", Kind.LENGTH),
    symbols={"diameter": "d", "pitch": "P"},
    source="iso-thread",
)
def pitch_diameter(diameter: float, pitch: float) -> float:
    """Pitch diameter of a 60 degree thread.

    d_2 = d - 0.649519 P, that is 3/4 of the height √3/2 P.

    Parameters
    ----------
    diameter : nominal [m]
    pitch : of the thread [m]
    """
    return diameter - 0.75 * math.sqrt(3) / 2 * pitch


@formula(
    "A_s = π/4 (d - 0.938194 P)²",
    gives=("A_s", Kind.AREA),
    symbols={"diameter": "d", "pitch": "P"},
    source="iso-thread",
    limits="ISO metric profile",
)
def stress_area(diameter: float, pitch: float) -> float:
    """Area of a bolt that its tension is worked with.

    A_s = π/4 ((d_2 + d_3)/2)^2, d_3 = d - 17/24 √3 P.

    Parameters
    ----------
    diameter : nominal [m]
    pitch : of the thread [m]
    """
    height = math.sqrt(3) / 2 * pitch
    root = diameter - 17 / 12 * height
    return math.pi / 4 * ((pitch_diameter(diameter, pitch) + root) / 2) ** 2


@formula(
    "K = (P/(2π) + μ d_2/(2 cos 30°) + μ D_b/2) / d",
    gives=("K", Kind.RATIO),
    symbols={"diameter": "d", "pitch": "P", "bearing_diameter": "D_b", "friction": "μ"},
    source="screw",
    limits="same friction in the thread and under the nut",
)
def nut_factor(diameter: float, pitch: float, bearing_diameter: float, friction: float) -> float:
    """Torque over clamp force and diameter, from the screw's geometry.

    K = (P/2π + μ d_2/(2 cos 30°) + μ D_b/2) / d

    Parameters
    ----------
    diameter : nominal [m]
    pitch : of the thread [m]
    bearing_diameter : mean diameter of the face the nut turns on [m]
    friction : μ [1]
    """
    thread = friction * pitch_diameter(diameter, pitch) / (2 * math.cos(FLANK))
    face = friction * bearing_diameter / 2
    return (pitch / (2 * math.pi) + thread + face) / diameter


@formula(
    "F = σ A_s",
    gives=("F", Kind.FORCE),
    symbols={"stress": "σ", "area": "A_s"},
    source="arithmetic",
)
def clamp_of_stress(stress: float, area: float) -> float:
    """Clamp force from the tension in the bolt.

    Parameters
    ----------
    stress : σ [Pa]
    area : stress area [m2]
    """
    return stress * area


@formula(
    "σ = F/A_s",
    gives=("σ", Kind.PRESSURE),
    symbols={"clamp": "F", "area": "A_s"},
    source="arithmetic",
    limits="without the twist of tightening, which adds about a quarter",
)
def bolt_stress(clamp: float, area: float) -> float:
    """Tension in the bolt from its clamp force.

    Parameters
    ----------
    clamp : [N]
    area : stress area [m2]
    """
    return clamp / area


@formula(
    "T = K d F",
    gives=("T", Kind.TORQUE),
    symbols={"factor": "K", "diameter": "d", "clamp": "F"},
    source="torque",
)
def tightening_torque(factor: float, diameter: float, clamp: float) -> float:
    """Torque for a clamp force.

    Parameters
    ----------
    factor : nut factor K [1]
    diameter : nominal [m]
    clamp : force of the bolt [N]
    """
    return factor * diameter * clamp


@formula(
    "F = T / (K d)",
    gives=("F", Kind.FORCE),
    symbols={"torque": "T", "factor": "K", "diameter": "d"},
    source="torque",
)
def clamp_force(torque: float, factor: float, diameter: float) -> float:
    """Clamp force from a torque.

    Parameters
    ----------
    torque : at the nut [N m]
    factor : nut factor K [1]
    diameter : nominal [m]
    """
    return torque / (factor * diameter)


@formula(
    "F(t) = F_0 (1 - c log10(1 + t/t_0))",
    gives=("F(t)", Kind.FORCE),
    symbols={"clamp": "F_0", "per_decade": "c", "time": "t", "start": "t_0"},
    source="relaxation",
    limits="clamp force above 0; bolts not loosened by turning",
)
def relaxed_clamp(clamp: float, per_decade: float, time: float, start: float = 60.0) -> float:
    """Clamp force left after rubber has relaxed.

    F(t) = F_0 (1 - c log10(1 + t/t_0)), not below 0.

    Parameters
    ----------
    clamp : when tightened [N]
    per_decade : c, share lost per tenfold of time [1]
    time : since then [s]
    start : t_0, when the first reading would be taken [s]
    """
    return max(clamp * (1 - per_decade * math.log10(1 + time / start)), 0.0)


@formula(
    "t = t_0 (10^((1 - s)/c) - 1)",
    gives=("t", Kind.TIME),
    symbols={"share": "s", "per_decade": "c", "start": "t_0"},
    source="relaxation",
)
def retightening_time(share: float, per_decade: float, start: float = 60.0) -> float:
    """Time until the clamp force is down to a share of what it was.

    t = t_0 (10^((1 - s)/c) - 1)

    Parameters
    ----------
    share : s, of the first clamp force that must be left [1]
    per_decade : c, share lost per tenfold of time [1]
    start : t_0 [s]
    """
    return start * math.expm1(math.log(10) * (1 - share) / per_decade)


@formula(
    "F_f = 2 μ_b n F",
    gives=("F_f", Kind.FORCE),
    symbols={"clamp": "F", "bolts": "n", "friction": "μ_b"},
    source="statics",
    limits="top and bottom plate grip alike",
)
def friction_grip(clamp: float, bolts: int, friction: float) -> float:
    """Pull that a plate holds by friction on both covers.

    Parameters
    ----------
    clamp : of one bolt, as it is now [N]
    bolts : of the plate [1]
    friction : between plate and cover [1]
    """
    return 2 * friction * bolts * clamp


@formula(
    "F_t = max(F_1 - F_f, 0)",
    gives=("F_t", Kind.FORCE),
    symbols={"load": "F_1", "grip": "F_f"},
    source="statics",
    limits="friction holds first; teeth and bolt shanks take what passes it",
)
def left_to_teeth(load: float, grip: float) -> float:
    """Pull left to teeth and bolt shanks once the grip slips, from 0.

    Parameters
    ----------
    load : pull of the plate [N]
    grip : the most that friction holds [N]
    """
    return max(load - grip, 0.0)


def row_shares(
    rows: int, bolt_stiffness: float, plate_stiffness: float, belt_stiffness: float
) -> tuple[float, ...]:
    """Share of the pull on each row of bolts, from the cut line into the belt.

    Bolts are springs between two chains: the plate, pulled at the pin, and the belt, pulled
    at the far end. Two rows: F_2/F_1 = (1/k_s + 1/k_b) / (1/k_s + 1/k_p).

    Parameters
    ----------
    rows : of bolts, one after the other along the belt [1]
    bolt_stiffness : k_s, of one row between plate and belt [N/m]
    plate_stiffness : k_p, of top and bottom plate between two rows [N/m]
    belt_stiffness : k_b, of the belt under the plate between two rows [N/m]

    Returns
    -------
    Shares that add to 1, `(rows,)`

    Raises
    ------
    InputError
        No row, or a stiffness not above 0.
    """
    if rows < 1:
        raise InputError(Fault("rows", f"{rows} is not accepted: give 1 or more"))
    for name, value in (
        ("bolt_stiffness", bolt_stiffness),
        ("plate_stiffness", plate_stiffness),
        ("belt_stiffness", belt_stiffness),
    ):
        if not value > 0:
            raise InputError(Fault(name, f"{value:g} is not accepted: give a number above 0"))
    system, right = np.ones((rows, rows)), np.zeros(rows)
    right[0] = 1.0
    for row in range(1, rows):
        # Between two rows the belt still carries what the rows nearer the cut take, the plate
        # what the rows further in have given it; the bolts make up the difference.
        system[row] = 0.0
        system[row, :row] = -1 / belt_stiffness
        system[row, row:] = 1 / plate_stiffness
        system[row, row - 1] -= 1 / bolt_stiffness
        system[row, row] += 1 / bolt_stiffness
    return tuple(np.linalg.solve(system, right).tolist())
