"""The decisions as PDF: when, stock, shutdown, ways at a place, joints of a shutdown."""

from __future__ import annotations

import math
from collections.abc import Sequence

from splicewright.history.choosing_study import ChoosingStudy
from splicewright.history.decision_study import DecisionStudy
from splicewright.history.shutdown_study import ShutdownStudy
from splicewright.history.stock import Shortage
from splicewright.history.stock_study import ItemAdvice
from splicewright.history.when_study import WhenToLook, WhenToRenew
from splicewright.quantities import System, show, show_time
from splicewright.sheets.deciding_words import (
    bought,
    choice_rows,
    choice_words,
    holds_up,
    look_words,
    renew_words,
    shutdown_words,
    steady_words,
    stock_words,
)
from splicewright.sheets.drawing_pages import MARGIN, Drawings
from splicewright.sheets.fleet_words import money
from splicewright.sheets.history_words import Section, as_sentence
from splicewright.sheets.page import A4, Paper
from splicewright.sheets.report_page import key_number, report
from splicewright.sheets.shutdown_sheet import SHEET_ROWS, shutdown_bars

_SHUTDOWN_CAUTIONS = (
    "Isolation, proving dead and hold points take the time they take: they are no place to catch "
    "up. Stop and replan rather than hurry.",
    "Times are ranges, as stated or as past jobs took; both laws they may be drawn from are shown, "
    "for the choice moves the answer.",
    "A greedy crew may take longer with more people: nothing is promised to get better.",
)
_COST_CAUTIONS = (
    "The least expected cost is no safety margin. Where a failure can hurt somebody, the person "
    "responsible sets a tighter rule.",
    "Costs are those that were stated, in one money; the answer at half and double the cost of a "
    "failure shows how far it hangs on them.",
)
_LIFE_CAUTION = (
    "A joint that was renewed counts as new. A new material, speed or crew makes the forecast void."
)
_STOCK_CAUTIONS = (
    "Orders are taken to arrive after their lead time, whatever its scatter; what is ordered and "
    "not yet there counts as on the shelf.",
    _LIFE_CAUTION,
)
_PLACE_CAUTIONS = (
    "The tool orders, the crew decides: what the place looks like when it is opened goes first.",
    *_COST_CAUTIONS,
)


def shutdown_report(study: ShutdownStudy, paper: Paper = A4) -> bytes:
    """Return the report on a shutdown as PDF, its bars drawn.

    Parameters
    ----------
    study : of the shutdown
    paper : A4 or LETTER
    """
    drawings = Drawings({}, {})
    asked = study.shutdown
    sections = [*_bars("Plan at likely times", drawings, study, paper), *_held(study)]
    if asked.notes:
        sections.append(_rests(asked.notes))
    return report(
        "Shutdown", asked.name, asked.invented,
        f"{len(asked.tasks)} tasks, {_crew(study)}; {asked.runs} simulated runs.",
        _answer(shutdown_words(study), asked.name), _time_numbers(study), sections,
        _SHUTDOWN_CAUTIONS, drawings, paper,
    )  # fmt: skip


def choice_report(study: ChoosingStudy, paper: Paper = A4) -> bytes:
    """Return the report on the joints to renew as PDF, the bars of their work drawn.

    Parameters
    ----------
    study : of the choice
    paper : A4 or LETTER
    """
    drawings = Drawings({}, {})
    asked, stated = study.asked, study.advice.stated
    sections = [Section("Joints and why", tuple(f"{j}: {why}." for j, why in choice_rows(study)))]
    if study.schedule is not None:
        sections += _bars("The chosen joints in the window", drawings, study.schedule, paper)
        sections += _held(study.schedule)
    if asked.notes:
        sections.append(_rests(asked.notes))
    numbers = [
        key_number("renew", str(len(stated.renew)), f"of {len(asked.candidates)} joints"),
        key_number("expected cost", money(stated.cost), f"instead of {money(stated.cost_if_none)}"),
        key_number(
            "crew hours", f"{stated.hours / 3600:.0f}", f"of {asked.crew_hours / 3600:.0f} h"
        ),
    ]
    return report(
        "Joints to renew", asked.name, asked.invented,
        f"{asked.people} people for {show_time(asked.window)}, {asked.gang} at a joint.",
        _answer(choice_words(study), asked.name), numbers, sections,
        (*_COST_CAUTIONS, _LIFE_CAUTION, *_SHUTDOWN_CAUTIONS), drawings, paper,
    )  # fmt: skip


