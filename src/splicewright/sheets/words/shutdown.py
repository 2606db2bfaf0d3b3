"""The words of the decisions: when, stock, shutdown, ways, joints; paper and screen alike."""

from __future__ import annotations

import math
from datetime import timedelta

from splicewright.history.shutdown.joint_choice import Choice
from splicewright.history.shutdown.joint_choice_by_schedule import Renewals
from splicewright.history.shutdown.joint_choice_study import TOLD, ChoosingStudy
from splicewright.history.shutdown.study import Shutdown, ShutdownStudy
from splicewright.quantities import percent, show_time
from splicewright.sheets.drawings.shutdown import shutdown_text
from splicewright.sheets.words.fleet import money


def shutdown_words(study: ShutdownStudy) -> list[str]:
    """Whether the work fits; the first line is the answer."""
    asked, chance = study.shutdown, study.chance
    return [
        f"{asked.name}: done within {show_time(asked.window)}{_clock(asked, asked.window)} "
        f"{_in_time(chance.share)} "
        f"(± {percent(2 * chance.error, 1)} by {asked.runs} runs)",
        f"  half of all runs end by {show_time(study.half)}{_clock(asked, study.half)}, nine in "
        f"ten by {show_time(study.nine_tenths)}{_clock(asked, study.nine_tenths)}",
        f"  longest path of mean times {show_time(study.path_mean)}; meeting branches add "
        f"{show_time(max(study.merge_bias, 0.0))}, crew and tools "
        f"{show_time(max(study.crew_wait, 0.0))}",
        f"  times drawn by the {asked.law} law; by the {study.other_law} law the chance is "
        f"{_chance(study.other_chance.share)}",
        f"  {_together(asked.common_cause)}",
    ]


def _clock(asked: Shutdown, after: float) -> str:
    """Day and time so long after the window begins; empty where it is not stated when it does."""
    if asked.begins is None:
        return ""
    return f" ({asked.begins + timedelta(seconds=after):%Y-%m-%d %H:%M})"


def holds_up(study: ShutdownStudy) -> list[str]:
    """What holds up the finish, most often first."""
    return [f"{bar.task}: in {percent(bar.critical)} of the runs" for bar in study.critical[:6]]


def bought(study: ShutdownStudy) -> list[str]:
    """What each addition of people or tools buys."""
    return [
        f"With {one.name}: {percent(one.gain.after.share)} within the window, "
        f"{show_time(one.gain.saved)} saved on average"
        for one in study.bought
    ]


def choice_words(study: ChoosingStudy) -> list[str]:
    """Which joints to renew; the first line is the answer."""
    asked, stated = study.asked, study.advice.stated
    number, of = len(stated.renew), len(asked.candidates)
    on = f" on {asked.on}" if asked.on is not None else ""
    if not number:
        lines = [
            f"{asked.name}: renew none of {of}{on}; none saves more than it costs and is done "
            f"within {show_time(asked.window)} with a chance of {percent(asked.chance)}"
        ]
    else:
        lines = [
            f"{asked.name}: renew {number} of {of}{on}: expected cost "
            f"{cost_words(stated.cost, asked)} instead of "
            f"{cost_words(stated.cost_if_none, asked)}; done within {show_time(asked.window)} "
            f"{_in_time(stated.chance)} (asked for: {percent(asked.chance)})",
            f"  saves {cost_words(stated.saving, asked)}{_span(stated)}",
            f"  {stated.hours / 3600:.0f} of {asked.crew_hours / 3600:.0f} crew hours; "
            + _overrun(asked),
        ]
        if stated.gap > 0.005:
            lines.append(
                "  too many joints to weigh every set: a better one might save "
                f"{percent(stated.gap)} "
                "more at most"
            )
    if asked.until is not None:
        lines.append(f"  what is left may fail before the shutdown on {asked.until}")
    lines.append(f"  {_together(asked.common_cause)}")
    half, double = study.advice.half, study.advice.double
    lines.append(
        f"  if a failure costs half: {_renewed(half, asked)}; if double: {_renewed(double, asked)}"
    )
    if study.advice.depends:
        lines.append(f"  depends on that cost: {_named(study.advice.depends)}")
    elif number:
        lines.append("  the same joints at half and at double the cost of a failure")
    lines.append(f"  a second crew: {_more(study.crew_twice, stated, asked)}")
    if study.with_power is not None:
        lines.append(f"  power tools: {_more(study.with_power, stated, asked)}")
    return lines


def choice_rows(study: ChoosingStudy) -> list[tuple[str, str]]:
    """Each joint chosen, then those left that would have gained, with the reason."""
    reasons = study.advice.reasons
    chosen = list(study.advice.stated.renew)
    near = [
        c.joint
        for c in sorted(study.asked.candidates, key=lambda c: -c.gain)
        if c.joint not in set(chosen)
    ]
    return [(joint, reasons[joint]) for joint in (*chosen, *near[:TOLD])]


def cost_words(value: float, asked: Renewals) -> str:
    """A cost with its currency, where that is stated."""
    return f"{money(value)} {asked.currency}".strip()


def _in_time(share: float) -> str:
    return f"with a chance of {_chance(share)}"


def _chance(share: float) -> str:
    """A share of simulated runs; no chance is as sure as a whole number says."""
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
        return f"an hour of overrun is counted at {cost_words(3600 * asked.overrun_cost, asked)}"
    return "what is not done by the end of the window counts as paid for and saves nothing"


def _renewed(choice: Choice, asked: Renewals) -> str:
    number = len(choice.renew)
    saved = f"saves {cost_words(choice.saving, asked)}{_span(choice)}"
    return f"{number} joint{'' if number == 1 else 's'}, {cost_words(choice.cost, asked)}, {saved}"


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
    return f"{extra:+d} joint{'' if extra == 1 else 's'}, saves {cost_words(saved, asked)} more"


def shutdown_lines(study: ShutdownStudy) -> list[str]:
    """Whether the work fits, what delays it, what more buys, and the bars in letters."""
    return [
        *shutdown_words(study),
        "Delays the finish:",
        *(f"  {w}" for w in holds_up(study)),
        *bought(study),
        "Plan at likely times (# often delays the finish, = other, - until nine in ten, | window):",
        *(f"  {line}" for line in shutdown_text(study)),
    ]


def choice_lines(study: ChoosingStudy) -> list[str]:
    """Which joints to renew and why, and the bars of their work in letters."""
    lines = [*choice_words(study), *(f"{joint}: {why}" for joint, why in choice_rows(study))]
    if study.schedule is not None:
        lines += [
            *bought(study.schedule),
            "The chosen joints at likely times (# often delays the finish, | window):",
            *(f"  {line}" for line in shutdown_text(study.schedule)),
        ]
    return lines
