"""The limit of a planned joint, as its own steps print it."""

from __future__ import annotations

import pytest

from splicewright.errors import InputError
from splicewright.job.plan import plan
from splicewright.job.square_limit import square_limit
from strategies import conveyor_of, example_ranges, outline, work_of


def test_the_limit_is_the_plans_own() -> None:
    conveyor = conveyor_of(outline())
    made = plan(conveyor, work_of(conveyor), example_ranges())
    assert made.limits is not None
    limit = square_limit(made)
    assert limit.amount == made.limits.out_of_square.smallest.value
    assert "the maker's value takes precedence; typical case" in limit.reason.say()
    assert "{" not in limit.reason.say("inch")


def test_a_plan_without_a_joint_has_no_limit() -> None:
    conveyor = conveyor_of(outline())
    with pytest.raises(InputError) as caught:
        square_limit(plan(conveyor, work_of(conveyor), ()))
    assert str(caught.value) == (
        "squaring.plan: holds no joint with plates, so no limit; give limit in its place"
    )
