"""The North American handbook method: effective tension as an independent second opinion.

The formula is the one published; its factor tables are not open, so every factor is an input.
The handbook works in pounds, feet and pounds force. Its weights per foot are forces, and every
term but the feed's is a force per length times a length, so the same formula holds in newtons
and metres once masses per metre are multiplied by standard gravity; that is done here, and
tests set it beside the formula in its own units.
All relations take floats or arrays that broadcast.
"""

from __future__ import annotations

from splicewright.quantities import STANDARD_GRAVITY, Given, Kind, Number, assumed, formula
from splicewright.quantities.units import FOOT, POUND_FORCE, SHORT_TON

RETURN_FRICTION = 0.015
"""K_y of the return run, constant in the published formula."""


@formula(
    "K_x = 0.00068 (W_b + W_m) + A_i/S_i",
    gives=("K_x", Kind.WIDTH_FORCE),
    symbols={"belt": "W_b", "load": "W_m", "idler_force": "A_i", "spacing": "S_i"},
    source="handbook-pull",
    limits="W as weights per length; K_x is a force per length of conveyor",
)
def idler_friction(belt: Number, load: Number, idler_force: Number, spacing: Number) -> Number:
    """Friction of the idlers per length of conveyor, K_x.

    Parameters
    ----------
    belt, load : masses per length [kg/m]
    idler_force : A_i, force to turn one idler set [N]
    spacing : of the carrying idlers [m]

    Returns
    -------
    float or array [N/m]
    """
    return 0.00068 * (belt + load) * STANDARD_GRAVITY + idler_force / spacing


@formula(
    "T_x = L K_t K_x",
    gives=("T_x", Kind.FORCE),
    symbols={"length": "L", "cold": "K_t", "idlers": "K_x"},
    source="handbook-pull",
)
def idler_part(length: Number, cold: Number, idlers: Number) -> Number:
    """Part of the idlers in the effective tension.

    Parameters
    ----------
    length : of the conveyor [m]
    cold : K_t, 1 above freezing [-]
    idlers : K_x [N/m]

    Returns
    -------
    float or array [N]
    """
    return length * cold * idlers


@formula(
    "T_y = L K_t (K_y + 0.015) W_b",
    gives=("T_y", Kind.FORCE),
    symbols={"length": "L", "cold": "K_t", "flexure": "K_y", "belt": "W_b"},
    source="handbook-pull",
    limits="0.015 is K_y of the return run",
)
def belt_part(length: Number, cold: Number, flexure: Number, belt: Number) -> Number:
    """Part of the belt's flexing, both runs, in the effective tension.

    Parameters
    ----------
    length : of the conveyor [m]
    cold : K_t [-]
    flexure : K_y of the carrying run [-]
    belt : mass per length [kg/m]

    Returns
    -------
    float or array [N]
    """
    return length * cold * (flexure + RETURN_FRICTION) * belt * STANDARD_GRAVITY


@formula(
    "T_m = W_m (L K_y + H)",
    gives=("T_m", Kind.FORCE),
    symbols={"load": "W_m", "length": "L", "flexure": "K_y", "lift": "H"},
    source="handbook-pull",
    limits="H negative downhill",
)
def load_part(load: Number, length: Number, flexure: Number, lift: Number) -> Number:
    """Part of the load, flexing and lift, in the effective tension.

    Parameters
    ----------
    load : mass per length [kg/m]
    length : of the conveyor [m]
    flexure : K_y of the carrying run [-]
    lift : H, negative downhill [m]

    Returns
    -------
    float or array [N]
    """
    return load * STANDARD_GRAVITY * (length * flexure + lift)


@formula(
    "T_am = 2.8755·10⁻⁴ Q (V - V_0)",
    gives=("T_am", Kind.FORCE),
    symbols={"rate": "Q", "speed": "V", "feed_speed": "V_0"},
    source=("handbook-factors", "iso5048-feed"),
    limits="Q in short tons per hour, V in feet per minute, T in pounds force; the remembered "
    "constant follows from the units with g = 32.2 ft/s²",
)
def handbook_feed(rate: Number, speed: Number, feed_speed: Number) -> Number:
    """Force that brings the load to belt speed, as the handbook writes it.

    Parameters
    ----------
    rate : mass flow [kg/s]
    speed : of the belt [m/s]
    feed_speed : of the load as it lands [m/s]

    Returns
    -------
    float or array [N]
    """
    # The constant has units, so this one term is worked in the handbook's own.
    tons_per_hour = rate / SHORT_TON * 3600
    feet_per_minute = (speed - feed_speed) / FOOT * 60
    return 2.8755e-4 * tons_per_hour * feet_per_minute * POUND_FORCE


def remembered_idler_force() -> Given:
    """A_i for a common idler set, as a named assumption [N]."""
    low, likely, high = (n * POUND_FORCE for n in (1.5, 1.8, 2.8))
    return assumed(
        "handbook.idler_force",
        "force to turn one idler set",
        likely,
        Kind.FORCE,
        "1.5 to 2.8 lbf per set by idler series from memory of the handbook, unverified; "
        "5 in rolls taken",
        (low, high),
    )


def remembered_flexure() -> Given:
    """K_y of the carrying run, as a named assumption [-]."""
    return assumed(
        "handbook.flexure",
        "flexing factor of the carrying run",
        0.03,
        Kind.RATIO,
        "0.016 to 0.035 by load, slope, spacing and tension from memory of the handbook, "
        "unverified; near the high end taken",
        (0.016, 0.035),
    )