def decision_report(study: DecisionStudy, system: System = "metric", paper: Paper = A4) -> bytes:
    """Return the ways at a torn or worn place as PDF.

    Parameters
    ----------
    study : of the place
    system : "metric" or "inch"
    paper : A4 or LETTER
    """
    asked = study.decision
    rows = tuple(
        (
            str(v.option.way) if v.possible else f"{v.option.way} (cannot be done)",
            show_time(v.option.time), money(v.option.cost), f"{v.option.kept_strength:.0%}",
            f"{v.chance_of_failing:.0%}", money(v.expected_cost),
        )
        for v in study.verdicts
    )  # fmt: skip
    sections = [
        Section("The ways beside each other", (),
                head=("way", "stop", "material and work", "strength kept", "fails before the stop",
                      "expected cost"), table=rows)
    ]  # fmt: skip
    for verdict in study.verdicts:
        said = verdict.reasons if verdict.possible else verdict.refused
        sections.append(
            Section(str(verdict.option.way).capitalize(),
                    tuple(as_sentence(s.say(system)) for s in said))
        )  # fmt: skip
    best = study.best
    first = f"{best.option.way} first" if best else "none of these ways can be done"
    place = asked.situation
    numbers = [
        key_number("window", show_time(place.window), "for the work"),
        key_number("next planned stop after", show(place.until, asked.measure.kind, system),
                   "of use"),
        key_number("cost of a failure", money(place.failure_cost), "as stated"),
    ]  # fmt: skip
    return report(
        "Torn or worn place", asked.name, asked.invented,
        "Ways in order of cost per use until the next planned stop.",
        [as_sentence(first), steady_words(study)], numbers, sections, _PLACE_CAUTIONS,
        Drawings({}, {}), paper,
    )  # fmt: skip


def stock_report(
    items: Sequence[ItemAdvice],
    missing: Sequence[Shortage] | None = None,
    *,
    service: float,
    name: str = "",
    notes: Sequence[str] = (),
    invented: bool = False,
    paper: Paper = A4,
) -> bytes:
    """Return what to hold and order as PDF.

    Parameters
    ----------
    items : advised
    missing : parts of a job that the store does not cover; None when no job was asked about
    service : chance that nobody waits [0..1]
    name : of the site or table
    notes : what was assumed or left out on the way
    invented : the figures are
    paper : A4 or LETTER
    """
    rows = tuple(
        (
            one.item.name, str(one.advice.service.stock), str(one.advice.service.reorder_at),
            str(one.item.on_shelf), str(one.order_now), f"{one.advice.service.ready:.1%}",
            show_time(one.item.lead),
        )
        for one in items
    )  # fmt: skip
    sections = [
        Section("Items", (), head=("item", "hold", "reorder at", "there", "order now",
                "nobody waits", "lead time"), table=rows),
        Section("Why so many", tuple(as_sentence(stock_words(one)[1]) if len(items) == 1
                else f"{one.item.name}: {stock_words(one)[1]}." for one in items)),
    ]  # fmt: skip
    if missing is not None:
        sections.append(_kit(missing))
    if notes:
        sections.append(_rests(notes))
    order = [one for one in items if one.order_now]
    answer = [
        "Order now: " + ", ".join(f"{o.order_now} {o.item.name}" for o in order) + "."
        if order else "Nothing needs to be ordered now."
    ]  # fmt: skip
    if missing:
        answer.append(f"The job's kit lacks {len(missing)} items.")
    elif missing is not None:
        answer.append("The job's kit is there.")
    numbers = [
        key_number("service", f"{service:.1%}", "chance that nobody waits"),
        key_number("items", str(len(items)), f"{len(order)} to order now"),
        key_number("used during lead time", f"{math.fsum(o.expected for o in items):.2g}",
                   "on average, all items"),
    ]  # fmt: skip
    return report(
        "Stock", name, invented, "What to hold so that nobody waits.", answer, numbers, sections,
        _STOCK_CAUTIONS, Drawings({}, {}), paper,
    )  # fmt: skip


