"""Choose when: the age at which to renew a joint, and how often to look at it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.history import AgeRules, InspectionRules, Measure
    from splicewright.history.lives import Array


@dataclass(frozen=True, slots=True)
class WhenToRenew:
    """The cheapest age of renewal, or why there is none.

    `measure` is what ages are counted in; `known` says what the law of life rests on.
    """

    rules: AgeRules | None
    measure: Measure
    known: str
    why_not: str = ""


@dataclass(frozen=True, slots=True)
class WhenToLook:
    """The cheapest interval between looks; `measure` is what it is counted in."""

    rules: InspectionRules
    measure: Measure


def when_to_renew(
    planned: float,
    failure: float,
    *,
    lives: Path | None = None,
    shape: float | None = None,
    scale: str = "",
) -> WhenToRenew:
    """Choose the age of renewal by what a planned renewal and a failure cost.

    Parameters
    ----------
    planned, failure : costs, in one money
    lives : CSV file from whose joints the law of life is taken, with all its doubt
    shape, scale : or the law itself, scale with its unit

    Raises
    ------
    InputError
        Neither lives nor a law, or values that cannot be.
    """
    from splicewright.history import (
        Weibull,
        fit_weibull,
        gather,
        laws_around,
        load_lives,
        renew_at_age_if_costs_differ,
    )
    from splicewright.history.lives import read_use

    if lives is not None:
        records, _ = load_lives(lives)
        held = gather([r.life for r in records])
        try:
            fit = fit_weibull(held)
        except InputError as error:
            return WhenToRenew(None, held.measure, "", error.faults[0].sentence)
        known = f"{held.failures} failures of {held.number} joints, with the doubt about their law"
        rules = renew_at_age_if_costs_differ(laws_around(fit), planned, failure)
        return WhenToRenew(rules, held.measure, known)
    if shape is None or not scale:
        said = "is not known; give --lives, or --shape and --scale"
        raise InputError(Fault("law of life", said))
    value, measure = read_use(scale, "scale")
    rules = renew_at_age_if_costs_differ(Weibull(shape, value), planned, failure)
    return WhenToRenew(rules, measure, f"the law given: shape {shape:g}, scale {scale}")


def when_to_look(
    every: str,
    delay: str,
    look: float,
    repair: float,
    failure: float,
    *,
    fixed: bool = False,
    found: float = 1.0,
) -> WhenToLook:
    """Choose the interval between looks from how fast damage grows.

    Parameters
    ----------
    every : use from one new damage to the next, on average
    delay : use from the day it can be seen to the failure, on average
    look, repair, failure : costs of a look, of damage found in time, of a failure
    fixed : all delays are alike; otherwise they are random (exponential)
    found : chance that a look finds what is there [0..1]

    Raises
    ------
    InputError
        Values that cannot be, or counted in different measures.
    """
    from splicewright.history import (
        InspectionCosts,
        inspect_by_cost,
        missed_if_delay_is_fixed,
        missed_if_delay_is_random,
    )
    from splicewright.history.lives import read_use

    (between, measure), (grows, other) = read_use(every, "damage every"), read_use(delay, "delay")
    if measure is not other:
        said = f'"{delay}" counts {other}, but damage every "{every}" counts {measure}'
        raise InputError(Fault("delay", f"{said}; give both in one"))
    if fixed and found < 1:
        said = f"{found:g} goes with random delays only; with a fixed delay every look is sure"
        raise InputError(Fault("found", said))

    missed: Callable[[Array], Array] = (
        partial(missed_if_delay_is_fixed, grows)
        if fixed
        else partial(missed_if_delay_is_random, grows, found=found)
    )
    costs = InspectionCosts(look, repair, failure)
    rules = inspect_by_cost(1 / between, missed, costs, grows / 100, 20 * max(grows, between))
    return WhenToLook(rules, measure)
