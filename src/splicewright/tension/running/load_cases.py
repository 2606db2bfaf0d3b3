"""The load cases: what is loaded, and how the drives act."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from splicewright.plant import Conveyor, Run, Side
from splicewright.quantities import Kind, formula


class LoadCase(StrEnum):
    """How the conveyor runs."""

    EMPTY = "empty"
    FULL = "full"
    RISING = "rising runs loaded"
    FALLING = "falling runs loaded"
    STARTING = "starting full"
    COASTING = "coasting full"
    BRAKING = "braking full"
    BLOCKED = "blocked chute"
    HOLDING = "holdback engaged"

    @property
    def key(self) -> str:
        """The case as part of a worksheet key."""
        return self.value.replace(" ", "_")

    @property
    def steady(self) -> bool:
        """Whether the belt runs at an even speed."""
        return self in {LoadCase.EMPTY, LoadCase.FULL, LoadCase.RISING, LoadCase.FALLING}

    @property
    def transient(self) -> bool:
        """Whether it is part of ordinary starting and stopping."""
        return self in {LoadCase.STARTING, LoadCase.COASTING, LoadCase.BRAKING}

    def loads(self, run: Run) -> bool:
        """Whether the case puts load on a run."""
        if run.side is not Side.CARRY or self is LoadCase.EMPTY:
            return False
        if self in {LoadCase.RISING, LoadCase.HOLDING}:  # a stopped belt's falling load helps
            return bool(np.all(np.asarray(run.rise.value) > 0))
        if self is LoadCase.FALLING:
            return bool(np.all(np.asarray(run.rise.value) < 0))
        return True


ORDINARY = (LoadCase.EMPTY, LoadCase.FULL, LoadCase.STARTING)
"""The three cases every demand has."""


def applicable(conveyor: Conveyor) -> tuple[LoadCase, ...]:
    """The cases that can happen on this conveyor, in the order of the enumeration.

    Rising and falling runs loaded alone only where the carry side has level or opposite runs
    besides; braking where a brake is fitted; a blocked chute where the motor is known; a
    holdback where one is fitted and something rises.
    """
    rises = [np.sign(r.rise.value) for r in conveyor.runs() if r.side is Side.CARRY]
    mixed = len({float(np.mean(sign)) for sign in rises}) > 1
    there = {
        LoadCase.RISING: mixed and any(np.any(s > 0) for s in rises),
        LoadCase.FALLING: mixed and any(np.any(s < 0) for s in rises),
        LoadCase.BRAKING: any(d.brake for d in conveyor.drives),
        LoadCase.BLOCKED: all(d.power is not None for d in conveyor.drives),
        LoadCase.HOLDING: any(d.holdback for d in conveyor.drives)
        and any(np.any(s > 0) for s in rises),
    }
    return tuple(case for case in LoadCase if there.get(case, True))


@formula(
    "F_s = (k_A - 1) |F_U|",
    gives=("F_s", Kind.FORCE),
    symbols={"factor": "k_A", "pull": "F_U"},
    source="iso5048-total",
    limits="the drive gives k_A times the steady pull",
)
def starting_surplus(factor: float, pull: float) -> float:
    """What a starting drive gives beyond the steady pull.

    Parameters
    ----------
    factor : start factor k_A [-]
    pull : steady effective pull [N]

    Returns
    -------
    float, not negative [N]
    """
    return (factor - 1) * np.abs(pull)


@formula(
    "F_s = -F_U",
    gives=("F_s", Kind.FORCE),
    symbols={"pull": "F_U"},
    source="newton",
    limits="drive off, no brake: the resistances alone slow the belt down (or the load speeds it)",
)
def coasting_surplus(pull: float) -> float:
    """What is missing at the drive when it is off [N], from the steady pull [N]."""
    return -pull


@formula(
    "F_s = min(-F_U, -m v/t)",
    gives=("F_s", Kind.FORCE),
    symbols={"pull": "F_U", "mass": "m", "speed": "v", "time": "t"},
    source="newton",
    limits="brake set to stop in t; where the resistances alone stop sooner it does nothing",
)
def braking_surplus(pull: float, mass: float, speed: float, time: float) -> float:
    """Force that slows the loop down when the brake is on.

    Parameters
    ----------
    pull : steady effective pull [N]
    mass : moving mass of the loop [kg]
    speed : of the belt [m/s]
    time : stopping time [s]

    Returns
    -------
    float, negative where it slows [N]
    """
    return np.minimum(-pull, -mass * speed / time)


@formula(
    "F_s = max(0, F_B - F_U)",
    gives=("F_s", Kind.FORCE),
    symbols={"breakdown": "F_B", "pull": "F_U"},
    source="practice",
    limits="the belt is stuck at the discharge and the motors pull as hard as they can; grip "
    "may give way sooner",
)
def blocked_surplus(breakdown: float, pull: float) -> float:
    """What stuck load holds back at the discharge.

    Parameters
    ----------
    breakdown : largest pull of all motors together [N]
    pull : steady effective pull [N]

    Returns
    -------
    float [N]
    """
    return np.maximum(0.0, breakdown - pull)


@formula(
    "k = k_i/Σk",
    gives=("k", Kind.SHARE),
    symbols={"share": "k_i", "acting": "Σk"},
    source="arithmetic",
    limits="only the drives that have what the case needs: a brake, a holdback",
)
def share_of_acting(share: float, acting: float) -> float:
    """Share of one drive among those that act in a case [-], from the shares of the pull."""
    return share / acting


@formula(
    "F_i = F_s m/Σm",
    gives=("F_i", Kind.FORCE),
    symbols={"surplus": "F_s", "mass": "m", "all_mass": "Σm"},
    source="newton",
    limits="all moving mass gains speed alike; the belt's stretch is left out",
)
def share_of_surplus(surplus: float, mass: float, all_mass: float) -> float:
    """Part of a surplus that speeds up or slows down one run.

    Parameters
    ----------
    surplus : of the whole loop [N]
    mass, all_mass : moving mass of the run and of the loop [kg]

    Returns
    -------
    float [N]
    """
    return surplus * mass / all_mass


@formula(
    "m = l (q_R + q_B + q_G)",
    gives=("m", Kind.MASS),
    symbols={"length": "l", "rolls": "q_R", "belt": "q_B", "load": "q_G"},
    source="geometry",
)
def moving_mass(length: float, rolls: float, belt: float, load: float) -> float:
    """Moving mass of one run [kg] from its length [m] and masses per length [kg/m]."""
    return length * (rolls + belt + load)
