"""Poisson stock tables.

Loss function at a mean of 1.25: Cachon and Terwiesch, Matching Supply with Demand, appendix
(read). Cumulative law at a mean of 4 and the stock for a service level of .60: Stevenson,
Operations Management, 14th edition, example 15 (read). Exact: mean 1. An exercise (read, its answer
not): 1.5 a day, three days of lead and daily review, so a mean of 6.
"""

import numpy as np
import pytest

from proof import proves
from splicewright.history.stock.levels import poisson_law, service_of, stock_for_fill

pytestmark = proves(
    "Stock, inspection and shutdown",
    "Stock tables",
    "A",
    "Loss function, cumulative law and stock for a service level.",
    doubt="Textbook tables, read; printed to five decimals.",
    tolerance="half the last printed digit",
    sketch="stock",
)


def test_loss_function() -> None:
    law = poisson_law(1.25)
    printed = [1.25000, 0.53650, 0.18114, 0.04961, 0.01134, 0.00221, 0.00038, 0.00006, 0.00001]
    ours = [service_of(s, law).waiting for s in range(9)]
    assert ours == pytest.approx(printed, abs=5.1e-6)


def test_cumulative_law_and_stock() -> None:
    law = poisson_law(4.0)
    printed = [0.018, 0.092, 0.238, 0.433, 0.629, 0.785]
    np.testing.assert_allclose(np.cumsum(law)[:6], printed, atol=5.1e-4)
    assert service_of(3, law).ready < 0.60 <= service_of(4, law).ready


def test_mean_of_one_exactly() -> None:
    law = poisson_law(1.0)
    waiting = [service_of(s, law).waiting for s in range(5)]
    # E(s) = E(s - 1) - P(X >= s), from E(0) = 1, with e = 2.718281828
    assert waiting == pytest.approx([1.0, 0.3679, 0.1036, 0.0233, 0.0043], abs=6e-5)
    fill = [service_of(s, law).fill for s in range(1, 6)]
    assert fill == pytest.approx([0.3679, 0.7358, 0.9197, 0.9810, 0.9963], abs=6e-5)
    assert stock_for_fill(law, 0.99).stock == 5


def test_daily_review() -> None:
    law = poisson_law(6.0)
    assert 1 - service_of(8, law).ready == pytest.approx(0.15276, abs=6e-6)
