"""The words of the reports on wear and life: the same on paper and on the screen."""

from __future__ import annotations

import math
from dataclasses import dataclass

from splicewright.history import Limits
from splicewright.history.life_study import NAMED, Group, LifeStudy
from splicewright.history.wear_study import NOT_ENOUGH, PlaceWear
from splicewright.quantities import Kind, System, show


@dataclass(frozen=True, slots=True)
class Section:
    """One part of a report: title, then drawings, a table, and points in words."""

    title: str
    points: tuple[str, ...] = ()
    drawings: tuple[str, ...] = ()
    head: tuple[str, ...] = ()
    table: tuple[tuple[str, ...], ...] = ()

    def lines(self) -> list[str]:
        """Table and points as plain text, columns lined up."""
        rows = [self.head, *self.table] if self.table else []
        wide = [max(len(row[k]) for row in rows) for k in range(len(self.head))] if rows else []
        told = [
            "  ".join(
                cell.rjust(w) if k else cell.ljust(w)
                for k, (cell, w) in enumerate(zip(row, wide, strict=True))
            ).rstrip()
            for row in rows
        ]
        return [*told, *self.points]


def life_answer(study: LifeStudy, system: System = "metric") -> list[str]:
    """The answer in words, first line first."""

    def use(value: float) -> str:
        return show(value, study.measure.kind, system)

    said = [f"{study.failures} of {study.number} joints failed."]
    if study.settled:
        s = study.settled
        said.insert(
            0,
            f"One joint in ten fails by {use(s.tenth)} ({span_of(s.tenth_limits, study, system)})",
        )
    else:
        said.insert(0, f"{NOT_ENOUGH.capitalize()} how long joints live: the lives {study.why_not}")
        if study.at_least:
            bound = study.at_least
            said.append(
                f"If the shape is {bound.shape:g} (assumed), nine in ten live at least "
                f"{use(bound.age_at(0.1))}, with {study.confidence:.0%} confidence."
            )
    if study.outlooks:
        said.append(
            f"Within the next {use(study.further)}, {study.expected:.1f} of the "
            f"{len(study.outlooks)} running joints are expected to fail."
        )
    return said


def life_words(study: LifeStudy) -> list[str]:
    """What the lives say about shape and fit, in words."""
    said = []
    if study.settled:
        shape = study.settled.shape
        if shape.low > 1:
            said.append("Joints wear out: the chance of failing grows with age.")
        elif shape.high < 1:
            said.append("Young joints fail most: look at how they are made.")
        else:
            said.append(f"Wear-out or pure chance: {NOT_ENOUGH}.")
        said += [as_sentence(s) for s in
                 (study.settled.bias, study.settled.laws, study.settled.fit) if s]  # fmt: skip
    if study.causes:
        said.append("Causes: " + ", ".join(f"{name} {n}" for name, n in study.causes) + ".")
    return said


def life_tables(study: LifeStudy, system: System = "metric") -> list[Section]:
    """Groups, kinds and running joints, each as a table or in words."""

    def use(value: float) -> str:
        return show(value, study.measure.kind, system)

    sections = []
    if study.groups:
        rows = [_group_row(g, study, system) for g in study.groups]
        sections.append(Section(
            f"By {study.groups_by}: age by which one in ten has failed", (_belief(study),),
            head=("", "failed", "leaning on the others", "limits", "alone", "all as one"),
            table=tuple(rows),
        ))  # fmt: skip
    if study.comparisons:
        said = [
            f"{c.first} and {c.second}: "
            + (
                c.result.sentence.replace("the second kind", c.second)
                if c.result
                else f"{NOT_ENOUGH}: their lives {c.why_not}"
            )
            + "."
            for c in study.comparisons
        ]
        sections.append(Section("Kinds beside each other", tuple(said)))
    if study.outlooks:
        rows = [
            (
                o.record.life.joint,
                use(o.record.life.good),
                f"{o.chance:.0%}",
                use(o.half_left),
            )
            for o in study.outlooks[:NAMED]
        ]
        left = len(study.outlooks) - NAMED
        more = (f"{left} further joints run; they are less likely to fail.",) if left > 0 else ()
        sections.append(Section(
            "Joints now running, most likely to fail first", (*more, _belief(study)),
            head=("joint", "age", f"fails within {use(study.further)}", "half fail within"),
            table=tuple(rows),
        ))  # fmt: skip
    return sections


def _belief(study: LifeStudy) -> str:
    return as_sentence(study.belief)


def _group_row(group: Group, study: LifeStudy, system: System) -> tuple[str, ...]:
    def use(value: float) -> str:
        return NOT_ENOUGH if math.isnan(value) else show(value, study.measure.kind, system)

    return (
        group.name, f"{group.failures} of {group.number}", use(group.tenth),
        span_of(group.tenth_limits, study, system), use(group.alone), use(group.together),
    )  # fmt: skip


def place_words(place: PlaceWear, system: System) -> tuple[str, ...]:
    """What the readings of one place say."""
    forecast = place.forecast
    kind = forecast.measure.kind
    said = [as_sentence(place.answer.say(system))]
    if place.dates and place.enough and not forecast.met:
        early, likely, late = (date_of(place, w) for w in ("earliest", "likely", "latest"))
        said.append(f"Dates: likely {likely}, between {early} and {late}.")
    elif place.no_dates:
        said.append(f"No dates: {place.no_dates}.")
    if forecast.line is not None and forecast.line.freedom > 1e-9:
        spread = show(forecast.line.spread, Kind.LENGTH, system)
        said.append(f"Readings scatter by {spread} about the line (one standard deviation).")
    said += [
        f"Far off and counted less: {w.reading.label} at {show(w.reading.use, kind, system)} read "
        f"{show(w.reading.value, Kind.LENGTH, system)}, the line gives "
        f"{show(w.expected, Kind.LENGTH, system)}."
        for w in forecast.wild
    ]
    said += course_words(place, system)
    return tuple(said)


def course_words(place: PlaceWear, system: System) -> list[str]:
    """Line, levelling off or speeding up, and dates by the one not in the answer."""
    if place.course is None:
        return []
    said = [as_sentence(place.course.say(system))]
    found = place.other_dates
    if found is not None and found.likely is not None:
        latest = found.latest or "no latest date"
        by = "line" if place.forecast.by_curve else "curve"
        said.append(f"Dates by the {by}: likely {found.likely}, {found.earliest} to {latest}.")
    return said


def date_of(place: PlaceWear, which: str) -> str:
    """One of the dates of a place, or why there is none."""
    if place.dates is None:
        return f"no date: {place.no_dates}"
    found = getattr(place.dates, which)
    return str(found) if found else "no date"


def span_of(limits: Limits, study: LifeStudy, system: System) -> str:
    """Limits of a use in the shown unit."""
    kind = study.measure.kind
    if math.isinf(limits.high):
        return f"{show(limits.low, kind, system)} or more; no upper limit"
    return f"{show(limits.low, kind, system)} to {show(limits.high, kind, system)}"


def as_sentence(words: str) -> str:
    """Words with a capital in front and a full stop behind."""
    return words[0].upper() + words[1:] + "."
