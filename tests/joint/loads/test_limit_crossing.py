"""Where something passes its limit: against roots known beforehand."""

from __future__ import annotations

import math

import pytest

from splicewright.joint.loads.limit_crossing import crossing


@pytest.mark.parametrize("bend", [0.0, 0.3, 0.9])
def test_straight_in_pieces(bend: float) -> None:
    """-1 + x up to 0.5, then with another slope: the root by hand."""

    def over(x: float) -> float:
        return x - 1 if x < 0.5 else -0.5 + (1 + bend) * (x - 0.5)

    found = crossing(over, (0.0, over(0.0)), (3.0, over(3.0)))
    assert found == pytest.approx(0.5 + 0.5 / (1 + bend), rel=1e-11)


def test_a_curve_that_hardly_rises_at_first() -> None:
    found = crossing(lambda x: x**7 - 1e-3, (0.0, -1e-3), (2.0, 2.0**7 - 1e-3))
    assert found == pytest.approx(1e-3 ** (1 / 7), rel=1e-9)


def test_at_a_step_the_answer_lies_below_it() -> None:
    """A jump has no point on the limit: what is given is not over it."""
    found = crossing(lambda x: -1.0 if x < math.e / 2 else 5.0, (0.0, -1.0), (2.0, 5.0))
    assert found < math.e / 2
    assert found == pytest.approx(math.e / 2, rel=1e-5)
