"""Rates shared between conveyors: limits of the method and refusals."""

import math

import numpy as np
import pytest

from splicewright.errors import InputError
from splicewright.history.life.rates import most_likely_scatter, pool_rates


def test_much_exposure_leaves_each_rate_to_its_own_counts() -> None:
    counts, exposure = np.array([400.0, 900.0, 2500.0]), np.array([1000.0, 1000.0, 1000.0])
    pooled = pool_rates(counts, exposure)
    np.testing.assert_allclose(pooled.mean, counts / exposure, rtol=0.01)
    # a Poisson count alone gives sqrt(count)/exposure
    np.testing.assert_allclose(pooled.spread, np.sqrt(counts) / exposure, rtol=0.02)


def test_little_exposure_leans_on_the_others() -> None:
    pooled = pool_rates([50, 60, 55, 0], [100.0, 100.0, 100.0, 0.5])
    assert 0.2 < pooled.mean[3] < 0.6


def test_counts_as_alike_as_chance_show_no_scatter() -> None:
    with pytest.raises(InputError) as caught:
        most_likely_scatter([10, 10, 10, 10], [5.0, 5.0, 5.0, 5.0])
    assert str(caught.value) == (
        "counts: are as alike as chance makes them: they show no scatter of rates"
    )


@pytest.mark.parametrize(
    ("counts", "exposure", "words"),
    [
        ([1, 2], [1.0], "counts: 2 counts for 1 exposures; give one of each per conveyor"),
        ([1.5], [1.0], "counts: 1.5 must be a whole number of zero or more"),
        ([-1], [1.0], "counts: -1 must be a whole number of zero or more"),
        ([1], [0.0], "exposure: 0 must be a finite number above zero"),
        ([1], [math.nan], "exposure: nan must be a finite number above zero"),
        (
            [0, 0],
            [1.0, 2.0],
            "counts: are all zero, so there is no rate to share between conveyors",
        ),
    ],
)
def test_counts_that_cannot_be(counts: list[float], exposure: list[float], words: str) -> None:
    with pytest.raises(InputError) as caught:
        pool_rates(counts, exposure)
    assert str(caught.value) == words
