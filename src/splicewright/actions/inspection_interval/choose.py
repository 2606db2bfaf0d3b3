"""Choose when: the age at which to renew a joint, and how often to look at it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError
from splicewright.history.inspection_interval.study import WhenToLook
from splicewright.history.life.weibull import Weibull
from splicewright.quantities import percent

if TYPE_CHECKING:
    from datetime import datetime
    from uuid import UUID

    from splicewright.actions.register.use import UseName
    from splicewright.history.arrays import Array
    from splicewright.history.inspection_interval.delay_time import LearntDelay
    from splicewright.history.inspection_interval.interval import InspectionRules
    from splicewright.store import Register


def when_to_look(
    every: str,
    delay: str,
    look: float,
    repair: float,
    failure: float,
    *,
    fixed: bool = False,
    found: float,
) -> WhenToLook:
    """Choose the interval between looks from how fast damage grows.

    every : use from one new damage to the next, on average
    delay : use from the day it can be seen to the failure, on average
    look, repair, failure : costs of a look, of damage found in time, of a failure
    fixed : all delays are alike; otherwise they are random (exponential)
    found : chance that an inspection finds what is there [0..1]
    Raises InputError: values that cannot be, or counted in different measures.
    """
    from splicewright.history.inspection_interval.interval import (
        InspectionCosts,
        inspect_by_cost,
        missed_if_delay_is_fixed,
        missed_if_delay_is_random,
    )
    from splicewright.quantities.measure import read_use

    (between, measure), (grows, other) = read_use(every, "every"), read_use(delay, "delay")
    if measure is not other:
        wording = f'"{delay}" counts {other}, but new damage every "{every}" counts {measure}'
        raise InputError(Fault("delay", f"{wording}; give both in one"))
    if fixed and found < 1:
        wording = (
            f"{found:g} goes with random delays only; with a fixed delay every inspection finds it"
        )
        raise InputError(Fault("found", wording))

    missed: Callable[[Array], Array] = (
        partial(missed_if_delay_is_fixed, grows)
        if fixed
        else partial(missed_if_delay_is_random, grows, found=found)
    )
    costs = InspectionCosts(look, repair, failure)
    rules = inspect_by_cost(1 / between, missed, costs, grows / 100, 20 * max(grows, between))
    known = (
        f"the figures given: new damage every {every} on average, delay {delay} (assumed); "
        f"{_finds(found)}"
    )
    return WhenToLook(
        rules,
        measure,
        known,
        rate=1 / between,
        delay=Weibull(1.0, grows),
        fixed=fixed,
        found=found,
        costs=costs,
    )


def when_to_look_recorded(
    register: Register,
    now: datetime,
    look: float,
    repair: float,
    failure: float,
    *,
    conveyor: str | UUID = "",
    use: UseName = "",
    found: float,
    belts: bool = False,
    every: str = "",
    delay: str = "",
    fixed: bool = False,
) -> WhenToLook:
    """Choose the interval between looks by what the looks on file say of damage.

    look, repair, failure : costs of a look, of damage found in time, of a failure
    conveyor, use : as for `when_to_renew_recorded`
    found : chance that an inspection finds what is there [0..1]
    belts : damage along the belts in place of damage of joints
    every, delay, fixed : assumed where there are not failures enough, as for `when_to_look`
    Raises InputError: values that cannot be.
    """
    answer = learn_delay_recorded(
        register, now, conveyor=conveyor, use=use, found=found, belts=belts
    )
    when = with_rule(answer, look, repair, failure, every=every, delay=delay, fixed=fixed)
    if when.rules is None:
        say = f"{when.why_not}; until then assume a rate of new damage and a delay"
        return replace(when, why_not=say)
    return when


def with_rule(
    answer: WhenToLook,
    look: float,
    repair: float,
    failure: float,
    *,
    every: str = "",
    delay: str = "",
    fixed: bool = False,
) -> WhenToLook:
    """What was learnt, with the interval that costs least.

    answer : as `learn_delay_recorded` gives it
    look, repair, failure : costs of a look, of damage found in time, of a failure
    every, delay, fixed : assumed where nothing was learnt, as for `when_to_look`; without them
        there is no rule then
    Raises InputError: values that cannot be.
    """
    from splicewright.history.inspection_interval.interval import (
        InspectionCosts,
        inspect_by_cost,
        missed_if_delay_is_weibull,
        rule_ranges,
    )

    costs = InspectionCosts(look, repair, failure)
    learnt, law = answer.learnt, answer.delay
    if learnt is None or law is None:
        if not (every and delay):
            return answer
        given = when_to_look(every, delay, look, repair, failure, fixed=fixed, found=answer.found)
        if given.measure is not answer.measure:
            wording = (
                f'"{every}" counts {given.measure}, but what is learnt counts {answer.measure}'
            )
            raise InputError(Fault("every", f"{wording}; give both in one"))
        return replace(
            given,
            learnt=learnt,
            why_not=answer.why_not,
            notes=answer.notes,
            invented=answer.invented,
            of_belts=answer.of_belts,
            pace=answer.pace,
        )

    def rules(law: Weibull) -> InspectionRules:
        missed = partial(missed_if_delay_is_weibull, law, found=answer.found)
        return inspect_by_cost(
            learnt.rate, missed, costs, law.mean / 100, 20 * max(law.mean, 1 / learnt.rate)
        )

    ends = [
        rules(Weibull(law.shape, law.scale * end / learnt.mean)).stated
        if 0 < end < math.inf
        else None
        for end in (learnt.low, learnt.high)
    ]
    spans = rule_ranges(learnt.laws, law, learnt.mean, costs, answer.found)
    return replace(
        answer,
        rules=rules(law),
        at_low=ends[0],
        at_high=ends[1],
        costs=costs,
        intervals=spans[0],
        values=spans[1],
    )


def learn_delay_recorded(
    register: Register,
    now: datetime,
    *,
    conveyor: str | UUID = "",
    use: UseName = "",
    found: float,
    belts: bool = False,
) -> WhenToLook:
    """What past inspections show of damage, without a rule: no cost is asked for.

    It says `why_not` where there are not failures enough to tell a mean delay.
    """
    from splicewright.actions.inspection_interval.from_register import (
        belt_damage_of_register,
        watches_of_register,
    )
    from splicewright.actions.register.use import look_into
    from splicewright.history.inspection_interval.delay_time import (
        learn_delay,
        learn_delay_from_finding,
    )

    with register.at_one_moment():  # read, not fitted: that may take long
        looked = look_into(register, now, conveyor=conveyor, use=use)
        damage = belt_damage_of_register(looked) if belts else None
        watches = () if belts else watches_of_register(looked)
    if damage is not None:
        delays, at_once, watched = damage
        learnt = learn_delay_from_finding(delays, at_once, watched) if watched > 0 else None
    else:
        learnt = learn_delay(watches, found) if watches else None
    answer = WhenToLook(
        None,
        looked.measure,
        learnt=learnt,
        notes=(*looked.assumed, *looked.left_out),
        invented=looked.invented,
        found=found,
        of_belts=belts,
        pace=looked.pace,
    )
    if learnt is None or learnt.law is None:
        return replace(answer, why_not=_too_few(learnt))
    subject = "belts" if belts else "joints"
    known = (
        f"{learnt.damages} cases of damage to {subject} on file, {learnt.failures} of which "
        f"failed; {_finds(found)}"
    )
    return replace(answer, known=known, rate=learnt.rate, delay=learnt.law)


def _finds(found: float) -> str:
    return f"an inspection is taken to find what is there with a chance of {percent(found)}"


def _too_few(learnt: LearntDelay | None) -> str:
    from splicewright.history.inspection_interval.delay_time import FEWEST

    if learnt is None or not learnt.damages:
        return "no damage is on file"
    if learnt.failures >= FEWEST:
        return (
            f"{learnt.failures} joints failed and none was inspected before: nothing says how long "
            "damage can be seen"
        )
    cases = "case" if learnt.damages == 1 else "cases"
    return (
        f"{learnt.damages} {cases} of damage on file, {learnt.failures} of which failed; "
        f"the mean delay needs {FEWEST} failures"
    )
