"""What the list of the fleet says, number by number: the worksheet that explains it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TypeVar

from splicewright.history.fleet.outlook import ConveyorOutlook
from splicewright.history.fleet.stops import Trend, chance_of_difference
from splicewright.history.fleet.study import FleetLine, FleetStudy
from splicewright.history.fleet.urgency import Urgency
from splicewright.history.life.limits import Limits
from splicewright.history.life.pooling import Prior
from splicewright.plant.conveyor import slug
from splicewright.quantities import (
    Figure,
    Kind,
    Record,
    Worksheet,
    assumed,
    joined,
    measured,
    stated,
)

T = TypeVar("T")
EXPLAINED = 300
"""Lines of the list that are explained, worst first; of others ask for their conveyor."""
_POSTERIOR = (
    "laws of life with one shape, each conveyor with a scale of its own, drawn from what the lives "
    "on file and the belief leave open; {what}"
)
_CHANCE = "mean over them of 1 - exp((x/η)^β - ((x + y)/η)^β), x the age, y the use until the stop"
_ENDS = "what nine laws in ten lie between"
_REGISTER = "counted in the register"


def record_of_fleet(study: FleetStudy, most: int = EXPLAINED) -> Record:
    """Explain every number of the fleet's list.

    study : the fleet
    most : lines that are explained, worst first
    Returns a worksheet under the keys ``fleet.*``, ``conveyor.NAME.*``, ``kind.NAME.*``,
    ``joint.NAME.*``, ``cause.NAME.*``, ``trend.*``, ``year.YEAR.*``, and those of what else is in
    the list (``wear.*``, ``damage.*``, ``left.*``); what is not known is not in it.
    """
    sheet, kind = Worksheet(), study.measure.kind
    rests = _whole(sheet, study)
    for key, c in named((c.conveyor, c) for c in study.conveyors):
        _conveyor(sheet, f"conveyor.{key}", c, kind, rests)
    for key, c in named((c.conveyor, c) for c in study.kinds):
        _conveyor(sheet, f"kind.{key}", c, kind, rests)
    lines = study.lines[:most]
    for key, line in named((f"{x.conveyor} {x.what}", x) for x in lines if x.joint):
        _joint(sheet, f"joint.{key}", line, kind, rests)
    _stops(sheet, study)
    matters = [(slug(f"{x.conveyor} {x.what}"), x.record) for x in lines if x.record is not None]
    return Record((*sheet.finish().entries, *joined(matters).entries))


def named(things: Iterable[tuple[str, T]]) -> list[tuple[str, T]]:
    """Each under a name of its own, those called alike numbered."""
    seen: dict[str, int] = {}
    pairs = []
    for name, thing in things:
        key = slug(name)
        seen[key] = seen.get(key, 0) + 1
        pairs.append((key if seen[key] == 1 else f"{key}-{seen[key]}", thing))
    return pairs


def _whole(sheet: Worksheet, study: FleetStudy) -> list[Figure]:
    """The first lines of the page; what every chance rests on."""
    due = "things due by then, and joints likely enough to fail by then"
    for urgency in Urgency:
        sheet.found(
            f"fleet.{urgency.name.lower()}",
            f"lines, {urgency.value}",
            study.number(urgency),
            Kind.COUNT,
            f"{_REGISTER}; {due}",
            [],
        )
    running = measured("fleet.running", "running joints", study.running, Kind.COUNT, _REGISTER)
    failures = measured(
        "fleet.failures", "joints that failed so far", study.failures, Kind.COUNT, _REGISTER
    )
    days = stated(
        "fleet.ahead",
        "time until the next planned stop",
        (study.until - study.today).days * 86400.0,
        Kind.TIME,
        f"from {study.today} to {study.until}",
    )
    belief = study.prior or Prior()
    low, high = belief.shape_ends
    shape = assumed(
        "fleet.shape",
        "shape believed beforehand",
        belief.shape,
        Kind.RATIO,
        "assumption of this tool; 95 % of the belief lies between the ends",
        (low, high),
    )
    for end, value in (("least", low), ("most", high)):
        sheet.found(
            f"fleet.shape_{end}",
            f"shape believed beforehand, {end}",
            value,
            Kind.RATIO,
            "median x exp(∓1.96 x spread of its logarithm)",
            [shape],
            "assumption",
        )
    rests: list[Figure] = [running, failures, days, shape]
    if math.isfinite(study.at_least):
        sheet.found(
            "fleet.at_least",
            "age that nine joints in ten live at least",
            study.at_least,
            study.measure.kind,
            "(2 Σ t^β/χ²)^(1/β) (-ln 0.9)^(1/β), χ² of two degrees of "
            "freedom at 90 % confidence, the shape β assumed",
            rests,
            "arithmetic",
        )
    if math.isfinite(study.expected):
        expected = sheet.found(
            "fleet.expected",
            "failures expected before the stop",
            study.expected,
            Kind.RATIO,
            _POSTERIOR.format(what="sum of the chances of all running joints"),
            rests,
            "expectation",
        )
        ends = _counts(sheet, "fleet.expected", "failures before the stop", study.counts, rests)
        if math.isfinite(study.none_fails):
            sheet.found(
                "fleet.none_fails",
                "chance that none fails before the stop",
                study.none_fails,
                Kind.SHARE,
                _POSTERIOR.format(what="mean over them of Π (1 - chance of each)"),
                rests,
                "expectation",
            )
        if math.isfinite(study.failure_cost):
            cost = stated(
                "fleet.failure_cost",
                "cost of a failure",
                study.failure_cost,
                Kind.RATIO,
                "typed with the question",
            )
            for end, number in (("", expected), *ends):
                sheet.found(
                    f"fleet.cost{end}",
                    f"cost of the failures{end.replace('_', ', ')}",
                    number.value * study.failure_cost,
                    Kind.RATIO,
                    "failures x cost of one",
                    [number, cost],
                    "expectation",
                )
    return rests


def _counts(
    sheet: Worksheet, key: str, label: str, counts: Limits | None, rests: list[Figure]
) -> list[tuple[str, Figure]]:
    """Ends of a number of failures, with the ending of their key."""
    if counts is None:
        return []
    text = _POSTERIOR.format(what="each number's chance by each of them, averaged; its quantile")
    return [
        (
            f"_{end}",
            sheet.found(
                f"{key}_{end}",
                f"{label}, nine times in ten: {end}",
                value,
                Kind.COUNT,
                text,
                rests,
                "expectation",
            ),
        )
        for end, value in (("least", counts.low), ("most", counts.high))
    ]


def _conveyor(
    sheet: Worksheet, key: str, c: ConveyorOutlook, kind: Kind, rests: list[Figure]
) -> None:
    name = c.conveyor
    running = sheet.found(
        f"{key}.running", f"{name}: running joints", c.running, Kind.COUNT, _REGISTER, []
    )
    failed = sheet.found(
        f"{key}.failures", f"{name}: failed so far", c.failures, Kind.COUNT, _REGISTER, []
    )
    parts = [running, failed, *rests]
    if math.isfinite(c.expected):
        sheet.found(
            f"{key}.expected",
            f"{name}: failures expected before the stop",
            c.expected,
            Kind.RATIO,
            _POSTERIOR.format(what="sum of the chances of its joints"),
            parts,
            "expectation",
        )
    _counts(sheet, f"{key}.expected", f"{name}: failures before the stop", c.counts, parts)
    if math.isfinite(c.tenth):
        text = _POSTERIOR.format(what="age by which a tenth of new joints has failed")
        sheet.found(f"{key}.tenth", f"{name}: one in ten fails by", c.tenth, kind, text, parts)
        if c.tenth_range is not None:
            for end, value in (("least", c.tenth_range.low), ("most", c.tenth_range.high)):
                sheet.found(
                    f"{key}.tenth_{end}",
                    f"{name}: one in ten fails by, {end}",
                    value,
                    kind,
                    f"{text}: {_ENDS}",
                    parts,
                )


def _joint(sheet: Worksheet, key: str, line: FleetLine, kind: Kind, rests: list[Figure]) -> None:
    """What stands in its reasons, which are what every page prints."""
    name = f"{line.conveyor}, joint {line.what}"
    numbers = {n: (value, k) for reason in line.reasons for n, value, k in reason.numbers}
    parts = list(rests)
    if "age" in numbers:
        age = measured(
            f"{key}.age",
            f"{name}: has run",
            numbers["age"][0],
            kind,
            "from the register's days and meter",
        )
        parts.insert(0, sheet.note(age))
    left = "further use by which half of joints this old have failed"
    for number, label, meaning in (
        ("chance", "chance of failing before the stop", _CHANCE),
        ("low", "that chance at least", _ENDS),
        ("high", "that chance at most", _ENDS),
        ("left", "half of joints this old last another", left),
        ("middle", "half of new joints last", "the same at age 0"),
    ):
        value, k = numbers.get(number, (math.nan, kind))
        if math.isfinite(value):
            sheet.found(
                f"{key}.{number}",
                f"{name}: {label}",
                value,
                k,
                _POSTERIOR.format(what=meaning),
                parts,
            )


def _stops(sheet: Worksheet, study: FleetStudy) -> None:
    """Stops behind, by cause and by year, and their trend."""
    for key, c in named((c.cause if c.failed else f"{c.cause} planned", c) for c in study.causes):
        number = sheet.found(
            f"cause.{key}.number", f"{c.cause}: stops", c.number, Kind.COUNT, _REGISTER, []
        )
        if c.lately is not None:
            sheet.found(
                f"cause.{key}.lately",
                f"{c.cause}: stops in the last year",
                c.lately,
                Kind.COUNT,
                _REGISTER,
                [],
            )
        if c.known:
            known = sheet.found(
                f"cause.{key}.known",
                f"{c.cause}: stops whose length is known",
                c.known,
                Kind.COUNT,
                _REGISTER,
                [],
            )
            stood = sheet.found(
                f"cause.{key}.stood",
                f"{c.cause}: stood, known of",
                c.stood,
                Kind.TIME,
                "from the stop until a joint of that conveyor was put "
                "to work, summed over those known",
                [known],
            )
            if math.isfinite(c.cost):
                sheet.found(
                    f"cause.{key}.cost",
                    f"{c.cause}: cost",
                    c.cost,
                    Kind.RATIO,
                    "stops x (mean time stood x cost of standing + cost of a failure)",
                    [number, stood, known],
                    "expectation",
                )
    _trend(sheet, "trend", "all causes", study.trend)
    for key, (cause, trend) in named((cause, (cause, t)) for cause, t in study.cause_trends):
        _trend(sheet, f"trend.{key}", cause, trend)
    for y in study.years:
        failures = sheet.found(
            f"year.{y.year}.failures", f"{y.year}: failures", y.failures, Kind.COUNT, _REGISTER, []
        )
        watched = sheet.found(
            f"year.{y.year}.watched",
            f"{y.year}: joint-years watched",
            y.watched,
            Kind.RATIO,
            "days of every joint in that year, over 365.25",
            [],
        )
        if y.watched > 0:
            sheet.found(
                f"year.{y.year}.rate",
                f"{y.year}: failures per joint and year",
                y.failures / y.watched,
                Kind.RATIO,
                "failures over joint-years",
                [failures, watched],
            )
        if math.isfinite(y.cost):
            sheet.found(
                f"year.{y.year}.cost",
                f"{y.year}: cost of the failures",
                y.cost,
                Kind.RATIO,
                "time stood x cost of standing + cost of a failure each; a "
                "time not known as the mean of its cause",
                [failures],
                "expectation",
            )


def _trend(sheet: Worksheet, key: str, name: str, trend: Trend) -> None:
    parts = []
    for word, label, value in (
        ("lately", "in the last year", trend.lately),
        ("before", "before it", trend.before),
    ):
        if math.isfinite(value):
            parts.append(
                sheet.found(
                    f"{key}.{word}",
                    f"{name}: failures per joint and year {label}",
                    value,
                    Kind.RATIO,
                    "failures over joint-years watched",
                    [],
                )
            )
    if math.isfinite(trend.chance):
        sheet.found(
            f"{key}.chance",
            f"{name}: chance that a difference as large comes up by chance",
            trend.chance,
            Kind.SHARE,
            chance_of_difference.text,
            parts,
            "two-counts",
        )
