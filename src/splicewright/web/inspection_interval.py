"""Page: how often to inspect a conveyor's joints or belt, and what past inspections show."""

from __future__ import annotations

import math
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from splicewright.actions.inspection_interval.question import (
    LOOK_HERE,
    LookHereAsked,
)
from splicewright.history.inspection_interval.interval import InspectionRule
from splicewright.history.inspection_interval.study import WhenToLook
from splicewright.history.inspection_interval.worksheet import record_of_looking
from splicewright.quantities import Kind, Record, System, show
from splicewright.sheets.words.dates import in_days, pace_words
from splicewright.web.app.answer_cache import Touches, always, of_conveyor
from splicewright.web.app.question_page import QuestionPage
from splicewright.web.app.rendering import render
from splicewright.web.app.room import Room
from splicewright.web.app.visitor import Visitor, room_of, visitor
from splicewright.web.conveyor.conveyor import find_conveyor
from splicewright.web.plan import words

router = APIRouter()
_Who = Annotated[Visitor, Depends(visitor)]
OF = {
    "joints": "the joints of this conveyor",
    "belts": "the belt of this conveyor",
    "all joints": "the joints of all conveyors",
    "all belts": "the belts of all conveyors",
}
"""What may be looked at; few failures on one conveyor are more on all."""


def _touches(room: Room, asked: LookHereAsked, when: WhenToLook) -> Touches:
    return of_conveyor(room.register, UUID(asked.conveyor)) if asked.conveyor else always


_KEPT = 1_000
"""Answers of so many conveyors: each takes 1 kB, or 40 kB with a law of delays."""
_PAGE: QuestionPage[LookHereAsked, WhenToLook] = QuestionPage(LOOK_HERE, _KEPT, _touches)


@router.get("/conveyors/{conveyor}/inspection-interval")
def looks_page(request: Request, who: _Who, conveyor: UUID, of: str = "joints") -> Response:
    """What past inspections show of damage, what is assumed, and the interval."""
    there = find_conveyor(room_of(request).register, conveyor)
    of = of if of in OF else "joints"
    where = "" if of.startswith("all") else str(conveyor)
    shown = _PAGE.show(request, who, of_belts=of.endswith("belts"), conveyor=where)
    when = shown.study
    record = record_of_looking(when) if when is not None else None
    return render(
        request,
        "inspection-interval.html",
        **shown.context,
        conveyor=there,
        chosen=of,
        of=OF,
        when=when,
        answer=_said(when, who.units) if when else "",
        learnt=_learnt(when, record, who.units) if when and record else [],
        interval=_interval(when, record, who.units) if when and record else [],
        lines=words.explained(record, who.units),
    )


def _said(when: WhenToLook, units: System) -> list[str]:
    """The answer, first line first."""
    if when.rules is None:
        if when.why_not:
            return [f"Not enough data to say: {when.why_not}."]
        return ["Enter the cost of an inspection, a repair and a failure to get the interval."]
    best, kind = when.rules.stated, when.measure.kind
    first = (
        f"Inspect every {show(best.interval, kind, units)} of use"
        f"{in_days(when.pace, best.interval)}."
        if math.isfinite(best.interval)
        else "Inspections do not pay at these costs."
    )
    lines = [first, f"{best.sentence[0].upper()}{best.sentence[1:]}."]
    dated = pace_words(when.pace, kind, units)
    lines.append(f"{dated[0].upper()}{dated[1:]}.")
    if when.learnt is None or not when.learnt.enough:
        lines.append(
            "From assumptions, not from inspections: the register holds too few data: "
            f"{when.why_not}."
        )
    return lines


def _shown(record: Record, key: str, units: System) -> str:
    """A number of the worksheet, "" when it is not in it."""
    return words.line(record, key, units).value if key in set(record.keys()) else ""


def _learnt(when: WhenToLook, record: Record, units: System) -> list[tuple[str, str, str, str]]:
    """What past inspections show: name, value, what else is said, the key that explains it."""
    learnt = when.learnt
    if learnt is None or not learnt.damages:
        return []
    where = "belt" if when.of_belts else "joint"
    sure = show(learnt.confidence, Kind.SHARE)
    rows = [
        (
            "Damage seen",
            str(learnt.damages),
            f"of which {learnt.failures} failed, {learnt.unfound} without being found before",
            "looks.damages",
        ),
        (
            "New damage",
            f"every {_shown(record, 'damage.between', units)}{in_days(when.pace, 1 / learnt.rate)}",
            f"of use at one {where}, on average",
            "damage.between",
        ),
    ]
    low, high = (_shown(record, f"delay.{end}", units) for end in ("low", "high"))
    if learnt.enough:
        span = f"{low or '0'} to {high}" if high else f"{low or '0'} or more"
        rows.append(
            (
                "From seen to failed",
                _shown(record, "delay.mean", units) + in_days(when.pace, learnt.mean),
                f"on average; {span} with {sure} confidence",
                "delay.mean",
            )
        )
    else:
        more = f"{low} or more on average, with {sure} confidence" if low else ""
        rows.append(
            ("From seen to failed", "not enough data to say", more, "delay.low" if low else "")
        )
    used = _shown(record, "delay.used", units)
    if used:
        note = (
            f"on average by the law used, of shape {_shown(record, 'delay.shape', units)} (such by "
            f"chance: {learnt.chance_random:.2g})"
        )
        rows.append(("Delays are not random", used, note, "delay.used"))
    return rows


def _interval(when: WhenToLook, record: Record, units: System) -> list[tuple[str, str, str, str]]:
    """The interval, what it misses, and how far it hangs on what was stated."""
    rules = when.rules
    if rules is None:
        return []
    low, high = (_shown(record, f"interval.{end}", units) for end in ("low", "high"))
    rows: list[tuple[str, str, str, InspectionRule | None, str]] = [
        (
            "Inspect",
            "best",
            f"{low}{in_days(when.pace, rules.stated.low)} to "
            f"{high}{in_days(when.pace, rules.stated.high)} costs at most 5 % more"
            if low and high
            else "",
            rules.stated,
            "interval.best",
        ),
        ("If a failure costs half", "half", "", rules.half, "interval.half"),
        ("If it costs double", "double", "", rules.double, "interval.double"),
        (
            "If delays are short",
            "short",
            "as short as past inspections allow",
            when.at_low,
            "interval.short",
        ),
        (
            "If delays are long",
            "long",
            "as long as past inspections allow",
            when.at_high,
            "interval.long",
        ),
    ]
    table = []
    for name, key, note, rule, full in rows:
        if rule is not None:
            value = _shown(record, f"interval.{key}", units)
            never = "" if value else "inspections do not pay"
            value += in_days(when.pace, rule.interval) if value else ""
            table.append((name, f"every {value}" if value else never, note, full if value else ""))
    missed = _shown(record, "interval.missed", units)
    if missed:
        table.insert(
            1,
            (
                "Missed all the same",
                missed,
                "of damages fail before an inspection finds them",
                "interval.missed",
            ),
        )
    return table
