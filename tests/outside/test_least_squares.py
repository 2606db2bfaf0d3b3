"""The fitted centreline against published regression results and NumPy.

NIST Statistical Reference Datasets, linear regression, "Norris": certified intercept
-0.262323073774029 (sd 0.232818234301152), slope 1.00211681802045 (sd 0.429796848199937e-3),
residual sd 0.884796396144373. The data are typed in; they reproduce the certified values.
Student's t from the usual table: 2.0322 at 34 degrees of freedom.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from proof import proves
from splicewright.joint.belt_end.centreline import fit_centreline

NORRIS = """0.1 0.2 338.8 337.4 118.1 118.2 888.0 884.6 9.2 10.1 228.1 226.5 668.5 666.3 998.5 996.3
449.1 448.6 778.9 777.0 559.2 558.2 0.3 0.4 0.1 0.6 778.1 775.5 668.8 666.9 339.3 338.0 448.9 447.5
10.8 11.6 557.7 556.0 228.3 228.1 998.0 995.8 888.8 887.6 119.6 120.2 0.3 0.3 0.6 0.3 557.6 556.8
339.3 339.1 888.0 887.2 998.5 999.0 778.9 779.0 10.2 11.1 117.6 118.3 228.9 229.2 668.4 669.1
449.2 448.9 0.2 0.5"""


@proves(
    "Choice, layout and marking",
    "Centreline by least squares: certified line",
    "A",
    "NIST's certified straight line \"Norris\" through the squaring's own fit.",
    doubt="Certified to fifteen digits.",
    tolerance="1e-9 to 1e-12; 3e-5 where Student's t is read from a table of five digits",
    sketch="square",
)
def test_norris() -> None:
    y, x = np.array(NORRIS.split(), dtype=float).reshape(-1, 2).T
    # Stations must differ: equal x are moved apart by nothing that shows.
    assert len(x) == 36
    seen: dict[float, int] = {}
    for i, value in enumerate(x):
        seen[value] = seen.get(value, 0) + 1
        x[i] = value + (seen[value] - 1) * 1e-12
    found = fit_centreline(x.tolist(), y.tolist())
    assert found.offset == pytest.approx(-0.262323073774029, rel=1e-9)
    assert found.slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert found.scatter == pytest.approx(0.884796396144373, rel=1e-10)
    assert found.slope_uncertainty == pytest.approx(2.0322 * 0.429796848199937e-3, rel=3e-5)
    assert found.uncertainty_at(0.0) == pytest.approx(2.0322 * 0.232818234301152, rel=3e-5)


@settings(deadline=None)
@given(
    x=st.lists(st.integers(0, 70), min_size=5, max_size=12, unique=True), seed=st.integers(0, 10**6)
)
def test_line_and_parabola_are_numpys(x: list[int], seed: int) -> None:
    stations = np.array(x) / 10
    y = np.random.default_rng(seed).normal(0, 0.02, len(x)) + 0.03 * stations
    found = fit_centreline(stations.tolist(), y.tolist(), reading=0.0)
    (slope, offset), cov = np.polyfit(stations, y, 1, cov=True)
    assert found.slope == pytest.approx(slope, abs=1e-9)
    assert found.offset == pytest.approx(offset, abs=1e-9)
    ratio = found.uncertainty_at(0.0) / found.slope_uncertainty
    assert ratio == pytest.approx(float(np.sqrt(cov[1, 1] / cov[0, 0])), rel=1e-6)
    curve = np.polyfit(stations, y, 2)[0]
    assert found.bow == pytest.approx(-curve * np.ptp(stations) ** 2 / 4, abs=1e-9)


def test_doubt_of_the_bow_is_that_of_the_parabola() -> None:
    """t sqrt(cov) of numpy's quadratic, times L²/4: the height over the chord."""
    from scipy.stats import t as student

    stations = [0.0, 1.1, 2.0, 3.3, 4.1, 5.0, 6.2]
    middles = [0.0, 9e-3, 14e-3, 18e-3, 15e-3, 12e-3, 1e-3]
    found = fit_centreline(stations, middles)
    (curve, _, _), cov = np.polyfit(stations, middles, 2, cov=True)
    height = 6.2**2 / 4
    assert found.bow == pytest.approx(-curve * height)
    wanted = student.ppf(0.975, 7 - 3) * np.sqrt(cov[0, 0]) * height
    assert found.bow_uncertainty == pytest.approx(wanted, rel=1e-6)
