"""When to renew and when to look: the rules, what they are counted in, what they rest on."""

from __future__ import annotations

import math
from dataclasses import dataclass

from splicewright.history.inspection_interval.delay_time import LearntDelay
from splicewright.history.inspection_interval.interval import (
    InspectionCosts,
    InspectionRule,
    InspectionRules,
)
from splicewright.history.life.limits import Limits
from splicewright.history.life.pooling import Prior
from splicewright.history.life.weibull import Weibull
from splicewright.history.pace import Pace
from splicewright.history.renewal import AgeRules
from splicewright.quantities.measure import Measure


@dataclass(frozen=True, slots=True)
class WhenToRenew:
    """The cheapest age of renewal, or why there is none.

    `measure` is what ages are counted in; `known` says what the law of life rests on, `notes` what
    was assumed or left out on the way. `ages` and `savings` are the limits of the cheapest age and
    of the share of cost that the age advised saves, for doubt about the law; None where that was
    given.
    `planned` and `failure` are the costs, `counted` the failures and joints of the lives, `prior`
    what was believed of their law beforehand. `pace` turns ages into dates; None where not known.
    """

    rules: AgeRules | None
    measure: Measure
    known: str
    why_not: str = ""
    notes: tuple[str, ...] = ()
    invented: bool = False
    ages: Limits | None = None
    savings: Limits | None = None
    planned: float = math.nan
    failure: float = math.nan
    counted: tuple[int, int] | None = None
    prior: Prior | None = None
    pace: Pace | None = None


@dataclass(frozen=True, slots=True)
class WhenToLook:
    """The cheapest interval between looks, or why there is none.

    `measure` is what it is counted in; `known` says what rate and delay rest on, `learnt` what the
    looks on file say of damage, `at_low` and `at_high` the rules at the limits of the mean delay.
    `rate` of damage [per use], law of the `delay` (`fixed`: all alike, as long as its mean), chance
    `found` that a look finds what is there, and `costs` are those that the rules were worked with.
    `of_belts`: damage along belts, not of joints. `intervals` and `values` hold the best interval
    and what it costs nine times in ten, for doubt about delay and rate; None where both are given.
    `pace` turns intervals into dates; None where it is not known.
    """

    rules: InspectionRules | None
    measure: Measure
    known: str = ""
    learnt: LearntDelay | None = None
    at_low: InspectionRule | None = None
    at_high: InspectionRule | None = None
    why_not: str = ""
    notes: tuple[str, ...] = ()
    invented: bool = False
    rate: float = math.nan
    delay: Weibull | None = None
    fixed: bool = False
    found: float = 1.0
    costs: InspectionCosts | None = None
    of_belts: bool = False
    intervals: Limits | None = None
    values: Limits | None = None
    pace: Pace | None = None
