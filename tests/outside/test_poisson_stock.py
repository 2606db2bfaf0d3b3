"""Poisson stock tables.

Loss function at a mean of 1.25: Cachon and Terwiesch, Matching Supply with Demand, appendix
(read). Cumulative law at a mean of 4 and the stock for a service level of .60: Stevenson,
Operations Management, 14th edition, example 15 (read).
"""

import numpy as np
import pytest

from splicewright.history.stock import poisson_law, service_of, stock_for_ready


def test_loss_function() -> None:
    law = poisson_law(1.25)
    printed = [1.25000, 0.53650, 0.18114, 0.04961, 0.01134, 0.00221, 0.00038, 0.00006, 0.00001]
    ours = [service_of(s, law).waiting for s in range(9)]
    assert ours == pytest.approx(printed, abs=5.1e-6)


def test_cumulative_law_and_stock() -> None:
    law = poisson_law(4.0)
    printed = [0.018, 0.092, 0.238, 0.433, 0.629, 0.785]
    np.testing.assert_allclose(np.cumsum(law)[:6], printed, atol=5.1e-4)
    assert stock_for_ready(law, 0.60).stock == 4
