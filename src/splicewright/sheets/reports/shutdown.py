"""Whether the work of a shutdown fits its window, and which joints to renew in it."""

from __future__ import annotations

import math
from datetime import timedelta
from functools import partial

from splicewright.history.shutdown.joint_choice import Choice
from splicewright.history.shutdown.joint_choice_by_schedule import Renewals
from splicewright.history.shutdown.joint_choice_study import TOLD, ChoosingStudy
from splicewright.history.shutdown.study import Shutdown, ShutdownStudy
from splicewright.quantities import percent, show_time
from splicewright.sheets.drawings.shutdown import (
    SHEET_ROWS,
    shutdown_bars,
    shutdown_strip,
    shutdown_text,
)
from splicewright.sheets.pages.document import (
    COST_CAUTIONS,
    Diagram,
    Document,
    KeyNumber,
    Point,
    Section,
    sentences,
)
from splicewright.sheets.reports.life import LIFE_CAUTION
from splicewright.sheets.words.amounts import money

_CAUTIONS = (
    "Isolation, proving dead and hold points take the time they take: they are no place to catch "
    "up. Stop and replan rather than hurry.",
    "Times are ranges, as stated or as past jobs took; both laws they may be drawn from are shown, "
    "for the choice moves the answer.",
    "A greedy crew may take longer with more people: nothing is promised to get better.",
)


_LETTERS = "# often delays the finish, = other task, - until nine times in ten, | end of the window"


def shutdown_report(study: ShutdownStudy) -> Document:
    """Whether the work fits, what delays it, what more buys, and its bars."""
    asked = study.shutdown
    crew = ", ".join(f"{n} {who}" for who, n in asked.crew.items())
    return Document(
        "Shutdown",
        asked.name,
        f"{len(asked.tasks)} tasks, {crew}; {asked.runs} simulated runs.",
        sentences(shutdown_words(study)),
        (
            KeyNumber(
                "done within the window",
                percent(study.chance.share),
                f"window {show_time(asked.window)}",
            ),
            KeyNumber("half of all runs end by", show_time(study.half), "simulated"),
            KeyNumber("nine in ten end by", show_time(study.nine_tenths), "simulated"),
        ),
        _schedule("Plan at likely times", study, "shutdown"),
        asked.notes,
        _CAUTIONS,
        asked.invented,
    )


def choice_report(study: ChoosingStudy) -> Document:
    """Which joints to renew and why, and the bars of their work."""
    asked, stated = study.asked, study.advice.stated
    sections = [Section("Joints and why", listed=tuple(_choices(study)))]
    if study.schedule is not None:
        sections += _schedule("The chosen joints in the window", study.schedule, "choice")
    return Document(
        "Joints to renew",
        asked.name,
        f"{asked.people} people for {show_time(asked.window)}, {asked.gang} at a joint.",
        sentences(choice_words(study)),
        (
            KeyNumber("renew", str(len(stated.renew)), f"of {len(asked.candidates)} joints"),
            KeyNumber(
                "expected cost",
                _cost(stated.cost, asked),
                f"instead of {_cost(stated.cost_if_none, asked)}",
            ),
            KeyNumber(
                "crew hours", f"{stated.hours / 3600:.0f} h", f"of {asked.crew_hours / 3600:.0f} h"
            ),
        ),
        tuple(sections),
        asked.notes,
        (*COST_CAUTIONS, LIFE_CAUTION, *_CAUTIONS),
        asked.invented,
    )


def _schedule(title: str, study: ShutdownStudy, name: str) -> tuple[Section, ...]:
    """The bars, the same as a table, what delays the finish and what more would save."""
    bars = Diagram(
        name,
        partial(shutdown_bars, study),
        partial(shutdown_strip, study),
        "Bars of the tasks; the table tells the same",
        None,
        tuple(
            partial(shutdown_bars, study, slice(begin, begin + SHEET_ROWS))
            for begin in range(0, len(study.bars), SHEET_ROWS)
        ),
        lambda: [*shutdown_text(study), _LETTERS],
    )
    rows = tuple(
        (
            bar.task,
            show_time(bar.start),
            show_time(bar.end),
            show_time(bar.late),
            percent(bar.critical),
        )
        for bar in study.bars
    )
    head = ("task", "begins", "ends", "nine times in ten done by", "delays the finish")
    held = tuple(f"{b.task}: in {percent(b.critical)} of the runs." for b in study.critical[:6])
    sections = [
        Section(title, diagrams=(bars,)),
        Section("The bars as a table", head=head, table=rows, at_hand=False),
        Section("What delays the finish", held),
    ]
    if study.bought:
        more = tuple(
            f"With {one.name}: {percent(one.gain.after.share)} within the window, "
            f"{show_time(one.gain.saved)} saved on average."
            for one in study.bought
        )
        sections.append(Section("What more people or tools would save", more))
    return tuple(sections)


def shutdown_words(study: ShutdownStudy) -> list[str]:
    """Whether the work fits; the first line is the answer."""
    asked, chance = study.shutdown, study.chance
    return [
        f"done within {show_time(asked.window)}{_clock(asked, asked.window)} "
        f"{_in_time(chance.share)} "
        f"(± {percent(2 * chance.error, 1)} by {asked.runs} runs)",
        f"half of all runs end by {show_time(study.half)}{_clock(asked, study.half)}, nine in "
        f"ten by {show_time(study.nine_tenths)}{_clock(asked, study.nine_tenths)}",
        f"longest path of mean times {show_time(study.path_mean)}; meeting branches add "
        f"{show_time(max(study.merge_bias, 0.0))}, crew and tools "
        f"{show_time(max(study.crew_wait, 0.0))}",
        f"times drawn by the {asked.law} law; by the {study.other_law} law the chance is "
        f"{_chance(study.other_chance.share)}",
        f"{_together(asked.common_cause)}",
    ]


