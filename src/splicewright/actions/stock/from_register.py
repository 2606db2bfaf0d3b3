"""What lies in the stores of the sites looked at, and how often it was used."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from splicewright.actions.register.use import Looked

_YEAR = 365.25 * 86400.0
_SHORTEST = _YEAR / 12
"""Movements over less than a month say nothing about a year."""


@dataclass(frozen=True, slots=True)
class Shelf:
    """One item of the store.

    item : its name, as it was first written
    there : how many lie there
    outs : times it was taken out
    per_year : times a year; nan where the record is shorter than a month
    each : how many at a time, the mean rounded up; 1 where none was taken
    watched : since the first movement [s]
    """

    item: str
    there: float
    outs: int
    per_year: float
    each: int
    watched: float


def shelf_of_register(looked: Looked) -> dict[str, Shelf]:
    """Every item of the stores, by its name without regard to capitals."""
    from splicewright.store.facts.plant_facts import StockMoved

    sites = {c.site for c in looked.conveyors.values()}
    held: dict[str, list[tuple[datetime, float]]] = {}
    names: dict[str, str] = {}
    for stored in looked.facts("stock moved"):
        movement = stored.what
        if isinstance(movement, StockMoved) and movement.site in sites:
            key = movement.item.strip().casefold()
            names.setdefault(key, movement.item.strip())
            held.setdefault(key, []).append((stored.when, movement.count))
    shelves = {}
    for key, moves in held.items():
        span = (looked.now - min(when for when, _ in moves)).total_seconds()
        outs = [-count for _, count in moves if count < 0]
        rate = len(outs) / span * _YEAR if span >= _SHORTEST else float("nan")
        each = max(1, -(-int(sum(outs) + 0.5) // len(outs))) if outs else 1
        shelves[key] = Shelf(
            names[key], sum(count for _, count in moves), len(outs), rate, each, span
        )
    return shelves
