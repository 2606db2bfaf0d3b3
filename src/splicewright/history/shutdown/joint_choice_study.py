"""The joints of a shutdown: the choice, how far it holds, what more crew buys, its schedule."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.life.draws import range_of
from splicewright.history.shutdown.joint_choice import Candidate, Choice
from splicewright.history.shutdown.joint_choice_by_schedule import (
    Renewals,
    chance_of_set,
    choose_by_schedule,
    shutdown_of,
)
from splicewright.history.shutdown.study import ShutdownStudy, study_shutdown
from splicewright.quantities import percent

_MOST_TASKS = 60
TOLD = 10
"""Joints left, those that would save most, of which it is told what they would do."""


@dataclass(frozen=True, slots=True)
class ChoiceAdvice:
    """The best choice, and how far it holds.

    stated, half, double : choice when a failure costs as stated, half and twice that
    sure : joints renewed in all three
    depends : joints renewed in some of them
    reasons : joint -> why it is renewed or left, in words
    in_time : joint left -> chance that all is done in time with it, and whether by itself
    """

    stated: Choice
    half: Choice
    double: Choice
    sure: tuple[str, ...]
    depends: tuple[str, ...]
    reasons: Mapping[str, str]
    in_time: Mapping[str, tuple[float, bool]] = field(default_factory=dict)


@dataclass(frozen=True)
class ChoosingStudy:
    """The answer.

    asked : what can be done
    advice : the choice, at stated, half and double cost of a failure, with reasons
    crew_twice : the choice with a second crew of as many
    with_power : the choice with power tools; None where they make no difference
    schedule : the chosen joints in the window; None when none is chosen
    """

    asked: Renewals
    advice: ChoiceAdvice
    crew_twice: Choice
    with_power: Choice | None
    schedule: ShutdownStudy | None


def study_choice(asked: Renewals, gains: tuple[Array, Array, Array] | None = None) -> ChoosingStudy:
    """Choose what is done in time with the chance asked for, and make its schedule.

    asked : joints, window and crew
    gains : of renewing each joint, by each law that the records leave open, where a failure costs
        as stated, half and double, (draws, candidates) each; None where chances are given without
        doubt
    Raises InputError: values that cannot be; every fault is named.
    """
    faults = []
    if not 1 <= asked.gang <= asked.people:
        wording = f"{asked.gang} cannot be; accepted is 1 to the {asked.people} people there are"
        faults.append(Fault("gang", wording))
    if not 0 < asked.power_share <= 1:
        wording = f"{asked.power_share:g} cannot be; accepted is above 0 and up to 1"
        faults.append(Fault("power share", wording))
    if not 0 < asked.chance < 1:
        wording = f"{asked.chance:g} cannot be; accepted is above 0 and below 1"
        faults.append(Fault("chance", wording))
    if not 0 <= asked.common_cause <= 1:
        wording = f"{asked.common_cause:g} cannot be; accepted is 0 to 1"
        faults.append(Fault("common cause", wording))
    if asked.overrun_cost < 0:
        wording = f"{asked.overrun_cost:g} cannot be; accepted is zero or more"
        faults.append(Fault("overrun cost", wording))
    if faults:
        raise InputError(*faults)
    advice = _advised(asked, gains)
    twice = choose_by_schedule(replace(asked, people=2 * asked.people))
    power = None
    if asked.power_share < 1:
        quick = tuple(replace(c, hours=c.hours * asked.power_share) for c in asked.candidates)
        power = choose_by_schedule(replace(asked, candidates=quick))
    chosen = [c for c in asked.candidates if c.joint in set(advice.stated.renew)]
    schedule = None
    if chosen and len(chosen) <= _MOST_TASKS:
        schedule = study_shutdown(shutdown_of(asked, chosen))
    return ChoosingStudy(asked, advice, twice, power, schedule)


def _advised(asked: Renewals, gains: tuple[Array, Array, Array] | None) -> ChoiceAdvice:
    stated, half, double = (
        _with_span(changed, choose_by_schedule(changed), gains[n] if gains is not None else None)
        for n, changed in enumerate(
            replace(asked, candidates=tuple(c.if_failure(times) for c in asked.candidates))
            for times in (1.0, 0.5, 2.0)
        )
    )
    sets = [set(c.renew) for c in (stated, half, double)]
    sure = set.intersection(*sets)
    some = set.union(*sets) - sure
    names = [c.joint for c in asked.candidates]
    near = [c.joint for c in sorted(asked.candidates, key=lambda c: -c.gain) if c.gain > 0]
    near = [j for j in near if j not in sets[0]][:TOLD]
    in_time = {joint: _in_time(joint, asked, stated) for joint in near}
    reasons = {c.joint: _reason(c, asked, stated, in_time.get(c.joint)) for c in asked.candidates}
    return ChoiceAdvice(
        stated,
        half,
        double,
        tuple(j for j in names if j in sure),
        tuple(j for j in names if j in some),
        reasons,
        in_time,
    )


def _with_span(asked: Renewals, choice: Choice, gains: Array | None) -> Choice:
    """The choice with the range of what it saves: by each law, less what is not done in time."""
    chosen = [n for n, c in enumerate(asked.candidates) if c.joint in set(choice.renew)]
    if gains is None or not chosen:
        return choice
    renewals = math.fsum(asked.candidates[n].renewal_cost for n in chosen)
    spared = gains[:, chosen].sum(axis=1) + renewals
    # Of what is spared, the share that the schedule lets through is the same by every law.
    kept = (choice.saving + renewals) / float(spared.mean()) if spared.mean() > 0 else 1.0
    return replace(choice, span=range_of(kept * spared - renewals))


def _in_time(joint: str, asked: Renewals, stated: Choice) -> tuple[float, bool]:
    """Chance that a joint left is done in time: by itself where that is too low, else beside."""
    alone = chance_of_set(asked, (joint,))
    if alone < asked.chance:
        return alone, True
    return chance_of_set(asked, (*stated.renew, joint)), False


def _reason(
    c: Candidate, asked: Renewals, stated: Choice, in_time: tuple[float, bool] | None
) -> str:
    if c.joint in stated.renew:
        return (
            f"renewed: the chance of failing falls from {percent(c.chance_if_left)} to "
            f"{percent(c.chance_if_renewed)}; after its cost it saves {_saved(c, asked)}"
        )
    if c.gain <= 0:
        return f"left: renewing it now costs {_cost(-c.gain, asked)} more than leaving it"
    if in_time is None:
        return f"left: it would save {_saved(c, asked)}, but the time goes further on other joints"
    chance, alone = in_time
    if alone:
        return (
            "left: by itself it is done within the window with a chance of "
            f"{percent(chance)} only; "
            f"asked for is {percent(asked.chance)}"
        )
    return (
        f"left: it would save {_saved(c, asked)}, but with it all is done in time with a chance of "
        f"{percent(chance)} only"
    )


def _saved(c: Candidate, asked: Renewals) -> str:
    """What renewing a joint saves, and its range."""
    span = f" ({_amount(c.span.low)} to {_amount(c.span.high)})" if c.span is not None else ""
    return f"{_cost(c.gain, asked)}{span}"


def _cost(value: float, asked: Renewals) -> str:
    return f"{_amount(value)} {asked.currency}".strip()


def _amount(value: float) -> str:
    """Money to three digits."""
    return f"{float(f'{value:.3g}'):,.0f}".replace(",", " ")
