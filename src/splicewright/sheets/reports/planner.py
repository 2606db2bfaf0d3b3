"""The planner's page: what to do now and at the stops, what to order, where to look, and why."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

from splicewright.history.fleet.study import FleetLine
from splicewright.history.fleet.urgency import Urgency
from splicewright.history.life.limits import Limits
from splicewright.history.planner.next_reading import ReadingWorth
from splicewright.history.planner.study import (
    Look,
    OneReading,
    OrderLine,
    PlannerStudy,
    RenewJoint,
)
from splicewright.quantities import Kind, System, show
from splicewright.sheets.pages.document import Document, KeyNumber, Point, Section
from splicewright.sheets.reports.fleet import line_name, line_path, line_reasons
from splicewright.sheets.words.amounts import money
from splicewright.sheets.words.dates import in_days

NAMED = 30
"""Lines of a list that are told; the JSON holds all."""
_SHORT = 60
_FIRST = 5
"""Joints that the answer names before it counts the rest."""
_CAUTIONS = (
    "No line here permits a joint to run. Past the age at which renewing costs least is a matter "
    "of cost, not of safety: whether a joint may run, its inspection and the responsible person "
    "decide.",
    "The least expected cost is no safety margin. Where a failure can hurt somebody, the person "
    "responsible sets a tighter rule.",
    "Only recorded facts are counted: the list is as complete as the register. After a change of "
    "material, speed or crew the forecast no longer applies.",
)


def planner_report(study: PlannerStudy, system: System = "metric") -> Document:
    """What to do, first things first; then why, how sure, and what it rests on."""
    lists = (
        ("Now", now_lines(study, system), ""),
        (f"At the stop on {study.until}", stop_lines(study, system), ""),
        (f"At the stop on {study.after}", _after(study), ""),
        ("Order", [_order(line, study) for line in study.orders], ""),
        ("Where to look, by what an inspection saves", [_look(o, study) for o in study.looks], ""),
        ("Where one more reading decides", _readings(study), ""),
        ("Running past the cheapest age", _past(study, system), _past_beyond(study)),
    )
    sections = [_list(title, lines, more) for title, lines, more in lists if lines]
    table = weighed_rows(study, system)
    if table:
        sections.append(
            Section(
                "Why, and how sure: every joint weighed",
                head=WEIGHED_HEAD,
                table=table[:NAMED],
                paths=tuple(f"/joints/{j.id}" for j in study.joints[:NAMED]),
            )
        )
    unweighed = bool(study.unweighed)
    return Document(
        "Planner's page",
        study.fleet.name,
        f"As recorded by {study.today}; ages in {study.fleet.measure.value}.",
        tuple(planner_answer(study)),
        (
            KeyNumber("now", str(len(study.now)), "to act on, worst first"),
            KeyNumber(
                "to renew",
                "not weighed" if unweighed else str(len(study.to_renew)),
                f"at the stop on {study.until}",
            ),
            KeyNumber(
                "past the cheapest age",
                "not weighed" if unweighed else str(len(study.past)),
                "and running",
            ),
        ),
        tuple(sections),
        (*_costs_stated(study), *study.assumed, *study.fleet.left_out[:NAMED]),
        _CAUTIONS,
        study.invented,
    )


def _point(act: str, why: str, path: str = "", *, bad: bool) -> Point:
    """What to do, where and why; bad : at once."""
    return Point(act, why, path, *(("act", "bad") if bad else ()))


def _list(title: str, lines: Sequence[Point], more: str) -> Section:
    """Things to do in their order; how many there are beyond those told, or which."""
    rest = len(lines) - NAMED
    more = more or (f"{rest} more." if rest > 0 else "")
    return Section(title, (more,) if more else (), listed=tuple(lines[:NAMED]))


def planner_answer(study: PlannerStudy) -> list[str]:
    """What to do, first things first."""
    lines = [_first(study), _stop(study)]
    if study.unweighed:
        lines.append(f"Renewal by age is not weighed: {study.unweighed}.")
    if study.orders:
        first, rest = study.orders[0], len(study.orders) - 1
        when = "their order day is not known: say the lead time of parts"
        if first.by is not None:
            past = ", which has passed" if first.late else ""
            when = f"{'the first ' * bool(rest)}by {first.by}{past}"
        more = f" and {_number(rest, 'other item')}" if rest else ""
        lines.append(f"Order {first.count:g} × {first.each}{more}; {when}.")
        if any(order.late for order in study.orders):
            lines.append(
                f"Parts whose order day has passed may come after the stop on {study.until}: find "
                "them elsewhere, or renew later."
            )
    if study.readings and (one := study.readings[0]).worth is not None and one.worth.worth > 0:
        lines.append(
            f"Read {one.conveyor}, {one.place} again first: one more reading is expected to save "
            f"{_cost(one.worth.worth, study)} {_spread(one.worth.span, study)}."
        )
    if study.looks:
        look = study.looks[0]
        lines.append(
            f"Inspect {look.conveyor}, joint {look.joint} first: an inspection now is expected to "
            f"save {_cost(look.worth, study)} {_spread(look.span, study)}."
        )
    elif study.unlooked:
        lines.append(f"What an inspection is worth is not known: {study.unlooked}.")
    else:
        lines.append("No inspection beyond those that are due is worth its cost.")
    return lines


def _first(study: PlannerStudy) -> str:
    if not study.now:
        return "Now: nothing."
    worst = study.now[0]
    return f"Now: {_number(len(study.now), 'thing')}, first {worst.conveyor}, {line_name(worst)}."


def _stop(study: PlannerStudy) -> str:
    parts = []
    if study.to_renew:
        names = ", ".join(f"{j.conveyor} {j.joint}" for j in study.to_renew[:_FIRST])
        rest = len(study.to_renew) - _FIRST
        names += f" and {rest} more" if rest > 0 else ""
        many = "it" if len(study.to_renew) == 1 else "them"
        spread = _spread(study.renewed_span, study)
        parts.append(
            f"renew {names}: leaving {many} until {study.after} costs "
            f"{_cost(study.renewed, study)} more {spread}"
        )
    if places := study.places_to_renew:
        named = ", ".join(f"{r.conveyor} {r.place}" for r in places[:_FIRST])
        named += f" and {len(places) - _FIRST} more" if len(places) > _FIRST else ""
        parts.append(f"renew the worn {'place' if len(places) == 1 else 'places'} {named}")
    other = len(study.at_stop)
    if other:
        parts.append(f"{_number(other, 'other thing')} due by then")
    return f"At the stop on {study.until}: {'; '.join(parts) if parts else 'nothing'}."


def now_lines(study: PlannerStudy, system: System = "metric") -> list[Point]:
    """What to act on now, worst first."""
    return [_of_fleet(line, system) for line in study.now]


def stop_lines(study: PlannerStudy, system: System = "metric") -> list[Point]:
    """What to do at the coming stop: renewals by cost, then what else is due by then."""
    renewed = [_renewal(joint, study, system) for joint in study.to_renew]
    renewed += [_place(r, study) for r in study.places_to_renew]
    return renewed + [_of_fleet(line, system) for line in study.at_stop]


def _after(study: PlannerStudy) -> list[Point]:
    """What the stop after the coming one will bring."""
    return [
        Point(
            f"{j.conveyor}, joint {j.joint}: expected to be renewed on {study.after}",
            f"comes to its cheapest age on {j.since}{_since_range(j)}; "
            f"{_odds(j.between, j.between_span)} chance of failure between the stops",
            f"/joints/{j.id}",
        )
        for j in study.next_time
    ]


def _past(study: PlannerStudy, system: System) -> list[Point]:
    """Running joints past the age at which renewing costs least, and what to do with each."""
    lines = []
    for j in study.past:
        do = f"renew it on {study.until}" if j.renew else f"leave it until {study.after}"
        unsure = "" if j.settled else "; a failure at half or double its cost would change that"
        lines.append(
            _point(
                f"{j.conveyor}, joint {j.joint}: past since {_day(j.since)}; {do}",
                f"has run {_use(j.age, study, system)}; renewing costs least at "
                f"{_use(j.renew_at, study, system)} "
                f"({_use(j.renew_span.low, study, system)} to "
                f"{_use(j.renew_span.high, study, system)}, nine times in ten: between "
                f"{_day(j.since_range[0])} and {_day(j.since_range[1])}){unsure}",
                f"/joints/{j.id}",
                bad=True,
            )
        )
    return lines


def _past_beyond(study: PlannerStudy) -> str:
    """Those past it that the list has no room for, each with the day since when."""
    named = ", ".join(f"{j.conveyor} {j.joint} (since {_day(j.since)})" for j in study.past[NAMED:])
    return f"Also past it: {named}." if named else ""


def _since_range(j: RenewJoint) -> str:
    """The days between which it comes, or came, to its cheapest age."""
    soonest, latest = j.since_range
    return f" ({_day(soonest)} to {_day(latest)})"


def _readings(study: PlannerStudy) -> list[Point]:
    """Places whose next reading decides."""
    return [
        Point(
            f"{r.conveyor}, {r.place}: read it again before {min(r.earliest, study.until)}",
            f"worn out between {r.earliest} and {_day(r.latest)}, likely {r.likely}: one more "
            f"reading says whether it waits for {study.after}{_reading_worth(r, study)}",
            f"/conveyors/{r.id}/forecast",
        )
        for r in study.readings
    ]


def _place(r: OneReading, study: PlannerStudy) -> Point:
    assert r.worth is not None
    first = ", unless one more reading before it says that it can wait" if r.worth.worth > 0 else ""
    return Point(
        f"{r.conveyor}, {r.place}: renew it{first}",
        f"worn out between {r.earliest} and {_day(r.latest)}, likely {r.likely}; leaving it until "
        f"{study.after} is expected to cost more",
        f"/conveyors/{r.id}/forecast",
    )


def _reading_worth(r: OneReading, study: PlannerStudy) -> str:
    if r.worth is None:
        return ""
    if r.worth.worth <= 0:
        return (
            "; by cost alone it does not pay, and the place is "
            f"{'left' if r.worth.leave < 0 else 'renewed'} at the stop"
        )
    return (
        f"; expected to save {_cost(r.worth.worth, study)} {_spread(r.worth.span, study)}, "
        f"{_cost(r.half, study)} where being worn out costs half, {_cost(r.double, study)} where "
        f"double; it turns the choice with a chance of {show(r.worth.changes, Kind.SHARE)}"
        f"{_seldom(r.worth)}"
    )


def _seldom(worth: ReadingWorth) -> str:
    """What the tenth case does, where it moves the mean out of the range of the other nine."""
    if worth.worth > worth.span.high:
        return ". In the tenth case it saves much more"
    if worth.worth < worth.span.low:
        return ". In the tenth case it costs much"
    return ""


def _of_fleet(line: FleetLine, system: System) -> Point:
    act = f"{line.conveyor}, {line_name(line)}: {_act(line, system)}"
    bad = line.urgency.rank < Urgency.STOP.rank
    return _point(act, line_reasons(line, system), line_path(line), bad=bad)


def _act(line: FleetLine, system: System) -> str:
    """What to do, as short as the first reason says it."""
    if line.joint and line.urgency is Urgency.NOW:
        return "it must not run: renew it, or a lead records why it may"
    first = line.reasons[0].say(system) if line.reasons else ""
    short = first.partition(":")[0].partition(";")[0]
    if not line.joint and line.due is not None and len(short) > _SHORT:
        return f"due by {line.due}"
    return short if short and len(short) <= _SHORT else "look at it"


def _renewal(j: RenewJoint, study: PlannerStudy, system: System) -> Point:
    return Point(
        f"{j.conveyor}, joint {j.joint}: renew it",
        f"leaving it until {study.after} costs {_with_span(j.leave, j.leave_span, study)} more, "
        f"{_half_double(j.half, j.double, study)}; {_odds(j.between, j.between_span)} chance of "
        "failure between the stops",
        f"/joints/{j.id}",
    )


def _look(look: Look, study: PlannerStudy) -> Point:
    when = "now" if look.due is None or look.due <= study.today else f"now; due on {look.due}"
    due = f"; due since {look.due}" if look.due is not None and look.due <= study.today else ""
    return Point(
        f"{look.conveyor}, joint {look.joint}: inspect it {when}{due}",
        f"expected to save {_with_span(look.worth, look.span, study)}, "
        f"{_half_double(look.half, look.double, study)}; {show(look.seen, Kind.SHARE)} chance that "
        "it finds damage",
        f"/joints/{look.id}",
    )


def _with_span(value: float, span: Limits, study: PlannerStudy) -> str:
    """A cost and its range, the currency once."""
    ends = (_cost(end, study) for end in (span.low, span.high))
    low, high = (end.removesuffix(study.currency).strip() for end in ends)
    return f"{_cost(value, study)} ({low} to {high})"


def _half_double(half: float, double: float, study: PlannerStudy) -> str:
    return f"{_cost(half, study)} with a failure at half its cost, {_cost(double, study)} at double"


def _order(line: OrderLine, study: PlannerStudy) -> Point:
    count = f"{line.count:g} × {line.each}"
    if line.by is None:
        return Point(f"{count}: before {study.until}, less the lead time of parts", line.needed)
    if line.late:
        return _point(f"{count}: now; {line.by} has passed", line.needed, bad=True)
    return Point(f"{count}: by {line.by}", line.needed)


WEIGHED_HEAD = (
    "joint",
    "has run",
    "cheapest age",
    "on",
    "fails before the stop",
    "between the stops",
    "leaving it costs",
    "failure at half",
    "at double",
)


def weighed_rows(study: PlannerStudy, system: System = "metric") -> tuple[tuple[str, ...], ...]:
    """Every running joint as cells under `WEIGHED_HEAD`, the dearest to leave first."""
    return tuple(
        (
            f"{j.conveyor}, {j.joint}",
            _use(j.age, study, system),
            _use(j.renew_at, study, system),
            f"{_day(j.since)}{_since_range(j)}",
            _odds(j.chance, j.chance_span),
            _odds(j.between, j.between_span),
            _with_span(j.leave, j.leave_span, study),
            _cost(j.half, study),
            _cost(j.double, study),
        )
        for j in study.joints
    )


def _costs_stated(study: PlannerStudy) -> list[str]:
    lines = ["ranges hold the truth nine times in ten, as far as the law of life is in doubt"]
    costs = study.costs
    if costs is not None:
        lines.append(
            f"stated: a planned renewal costs {_cost(costs.planned, study)}, a failure "
            f"{_cost(costs.failure, study)}, an inspection {_cost(costs.look, study)}"
        )
    if study.warning is not None:
        w = study.warning
        kind = study.fleet.measure.kind
        span = "" if w.low == w.high else f", {show(w.low, kind)} to {show(w.high, kind)},"
        lines.append(
            f"damage can be seen for {show(w.mean, kind)}{in_days(study.pace, w.mean)}{span} on "
            "average before a joint fails, "
            f"and an inspection sees it with a chance of {show(w.found, Kind.SHARE)}"
        )
    return lines


def _cost(value: float, study: PlannerStudy) -> str:
    if not math.isfinite(value):
        return "not known"
    sign = "-" if value < 0 and money(abs(value)) != "0" else ""
    return f"{sign}{money(abs(value))} {study.currency}".strip()


def _spread(span: Limits | None, study: PlannerStudy) -> str:
    if span is None:
        return ""
    return f"({_cost(span.low, study)} to {_cost(span.high, study)}, nine times in ten)"


def _odds(chance: float, span: Limits) -> str:
    return (
        f"{show(chance, Kind.SHARE)} ({show(span.low, Kind.SHARE)} to "
        f"{show(span.high, Kind.SHARE)})"
    )


def _use(value: float, study: PlannerStudy, system: System) -> str:
    return show(value, study.fleet.measure.kind, system) if math.isfinite(value) else "never"


def _day(day: date | None) -> str:
    return "no date known" if day is None or day == date.max else day.isoformat()


def _number(count: int, noun: str) -> str:
    return f"{count} {noun}{'s' if count != 1 else ''}"
