"""Age and block replacement.

Worked example in the documentation of the library `reliability`, read: planned 1, unplanned 5,
shape 2.5, scale 1000: printed best age 493.19 and cost .0035. The printed age is the nearest point
of that library's grid; its cost differs in no printed digit.

The tables are no publication: they were worked beforehand from the textbook equations by scipy's
quad and brentq (ages), and from Xie's recursion of the renewal function in steps of .001 (blocks).
Exact: with shape 2 the hazard is 2 T, so at a failure twice as dear the cost is 2 T.
"""

import math

import pytest

from proof import proves
from splicewright.history.life.mixture import Mixture
from splicewright.history.life.weibull import Weibull
from splicewright.history.renewal import age_cost, renew_at_age

pytestmark = proves(
    "Stock, inspection and shutdown",
    "Cheapest age to renew",
    "A",
    "A printed example, tables worked beforehand, and the closed form at shape 2.",
    doubt="The printed age is the nearest point of that library's grid.",
    tolerance="half the last printed digit; 5e-4 on the age",
    sketch="weibull",
)


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


AGES = {
    1.5: [(2.1746, 2.2120), (1.1571, 3.2270), (0.6755, 4.9313), (0.3781, 8.3016),
          (0.2261, 13.5523)],
    2.0: [(1.0908, 2.1816), (0.7379, 2.9517), (0.5107, 4.0852), (0.3365, 6.0561), (0.2304, 8.7562)],
    2.5: [(0.8836, 2.0765), (0.6569, 2.6618), (0.4930, 3.4620), (0.3546, 4.7505), (0.2624, 6.3840)],
    3.0: [(0.8103, 1.9700), (0.6365, 2.4312), (0.5026, 3.0314), (0.3825, 3.9494), (0.2978, 5.0540)],
    4.0: [(0.7661, 1.7986), (0.6416, 2.1129), (0.5384, 2.4971), (0.4391, 3.0478), (0.3641, 3.6684)],
}  # fmt: skip


@pytest.mark.parametrize("shape", AGES)
def test_table_of_best_ages(shape: float) -> None:
    for dearer, (age, cost) in zip((2, 3, 5, 10, 20), AGES[shape], strict=True):
        rule = renew_at_age(Weibull(shape, 1.0), 1.0, float(dearer))
        assert rule.age == pytest.approx(age, abs=6e-5)
        assert rule.cost == pytest.approx(cost, abs=6e-5)


def test_shape_two_in_closed_form() -> None:
    rule = renew_at_age(Weibull(2.0, 1.0), 1.0, 2.0)
    assert rule.cost == pytest.approx(2 * rule.age, rel=1e-6)
