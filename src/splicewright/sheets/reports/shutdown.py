"""The decisions as PDF: when, stock, shutdown, ways at a place, joints of a shutdown."""

from __future__ import annotations

from collections.abc import Sequence

from splicewright.history.shutdown.joint_choice_study import ChoosingStudy
from splicewright.history.shutdown.study import ShutdownStudy
from splicewright.quantities import percent, show_time
from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.drawings.shutdown import SHEET_ROWS, shutdown_bars
from splicewright.sheets.pages.drawings import MARGIN, Drawings
from splicewright.sheets.pages.report import (
    COST_CAUTIONS,
    LIFE_CAUTION,
    key_number,
    report,
    rests_section,
)
from splicewright.sheets.pages.section import Section, as_sentence
from splicewright.sheets.words.shutdown import (
    bought,
    choice_rows,
    choice_words,
    cost_words,
    holds_up,
    shutdown_words,
)

_SHUTDOWN_CAUTIONS = (
    "Isolation, proving dead and hold points take the time they take: they are no place to catch "
    "up. Stop and replan rather than hurry.",
    "Times are ranges, as stated or as past jobs took; both laws they may be drawn from are shown, "
    "for the choice moves the answer.",
    "A greedy crew may take longer with more people: nothing is promised to get better.",
)


def shutdown_report(study: ShutdownStudy, paper: Paper = A4) -> bytes:
    """Return the report on a shutdown as PDF, its bars drawn."""
    drawings = Drawings({}, {})
    asked = study.shutdown
    sections = [*_bars("Plan at likely times", drawings, study, paper), *_held(study)]
    if asked.notes:
        sections.append(rests_section(asked.notes))
    return report(
        "Shutdown",
        asked.name,
        asked.invented,
        f"{len(asked.tasks)} tasks, {_crew(study)}; {asked.runs} simulated runs.",
        _answer(shutdown_words(study), asked.name),
        _time_numbers(study),
        sections,
        _SHUTDOWN_CAUTIONS,
        drawings,
        paper,
    )


def choice_report(study: ChoosingStudy, paper: Paper = A4) -> bytes:
    """Return the report on the joints to renew as PDF, the bars of their work drawn."""
    drawings = Drawings({}, {})
    asked, stated = study.asked, study.advice.stated
    sections = [Section("Joints and why", tuple(f"{j}: {why}." for j, why in choice_rows(study)))]
    if study.schedule is not None:
        sections += _bars("The chosen joints in the window", drawings, study.schedule, paper)
        sections += _held(study.schedule)
    if asked.notes:
        sections.append(rests_section(asked.notes))
    numbers = [
        key_number("renew", str(len(stated.renew)), f"of {len(asked.candidates)} joints"),
        key_number(
            "expected cost",
            cost_words(stated.cost, asked),
            f"instead of {cost_words(stated.cost_if_none, asked)}",
        ),
        key_number(
            "crew hours", f"{stated.hours / 3600:.0f}", f"of {asked.crew_hours / 3600:.0f} h"
        ),
    ]
    return report(
        "Joints to renew",
        asked.name,
        asked.invented,
        f"{asked.people} people for {show_time(asked.window)}, {asked.gang} at a joint.",
        _answer(choice_words(study), asked.name),
        numbers,
        sections,
        (*COST_CAUTIONS, LIFE_CAUTION, *_SHUTDOWN_CAUTIONS),
        drawings,
        paper,
    )


def _answer(words: Sequence[str], name: str) -> list[str]:
    """The answer without the name, which stands over it."""
    return [as_sentence(w.strip().removeprefix(f"{name}: ")) for w in words]


def _bars(title: str, drawings: Drawings, study: ShutdownStudy, paper: Paper) -> list[Section]:
    """The bars, a section for as many rows as stay on one sheet."""
    sections = []
    for begin in range(0, len(study.bars), SHEET_ROWS):
        name = f"bars-{begin // SHEET_ROWS + 1}"
        part = shutdown_bars(study, slice(begin, begin + SHEET_ROWS))
        drawings.paste(name, part, paper.width - 2 * MARGIN)
        sections.append(Section(title if not begin else f"{title}, continued", (), (name,)))
    return sections


def _held(study: ShutdownStudy) -> list[Section]:
    sections = [Section("What holds up the finish", tuple(as_sentence(h) for h in holds_up(study)))]
    if study.bought:
        points = tuple(as_sentence(b) for b in bought(study))
        sections.append(Section("What more people or tools would save", points))
    return sections


def _time_numbers(study: ShutdownStudy) -> list[dict[str, str]]:
    return [
        key_number(
            "done within the window",
            percent(study.chance.share),
            f"window {show_time(study.shutdown.window)}",
        ),
        key_number("half of all runs end by", show_time(study.half), "simulated"),
        key_number("nine in ten end by", show_time(study.nine_tenths), "simulated"),
    ]


def _crew(study: ShutdownStudy) -> str:
    return ", ".join(f"{n} {who}" for who, n in study.shutdown.crew.items())