def _clock(asked: Shutdown, after: float) -> str:
    """Day and time so long after the window begins; empty where it is not stated when it does."""
    if asked.begins is None:
        return ""
    return f" ({asked.begins + timedelta(seconds=after):%Y-%m-%d %H:%M})"


def choice_words(study: ChoosingStudy) -> list[str]:
    """Which joints to renew; the first line is the answer."""
    asked, stated = study.asked, study.advice.stated
    number, of = len(stated.renew), len(asked.candidates)
    on = f" on {asked.on}" if asked.on is not None else ""
    if not number:
        lines = [
            f"renew none of {of}{on}; none saves more than it costs and is done "
            f"within {show_time(asked.window)} with a chance of {percent(asked.chance)}"
        ]
    else:
        lines = [
            f"renew {number} of {of}{on}: expected cost "
            f"{_cost(stated.cost, asked)} instead of "
            f"{_cost(stated.cost_if_none, asked)}; done within {show_time(asked.window)} "
            f"{_in_time(stated.chance)} (asked for: {percent(asked.chance)})",
            f"saves {_cost(stated.saving, asked)}{_span(stated)}",
            f"{stated.hours / 3600:.0f} of {asked.crew_hours / 3600:.0f} crew hours; "
            + _overrun(asked),
        ]
        if stated.gap > 0.005:
            lines.append(
                "too many joints to weigh every set: a better one might save "
                f"{percent(stated.gap)} more at most"
            )
    if asked.until is not None:
        lines.append(f"what is left may fail before the shutdown on {asked.until}")
    lines.append(f"{_together(asked.common_cause)}")
    half, double = study.advice.half, study.advice.double
    lines.append(
        f"if a failure costs half: {_renewed(half, asked)}; if double: {_renewed(double, asked)}"
    )
    if study.advice.depends:
        lines.append(f"depends on that cost: {_named(study.advice.depends)}")
    elif number:
        lines.append("the same joints at half and at double the cost of a failure")
    lines.append(f"a second crew: {_more(study.crew_twice, stated, asked)}")
    if study.with_power is not None:
        lines.append(f"power tools: {_more(study.with_power, stated, asked)}")
    return lines


def _choices(study: ChoosingStudy) -> list[Point]:
    """Each joint chosen, then those left that would have gained, with the reason."""
    reasons = study.advice.reasons
    chosen = list(study.advice.stated.renew)
    near = [
        c.joint
        for c in sorted(study.asked.candidates, key=lambda c: -c.gain)
        if c.joint not in set(chosen)
    ]
    return [Point(joint, reasons[joint]) for joint in (*chosen, *near[:TOLD])]


def _cost(value: float, asked: Renewals) -> str:
    """A cost with its currency, where that is stated."""
    return f"{money(value)} {asked.currency}".strip()


def _in_time(share: float) -> str:
    """A share of simulated runs; no chance is as sure as a whole number says."""
    return f"with a chance of {_chance(share)}"


def _chance(share: float) -> str:
    return "over 99 %" if share >= 0.995 else "under 1 %" if share < 0.005 else percent(share)


def _together(common_cause: float) -> str:
    """What is taken of weather, access and crew."""
    if common_cause > 0:
        return (
            f"as asked, all work of a run is slowed or sped up together, scattering by "
            f"{percent(common_cause)} (weather, access, crew)"
        )
    return (
        "each task scatters by itself; where weather, access or a tired crew slow all work "
        "together, the end is later than told here"
    )


def _overrun(asked: Renewals) -> str:
    if math.isfinite(asked.overrun_cost):
        return f"an hour of overrun is counted at {_cost(3600 * asked.overrun_cost, asked)}"
    return "what is not done by the end of the window counts as paid for and saves nothing"


def _renewed(choice: Choice, asked: Renewals) -> str:
    number = len(choice.renew)
    saved = f"saves {_cost(choice.saving, asked)}{_span(choice)}"
    return f"{number} joint{'' if number == 1 else 's'}, {_cost(choice.cost, asked)}, {saved}"


def _span(choice: Choice) -> str:
    """Range of what a choice saves, to go on a number with; empty where it is not known."""
    if choice.span is None:
        return ""
    low, high = ("-" * (v < 0) + money(abs(v)) for v in (choice.span.low, choice.span.high))
    return f" ({low} to {high} nine times in ten)"


def _named(joints: tuple[str, ...]) -> str:
    more = f" and {len(joints) - 8} more" if len(joints) > 8 else ""
    return ", ".join(joints[:8]) + more


def _more(choice: Choice, stated: Choice, asked: Renewals) -> str:
    extra = len(choice.renew) - len(stated.renew)
    saved = stated.cost - choice.cost
    if saved <= 0.005 * max(stated.cost, 1.0):
        return "saves almost nothing by the choice of joints"
    number = f"{extra:+d} joint{'' if extra in {-1, 1} else 's'}" if extra else "as many joints"
    return f"{number}, saves {_cost(saved, asked)} more"
