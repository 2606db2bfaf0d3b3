"""Whether the load stays where it lies on a sloping belt: standing, and when the belt is moved.

Two things can let it go: it slides on the belt as a whole, or it rolls and flows back over
itself. Both are judged on the taken values and on the unsafe end of what they may be.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from splicewright.plant import Conveyor, Run, Side, slug
from splicewright.plant import assumptions as assume
from splicewright.plant.filling.origin import assuming
from splicewright.quantities import (
    Figure,
    Given,
    Kind,
    Number,
    Sentence,
    Worksheet,
    formula,
    sentence,
)
from splicewright.tension.across.load_section import slope_of
from splicewright.tension.resistance.main import GRAVITY

_LEVEL = math.radians(0.5)
"""Below this slope a run is level to its load [rad]."""


class Rest(StrEnum):
    """What the load on a run does."""

    STAYS = "stays"
    UNSURE = "may let go"
    MOVED = "slides when the belt is jerked"
    FLOWS = "rolls back over itself"
    SLIDES = "slides on the belt"


@dataclass(frozen=True, slots=True)
class LoadRest:
    """The load on one sloping run: slope [rad], jerk it bears before it slides [m/s2], verdict."""

    run: str
    slope: Figure
    bears: Figure
    surcharge: Figure
    rest: Rest


@formula(
    "a = g (μ_1 cos δ - sin δ)",
    gives=("a", Kind.ACCELERATION),
    symbols={"friction": "μ_1", "slope": "δ"},
    source="load-slides",
    limits="the belt set moving up the slope, or stopped on its way down; negative: the load "
    "slides on the standing belt",
)
def jerk_it_bears(friction: Number, slope: Number) -> Number:
    """Acceleration of the belt at which the load begins to slide on it.

    Parameters
    ----------
    friction : of the load on the belt [-]
    slope : of the belt [rad]

    Returns
    -------
    float or array [m/s2]
    """
    return GRAVITY * (friction * np.cos(slope) - np.sin(slope))


def load_rests(conveyor: Conveyor, sheet: Worksheet) -> tuple[LoadRest, ...]:
    """Judge the load on every sloping carry run; empty where there is no load or no slope.

    Parameters
    ----------
    conveyor : the plant
    sheet : takes every line
    """
    if conveyor.material.line_mass.value <= 0:
        return ()
    jerk = assuming("load.jerk", "jerk of a belt drawn or set moving", assume.JERK)
    friction = conveyor.material.friction or assuming(
        "material.friction", "friction of the load on the belt", assume.LOAD_FRICTION
    )
    surcharge = conveyor.material.surcharge or assuming(
        "material.surcharge", "surcharge angle", assume.SURCHARGE
    )
    rests = []
    for run in conveyor.runs():
        if run.side is not Side.CARRY or slope_of(run.rise.value, run.length.value) < _LEVEL:
            continue
        rests.append(_rest(run, friction, surcharge, sheet.note(jerk), sheet))
    return tuple(rests)


def _rest(run: Run, friction: Given, surcharge: Given, jerk: Figure, sheet: Worksheet) -> LoadRest:
    key = f"load_rest.{slug(run.name)}"
    slope = sheet.work(
        f"{key}.slope", f"slope of {run.name}", slope_of, rise=run.rise, length=run.length
    )
    bears = sheet.work(
        f"{key}.bears",
        f"jerk that the load on {run.name} bears",
        jerk_it_bears,
        friction=friction,
        slope=slope,
    )
    worst = jerk_it_bears(friction.low, slope.value)
    if bears.value <= 0:
        rest = Rest.SLIDES
    elif slope.value >= surcharge.value:
        rest = Rest.FLOWS
    elif bears.value < jerk.value:
        rest = Rest.MOVED
    elif slope.value >= surcharge.low or worst < jerk.value:
        rest = Rest.UNSURE
    else:
        rest = Rest.STAYS
    return LoadRest(run.name, slope, bears, sheet.note(surcharge), rest)


def rest_findings(rests: tuple[LoadRest, ...]) -> tuple[Sentence, ...]:
    """One sentence for every run whose load may let go."""
    findings = []
    for one in rests:
        where = f"{one.run} ({{slope}})"
        if one.rest is Rest.SLIDES:
            text = f"The load on {where} slides on the standing belt: clear it from the top down."
        elif one.rest is Rest.FLOWS:
            text = (
                f"{where} is steeper than the load's surcharge angle {{surcharge}}: it rolls back "
                "over itself, standing and when the belt is moved; nobody below it."
            )
        elif one.rest is Rest.MOVED:
            text = (
                f"The load on {where} slides when the belt is jerked by more than {{bears}}: move "
                "the belt slowly, nobody below it."
            )
        elif one.rest is Rest.UNSURE:
            text = (
                f"The load on {where} stays only if it holds as taken: at the low end of its "
                "friction or surcharge angle it lets go when the belt moves; nobody below it."
            )
        else:
            continue
        findings.append(sentence(text, slope=one.slope, surcharge=one.surcharge, bears=one.bears))
    return tuple(findings)
