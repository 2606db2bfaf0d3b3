"""NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3, Weibull maximum likelihood. Seen.

Ten failures and ten units taken off test at 500 h. The page prints the log-likelihood without
its minus sign and lost a minus sign in its formula of the standard deviation.
"""

import math

import pytest

from proof import proves
from splicewright.history.life.comparison import compare_laws
from splicewright.history.life.lives import lives_of
from splicewright.history.life.weibull import fit_weibull

pytestmark = proves(
    "Wear and life",
    "Weibull law of 20 units, 10 suspended",
    "A",
    "Shape, scale, likelihood, mean, spread and AIC.",
    doubt="The page lost a minus sign in two formulas; its numbers are right.",
    tolerance="half the last printed digit",
    sketch="weibull",
)


FAILED = [54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0]
LIVES = lives_of([*FAILED, 500.0], [*FAILED, math.inf], count=[1] * 10 + [10])


def test_shape_scale_and_likelihood() -> None:
    fit = fit_weibull(LIVES)
    assert fit.law.shape == pytest.approx(1.7208, abs=5e-5)
    # the page's 606.5280 is 4e-4 above the maximum that three libraries agree on (606.5276)
    assert fit.law.scale == pytest.approx(606.5280, abs=1e-3)
    assert fit.loglik == pytest.approx(-75.135, abs=5e-4)


def test_mean_and_spread() -> None:
    law = fit_weibull(LIVES).law
    assert law.mean == pytest.approx(540.737, abs=1e-3)
    assert law.spread == pytest.approx(323.806, abs=1e-3)


def test_weibull_beside_lognormal() -> None:
    laws = compare_laws(fit_weibull(LIVES))
    assert laws.weibull == pytest.approx(154.27, abs=5e-3)
    assert laws.lognormal == pytest.approx(154.39, abs=5e-3)
