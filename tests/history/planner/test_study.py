"""The days of the planner: when a joint comes to the age of its renewal, worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import pytest

from splicewright.history.fleet.joints import FleetJoint
from splicewright.history.life.lives import Life
from splicewright.history.planner.next_stop import PlannerCosts
from splicewright.history.planner.study import RenewJoint, weigh_joints

TODAY = date(2026, 11, 28)
H, A_DAY = 3600.0, 12 * 3600.0
FAILED = (2700.0, 2850, 3000, 3100, 3200, 3350)


def _joint(name: str, age: float, *, failed: bool = False) -> FleetJoint:
    life = Life(age * H, age * H if failed else math.inf, joint=name, cause="pull-out" * failed)
    return FleetJoint(name, "K1", "Karst Hollow", life, A_DAY, f"id {name}", running=not failed)


def _weighed(*running: FleetJoint) -> dict[str, RenewJoint]:
    found = weigh_joints(
        [*running, *(_joint(f"F{n}", age, failed=True) for n, age in enumerate(FAILED))],
        TODAY,
        TODAY + timedelta(days=30),
        TODAY + timedelta(days=90),
        PlannerCosts(3000.0, 24000.0, 100.0),
        None,
    )
    return {one.joint: one for one in found.joints}


@pytest.mark.parametrize(("name", "age"), [("young", 200.0), ("old", 2900.0)])
def test_the_day_of_renewal_is_today_and_what_is_left_of_the_age(name: str, age: float) -> None:
    one = _weighed(_joint(name, age))[name]
    assert one.past is (name == "old")
    assert one.since is not None
    days = (one.renew_at - one.age) / A_DAY
    # the first whole day by which that use is reached
    assert days <= (one.since - TODAY).days < days + 1


def test_a_belt_that_does_not_run_comes_to_no_day() -> None:
    stands = replace(_joint("stands", 200.0), per_day=0.0)
    crawls = replace(_joint("crawls", 200.0), per_day=1e-3)  # 10 million days to its age
    found = _weighed(stands, crawls, _joint("runs", 200.0))
    assert found["stands"].since is None
    assert found["crawls"].since is None
    assert found["runs"].since is not None
