"""What the take-up of a stopped belt holds, with both ends of what is not known of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from splicewright.plant import Conveyor
from splicewright.quantities import Figure, Kind, Number, Worksheet, formula
from splicewright.tension.at_rest.strand import Span
from splicewright.tension.at_rest.strands import end_of
from splicewright.tension.resistance.main import GRAVITY
from splicewright.tension.resistance.traction import times
from splicewright.tension.running.running import Running
from splicewright.tension.running.take_up import holds_length

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
        held = _worked(sheet, "take_up.mean" if fixed else "take_up.tension")
        least, largest = (
            sheet.work(
                f"at_rest.take_up.{name}",
                f"pull of the take-up, {name}",
                with_spread,
                held=held,
                spread=_spread(conveyor, end),
            )
            for name, end in (("least", "low"), ("largest", "high"))
        )
    else:
        needed = _worked(sheet, "take_up.tension_needed")
        least, largest = (
            sheet.work(
                f"at_rest.take_up.{name}",
                f"pull of the take-up, {name}, not known",
                times,
                factor=end_of(take_up.preload, end),
                pull=needed,
            )
            for name, end in (("least", "low"), ("largest", "high"))
        )
    drum = sheet.largest(
        "at_rest.drum",
        "largest pull of the drives, which a held drum may have kept",
        [r.pull for r in forward],
    )
    return Holding(fixed, known, least, largest, drum)


@formula(
    "T = T_0 + ΔT",
    gives=("T", Kind.FORCE),
    symbols={"held": "T_0", "spread": "ΔT"},
    source="statics",
    limits="ΔT from the stated range of counterweight or force, each strand its share",
)
def with_spread(held: Number, spread: Number) -> Number:
    """Pull of a take-up at one end of its stated range [N]."""
    return held + spread


def _spread(conveyor: Conveyor, end: str) -> Number:
    """How far one end of the stated mass or force moves the tension of a strand [N]."""
    take_up = conveyor.take_up
    given, each = take_up.force, 1.0
    if take_up.mass is not None:
        given, each = take_up.mass, GRAVITY * take_up.reeving.value
    assert given is not None  # only called where one of them is known
    moved: Number = (getattr(Span.of(given), end) - given.value) * each / take_up.strands
    return moved


def _worked(sheet: Worksheet, key: str) -> Figure:
    figure = sheet.get(key)
    if figure is None:  # the running cases write it before anything stands still
        msg = f"{key} is not on the sheet"
        raise TypeError(msg)
    return figure
