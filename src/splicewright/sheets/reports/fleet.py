"""The fleet: what is due, worst first, and why; its table for the spreadsheet."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import partial

from splicewright.history.fleet.outlook import ConveyorOutlook
from splicewright.history.fleet.study import FleetLine, FleetStudy
from splicewright.history.fleet.urgency import Urgency
from splicewright.quantities import System, show, show_time
from splicewright.sheets.canvas.chart import PHONE
from splicewright.sheets.drawings.fleet import fleet_chances, fleet_years
from splicewright.sheets.pages.document import (
    Diagram,
    Document,
    KeyNumber,
    Point,
    Section,
    Tone,
    as_sentence,
)
from splicewright.sheets.words.amounts import counts_words, money
from splicewright.sheets.words.dates import by_day, pairs

FLEET_HEAD = (
    "urgency",
    "what",
    "conveyor",
    "site",
    "chance of failing before the stop",
    "at least",
    "at most",
    "has run",
    "half of joints this old fail within",
    "half of joints this old fail by",
    "not before",
    "not after",
    "due",
    "why",
)
NAMED = 30
"""Lines and conveyors that are printed; the spreadsheet holds all."""
_CAUTIONS = (
    "A forecast does not permit the joint to run: inspect it, and let the responsible person "
    "decide that. What must not run stands first whatever its chance.",
    "Joints of one conveyor are taken to live under alike duty; conveyors borrow from each other "
    "where failures are few. After a change of material, speed or crew the forecast no longer "
    "applies.",
    "Only recorded facts are counted: the list is as complete as the register.",
)
TONES: dict[Urgency, Tone] = {
    Urgency.NOW: "bad",
    Urgency.OVERDUE: "bad",
    Urgency.STOP: "warn",
    Urgency.LATER: "",
}
"""How the urgency of a line is shown; its word tells it."""


def fleet_report(study: FleetStudy, system: System = "metric") -> Document:
    """What is due, where it will fail, what failed so far and why."""
    first = study.lines[0].urgency if study.lines else None
    further = len(study.left_out) - NAMED
    beliefs = (study.belief,) if study.belief and (study.conveyors or study.kinds) else ()
    rests = tuple(dict.fromkeys((*study.assumed, *beliefs, *study.left_out[:NAMED])))
    return Document(
        "Fleet",
        study.name,
        f"As recorded by {study.today}; ages in {study.measure.value}.",
        tuple(fleet_answer(study, system)),
        (
            KeyNumber(
                "most urgent",
                str(study.number(first)) if first else "0",
                str(first) if first else "nothing on file",
            ),
            KeyNumber(
                "expected to fail",
                "not known" if study.why_not else f"{study.expected:.1f}",
                f"of {study.running} running, before {study.until}{counts_words(study.counts)}",
            ),
            KeyNumber(
                "stops so far",
                str(sum(c.number for c in study.causes if c.failed)),
                _by_failures(study),
            ),
        ),
        tuple(_sections(study, system)),
        (*rests, f"{further} further facts could not be used") if further > 0 else rests,
        _CAUTIONS,
        study.invented,
    )


def _by_failures(study: FleetStudy) -> str:
    lately = [c.lately for c in study.causes if c.failed]
    known = [n for n in lately if n is not None]
    return f"by failures, {sum(known)} in the last year" if known == lately else "by failures"


def fleet_answer(study: FleetStudy, system: System = "metric") -> list[str]:
    """The answer in words, first line first."""
    now, late, stop = (study.number(u) for u in (Urgency.NOW, Urgency.OVERDUE, Urgency.STOP))
    lines = [f"{now} now, {late} overdue, {stop} more before the next planned stop, {study.until}."]
    if study.why_not:
        lines.append(f"Chances: not enough data to say: {study.why_not}.")
        if math.isfinite(study.at_least):
            bound = show(study.at_least, study.measure.kind, system)
            lines.append(
                f"If the shape is 2 (assumed), nine joints in ten live at least {bound}, with 90 % "
                "confidence."
            )
    else:
        lines.append(
            f"{study.expected:.1f} of {study.running} running joints are expected to fail by then"
            f"{counts_words(study.counts)}: {100 * study.none_fails:.0f} % chance of no failure."
        )
        if math.isfinite(study.failure_cost):
            lines.append(f"Expected cost of those failures: {fleet_cost_words(study)}.")
    return lines


def fleet_cost_words(study: FleetStudy) -> str:
    """Expected cost of the failures before the stop, and its range."""
    cost = money(study.expected_cost)
    if study.counts is None:
        return cost
    low, high = (money(n * study.failure_cost) for n in (study.counts.low, study.counts.high))
    return f"{cost} ({low} to {high} nine times in ten)"


def _sections(study: FleetStudy, system: System) -> Iterator[Section]:
    """List, conveyors, causes and trend."""
    shown = [line for line in study.lines if line.urgency is not Urgency.LATER][:NAMED]
    shown = shown or list(study.lines[:10])
    rest = study.all_lines - len(shown)
    there = "are in the whole list, fleet.xlsx" if study.numbers is None else "are counted"
    notes = [f"{rest} more lines {there}."] if rest > 0 else []
    if not shown:
        notes = ["No joint is in a belt, and no damage or worn place is on file."]
    worst = tuple(_point(line, system) for line in shown)
    yield Section("Worst first", tuple(notes), listed=worst)
    if study.expected > 0:
        drawn = (Diagram("fleet-chances", partial(fleet_chances, study)),)
        yield Section("Most likely to fail", diagrams=drawn)
    for groups, title, head in (
        (study.conveyors, "Conveyors", "conveyor"),
        (study.kinds, "Kinds of joint", "kind"),
    ):
        if groups:
            yield Section(
                f"{title}, most failures expected first",
                _new_today(groups, study),
                head=_group_head(head, study),
                table=tuple(_group_cells(c, study, system) for c in groups[:NAMED]),
                paths=tuple(f"/conveyors/{c.id}/forecast" if c.id else "" for c in groups[:NAMED]),
            )
    if study.causes:
        yield _causes(study)
    if study.years:
        yield _years(study)


def _causes(study: FleetStudy) -> Section:
    rows = tuple(
        (
            c.cause if c.failed else f"{c.cause} (planned)",
            str(c.number),
            "not counted" if c.lately is None else str(c.lately),
            f"{show_time(c.stood)} ({c.known} known)" if c.known else "not known",
            money(c.cost) if math.isfinite(c.cost) else "not known",
        )
        for c in study.causes
    )
    points = (as_sentence(study.trend.sentence), *_cause_trends(study))
    head = ("cause", "number", "last year", "stood", "cost")
    return Section("Past stops, by cause", points, head=head, table=rows)


def _years(study: FleetStudy) -> Section:
    rows = tuple(
        (
            str(y.year),
            str(y.failures),
            f"{y.watched:.1f}",
            f"{y.failures / y.watched:.2g}" if y.watched > 0.5 else "not enough data",
            money(y.cost) if math.isfinite(y.cost) else "not known",
        )
        for y in study.years[-12:]
    )
    drawn: tuple[Diagram, ...] = ()
    if any(y.failures for y in study.years):
        draw = partial(fleet_years, study)
        says = "Failures by year and cause; the table tells the same"
        box = ((900, 460), (360, 400))
        drawn = (Diagram("fleet-years", draw, partial(draw, PHONE), says, box),)
    head = ("year", "failures", "joint-years watched", "per joint and year", "cost")
    return Section("Failures by year", diagrams=drawn, head=head, table=rows)


def _point(line: FleetLine, system: System) -> Point:
    name, why = f"{line.conveyor}, {line_name(line)}", line_reasons(line, system)
    return Point(name, why, line_path(line), line.urgency.value, TONES[line.urgency])


def line_path(line: FleetLine) -> str:
    """The page that a line is about."""
    if line.job:
        return f"/jobs/{line.job}"
    return f"/joints/{line.id}" if line.joint else f"/conveyors/{line.id}/forecast"


def _cause_trends(study: FleetStudy) -> list[str]:
    """Whether each cause comes oftener; none where there is but one, or nothing to compare."""
    if len(study.cause_trends) < 2:
        return []
    return [
        as_sentence(f"{cause}: {trend.sentence}")
        for cause, trend in study.cause_trends
        if math.isfinite(trend.chance)
    ]


def fleet_rows(study: FleetStudy, system: System = "metric") -> Iterator[Sequence[str]]:
    """Every line as cells under `FLEET_HEAD`."""
    kind = study.measure.kind
    for line in study.lines:
        yield (
            line.urgency.value,
            line_name(line),
            line.conveyor,
            line.site,
            f"{line.chance:.4f}" if math.isfinite(line.chance) else "",
            f"{line.chance_range.low:.4f}" if line.chance_range else "",
            f"{line.chance_range.high:.4f}" if line.chance_range else "",
            show(line.age, kind, system) if math.isfinite(line.age) else "",
            show(line.half_left, kind, system) if math.isfinite(line.half_left) else "",
            *(d.isoformat() if d else "" for d in (line.half_by, *line.half_range)),
            line.due.isoformat() if line.due else "",
            "; ".join(r.say(system) for r in line.reasons),
        )


def line_reasons(line: FleetLine, system: System = "metric") -> str:
    """Why a line stands where it stands, as one sentence."""
    return as_sentence("; ".join(r.say(system) for r in line.reasons) or "nothing is due")


def line_name(line: FleetLine) -> str:
    """What a line is about."""
    return f"joint {line.what}" if line.joint else line.what


def _new_today(groups: Sequence[ConveyorOutlook], study: FleetStudy) -> tuple[str, ...]:
    """What the dates beside ages count from; none where there are none."""
    if not any(c.pace is not None for c in groups):
        return ()
    return (f"Dates in brackets: of a joint put to work today, {study.today}.",)


def _group_head(name: str, study: FleetStudy) -> tuple[str, ...]:
    """Head of the table of conveyors, or of kinds of joint."""
    return (
        name,
        "running",
        "failed so far",
        f"expected by {study.until}",
        "nine times in ten",
        "one in ten fails by",
        "its range",
    )


def _group_cells(c: ConveyorOutlook, study: FleetStudy, system: System) -> tuple[str, ...]:
    """A conveyor, or a kind of joint, as cells under `_group_head`."""
    known, kind = math.isfinite(c.tenth), study.measure.kind
    return (
        c.conveyor,
        str(c.running),
        str(c.failures),
        f"{c.expected:.2f}" if math.isfinite(c.expected) else "not known",
        f"{c.counts.low:.0f} to {c.counts.high:.0f}" if c.counts else "not known",
        f"{show(c.tenth, kind, system)}{by_day(c.pace, c.tenth)}" if known else "not known",
        pairs(c.pace, (c.tenth_range.low, c.tenth_range.high), kind, system)
        if known and c.tenth_range
        else "not known",
    )
