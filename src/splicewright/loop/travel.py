"""The belt budget: what comes out, what goes in, and whether the take-up can give it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from splicewright.loop.roll import Roll, roll_of
from splicewright.plant import Conveyor, Reason, Work
from splicewright.plant.assumptions import STRETCH
from splicewright.quantities import (
    Figure,
    Kind,
    Number,
    Sentence,
    Worksheet,
    assumed,
    formula,
    sentence,
)

HANDLING = 0.05
"""Belt by which each pair of ends must come closer than touching, so that loops mesh and the
pin goes in freely [m]; common practice, no source."""


@dataclass(frozen=True, slots=True)
class BeltBudget:
    """Belt out and in, and what it does to loop and take-up; lengths [m].

    change: of the loop, positive when it grows; position_after, left: of the take-up;
    slack_needed: belt the take-up must give to close the joint; slack_there: what it gives
    between its present place and its slack end; stretch: new belt's growth still to come;
    belt_to_have: belt in the loop without the joints made now; roll: the new belt as it
    arrives, None without any.
    """

    joint_span: Figure
    change: Figure
    new_length: Figure
    position_after: Figure
    left: Figure
    slack_needed: Figure
    slack_there: Figure
    stretch: Figure
    left_after_stretch: Figure
    belt_to_have: Figure
    roll: Roll | None
    closes: bool
    room_for_stretch: bool
    remarks: tuple[Sentence, ...]


@formula(
    "ΔL = L_in - L_out + n s",
    gives=("ΔL", Kind.DISTANCE),
    symbols={"insert": "L_in", "cut_out": "L_out", "joints": "n", "span": "s"},
    source="geometry",
    limits="cut out is measured cut line to cut line, across the old joint if there is one",
)
def loop_change(insert: float, cut_out: float, joints: float, span: float) -> float:
    """Change of the loop's length.

    Parameters
    ----------
    insert, cut_out : belt inserted and taken out [m]
    joints : new joints [-]
    span : each new joint, cut line to cut line [m]

    Returns
    -------
    float, positive when the loop grows [m]
    """
    return insert - cut_out + joints * span


@formula(
    "x' = x + ΔL/n_s",
    gives=("x'", Kind.DISTANCE),
    symbols={"position": "x", "change": "ΔL", "strands": "n_s"},
    source="geometry",
)
def take_up_position(position: float, change: float, strands: float) -> float:
    """Where the take-up stands after the loop changed its length.

    Parameters
    ----------
    position : travel used before [m]
    change : of the loop [m]
    strands : of belt that move with the take-up pulley [-]

    Returns
    -------
    float [m]
    """
    return position + change / strands


@formula(
    "x_left = x_max - x'",
    gives=("x_left", Kind.DISTANCE),
    symbols={"travel": "x_max", "position": "x'"},
    source="arithmetic",
)
def travel_left(travel: float, position: float) -> float:
    """Travel left until the take-up stands at its end [m]."""
    return travel - position


@formula(
    "s_need = max(0, -ΔL) + n u",
    gives=("s_need", Kind.DISTANCE),
    symbols={"change": "ΔL", "joints": "n", "handling": "u"},
    source="practice",
)
def slack_needed(change: Number, joints: Number, handling: Number) -> Number:
    """Belt the take-up must give so that the ends come together.

    Parameters
    ----------
    change : of the loop [m]
    joints : closed one after another [-]
    handling : closer than touching, each [m]

    Returns
    -------
    float or array [m]
    """
    return np.maximum(0.0, -change) + joints * handling


@formula(
    "s_there = n_s x",
    gives=("s_there", Kind.DISTANCE),
    symbols={"strands": "n_s", "position": "x"},
    source="geometry",
)
def slack_there(strands: float, position: float) -> float:
    """Belt the take-up gives on its way from its present place to its slack end [m]."""
    return strands * position


@formula(
    "ΔL_s = ε L_new",
    gives=("ΔL_s", Kind.DISTANCE),
    symbols={"share": "ε", "length": "L_new"},
    source="belt-stretch",
)
def new_belt_stretch(share: float, length: float) -> float:
    """Growth of new belt in service.

    Parameters
    ----------
    share : elastic and lasting stretch [-]
    length : of new belt [m]

    Returns
    -------
    float [m]
    """
    return share * length


@formula(
    "L_have = L - n s",
    gives=("L_have", Kind.DISTANCE),
    symbols={"loop": "L", "joints": "n", "span": "s"},
    source="geometry",
    limits="before squaring and trimming of the ends",
)
def belt_without_joints(loop: float, joints: float, span: float) -> float:
    """Belt in the loop, cut line to cut line, without what the joints span [m]."""
    return loop - joints * span


def budget(
    conveyor: Conveyor, work: Work, loop_length: Figure, span: Figure, sheet: Worksheet
) -> BeltBudget:
    """Work out belt out, belt in and the take-up.

    Parameters
    ----------
    conveyor, work : plant and job
    loop_length : of the belt before the work [m]
    span : of one finished joint, cut line to cut line [m]
    sheet : takes the lines
    """
    take_up = conveyor.take_up
    change = sheet.work(
        "belt.change",
        "change of the loop",
        loop_change,
        insert=work.insert,
        cut_out=work.cut_out,
        joints=float(work.joints),
        span=span,
    )
    if work.reason is Reason.NEW_BELT or not work.job.joins:
        # A whole new belt is cut to the loop as it stands, a repair leaves it: nothing changes.
        change = sheet.work(
            "belt.change_new",
            "change of the loop, new belt cut to the loop"
            if work.reason is Reason.NEW_BELT
            else "change of the loop, belt left whole",
            loop_change,
            insert=0.0,
            cut_out=0.0,
            joints=0.0,
            span=span,
        )
    new_length = sheet.total(
        "belt.new_length", "length of the loop after the work", [loop_length, change]
    )
    after = sheet.work(
        "take_up.after",
        "take-up travel used after the work",
        take_up_position,
        position=take_up.position,
        change=change,
        strands=float(take_up.strands),
    )
    left = sheet.work(
        "take_up.left", "take-up travel left", travel_left, travel=take_up.travel, position=after
    )
    needed = sheet.work(
        "take_up.slack_needed",
        "slack needed to close the joint",
        slack_needed,
        change=change,
        joints=float(work.joints),
        handling=HANDLING,
    )
    there = sheet.work(
        "take_up.slack_there",
        "slack the take-up gives at its slack end",
        slack_there,
        strands=float(take_up.strands),
        position=take_up.position,
    )
    likely, low, high = STRETCH[conveyor.belt.carcass]
    share = assumed(
        "belt.stretch_share",
        "stretch of new belt",
        likely,
        Kind.SHARE,
        f"elastic and lasting stretch of new {conveyor.belt.carcass.value} belt",
        (low, high),
    )
    fresh = new_length if work.reason is Reason.NEW_BELT else work.insert
    stretch = sheet.work(
        "belt.stretch",
        "stretch of the new belt still to come",
        new_belt_stretch,
        share=share,
        length=fresh,
    )
    later = sheet.work(
        "take_up.after_stretch",
        "take-up travel used once new belt has stretched",
        take_up_position,
        position=after,
        change=stretch,
        strands=float(take_up.strands),
    )
    left_later = sheet.work(
        "take_up.left_after_stretch",
        "take-up travel left once new belt has stretched",
        travel_left,
        travel=take_up.travel,
        position=later,
    )
    have = sheet.work(
        "belt.without_joints",
        "belt in the loop without the joints made now",
        belt_without_joints,
        loop=new_length,
        joints=float(work.joints),
        span=span,
    )
    roll = None
    if work.reason is Reason.NEW_BELT:
        roll = roll_of(conveyor.belt, have, sheet)
    elif work.insert.value > 0:
        roll = roll_of(conveyor.belt, sheet.note(work.insert), sheet)
    closes = there.value >= needed.value
    room = left_later.value >= 0 and after.value >= 0
    return BeltBudget(
        span,
        change,
        new_length,
        after,
        left,
        needed,
        there,
        stretch,
        left_later,
        have,
        roll,
        closes,
        room,
        _remarks(after.value, left.value, left_later.value, closes, needed, there),
    )


def _remarks(
    after: float, left: float, later: float, closes: bool, needed: Figure, there: Figure
) -> tuple[Sentence, ...]:
    remarks = []
    if not closes:
        remarks.append(
            sentence(
                "The take-up gives {there} of slack, {needed} is needed: the ends do not come "
                "together. Insert more belt, or cut out less.",
                there=there,
                needed=needed,
            )
        )
    if after < 0:
        remarks.append(
            sentence("The loop becomes too short: the take-up would stand beyond its slack end.")
        )
    if left < 0:
        remarks.append(
            sentence("The loop becomes too long: the take-up would stand beyond its tight end.")
        )
    elif later < 0:
        remarks.append(
            sentence(
                "The take-up has no room for the stretch of the new belt: plan to shorten the "
                "belt after running in."
            )
        )
    return tuple(remarks)
