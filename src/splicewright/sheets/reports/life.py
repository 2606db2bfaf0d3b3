"""How long joints last, and which fails next."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial

from splicewright.history.life.limits import Limits
from splicewright.history.life.study import FEWEST_TO_PROVE, NAMED, Group, LifeStudy, Outlook
from splicewright.history.pace import Pace
from splicewright.history.wear.study import NOT_ENOUGH
from splicewright.quantities import System, percent, show
from splicewright.sheets.canvas.chart import PHONE
from splicewright.sheets.drawings.life import life_diagram
from splicewright.sheets.pages.document import Diagram, Document, KeyNumber, Section, as_sentence
from splicewright.sheets.words.amounts import counts_words
from splicewright.sheets.words.dates import by_day, by_days, pace_words, pairs

_GROUP_HEAD = ("failed", "with the others", "limits", "alone", "all as one")
LIFE_CAUTION = (
    "A joint that was renewed counts as new. After a change of material, speed or "
    "crew the forecast no longer applies."
)
_CAUTIONS = (
    "A joint that was renewed counts as new. Joints of one record are taken to live under alike "
    "duty; a new material, speed or crew makes the forecast void.",
    "Joints taken out good count as good to that age. Failures found at an inspection count as "
    "failed at some time since the inspection before.",
    "Forecasts serve to plan inspections and stock. They do not "
    "clear a joint for service; only an inspection does that.",
)


def life_report(study: LifeStudy, system: System = "metric") -> Document:
    """How long they last, by kind and conveyor, and which fails next."""
    drawn: tuple[Diagram, ...] = ()
    if study.failures:
        draw = partial(life_diagram, study, system)
        says = "Share of joints still good over age"
        drawn = (Diagram("life", draw, partial(draw, PHONE), says, ((940, 580), (360, 460))),)
    believed = (study.belief,) if study.groups or study.outlooks else ()
    dates = as_sentence(pace_words(study.pace, study.measure.kind, system))
    of = f", {study.cause} only" if study.cause else ""
    return Document(
        "Life report",
        study.name,
        f"{study.number} joints by {study.measure.value}{of}; {percent(study.confidence)} limits.",
        tuple(as_sentence(line) for line in life_answer(study, system)),
        _numbers(study, system),
        (
            Section("Share still good", (*life_words(study), dates), drawn),
            *life_tables(study, system),
        ),
        tuple(dict.fromkeys((*study.notes, *believed))),
        _CAUTIONS,
        study.invented,
    )


def _numbers(study: LifeStudy, system: System) -> tuple[KeyNumber, ...]:
    if not study.settled:
        return ()
    s, use = study.settled, study.measure.kind
    low, high = s.shape.low, s.shape.high
    shape = f"{low:.2f} to {'no upper limit' if math.isinf(high) else f'{high:.2f}'}"

    def aged(name: str, age: float, limits: Limits) -> KeyNumber:
        day = by_day(study.pace, age).strip(" ()")
        span = span_of(limits, study, system, study.pace)
        return KeyNumber(name, show(age, use, system), f"{day}; {span}" if day else span)

    return (
        aged("one in ten failed by", s.tenth, s.tenth_limits),
        aged("half failed by", s.half, s.half_limits),
        aged("mean life", s.law.mean, s.mean_limits),
        KeyNumber("shape", f"{s.law.shape:.2f}", shape),
        aged("63 % failed by (scale)", s.law.scale, s.scale),
        KeyNumber("failed / joints", f"{study.failures} / {study.number}", "the rest still good"),
    )


def life_answer(study: LifeStudy, system: System = "metric") -> list[str]:
    """The answer in words, first line first."""

    def use(value: float) -> str:
        return show(value, study.measure.kind, system)

    lines = [f"{study.failures} of {study.number} joints failed."]
    if study.settled:
        s = study.settled
        lines.insert(
            0,
            f"One joint in ten fails by {use(s.tenth)} ({span_of(s.tenth_limits, study, system)})",
        )
    else:
        lines.insert(
            0, f"{NOT_ENOUGH.capitalize()} how long joints live: the lives {study.why_not}"
        )
        if study.at_least:
            bound = study.at_least
            lines.append(
                f"If the shape is {bound.shape:g} (assumed), nine in ten live at least "
                f"{use(bound.age_at(0.1))}{by_day(study.pace, bound.age_at(0.1))}, with "
                f"{percent(study.confidence)} confidence."
            )
    if study.settled and study.pace is not None:
        ends = study.settled.tenth_limits
        ages = (study.settled.tenth, ends.low, ends.high)
        first, *others = (by_day(study.pace, age).strip(" ()") for age in ages)
        if first:
            low, high = (day or "no date" for day in others)
            lines.insert(
                1,
                f"A joint put to work today, {study.pace.today}, comes to that age by {first} "
                f"({low} to {high}).",
            )
    if study.outlooks:
        lines.append(
            f"Within the next {use(study.further)}{by_day(study.pace, study.further)}, "
            f"{study.expected:.1f} of the "
            f"{study.running} running joints are expected to fail"
            f"{counts_words(study.counts)}."
        )
    if study.settled:
        law, (median, spread) = study.settled.law, study.settled.lognormal
        shape = study.settled.shape
        lines.append(
            f"Weibull law: shape {law.shape:.3g} ({shape.low:.3g} to {shape.high:.3g}), scale "
            f"{use(law.scale)} ({span_of(study.settled.scale, study, system)}). Lognormal law, "
            f"most likely: median {use(median)}, standard deviation of ln age {spread:.3g}."
        )
    return lines


def life_words(study: LifeStudy) -> list[str]:
    """What the lives say about shape and fit, in words."""
    lines = []
    if study.settled:
        shape = study.settled.shape
        if shape.low > 1 and study.failures < FEWEST_TO_PROVE:
            lines.append("The failures look like wear-out; so few cannot prove it.")
        elif shape.low > 1:
            lines.append("Joints wear out: the chance of failing grows with age.")
        elif shape.high < 1:
            lines.append("Young joints fail most: check how they are made.")
        else:
            lines.append(f"Wear-out or pure chance: {NOT_ENOUGH}.")
        lines += [
            as_sentence(s)
            for s in (
                study.settled.bias,
                study.settled.held,
                study.settled.laws,
                study.settled.fit,
            )
            if s
        ]
    if study.causes:
        lines.append("Causes: " + ", ".join(f"{name} {n}" for name, n in study.causes) + ".")
        if len(study.causes) > 1 and not study.cause:
            lines.append("All causes count alike here: ask for one cause to see its own law.")
    return lines


def life_tables(study: LifeStudy, system: System = "metric") -> list[Section]:
    """Groups, kinds and running joints, each as a table or in words."""

    def use(value: float) -> str:
        return show(value, study.measure.kind, system)

    sections = []
    if study.groups:
        rows = [_group_row(g, study, system) for g in study.groups]
        sections.append(
            Section(
                f"By {study.groups_by}: age by which one in ten has failed",
                _new_today(study),
                head=(study.groups_by, *_GROUP_HEAD),
                table=tuple(rows),
            )
        )
    if study.comparisons:
        points = [
            f"{c.first} and {c.second}: "
            + (
                c.result.sentence.replace("the second kind", c.second)
                if c.result
                else f"{NOT_ENOUGH}: their lives {c.why_not}"
            )
            + "."
            for c in study.comparisons
        ]
        sections.append(Section("Kinds compared", tuple(points)))
    if study.outlooks:
        rows = [_outlook_row(same, study, use) for same in alike_outlooks(study)]
        left = study.running - sum(o.record.count for o in study.outlooks[:NAMED])
        more = (f"{left} further joints run; they are less likely to fail.",) if left > 0 else ()
        sections.append(
            Section(
                "Joints now running, most likely to fail first",
                more,
                head=(
                    "joint",
                    "age",
                    f"fails within {use(study.further)}",
                    "half fail within",
                    "its range",
                ),
                table=tuple(rows),
            )
        )
    return sections


def alike_outlooks(study: LifeStudy) -> list[list[Outlook]]:
    """Those of the running joints that are printed, joints of one age and one forecast together."""
    groups: dict[tuple[float, float, str], list[Outlook]] = {}
    for one in study.outlooks[:NAMED]:
        by = str(study.day(one.record, one.half_left) or "")
        groups.setdefault((one.record.life.good, one.chance, by), []).append(one)
    return list(groups.values())


def outlook_name(same: list[Outlook]) -> str:
    """Name of a joint, or of several that are alike."""
    names = list(dict.fromkeys(o.record.life.joint for o in same))
    number = sum(o.record.count for o in same)
    if number == 1:
        return names[0]
    if len(names) == 1:
        return f"{names[0]} ({number} joints)"
    return f"{names[0]} and {number - 1} alike"


def chance_words(one: Outlook) -> str:
    """Chance of failing and its range."""
    span = one.chance_range
    return percent(one.chance) + (f" ({percent(span.low)} to {percent(span.high)})" if span else "")


def _outlook_row(
    same: list[Outlook], study: LifeStudy, use: Callable[[float], str]
) -> tuple[str, ...]:
    one = same[0]
    span = one.half_range
    return (
        outlook_name(same),
        use(one.record.life.good),
        chance_words(one),
        _with_day(study, one, one.half_left, use),
        " to ".join(_with_day(study, one, end, use) for end in (span.low, span.high))
        if span
        else NOT_ENOUGH,
    )


def _with_day(study: LifeStudy, one: Outlook, further: float, use: Callable[[float], str]) -> str:
    """Further use of a joint, and the day on which it has run so much more."""
    day = study.day(one.record, further)
    return use(further) + by_days(day, day)


def _new_today(study: LifeStudy) -> tuple[str, ...]:
    """What the dates beside ages count from; none where there are none."""
    if study.pace is None:
        return ()
    return (f"Dates in brackets: of a joint put to work today, {study.pace.today}.",)


def _group_row(group: Group, study: LifeStudy, system: System) -> tuple[str, ...]:
    def use(value: float) -> str:
        return NOT_ENOUGH if math.isnan(value) else show(value, study.measure.kind, system)

    return (
        group.name,
        f"{group.failures} of {group.number}",
        use(group.tenth) + by_day(group.pace, group.tenth),
        span_of(group.tenth_limits, study, system, group.pace),
        use(group.alone),
        use(group.together),
    )


def span_of(limits: Limits, study: LifeStudy, system: System, pace: Pace | None = None) -> str:
    """Limits of a use in the shown unit, with dates where the pace is given."""
    kind = study.measure.kind
    if math.isinf(limits.high):
        return f"{show(limits.low, kind, system)}{by_day(pace, limits.low)} or more; no upper limit"
    return pairs(pace, (limits.low, limits.high), kind, system)
