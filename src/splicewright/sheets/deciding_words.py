"""The words of the decisions: when, stock, shutdown, ways, joints; paper and screen alike."""

from __future__ import annotations

import math

from splicewright.history.choosing import Choice
from splicewright.history.choosing_study import SURE, ChoosingStudy
from splicewright.history.decision_study import DecisionStudy
from splicewright.history.options import Verdict
from splicewright.history.shutdown_study import ShutdownStudy
from splicewright.history.stock_study import ItemAdvice
from splicewright.history.when_study import WhenToLook, WhenToRenew
from splicewright.quantities import Kind, System, show, show_time
from splicewright.sheets.fleet_words import money


def renew_words(when: WhenToRenew | None, units: System) -> list[str]:
    """At what age to renew; the first line is the answer."""
    if when is None:
        return []
    if when.rules is None:
        return [f"Renew: not enough data to say: the lives {when.why_not}"]
    kind, stated = when.measure.kind, when.rules.stated
    told = [f"Renew: {_when(stated.age, kind, units, 'at ')}; {stated.sentence}"]
    if math.isfinite(stated.age):
        low, high = (_when(v, kind, units) for v in (stated.low, stated.high))
        told.append(f"  within 5 % of the least cost: {low} to {high}")
    for name, rule in (("half", when.rules.half), ("double", when.rules.double)):
        told.append(f"  if a failure costs {name}: {_when(rule.age, kind, units, 'at ')}")
    return [*told, f"  rests on {when.known}"]


def look_words(when: WhenToLook | None, units: System) -> list[str]:
    """How often to look; the first line is the answer."""
    if when is None:
        return []
    kind = when.measure.kind
    if when.rules is None:
        return [f"Look: not enough data to say: {when.why_not}", *_delay_words(when, units)]
    stated = when.rules.stated
    told = [f"Look: {_when(stated.interval, kind, units, 'every ')}; {stated.sentence}"]
    if math.isfinite(stated.interval):
        low, high = (_when(v, kind, units) for v in (stated.low, stated.high))
        told.append(f"  within 5 % of the least cost: {low} to {high}")
    for name, rule in (("half", when.rules.half), ("double", when.rules.double)):
        told.append(f"  if a failure costs {name}: {_when(rule.interval, kind, units, 'every ')}")
    for name, at in (("short", when.at_low), ("long", when.at_high)):
        if at is not None:
            told.append(
                f"  if delays are as {name} as the looks allow: "
                f"{_when(at.interval, kind, units, 'every ')}"
            )
    told += _delay_words(when, units)
    if when.why_not:
        told.append(f"  not enough data to learn it from the register: {when.why_not}")
    return [*told, f"  rests on {when.known}"] if when.known else told


def _delay_words(when: WhenToLook, units: System) -> list[str]:
    """What the looks on file say of damage."""
    learnt, kind = when.learnt, when.measure.kind
    if learnt is None or not learnt.damages:
        return []
    told = [
        f"  new damage at one joint or belt every {show(1 / learnt.rate, kind, units)} on average; "
        f"{learnt.unfound} of {learnt.failures} failures came without having been found"
    ]
    if not learnt.enough:
        if learnt.low > 0:
            least = show(learnt.low, kind, units)
            told.append(
                f"  damage that can be seen takes {least} or more on average to fail, with "
                f"{learnt.confidence:.0%} confidence"
            )
        return told
    high = f"to {show(learnt.high, kind, units)}" if math.isfinite(learnt.high) else "or more"
    told.append(
        f"  from seen to failed: {show(learnt.mean, kind, units)} on average "
        f"({show(learnt.low, kind, units)} {high}, {learnt.confidence:.0%} limits)"
    )
    if learnt.law is not None and learnt.law.shape != 1:
        told.append(
            f"  delays are not random (chance {learnt.chance_random:.2g}): shape "
            f"{learnt.law.shape:.2g}, mean {show(learnt.law.mean, kind, units)}, is used"
        )
    return told


def _when(value: float, kind: Kind, units: System, before: str = "") -> str:
    return before + show(value, kind, units) if math.isfinite(value) else "never"


def stock_words(one: ItemAdvice) -> tuple[str, str]:
    """What to hold of an item, and why so many."""
    ahead = f"{one.expected:.2g} used on average while an order is under way"
    if one.from_joints:
        ahead += f", {one.from_joints:.2g} of them by the joints now running"
    have = f"{one.item.on_shelf} on shelf or on order"
    order = f"order {one.order_now} now" if one.order_now else "order none now"
    return f"{one.item.name}: {one.advice.sentence}", f"{ahead}; {have}: {order}"


