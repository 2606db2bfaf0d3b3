"""The force history of the job: what belt, clamps and hoist carry at every stage of the work.

Friction helps or hurts depending on how the belt came to rest, so every belt tension has a low
and a high end. Clamp and hoist forces are given on their safe, high side.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from splicewright.plant import Conveyor, TakeUpKind
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
from splicewright.tension.standing import Standing


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of the work: forces with everything at rest [N].

    belt_low, belt_high: belt tension at the place of work; clamp_below, clamp_above: on the
    restraining clamps; hoist: on the pulling clamps and hoists together; None where the thing
    is not there yet or any more.
    """

    name: str
    says: Sentence
    belt_low: Figure
    belt_high: Figure
    clamp_below: Figure | None
    clamp_above: Figure | None
    hoist: Figure | None


@dataclass(frozen=True, slots=True)
class History:
    """The stages of the job, and how far the hoists travel to bring the ends together [m]."""

    stages: tuple[Stage, ...]
    hoist_travel: Figure


@formula(
    "T_low = max(0, 2 T_mid - T_high)",
    gives=("T_low", Kind.FORCE),
    symbols={"middle": "T_mid", "high": "T_high"},
    source="statics",
    limits="friction may act either way: as far below the frictionless tension as above it",
)
def low_side(middle: Number, high: Number) -> Number:
    """Lowest tension the stopped belt may hold where the highest is known.

    Parameters
    ----------
    middle : tension without friction [N]
    high : tension with friction added [N]

    Returns
    -------
    float [N]
    """
    return np.maximum(0.0, 2 * middle - high)


@formula(
    "T_mid = T_high - F_f",
    gives=("T_mid", Kind.FORCE),
    symbols={"high": "T_high", "friction": "F_f"},
    source="statics",
)
def without_friction(high: Number, friction: Number) -> Number:
    """Tension without the friction that was added to it, not below 0 [N]."""
    return np.maximum(0.0, high - friction)


@formula(
    "x = u + F l/(M B)",
    gives=("x", Kind.DISTANCE),
    symbols={
        "slack": "u",
        "force": "F",
        "length": "l",
        "modulus": "M",
        "width": "B",
    },
    source="elastic",
    limits="linear belt; the whole loop stretches (safe side: farther than needed)",
)
def hoist_travel(slack: float, force: float, length: float, modulus: float, width: float) -> float:
    """Travel of the hoists to bring the ends together.

    Parameters
    ----------
    slack : belt to be drawn in [m]
    force : on the hoists [N]
    length : of belt that stretches [m]
    modulus : force per width at unit strain [N/m]
    width : of the belt [m]

    Returns
    -------
    float [m]
    """
    return slack + force * length / (modulus * width)


def stages(conveyor: Conveyor, stopped: Standing, slack: Figure, sheet: Worksheet) -> History:
    """The stages of the job in order, with the force on everything that holds.

    Parameters
    ----------
    conveyor : the plant
    stopped : standstill forces at the place of work
    slack : belt the hoists must draw in [m]
    sheet : takes the lines
    """
    length = sheet.total("stage.loop", "runs of the loop",
                         [sheet.note(r.length) for r in conveyor.runs()])  # fmt: skip
    soft = conveyor.belt.modulus
    travel = sheet.work(
        "stage.hoist_travel", "travel of the hoists to bring the ends together", hoist_travel,
        slack=slack, force=stopped.pull_together, length=length,
        modulus=Given("belt.modulus_soft", "belt modulus, low end (stretches most)", soft.low,
                      Kind.WIDTH_FORCE, soft.origin, soft.reason, soft.low, soft.low),
        width=conveyor.belt.width,
    )  # fmt: skip
    acting = _ends("acting", stopped.acting, stopped.friction, sheet)
    released = _ends("released", stopped.released, stopped.friction, sheet)
    nothing = sheet.total("stage.slack", "belt hangs slack", [], Kind.FORCE)
    loose = nothing, nothing
    below, above, pull = stopped.hold_below, stopped.hold_above, stopped.pull_together
    gravity = conveyor.take_up.kind is TakeUpKind.GRAVITY
    let_go = "Counterweight lifted, hung and blocked" if gravity else "Take-up slacked"
    back = "Counterweight let down" if gravity else "Take-up tightened"
    rows = (
        ("Stopped and locked out", "The take-up still pulls.", acting, None, None, None),
        ("Restraining clamps set", "They carry nothing yet.", acting, None, None, None),
        (let_go, "The clamps take what the belt lets go.", released, below, above, None),
        (
            "Slack drawn to the place",
            "Between the clamps nothing pulls.",
            loose,
            below,
            above,
            pull,
        ),
        ("Cut", "Each strand hangs on its clamp.", loose, below, above, None),
        ("Ends drawn together", "Loops mesh, pin goes in.", loose, below, above, pull),
        ("Pinned, hoists eased", "The joint holds the two strands.", released, below, above, None),
        ("Restraining clamps off", "Eased a little at a time.", released, None, None, None),
        (back, "The belt is tight again.", acting, None, None, None),
    )
    made = tuple(
        Stage(name, sentence(says), belt[0], belt[1], low, high, hoist)
        for name, says, belt, low, high, hoist in rows
    )
    return History(made, travel)


def _ends(name: str, high: Figure, friction: Figure, sheet: Worksheet) -> tuple[Figure, Figure]:
    middle = sheet.work(f"stage.{name}.middle", f"belt tension without friction, take-up {name}",
                        without_friction, high=high, friction=friction)  # fmt: skip
    low = sheet.work(f"stage.{name}.low", f"lowest belt tension, take-up {name}", low_side,
                     middle=middle, high=high)  # fmt: skip
    return low, high
