"""Age replacement: the worked example in the documentation of the library `reliability`. Read.

Planned 1, unplanned 5, shape 2.5, scale 1000: printed best age 493.19 and cost .0035. The
printed age is the nearest point of that library's grid; its cost differs in no printed digit.
"""

import math

import pytest

from splicewright.history.mixture import Mixture
from splicewright.history.renewal import age_cost, renew_at_age
from splicewright.history.weibull import Weibull

LAW = Weibull(2.5, 1000.0)


def test_printed_example() -> None:
    rule = renew_at_age(LAW, 1.0, 5.0)
    assert rule.age == pytest.approx(493.19, rel=5e-4)
    assert rule.cost == pytest.approx(0.0035, abs=5e-5)
    printed = float(age_cost(Mixture((LAW,), (1.0,)), 1.0, 5.0, 493.19))
    assert printed == pytest.approx(rule.cost, rel=1e-7)
    assert printed >= rule.cost


def test_run_to_failure_is_the_cost_over_the_mean_life() -> None:
    # exact: Γ(1.4) = 0.88726 (table of the gamma function)
    assert math.gamma(1.4) == pytest.approx(0.88726, abs=5e-6)
    assert renew_at_age(LAW, 1.0, 5.0).run_to_failure == pytest.approx(5 / 887.26, rel=1e-5)
