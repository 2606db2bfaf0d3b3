"""Whether the wrap angles and slopes of a described loop close to one full turn."""

from __future__ import annotations

import math

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.plant import Conveyor, Cover, Pulley, Run, Side
from splicewright.quantities import Kind, Number, formula

CLOSES_WITHIN = math.radians(5)
"""A larger gap is more than rounded wrap angles and slopes make [rad]."""


@formula(
    "ΔΦ = Σ s φ + Σ Δψ - 360°",
    gives=("ΔΦ", Kind.ANGLE),
    symbols={"wraps": "Σ s φ", "bends": "Σ Δψ"},
    source="taut-loop",
    limits="s is 1 where the pulley cover touches and -1 where the carry cover does; 0 for a loop "
    "that closes",
)
def closing_gap(wraps: Number, bends: Number) -> Number:
    """By how much a belt's turnings miss one full turn.

    Parameters
    ----------
    wraps : wrap angles of all pulleys, added with their signs [rad]
    bends : turnings between runs that meet without a pulley [rad]

    Returns
    -------
    float or array, positive where the belt is turned too far [rad]
    """
    return wraps + bends - 2 * math.pi


def turnings(conveyor: Conveyor) -> tuple[Number, Number]:
    """What the pulleys, and the corners between runs, turn the belt by.

    Positive is the way round that the pulley cover is turned.

    Parameters
    ----------
    conveyor : as described: pulleys with wrap and touching cover, runs with length and rise

    Returns
    -------
    Sum over the pulleys and sum over the corners [rad].
    """
    wraps: Number = 0.0
    bends: Number = 0.0
    loop = conveyor.loop
    for before, here in zip((loop[-1], *loop[:-1]), loop, strict=True):
        if isinstance(here, Pulley):
            sign = 1 if here.touches is Cover.PULLEY else -1
            wraps = wraps + sign * here.wrap.value
        elif isinstance(before, Run):
            turn = _heading(here) - _heading(before)
            bends = bends + np.remainder(turn + math.pi, 2 * math.pi) - math.pi
    return wraps, bends


def all_wraps_stated(conveyor: Conveyor) -> bool:
    """Whether somebody gave every wrap angle, so that a gap is a fault and not a guess."""
    return not any(p.wrap.assumed for p in conveyor.pulleys())


def check_closing(conveyor: Conveyor) -> None:
    """Refuse a loop whose stated wrap angles cannot be those of a closed belt.

    Parameters
    ----------
    conveyor : as described; where a wrap was assumed nothing is refused

    Raises
    ------
    InputError
        All wraps are stated and miss one full turn by more than 5 degrees.
    """
    gap = float(closing_gap(*turnings(conveyor)))
    if not all_wraps_stated(conveyor) or abs(gap) <= CLOSES_WITHIN:
        return
    wraps = ", ".join(
        f"{p.name} {'' if p.touches is Cover.PULLEY else '-'}{p.wrap.show()}"
        for p in conveyor.pulleys()
    )
    raise InputError(
        Fault(
            "loop",
            f"does not close: wrap angles and slopes add up to {360 + math.degrees(gap):.0f}° "
            f"instead of 360° ({wraps}; minus where the carry cover touches); check wrap and "
            "touches of each pulley",
        )
    )


def _heading(run: Run) -> Number:
    """Direction of travel, clockwise from level along the carry side [rad]."""
    ratio = np.clip(np.asarray(run.rise.value) / np.asarray(run.length.value), -1.0, 1.0)
    slope: Number = np.arcsin(ratio)[()]
    return -slope if run.side is Side.CARRY else math.pi + slope
