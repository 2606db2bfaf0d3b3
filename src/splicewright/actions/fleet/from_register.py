"""What the register says besides lives, for the fleet list: wear, damage, values left outside."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING
from uuid import UUID

from splicewright.errors import InputError
from splicewright.quantities import Kind, Record, measured, sentence

if TYPE_CHECKING:
    from splicewright.actions.fleet.due import DueLine
    from splicewright.actions.register.use import Looked
    from splicewright.history.fleet.study import FleetMatter
    from splicewright.history.fleet.urgency import Urgency
    from splicewright.history.wear.study import PlaceWear
    from splicewright.store.present.present import ConveyorNow, DamageNow

_RECORDED = "as recorded in the register"


def matters_of_register(
    looked: Looked, until: date, limit: float | None = None
) -> tuple[FleetMatter, ...]:
    """Worn places, open damage, and values left outside their limits until a day.

    looked : conveyors and meters; what cannot be used is added to its `left_out`
    until : the next planned stop
    limit : value worn out, for places that have none in the register [m]
    """
    return (*_wear(looked, until, limit), *_damage(looked), *_left_outside(looked, until))


def _wear(looked: Looked, until: date, limit: float | None) -> list[FleetMatter]:
    from splicewright.actions.wear.from_register import wear_of_register
    from splicewright.history.fleet.study import FleetMatter
    from splicewright.history.wear.study import study_wear
    from splicewright.history.wear.worksheet import record_of_place

    matters = []
    for conveyor, series in wear_of_register(looked, limit).items():
        there = looked.conveyors[conveyor]
        for one in series:
            try:
                study = study_wear([one], today=looked.today, measure=looked.measure)
            except InputError as error:
                first = error.faults[0]
                looked.left_out.append(f"{looked.labels[conveyor]}, {first.key}: {first.sentence}")
                continue
            place = study.places[0]
            reasons = [sentence(place.answer.template, **_numbers(place))]
            if place.dates is not None and place.when:
                reasons.append(sentence(place.when))
            matters.append(
                FleetMatter(
                    one.place,
                    looked.labels[conveyor],
                    looked.sites[there.site],
                    _pressing(place, looked.today, until),
                    tuple(reasons),
                    place.dates.likely if place.dates else None,
                    str(conveyor),
                    record=record_of_place(place),
                )
            )
    return matters


def _numbers(place: PlaceWear) -> dict[str, tuple[float, Kind]]:
    return {name: (value, kind) for name, value, kind in place.answer.numbers}


def _pressing(place: PlaceWear, today: date, until: date) -> Urgency:
    from splicewright.history.fleet.urgency import Urgency, urgency_of_end

    if place.forecast.met:
        return Urgency.NOW
    if place.dates is None:
        return Urgency.LATER
    known = place.dates if place.enough else replace(place.dates, earliest=None, latest=None)
    return urgency_of_end(known.earliest, known.likely, known.latest, today, until)


def _damage(looked: Looked) -> list[FleetMatter]:
    return [
        damage_matter(row, conveyor, looked.labels[conveyor.conveyor], looked.sites)
        for row, conveyor in looked.register.open_damage()
        if conveyor.conveyor in looked.conveyors
    ]


def damage_matter(
    row: DamageNow, conveyor: ConveyorNow, name: str, sites: Mapping[UUID, str]
) -> FleetMatter:
    """An open damage as a line of the list."""
    from splicewright.history.fleet.study import FleetMatter
    from splicewright.history.fleet.urgency import Urgency
    from splicewright.store.facts.plant_facts import Grade

    urgent = {Grade.STOP: Urgency.NOW, Grade.REPAIR: Urgency.STOP, Grade.WATCH: Urgency.LATER}
    note = f": {row.note}" if row.note else ""
    reason = sentence(
        f"{row.grade}, found {row.found.date()}, {{length}} long{note}",
        length=(row.length, Kind.DISTANCE),
    )
    place = sentence("damage at {place}", place=(row.place, Kind.DISTANCE))
    return FleetMatter(
        f"{place}",
        name,
        sites[conveyor.site],
        urgent[row.grade],
        (reason,),
        id=str(conveyor.conveyor),
        record=Record(
            (
                measured("damage.place", "damage: place", row.place, Kind.DISTANCE, _RECORDED),
                measured("damage.length", "damage: length", row.length, Kind.DISTANCE, _RECORDED),
            )
        ),
    )


def _left_outside(looked: Looked, until: date) -> list[FleetMatter]:
    from splicewright.actions.fleet.due import left_outside
    from splicewright.store.facts.kinds import LATEST

    only = next(iter(looked.conveyors)) if len(looked.conveyors) == 1 else None
    return [
        left_matter(line, looked.labels[line.conveyor], looked.sites, looked.today, until)
        for line in left_outside(looked.register, LATEST, conveyor=only)
        if line.conveyor in looked.conveyors
    ]


def left_matter(
    line: DueLine, name: str, sites: Mapping[UUID, str], today: date, until: date
) -> FleetMatter:
    """A value left outside its limits as a line of the list."""
    from splicewright.history.fleet.study import FleetMatter
    from splicewright.history.fleet.urgency import urgency_of_duty

    day, why = line.due.date(), line.why
    since = "since" if day < today else "on"
    reason = sentence(
        f"{line.task} due {since} {day}: {why.template}",
        **{key: (value, kind) for key, value, kind in why.numbers},
    )
    subject = f"joint {line.label}, {line.job_name}" if line.label else line.job_name
    return FleetMatter(
        subject,
        name,
        sites[line.site],
        urgency_of_duty(day, today, until),
        (reason,),
        day,
        str(line.conveyor),
        str(line.job),
        Record(
            tuple(
                measured(f"left.{key}", f"{subject}: {line.task}, {key}", value, kind, _RECORDED)
                for key, value, kind in why.numbers
            )
        ),
    )
