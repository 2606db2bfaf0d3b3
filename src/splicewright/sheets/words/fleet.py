"""The words and tables of the fleet: the same on paper, on the screen and in the spreadsheet."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from splicewright.history.fleet.outlook import ConveyorOutlook
from splicewright.history.fleet.study import FleetLine, FleetStudy
from splicewright.history.fleet.urgency import Urgency
from splicewright.history.life.limits import Limits
from splicewright.quantities import System, show, show_time
from splicewright.sheets.pages.section import Section, as_sentence, under_titles
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


def counts_words(counts: Limits | None) -> str:
    """Range of a number of failures, to go on a sentence with; empty where not known."""
    if counts is None:
        return ""
    if counts.low == counts.high:
        return f", {counts.low:.0f} nine times in ten"
    return f", {counts.low:.0f} to {counts.high:.0f} nine times in ten"


def fleet_cost_words(study: FleetStudy) -> str:
    """Expected cost of the failures before the stop, and its range."""
    cost = money(study.expected_cost)
    if study.counts is None:
        return cost
    low, high = (money(n * study.failure_cost) for n in (study.counts.low, study.counts.high))
    return f"{cost} ({low} to {high} nine times in ten)"


def fleet_sections(study: FleetStudy, system: System = "metric") -> list[Section]:
    """List, conveyors, causes and trend, assumptions."""
    shown = [line for line in study.lines if line.urgency is not Urgency.LATER][:NAMED]
    shown = shown or list(study.lines[:10])
    rest = study.all_lines - len(shown)
    there = "are in fleet.xlsx" if study.numbers is None else "are counted"
    notes = [f"{rest} more lines {there}."] if rest > 0 else []
    sections = [
        Section(
            "Worst first",
            tuple(f"{n}. {_line(line, study, system)}" for n, line in enumerate(shown, 1))
            + tuple(notes),
        )
    ]
    for groups, title, head in (
        (study.conveyors, "Conveyors", "conveyor"),
        (study.kinds, "Kinds of joint", "kind"),
    ):
        if groups:
            sections.append(
                Section(
                    f"{title}, most failures expected first",
                    tuple(as_sentence(s) for s in (study.belief, new_today(groups, study)) if s),
                    head=group_head(head, study),
                    table=tuple(group_cells(c, study, system) for c in groups[:NAMED]),
                )
            )
    if study.causes:
        sections.append(
            Section(
                "Past stops, by cause",
                (as_sentence(study.trend.sentence), *cause_trend_words(study)),
                head=("cause", "number", "last year", "stood, known of", "cost"),
                table=tuple(
                    (
                        c.cause if c.failed else f"{c.cause} (planned)",
                        str(c.number),
                        "not counted" if c.lately is None else str(c.lately),
                        f"{show_time(c.stood)}, {c.known}" if c.known else "not known",
                        money(c.cost) if math.isfinite(c.cost) else "not known",
                    )
                    for c in study.causes
                ),
            )
        )
    if study.years:
        sections.append(
            Section(
                "Failures by year",
                (),
                head=("year", "failures", "joint-years watched", "per joint and year", "cost"),
                table=tuple(
                    (
                        str(y.year),
                        str(y.failures),
                        f"{y.watched:.1f}",
                        f"{y.failures / y.watched:.2g}" if y.watched > 0.5 else "not enough data",
                        money(y.cost) if math.isfinite(y.cost) else "not known",
                    )
                    for y in study.years[-12:]
                ),
            )
        )
    points = [as_sentence(s) for s in study.assumed]
    points += [as_sentence(s) for s in study.left_out[:NAMED]]
    if len(study.left_out) > NAMED:
        points.append(f"{len(study.left_out) - NAMED} further facts could not be used.")
    if points:
        sections.append(Section("What this rests on", tuple(points)))
    return sections


def cause_trend_words(study: FleetStudy) -> list[str]:
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
            _what(line),
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


def _what(line: FleetLine) -> str:
    return f"joint {line.what}" if line.joint else line.what


def _line(line: FleetLine, study: FleetStudy, system: System) -> str:
    return f"{line.conveyor}, {_what(line)} ({line.urgency}): {line_reasons(line, system)}"


def new_today(groups: Sequence[ConveyorOutlook], study: FleetStudy) -> str:
    """What the dates beside ages count from; empty where there are none."""
    if not any(c.pace is not None for c in groups):
        return ""
    return f"dates in brackets: of a joint put to work today, {study.today}"


def group_head(name: str, study: FleetStudy) -> tuple[str, ...]:
    """Head of the table of conveyors, or of kinds of joint."""
    return (
        name,
        "running",
        "failed so far",
        f"expected by {study.until}",
        "nine times in ten",
        "one in ten fails by",
        "which lies in",
    )


def group_cells(c: ConveyorOutlook, study: FleetStudy, system: System) -> tuple[str, ...]:
    """A conveyor, or a kind of joint, as cells under `group_head`."""
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


def money(value: float) -> str:
    """An amount to three digits, without a currency."""
    return f"{float(f'{value:.3g}'):,.0f}".replace(",", " ")


def fleet_lines(study: FleetStudy, system: System = "metric") -> list[str]:
    """The answer, and every section under its title."""
    return [
        f"{study.name}, {study.today}: ages in {study.measure.value}",
        *fleet_answer(study, system),
        *under_titles(fleet_sections(study, system)),
    ]