def when_report(
    renew: WhenToRenew | None,
    look: WhenToLook | None,
    costs: Sequence[tuple[str, float]],
    system: System = "metric",
    paper: Paper = A4,
    *,
    name: str = "",
) -> bytes:
    """Return at what age to renew, and how often to look, as PDF.

    Parameters
    ----------
    renew, look : the rules; None where not asked
    costs : name and amount of each cost that was stated
    system : "metric" or "inch"
    paper : A4 or LETTER
    name : of the conveyor or fleet
    """
    answer, sections = [], []
    for title, words in (
        ("At what age to renew", renew_words(renew, system)),
        ("How often to look", look_words(look, system)),
    ):
        if words:
            answer.append(as_sentence(words[0]))
            points = tuple(as_sentence(w.strip()) for w in words[1:])
            sections.append(Section(title, points))
    rests = [*(renew.notes if renew is not None else ()), *(look.notes if look is not None else ())]
    if rests:
        sections.append(_rests(tuple(dict.fromkeys(rests))))
    return report(
        "When to renew, when to look", name or "joints",
        any(w is not None and w.invented for w in (renew, look)),
        "By what things cost.", answer, [key_number(n, money(v), "as stated") for n, v in costs],
        sections, (*_COST_CAUTIONS, _LIFE_CAUTION), Drawings({}, {}), paper,
    )  # fmt: skip


def _answer(words: Sequence[str], name: str) -> list[str]:
    """The answer without the name, which stands over it."""
    return [as_sentence(w.strip().removeprefix(f"{name}: ")) for w in words]


def _bars(title: str, drawings: Drawings, study: ShutdownStudy, paper: Paper) -> list[Section]:
    """The bars, a section for as many rows as stay on one sheet."""
    found = []
    for begin in range(0, len(study.bars), SHEET_ROWS):
        name = f"bars-{begin // SHEET_ROWS + 1}"
        part = shutdown_bars(study, slice(begin, begin + SHEET_ROWS))
        drawings.paste(name, part, paper.width - 2 * MARGIN)
        found.append(Section(title if not begin else f"{title}, continued", (), (name,)))
    return found


def _held(study: ShutdownStudy) -> list[Section]:
    found = [Section("What holds up the finish", tuple(as_sentence(h) for h in holds_up(study)))]
    if study.bought:
        points = tuple(as_sentence(b) for b in bought(study))
        found.append(Section("What more people or tools buy", points))
    return found


def _time_numbers(study: ShutdownStudy) -> list[dict[str, str]]:
    return [
        key_number("done within the window", f"{study.chance.share:.0%}",
                   f"window {show_time(study.shutdown.window)}"),
        key_number("half of all runs end by", show_time(study.half), "simulated"),
        key_number("nine in ten end by", show_time(study.nine_tenths), "simulated"),
    ]  # fmt: skip


def _crew(study: ShutdownStudy) -> str:
    return ", ".join(f"{n} {who}" for who, n in study.shutdown.crew.items())


def _kit(missing: Sequence[Shortage]) -> Section:
    rows = tuple((m.item, f"{m.needed:g}", f"{m.there:g}", f"{m.missing:g}") for m in missing)
    if not rows:
        return Section("The job's kit", ("All of it is in the store, spares included.",))
    return Section("The job's kit lacks", (), head=("item", "needed", "there", "missing"),
                   table=rows)  # fmt: skip


def _rests(notes: Sequence[str]) -> Section:
    return Section("What this rests on", tuple(as_sentence(n) for n in notes[:20]))
