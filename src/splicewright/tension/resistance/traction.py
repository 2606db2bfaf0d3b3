"""What holds the belt on its drive and off the floor: slip limit, sag limit, nameplate pull."""

from __future__ import annotations

import numpy as np

from splicewright.quantities import Kind, formula
from splicewright.tension.resistance.main import GRAVITY


@formula(
    "T_2,min = k F / (e^(μφ) - 1)",
    gives=("T_2,min", Kind.FORCE),
    symbols={"margin": "k", "pull": "F", "friction": "μ", "wrap": "φ"},
    source="eytelwein",
    limits="φ in radians; for braking pull (F < 0) the tight side lies behind the pulley",
)
def slack_side_for_grip(margin: float, pull: float, friction: float, wrap: float) -> float:
    """Smallest tension leaving a driven pulley at which the belt does not slip.

    Parameters
    ----------
    margin : factor on the pull [-]
    pull : that the pulley gives to the belt, negative when braking [N]
    friction : belt on pulley [-]
    wrap : [rad]

    Returns
    -------
    float; for braking the tension leaving is the tight side, |F| more than the slack side [N]
    """
    grip = np.expm1(friction * np.asarray(wrap))
    wanted = margin * np.abs(pull) / grip
    return np.where(np.asarray(pull) >= 0, wanted, wanted + np.abs(pull))[()]


@formula(
    "T_min = a (q_B + q_G) g / (8 s)",
    gives=("T_min", Kind.FORCE),
    symbols={"spacing": "a", "belt": "q_B", "load": "q_G", "sag": "s"},
    source="sag",
)
def tension_for_sag(spacing: float, belt: float, load: float, sag: float) -> float:
    """Smallest tension that keeps the sag between idlers within its limit.

    Parameters
    ----------
    spacing : of the idlers [m]
    belt, load : masses per length [kg/m]
    sag : limit as share of the spacing [-]

    Returns
    -------
    float [N]
    """
    return spacing * (belt + load) * GRAVITY / (8 * sag)


@formula(
    "F_P = P η / v",
    gives=("F_P", Kind.FORCE),
    symbols={"power": "P", "efficiency": "η", "speed": "v"},
    source="iso5048-total",
    limits="the most the motor gives at its rating, whatever the load",
)
def nameplate_pull(power: float, efficiency: float, speed: float) -> float:
    """Pull that the motors give at their rated power.

    Parameters
    ----------
    power : rated [W]
    efficiency : motor to pulley [-]
    speed : of the belt [m/s]

    Returns
    -------
    float [N]
    """
    return power * efficiency / speed


@formula(
    "T_t = r m g / n_s",
    gives=("T_t", Kind.FORCE),
    symbols={"mass": "m", "strands": "n_s", "reeving": "r"},
    source="statics",
    limits="friction of guides, ropes and sheaves left out; r = 1 where the weight hangs on the "
    "pulley itself",
)
def counterweight_tension(mass: float, strands: float, reeving: float) -> float:
    """Belt tension at a gravity take-up.

    Parameters
    ----------
    mass : counterweight with pulley and frame [kg]
    strands : of belt that carry it [-]
    reeving : pull on the take-up pulley over the weight, by a rope over sheaves [-]

    Returns
    -------
    float [N]
    """
    return reeving * mass * GRAVITY / strands


@formula(
    "T_t = F_t / n_s",
    gives=("T_t", Kind.FORCE),
    symbols={"force": "F_t", "strands": "n_s"},
    source="statics",
)
def take_up_tension(force: float, strands: float) -> float:
    """Belt tension at a take-up that pulls its pulley with a known force [N]."""
    return force / strands


@formula(
    "t = T/B",
    gives=("t", Kind.WIDTH_FORCE),
    symbols={"tension": "T", "width": "B"},
    source="arithmetic",
)
def per_width(tension: float, width: float) -> float:
    """Tension per width [N/m] from a tension [N] and the belt width [m]."""
    return tension / width


@formula(
    "F = k F_P",
    gives=("F", Kind.FORCE),
    symbols={"factor": "k", "pull": "F_P"},
    source="arithmetic",
)
def times(factor: float, pull: float) -> float:
    """A force times a factor [N]."""
    return factor * pull


@formula(
    "t = max(T_1, T_2)/B",
    gives=("t", Kind.WIDTH_FORCE),
    symbols={"entering": "T_1", "leaving": "T_2", "width": "B"},
    source="arithmetic",
)
def larger_per_width(entering: float, leaving: float, width: float) -> float:
    """The larger of the tensions at both ends of an element, per width.

    Parameters
    ----------
    entering, leaving : tensions [N]
    width : of the belt [m]

    Returns
    -------
    float [N/m]
    """
    return np.maximum(entering, leaving) / width


@formula(
    "S = σ_N/t",
    gives=("S", Kind.RATIO),
    symbols={"strength": "σ_N", "tension": "t"},
    source="arithmetic",
    limits="nominal strength of the undamaged belt; 0 where the tension is not above 0",
)
def safety_factor(strength: float, tension: float) -> float:
    """Nominal belt strength over tension, both per width [-]."""
    pulled = np.sign(np.maximum(tension, 0.0))
    return pulled * strength / np.maximum(tension, 1e-9)


@formula(
    "s = a (q_B + q_G) g / (8 min(T_1, T_2))",
    gives=("s", Kind.SHARE),
    symbols={"spacing": "a", "belt": "q_B", "load": "q_G", "entering": "T_1", "leaving": "T_2"},
    source="sag",
    limits="parabola, sag small against the spacing; 1 where the tension is not above 0",
)
def sag_at(spacing: float, belt: float, load: float, entering: float, leaving: float) -> float:
    """Sag between idlers at the slacker end of a run, over their spacing.

    Parameters
    ----------
    spacing : of the idlers [m]
    belt, load : masses per length [kg/m]
    entering, leaving : tensions at the ends of the run [N]

    Returns
    -------
    float, at most 1 [-]
    """
    least = np.minimum(entering, leaving)
    hanging = spacing * (belt + load) * GRAVITY / 8
    return hanging / np.maximum(least, hanging)
