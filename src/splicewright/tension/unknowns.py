"""Which unknown moves the demand most: what to measure next."""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

from splicewright.plant import Conveyor
from splicewright.quantities import Given, Worksheet
from splicewright.tension.demand import demand


@dataclass(frozen=True, slots=True)
class Swing:
    """How far one assumed input moves the governing running tension [N/m], end to end.

    at_low, at_high : demand with the input at the ends of its plausible span
    """

    given: Given
    at_low: float
    at_high: float

    @property
    def size(self) -> float:
        """Distance between the two answers [N/m]."""
        return abs(self.at_high - self.at_low)


def swings(conveyor: Conveyor) -> tuple[Swing, ...]:
    """Move each assumed input of the demand to both ends of its span, one at a time.

    One at a time shows which unknown matters, not how they act together.

    Parameters
    ----------
    conveyor : with all gaps filled

    Returns
    -------
    Swings, the largest first; inputs without a span or effect are left out
    """
    sheet = Worksheet()
    demand(conveyor, sheet)
    found = []
    for given in sheet.finish().assumptions():
        if given.low == given.high or not holds_input(conveyor, given.key):
            continue
        ends = [
            demand(with_input(conveyor, given.key, value), Worksheet()).running.value
            for value in (given.low, given.high)
        ]
        swing = Swing(given, *ends)
        if swing.size > 0:
            found.append(swing)
    return tuple(sorted(found, key=lambda s: -s.size))


def with_input(conveyor: Conveyor, key: str, value: Any) -> Conveyor:
    """The same conveyor with every input called `key` at another value [SI]."""
    changed: Conveyor = _changed(conveyor, key, value)
    return changed


def holds_input(conveyor: Conveyor, key: str) -> bool:
    """Whether the conveyor itself has an input of that key."""
    return any(given.key == key for given in inputs_of(conveyor))


def inputs_of(item: Any) -> list[Given]:
    """All inputs of a conveyor or any part of one, in order, doubles included."""
    if isinstance(item, Given):
        return [item]
    if isinstance(item, tuple):
        return [given for part in item for given in inputs_of(part)]
    if is_dataclass(item):
        return [given for f in fields(item) for given in inputs_of(getattr(item, f.name))]
    return []


def _changed(item: Any, key: str, value: Any) -> Any:
    if isinstance(item, Given):
        return item.at(value) if item.key == key else item
    if isinstance(item, tuple):
        return tuple(_changed(part, key, value) for part in item)
    if is_dataclass(item) and not isinstance(item, type):
        return replace(
            item,
            **{f.name: _changed(getattr(item, f.name), key, value) for f in fields(item) if f.init},
        )
    return item
