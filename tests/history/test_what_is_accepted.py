"""Costs, times and chances that cannot be are refused by every question; the ends are accepted."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from splicewright.errors import InputError
from splicewright.history.decision.options import Option, Situation, Way, compare_options
from splicewright.history.inspection_interval.interval import (
    InspectionCosts,
    inspect_by_cost,
    missed_if_delay_is_random,
)
from splicewright.history.life.weibull import Weibull
from splicewright.history.planner.next_stop import PlannerCosts
from splicewright.history.shutdown.joint_choice import Candidate, choose_renewals
from splicewright.history.shutdown.tasks import with_common_cause
from splicewright.history.stock.levels import poisson_law, what_is_missing

Try = Callable[[float], object]
LAW = Weibull(2.0, 1000.0)
OPTION = Option(Way.REMAKE, 5.0, 900.0, 0.6, LAW, belt_taken=0.5)
SITUATION = Situation(9.0, 0.5, 0.8, 10.0, 0.1, 3e4, 400.0)
JOINT = Candidate("J", "C", 0.4, 0.02, 4e4, 5e3, 9.0)


def _option(name: str) -> Try:
    return lambda v: compare_options([replace(OPTION, **_as(name, v))], SITUATION)


def _situation(name: str) -> Try:
    return lambda v: compare_options([OPTION], replace(SITUATION, **_as(name, v)))


def _joint(name: str) -> Try:
    return lambda v: choose_renewals([replace(JOINT, **_as(name, v))], 40.0)


def _as(name: str, value: float) -> dict[str, Any]:
    return {name: value}


ZERO_OR_MORE: dict[str, Try] = {
    **{f"option, {n}": _option(n) for n in ("time", "cost", "belt_taken", "belt_let_in")},
    **{
        f"situation, {n}": _situation(n)
        for n in (
            "window", "strength_needed", "belt_spare", "belt_in_stock", "stop_cost", "failure_cost",
        )
    },
    **{f"joint, {n}": _joint(n) for n in ("failure_cost", "renewal_cost")},
    "opening up": lambda v: choose_renewals([JOINT], 40.0, {"C": v}),
    "look of the planner": lambda v: PlannerCosts(1.0, 2.0, v),
    "look": lambda v: InspectionCosts(v, 1.0, 2.0),
    "repair": lambda v: InspectionCosts(1.0, v, 2.0),
    "damage that failed": lambda v: InspectionCosts(1.0, 1.0, v),
    "mean demand": poisson_law,
    "kit": lambda v: what_is_missing({"pin": v}, {}),
    "stock": lambda v: what_is_missing({}, {"pin": v}),
    "common cause": lambda v: with_common_cause(np.ones((1, 2)), v),
}  # fmt: skip
ABOVE_ZERO: dict[str, Try] = {
    "use until the next stop": _situation("until"),
    "crew hours of a joint": _joint("hours"),
    "crew hours": lambda v: choose_renewals([JOINT], v),
    "planned renewal": lambda v: PlannerCosts(v, 2.0),
    "failure": lambda v: PlannerCosts(1.0, v),
    "rate of damage": lambda v: inspect_by_cost(
        v,
        lambda gap: missed_if_delay_is_random(100.0, gap),
        InspectionCosts(1.0, 1.0, 9.0),
        1.0,
        90.0,
    ),
}
CHANCES: dict[str, Try] = {
    "left": _joint("chance_if_left"),
    "renewed": _joint("chance_if_renewed"),
}


@pytest.mark.parametrize("name", [*ZERO_OR_MORE, *ABOVE_ZERO])
def test_a_number_that_cannot_be_is_refused_and_the_least_is_accepted(name: str) -> None:
    tried = ZERO_OR_MORE.get(name) or ABOVE_ZERO[name]
    tried(0.0 if name in ZERO_OR_MORE else 1e-3)
    for wrong in (math.nan, math.inf, -1e-3, *([0.0] if name in ABOVE_ZERO else [])):
        with pytest.raises(InputError):
            tried(wrong)


@pytest.mark.parametrize("name", CHANCES)
def test_a_chance_is_0_to_1(name: str) -> None:
    for ends in (0.0, 1.0):
        CHANCES[name](ends)
    for wrong in (math.nan, -1e-3, 1.001):
        with pytest.raises(InputError):
            CHANCES[name](wrong)


def test_a_strength_kept_is_above_0_and_up_to_1() -> None:
    tried = _option("kept_strength")
    tried(1.0)
    for wrong in (math.nan, 0.0, 1.001):
        with pytest.raises(InputError):
            tried(wrong)
