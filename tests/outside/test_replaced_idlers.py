"""Lives read out of a log that began late: ten units of rleadbett/thesis (MIT text), ch. 2. Read.

Repeated replacements were drawn from a Weibull law of shape 1.1 and scale 1 and watched from 5 to 6
only, so most lives are cut off at one end or both. The thesis fits them by sampling and prints
pictures, no numbers; checks are the law they were drawn from and another library's fit.
"""

import numpy as np
import pytest

from splicewright.history.life.lives import lives_of
from splicewright.history.life.weibull import fit_weibull, log_likelihood

# true install, observed install, observed end, whether it failed then (before 6.00)
LOG = [
    (4.53, 5.00, 6.00, 0), (3.51, 5.00, 5.22, 1), (5.22, 5.22, 5.99, 1), (5.99, 5.99, 6.00, 0),
    (4.94, 5.00, 6.00, 0), (3.27, 5.00, 6.00, 0), (3.85, 5.00, 5.99, 1), (5.99, 5.99, 6.00, 0),
    (4.16, 5.00, 5.28, 1), (5.28, 5.28, 5.50, 1), (5.50, 5.50, 6.00, 0), (4.90, 5.00, 5.61, 1),
    (5.61, 5.61, 6.00, 0), (2.73, 5.00, 5.72, 1), (5.72, 5.72, 6.00, 0), (4.68, 5.00, 5.66, 1),
    (5.66, 5.66, 6.00, 0), (2.77, 5.00, 5.85, 1), (5.85, 5.85, 6.00, 0),
]  # fmt: skip
BORN, SEEN, END, FAILED = np.array(LOG).T
LIVES = lives_of(END - BORN, np.where(FAILED > 0, END - BORN, np.inf), entered=SEEN - BORN)


def test_fit_agrees_with_lifelines() -> None:
    import lifelines

    fit = fit_weibull(LIVES)
    other = lifelines.WeibullFitter().fit(END - BORN, FAILED, entry=SEEN - BORN)
    assert fit.law.shape == pytest.approx(other.rho_, rel=1e-4)
    assert fit.law.scale == pytest.approx(other.lambda_, rel=1e-4)


def test_the_law_they_were_drawn_from_is_within_the_limits() -> None:
    fit = fit_weibull(LIVES)
    truth = float(log_likelihood(LIVES, 1.1, 1.0))
    # both numbers at once: chi-square with two degrees of freedom, 4.605 at 90 % (table)
    assert 2 * (fit.loglik - truth) < 4.605


def test_lives_that_began_before_the_log_look_too_long_without_their_start() -> None:
    told = fit_weibull(LIVES).law.mean
    untold = fit_weibull(lives_of(LIVES.good, LIVES.bad)).law.mean
    assert untold > 1.15 * told