def shutdown_words(study: ShutdownStudy) -> list[str]:
    """Whether the work fits; the first line is the answer."""
    asked, chance = study.shutdown, study.chance
    return [
        f"{asked.name}: done within {show_time(asked.window)} with a chance of "
        f"{chance.share:.0%} (± {2 * chance.error:.1%} by {asked.runs} runs)",
        f"  half of all runs end by {show_time(study.half)}, nine in ten by "
        f"{show_time(study.nine_tenths)}",
        f"  longest path of mean times {show_time(study.path_mean)}; meeting branches add "
        f"{show_time(max(study.merge_bias, 0.0))}, crew and tools "
        f"{show_time(max(study.crew_wait, 0.0))}",
        f"  times drawn by the {asked.law} law, all slowed alike by {asked.common_cause:.0%}; by "
        f"the {study.other_law} law the chance is {study.other_chance.share:.0%}",
    ]


def holds_up(study: ShutdownStudy) -> list[str]:
    """What holds up the finish, most often first."""
    return [f"{bar.task}: in {bar.critical:.0%} of the runs" for bar in study.critical[:6]]


def bought(study: ShutdownStudy) -> list[str]:
    """What each addition of people or tools buys."""
    return [
        f"With {one.name}: {one.gain.after.share:.0%} within the window, "
        f"{show_time(one.gain.saved)} saved on average"
        for one in study.bought
    ]


def verdict_words(verdict: Verdict, number: int, units: System) -> list[str]:
    """One way: the first line what it takes and gives, then the reasons."""
    option = verdict.option
    if not verdict.possible:
        why = "; ".join(said.say(units) for said in verdict.refused)
        return [f"-  {option.way}: cannot be done: {why}"]
    first = (
        f"{number}. {option.way}: {show_time(option.time)}, expected cost "
        f"{money(verdict.expected_cost)}, keeps {option.kept_strength:.0%} of the belt's strength"
    )
    return [first, *(f"     {said.say(units)}" for said in verdict.reasons)]


def steady_words(study: DecisionStudy) -> str:
    """How far the order hangs on what a failure costs."""
    half, double = study.if_half or "none", study.if_double or "none"
    if study.best is None:
        return "None of these ways can be done."
    if study.steady:
        return "The first stays the first if a failure costs half or double."
    return f"If a failure costs half: {half} first; if double: {double} first."


def choice_words(study: ChoosingStudy) -> list[str]:
    """Which joints to renew; the first line is the answer."""
    asked, stated = study.asked, study.advice.stated
    number, of = len(stated.renew), len(asked.candidates)
    if not number:
        told = [f"{asked.name}: renew none of {of}; no renewal saves more than it costs in time"]
    else:
        told = [
            f"{asked.name}: renew {number} of {of}: expected cost {money(stated.cost)} instead of "
            f"{money(stated.cost_if_none)}, {stated.hours / 3600:.0f} of "
            f"{asked.crew_hours / 3600:.0f} crew hours"
        ]
    if study.schedule is not None:
        fits = study.schedule.chance.share
        told.append(f"  done within {show_time(asked.window)} with a chance of {fits:.0%}")
        if study.sure != stated.renew:
            only = f"only {_named(study.sure)}" if study.sure else "not even one of them"
            told.append(
                f"  to be done with a chance of {SURE:.0%}: {only}; more people at a joint, power "
                "tools or a longer window make room for the others"
            )
    half, double = study.advice.half, study.advice.double
    told.append(f"  if a failure costs half: {_renewed(half)}; if double: {_renewed(double)}")
    if study.advice.depends:
        told.append(f"  hangs on that cost: {_named(study.advice.depends)}")
    elif number:
        told.append("  the same joints at half and at double the cost of a failure")
    told.append(f"  a second crew: {_more(study.crew_twice, stated)}")
    if study.with_power is not None:
        told.append(f"  power tools: {_more(study.with_power, stated)}")
    return told


def choice_rows(study: ChoosingStudy) -> list[tuple[str, str]]:
    """Each joint chosen, then those left that would have gained, with the reason."""
    reasons = study.advice.reasons
    chosen = list(study.advice.stated.renew)
    near = [
        c.joint
        for c in sorted(study.asked.candidates, key=lambda c: -c.gain)
        if c.joint not in set(chosen)
    ]
    return [(joint, reasons[joint]) for joint in (*chosen, *near[:10])]


def _renewed(choice: Choice) -> str:
    number = len(choice.renew)
    return f"{number} joint{'' if number == 1 else 's'}, {money(choice.cost)}"


def _named(joints: tuple[str, ...]) -> str:
    more = f" and {len(joints) - 8} more" if len(joints) > 8 else ""
    return ", ".join(joints[:8]) + more


def _more(choice: Choice, stated: Choice) -> str:
    extra = len(choice.renew) - len(stated.renew)
    saved = stated.cost - choice.cost
    if saved <= 0.005 * max(stated.cost, 1.0):
        return "saves next to nothing by the choice of joints"
    return f"{extra:+d} joint{'' if extra == 1 else 's'}, saves {money(saved)} more"
