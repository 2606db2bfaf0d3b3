"""What the take-up of a stopped belt holds, with both ends of what is not known of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from splicewright.plant import Conveyor
from splicewright.quantities import Figure, Kind, Number, Worksheet, formula
from splicewright.tension.anchor import holds_length
from splicewright.tension.at_rest.strands import end_of
from splicewright.tension.resistance import GRAVITY
from splicewright.tension.running import Running
from splicewright.tension.traction import times

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True, slots=True)
class Holding:
    """What a take-up holds: belt tension at its pulley, or the mean of a loop of held length [N].

    least, largest: of it; fixed: whether the length is held; known: whether anybody stated the
    pull of the take-up; drum: what held drives may have kept from running, at most [N].
    """

    fixed: bool
    known: bool
    least: Figure
    largest: Figure
    drum: Figure


def holding(conveyor: Conveyor, forward: Sequence[Running], sheet: Worksheet) -> Holding:
    """What the take-up holds while everything stands still.

    A pull nobody stated lies anywhere from the least that avoids slip and sag to the high end of
    what crews tighten to.

    Parameters
    ----------
    conveyor : the plant
    forward : its solved cases, written on the same sheet
    sheet : takes the lines
    """
    take_up = conveyor.take_up
    fixed = holds_length(take_up)
    known = take_up.mass is not None or take_up.force is not None
    if known:
        least = largest = _worked(sheet, "take_up.mean" if fixed else "take_up.tension")
    else:
        needed = _worked(sheet, "take_up.tension_needed")
        least, largest = (
            sheet.work(f"at_rest.take_up.{name}", f"pull of the take-up, {name}, not known",
                       times, factor=end_of(take_up.preload, end), pull=needed)
            for name, end in (("least", "low"), ("largest", "high"))
        )  # fmt: skip
    drum = sheet.largest(
        "at_rest.drum", "largest pull of the drives, which a held drum may have kept",
        [r.pull for r in forward],
    )  # fmt: skip
    return Holding(fixed, known, least, largest, drum)


def _worked(sheet: Worksheet, key: str) -> Figure:
    found = sheet.get(key)
    if found is None:  # the running cases write it before anything stands still
        msg = f"{key} is not on the sheet"
        raise TypeError(msg)
    return found


@formula(
    "T = q_B g a²/(8 y)",
    gives=("T", Kind.FORCE),
    symbols={"belt": "q_B", "spacing": "a", "sag": "y"},
    source="sag",
    limits="belt hanging still and empty between two idlers, parabola, y small against a; a string "
    "stretched from idler to idler, y measured down from it in the middle",
)
def tension_from_sag(belt: Number, spacing: Number, sag: Number) -> Number:
    """Belt tension from its sag between two idlers.

    Parameters
    ----------
    belt : mass per length [kg/m]
    spacing : of the two idlers [m]
    sag : in the middle [m]

    Returns
    -------
    float or array [N]
    """
    return belt * GRAVITY * spacing**2 / (8 * sag)


@formula(
    "u_T = T √((u_q/q_B)² + (2 u_a/a)² + (u_y/y)²)",
    gives=("u_T", Kind.FORCE),
    symbols={
        "tension": "T", "belt": "q_B", "spacing": "a", "sag": "y",
        "belt_doubt": "u_q", "spacing_doubt": "u_a", "sag_doubt": "u_y",
    },
    source="sag",
    limits="first order, readings independent; half-widths in, half-width out",
)  # fmt: skip
def doubt_of_sag_tension(
    tension: Number, belt: Number, spacing: Number, sag: Number,
    belt_doubt: Number, spacing_doubt: Number, sag_doubt: Number,
) -> Number:  # fmt: skip
    """Half-width of a tension from sag [N].

    Parameters
    ----------
    tension : from sag [N]
    belt, spacing, sag : as used [kg/m], [m], [m]
    belt_doubt, spacing_doubt, sag_doubt : half-width of each
    """
    relative = (belt_doubt / belt) ** 2 + (2 * spacing_doubt / spacing) ** 2
    return tension * np.sqrt(relative + (sag_doubt / sag) ** 2)
