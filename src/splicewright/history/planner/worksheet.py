"""What the planner's page says, number by number: the worksheet that explains it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from splicewright.history.fleet.worksheet import EXPLAINED, named, record_of_fleet
from splicewright.history.life.limits import Limits
from splicewright.history.pace import explain_pace
from splicewright.history.planner.study import Look, OneReading, PlannerStudy, RenewJoint
from splicewright.quantities import Figure, Kind, Record, Worksheet, measured, stated

_ENDS = "what nine in ten of the laws of life that the records leave open lie between"
_LEAVE = (
    "(c_f - c_p) (P(U ≤ T2) - P(U ≤ T1)) - g ∫ P(U > t) dt from T1 to T2; U the further life, g "
    "the least cost per use in the long run; mean over the laws of life that the records leave open"
)
_WORTH = (
    "min(0, leave) without the inspection, less what the same costs with it: joints seen damaged "
    "are renewed at once, the others decided at the stop by what was not seen; mean over the laws"
)
_READING = (
    "min(0, leave) by the readings so far, less its mean over the next reading, which is Student's "
    "about the line; less what a reading costs"
)
_TYPED = "typed with the question"


def record_of_planner(study: PlannerStudy, most: int = EXPLAINED) -> Record:
    """Explain every number of the planner's page.

    study : the page
    most : lines, joints and inspections of each list that are explained, the first ones
    Returns a worksheet under the keys of the fleet's list, and ``planner.*``, ``renew.NAME.*``,
    ``look.NAME.*``, ``reading.NAME.*``, ``order.NUMBER.*``; what is not known is not in it.
    """
    sheet = Worksheet()
    rests = _stated(sheet, study)
    for key, label, count in (
        ("now", "to act on now", len(study.now)),
        ("at_stop", "other things due by the stop", len(study.at_stop)),
        ("orders", "things to order", len(study.orders)),
    ):
        sheet.found(f"planner.{key}", label, count, Kind.COUNT, "lines of the list", [])
    leaves = []
    for key, joint in named((f"{j.conveyor} {j.joint}", j) for j in study.joints[:most]):
        leave = _joint(sheet, f"renew.{key}", joint, study, rests)
        if joint.renew:
            leaves.append(leave)
    if math.isfinite(study.renewed):
        _spanned(
            sheet,
            "planner.renewed",
            "leaving the joints to renew costs more",
            study.renewed,
            study.renewed_span,
            Kind.RATIO,
            "sum over the joints to renew at the stop",
            leaves,
        )
    for key, look in named((f"{x.conveyor} {x.joint}", x) for x in study.looks[:most]):
        _look(sheet, f"look.{key}", look, rests)
    for key, one in named((f"{r.conveyor} {r.place}", r) for r in study.readings[:most]):
        _reading(sheet, f"reading.{key}", one, rests)
    for number, order in enumerate(study.orders, 1):
        sheet.found(
            f"order.{number}.count",
            f"order: {order.each}",
            order.count,
            Kind.RATIO,
            "what the kept plans of the joints to renew ask for, less what is in the stores; for "
            "stock as `splicewright stock` sizes it",
            [],
        )
    explain_pace(sheet, study.pace, study.fleet.measure.kind, ("planner.warning",))
    own = sheet.finish()
    return Record((*record_of_fleet(study.fleet, most).entries, *own.entries))


def _stated(sheet: Worksheet, study: PlannerStudy) -> list[Figure]:
    """Costs, stops and warning time: what every choice rests on."""
    figures: list[Figure] = [
        stated(
            f"planner.{key}", label, (day - study.today).days * 86400.0, Kind.TIME, f"until {day}"
        )
        for key, label, day in (
            ("first", "time until the coming stop, T1", study.until),
            ("second", "time until the stop after it, T2", study.after),
        )
    ]
    if study.costs is not None:
        figures += [
            stated(f"planner.cost_{key}", label, value, Kind.RATIO, _TYPED)
            for key, label, value in (
                ("planned", "renewing a joint in a planned stop, c_p", study.costs.planned),
                ("failure", "a failure, c_f", study.costs.failure),
                ("look", "inspecting one joint, or reading one place", study.costs.look),
            )
        ]
    if study.warning is not None:
        w, kind = study.warning, study.fleet.measure.kind
        reason = (
            _TYPED if w.low == w.high else "learnt from past inspections; see `splicewright when`"
        )
        figures += [
            stated(f"planner.warning{end}", f"damage can be seen for{label}", value, kind, reason)
            for end, label, value in (
                ("", ", on average", w.mean),
                ("_least", ", at least", w.low),
                ("_most", ", at most", w.high),
            )
        ]
        figures.append(
            stated("planner.found", "chance that an inspection sees it", w.found, Kind.SHARE)
        )
    return [sheet.note(one) for one in figures]


def _spanned(
    sheet: Worksheet,
    key: str,
    label: str,
    value: float,
    span: Limits | None,
    kind: Kind,
    text: str,
    parts: Sequence[Figure],
    source: str = "expectation",
) -> Figure:
    """A figure with the ends of its range."""
    figure = sheet.found(key, label, value, kind, text, parts, source)
    if span is not None:
        for end, at in (("least", span.low), ("most", span.high)):
            sheet.found(f"{key}_{end}", f"{label}: {end}", at, kind, _ENDS, [*parts], source)
    return figure


def _half_and_double(
    sheet: Worksheet, key: str, label: str, half: float, double: float, parts: Sequence[Figure]
) -> None:
    for end, value in (("half", half), ("double", double)):
        sheet.found(
            f"{key}_{end}",
            f"{label}, a failure at {end} its cost",
            value,
            Kind.RATIO,
            "the same with that cost",
            parts,
            "expectation",
        )


def _joint(
    sheet: Worksheet, key: str, j: RenewJoint, study: PlannerStudy, rests: Sequence[Figure]
) -> Figure:
    name, kind = f"{j.conveyor}, joint {j.joint}", study.fleet.measure.kind
    age = sheet.note(
        measured(
            f"{key}.age", f"{name}: has run", j.age, kind, "from the register's days and meter"
        )
    )
    parts = [age, *rests]
    text = "age T at which (c_p R(T) + c_f F(T)) / ∫ R dt is least, over all the laws together"
    ends = j.renew_span
    if math.isfinite(j.renew_at):
        sheet.found(
            f"{key}.at", f"{name}: cheapest age", j.renew_at, kind, text, parts, "look-ahead"
        )
    for end, value in (("least", ends.low), ("most", ends.high)):
        if math.isfinite(value):
            label = f"{name}: cheapest age, {end}"
            sheet.found(f"{key}.at_{end}", label, value, kind, _ENDS, parts, "look-ahead")
    chance = "mean over the laws of 1 - exp((x/η)^β - ((x + y)/η)^β)"
    for word, label, value, span in (
        ("chance", "fails before the stop", j.chance, j.chance_span),
        ("between", "fails between the stops", j.between, j.between_span),
    ):
        _spanned(sheet, f"{key}.{word}", f"{name}: {label}", value, span, Kind.SHARE, chance, parts)
    label = f"{name}: leaving it at the stop costs more"
    leave = _spanned(
        sheet, f"{key}.leave", label, j.leave, j.leave_span, Kind.RATIO, _LEAVE, parts, "look-ahead"
    )
    _half_and_double(sheet, f"{key}.leave", label, j.half, j.double, parts)
    return leave


def _look(sheet: Worksheet, key: str, look: Look, rests: Sequence[Figure]) -> None:
    name = f"{look.conveyor}, joint {look.joint}"
    label = f"{name}: an inspection now saves"
    _spanned(
        sheet,
        f"{key}.worth",
        label,
        look.worth,
        look.span,
        Kind.RATIO,
        _WORTH,
        rests,
        "preposterior",
    )
    _half_and_double(sheet, f"{key}.worth", label, look.half, look.double, rests)
    sight = "r ∫ f(u) exp(-u/h) du, h the time for which damage can be seen; mean over the laws"
    for word, event, value in (
        ("seen", "it finds damage", look.seen),
        ("saved", "it turns a failure before the second stop into a renewal", look.saved),
    ):
        sheet.found(
            f"{key}.{word}",
            f"{name}: chance that {event}",
            value,
            Kind.SHARE,
            sight,
            rests,
            "preposterior",
        )


def _reading(sheet: Worksheet, key: str, one: OneReading, rests: Sequence[Figure]) -> None:
    worth = one.worth
    if worth is None:
        return
    name = f"{one.conveyor}, {one.place}"
    leave = sheet.found(
        f"{key}.leave",
        f"{name}: leaving it at the stop costs more",
        worth.leave,
        Kind.RATIO,
        "(c_f - c_p) (P(U ≤ T2) - P(U ≤ T1)) - g ∫ P(U > t) dt from T1 to T2; U where the line "
        "meets its limit, Student's about the fitted one; g = c_p over the use from new to its end",
        rests,
        "look-ahead",
    )
    parts = [leave, *rests]
    label = f"{name}: one more reading saves"
    sheet.found(f"{key}.worth", label, worth.worth, Kind.RATIO, _READING, parts, "preposterior")
    lines = "shortest range that nine in ten of the lines that the readings leave open lie in"
    for end, at in (("least", worth.span.low), ("most", worth.span.high)):
        sheet.found(f"{key}.worth_{end}", f"{label}: {end}", at, Kind.RATIO, lines, parts)
    _half_and_double(sheet, f"{key}.worth", label, one.half, one.double, parts)
    sheet.found(
        f"{key}.changes",
        f"{name}: chance that a reading turns the choice",
        worth.changes,
        Kind.SHARE,
        "share of next readings after which the cheaper of leaving and renewing is the other one",
        parts,
        "preposterior",
    )
