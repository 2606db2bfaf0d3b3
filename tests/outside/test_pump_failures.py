"""Failures of ten pumps: Gaver and O'Muircheartaigh, Technometrics 29 (1987).

Data read in three public copies (the "pump" example of BUGS, Stan and NIMBLE). The most likely
scatter, alpha .82 and beta 1.26, was read; so were the means of the full Bayes answer, .70 and
.93. The table of the BUGS manual (4 digits, by sampling) is from memory.
"""

import numpy as np
import pytest

from proof import proves
from splicewright.history.life.rates import most_likely_scatter, pool_rates

pytestmark = proves(
    "Wear and life",
    "Failures of ten pumps",
    "A",
    "Rates pooled over units: most likely scatter and the full answer.",
    doubt="Printed means by sampling, good to two digits.",
    tolerance="half the last printed digit, 0.01 to 0.02 for sampled values",
    sketch="weibull",
)


FAILURES = np.array([5, 1, 5, 14, 3, 19, 1, 1, 4, 22.0])
THOUSAND_HOURS = np.array([94.3, 15.7, 62.9, 126, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5])


def test_most_likely_scatter() -> None:
    scatter = most_likely_scatter(FAILURES, THOUSAND_HOURS)
    assert scatter.alpha == pytest.approx(0.82, abs=0.005)
    assert scatter.beta == pytest.approx(1.26, abs=0.005)
    # a start value printed in a public script, from an earlier estimate of the same maximum
    assert scatter.alpha == pytest.approx(0.8237675, rel=2e-3)
    assert scatter.beta == pytest.approx(1.2634812, rel=2e-3)


def test_full_answer() -> None:
    pooled = pool_rates(FAILURES, THOUSAND_HOURS)
    assert pooled.alpha == pytest.approx(0.70, abs=0.005)
    assert pooled.beta == pytest.approx(0.93, abs=0.005)
    # from memory, with the sampling error of the manual's run
    assert pooled.alpha == pytest.approx(0.6951, abs=0.01)
    assert pooled.alpha_spread == pytest.approx(0.2764, abs=0.01)
    assert pooled.beta == pytest.approx(0.9189, abs=0.02)
    assert pooled.beta_spread == pytest.approx(0.5451, abs=0.01)
    assert pooled.mean[0] == pytest.approx(0.0598, abs=5e-4)
    assert pooled.mean[9] == pytest.approx(1.995, abs=0.01)


def test_rates_lie_between_their_own_and_the_common_one() -> None:
    pooled = pool_rates(FAILURES, THOUSAND_HOURS)
    own, common = FAILURES / THOUSAND_HOURS, pooled.alpha / pooled.beta
    low, high = np.minimum(own, common), np.maximum(own, common)
    assert ((pooled.mean > 0.95 * low) & (pooled.mean < 1.05 * high)).all()
