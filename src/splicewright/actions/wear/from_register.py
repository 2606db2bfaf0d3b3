"""Wear readings from the register: every length read at a conveyor, its belts and its joints.

The name of a reading is its place: "carry cover left", "hinge pin". The value worn out is the limit
that a lead set for the joint, the belt that lies there, or the conveyor, in this order. Registers
begun before limits were facts of their own hold them in notes, which are read where no limit is
set: "limit 3 mm" (value worn out), "new 8 mm" (value at use 0). A note "checked" says that this
reading jumps, and is right. Use 0 is when the joint was put to work or the belt placed.
Where neither is known, or only the belt that lies there now is on file and was recorded after the
first reading, use is counted from the first reading of the place.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING
from uuid import UUID

from splicewright.errors import InputError
from splicewright.quantities import Kind, read

if TYPE_CHECKING:
    from splicewright.actions.register.use import Looked
    from splicewright.history.wear.study import Series
    from splicewright.store import Stored
    from splicewright.store.facts.joint_facts import WearLimitSet
    from splicewright.store.present.present import BeltNow

_NOTED = re.compile(r"\b(limit|new)\s*[:=]?\s*(\d[^;,]*)", re.IGNORECASE)
_CHECKED = "checked"
_Place = tuple[UUID, UUID, str]


def wear_of_register(
    looked: Looked, limit: float | None = None, new: float | None = None
) -> dict[UUID, tuple[Series, ...]]:
    """Read all wear of the conveyors looked at, by conveyor.

    looked : conveyors and meters; what cannot be used, as a place without a limit, is added to its
        `left_out`
    limit, new : value worn out and value at use 0, for places of which nothing states them [m]
    """
    places = _places(looked)
    by_conveyor: dict[UUID, list[Series]] = {}
    limits = _Limits(looked)
    for (conveyor, about, place_name), rows in places.items():
        stated = limits.of(conveyor, about, place_name)
        place_series = _series(looked, conveyor, about, place_name, rows, stated, limit, new)
        if place_series is not None:
            by_conveyor.setdefault(conveyor, []).append(place_series)
    return {c: tuple(series) for c, series in by_conveyor.items()}


class _Limits:
    """Limits set in the register, by thing and place."""

    def __init__(self, looked: Looked) -> None:
        from splicewright.actions.wear.limits import limits_of, named

        self._looked = looked
        limits = limits_of(looked.facts("wear limit set"))
        self._limits = {(f.what.about, named(f.what.what)): f.what for f in limits}

    def of(self, conveyor: UUID, about: UUID, place: str) -> WearLimitSet | None:
        """The limit of a joint's place, or of a belt's: its own goes before the conveyor's."""
        from splicewright.actions.wear.limits import named

        things = [about]
        if self._limits and about == conveyor:
            things = [*(b.belt for b in self._looked.register.belts(conveyor)[:1]), conveyor]
        return next(
            (f for t in things if (f := self._limits.get((t, named(place)))) is not None), None
        )


def _places(looked: Looked) -> dict[_Place, list[Stored]]:
    """Readings of a length by conveyor, thing and name, oldest first."""
    from splicewright.store import Stream
    from splicewright.store.facts.joint_facts import ReadingTaken

    belts: dict[UUID, UUID] | None = None
    by_place: dict[_Place, list[Stored]] = {}
    for stored in sorted(looked.readings, key=lambda s: (s.when, s.seq)):
        reading = stored.what
        assert isinstance(reading, ReadingTaken)
        if reading.measure is not Kind.LENGTH:
            continue
        conveyor: UUID | None = reading.about
        if reading.of is Stream.JOINT:
            joint = looked.joint(reading.about)
            conveyor = joint.conveyor if joint is not None else None
        elif reading.of is Stream.BELT:
            if belts is None:
                belts = {b.belt: c for c in looked.conveyors for b in looked.register.belts(c)}
            conveyor = belts.get(reading.about)
        if conveyor in looked.conveyors and conveyor is not None and reading.of is not Stream.JOB:
            # the conveyor's belt is read whether it is named or not
            about = reading.about if reading.of is Stream.JOINT else conveyor
            by_place.setdefault((conveyor, about, reading.what.strip()), []).append(stored)
    return by_place


def _series(
    looked: Looked,
    conveyor: UUID,
    about: UUID,
    place_name: str,
    rows: Sequence[Stored],
    stated: WearLimitSet | None,
    limit: float | None,
    new: float | None,
) -> Series | None:
    from splicewright.history.wear.limit_met import Reading
    from splicewright.history.wear.study import Series
    from splicewright.store.facts.joint_facts import ReadingTaken

    name = looked.labels[conveyor]
    meter = looked.meters.get(conveyor)
    if meter is None:
        return None
    begun, former, place = _begun(looked, conveyor, about, place_name, rows[0].when)
    noted: dict[str, float] = {}
    kept: list[tuple[date, float, bool]] = []
    before = 0
    for stored in rows:
        reading = stored.what
        assert isinstance(reading, ReadingTaken)
        for word, text in _NOTED.findall(reading.note):
            try:
                noted[word.lower()] = read(text.strip(), Kind.LENGTH)
            except InputError:
                looked.left_out.append(f'{name}, {place}: "{word} {text}" in a note is no length')
        if former is not None and stored.when < former:
            before += 1
            continue
        kept.append((stored.when.date(), reading.value, _CHECKED in reading.note.casefold()))
    if before:
        looked.left_out.append(f"{name}, {place}: {before} readings of what lay there before")
    source = "noted with a reading" if "limit" in noted else ""
    if stated is not None:
        # What a lead set goes before every note, whenever that was written.
        noted["limit"], source = stated.limit, stated.source
        if stated.new is not None:
            noted["new"] = stated.new
    worn = noted.get("limit", limit)
    if not kept:
        return None
    if worn is None:
        looked.left_out.append(
            f"{name}, {place}: no value worn out is stated; a lead sets it as a limit of wear"
        )
        return None
    zero = (begun or rows[0].when).date().toordinal()
    uses = meter.totals_on([d.toordinal() for d, _, _ in kept]) - float(meter.totals_on(zero))
    readings = tuple(
        Reading(max(float(use), 0.0), value, str(day), checked)
        for use, (day, value, checked) in zip(uses, kept, strict=True)
    )
    start = noted.get("new", new) if begun is not None else None
    days = tuple((day, r.use) for (day, _, _), r in zip(kept, readings, strict=True))
    at_joint = str(about) if about != conveyor else ""
    return Series(place, readings, worn, start, days, source, at_joint)


def _begun(
    looked: Looked, conveyor: UUID, about: UUID, place_name: str, first: datetime
) -> tuple[datetime | None, datetime | None, str]:
    """When use began, before which readings are of something else, and the place's name."""
    if about != conveyor:
        joint = looked.joint(about)
        begun = joint.put_to_work or joint.built if joint is not None else None
        label = joint.label if joint is not None else "joint"
        return begun, begun, f"joint {label}, {place_name}"
    belts: Sequence[BeltNow] = looked.register.belts(conveyor)
    if not belts:
        return None, None, place_name
    placed = belts[0].placed
    if len(belts) > 1:
        return placed, placed, place_name
    return (placed if placed <= first else None), None, place_name
