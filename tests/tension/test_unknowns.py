"""What is not known: quantiles against scipy.stats, Monte Carlo against closed forms."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from depth import examples
from proof import proves
from splicewright.plant import Conveyor
from splicewright.quantities import Given, Kind, Origin
from splicewright.tension import unknowns
from splicewright.tension.unknowns import (
    from_uniform,
    inputs_of,
    open_inputs,
    swings,
    variants,
    with_inputs,
)
from strategies import conveyor_of, invented, metres, outline

pytestmark = proves(
    "Tension of the running belt",
    "What is not known: quantiles and sampling",
    "C",
    "Ranges of inputs become a range of demand; triangular quantiles by SciPy, sums in closed "
    "form.",
    doubt="Exact laws; SciPy's quantiles to about 1e-12.",
    tolerance="1e-9 or less for quantiles in closed form; 1e-3 of the value for quantiles of 4096 "
    "even samples, 0.03 for shares of the spread, 2 % between two sets of samples",
    sketch="spread",
)


G = 9.81
SHARES = np.linspace(0.001, 0.999, 41)


def an_input(origin: Origin, value: float, low: float, high: float, sd: float = 0.0) -> Given:
    return Given("x", "x", value, Kind.RATIO, origin, "", low, high, sd)


@pytest.mark.parametrize("peak", [2.0, 2.3, 4.0, 5.0])
def test_an_assumption_is_triangular(peak: float) -> None:
    found = from_uniform(an_input(Origin.ASSUMED, peak, 2.0, 5.0), SHARES)
    reference = stats.triang(c=(peak - 2) / 3, loc=2, scale=3)
    np.testing.assert_allclose(found, reference.ppf(SHARES), rtol=1e-12)


@pytest.mark.parametrize("origin", [Origin.FILE, Origin.MEASURED])
def test_a_stated_range_is_uniform(origin: Origin) -> None:
    found = from_uniform(an_input(origin, 3.0, 2.0, 5.0), SHARES)
    np.testing.assert_allclose(found, stats.uniform(2, 3).ppf(SHARES), rtol=1e-12)


def test_a_standard_deviation_is_a_normal_cut_off_at_its_span() -> None:
    found = from_uniform(an_input(Origin.MEASURED, 3.0, 2.5, 4.5, 0.5), SHARES)
    reference = stats.truncnorm(-1.0, 3.0, loc=3.0, scale=0.5)
    np.testing.assert_allclose(found, reference.ppf(SHARES), rtol=1e-9)


def linear(**loads: Any) -> Conveyor:
    """A conveyor whose running demand is linear in load and rises: friction nil, nothing else open.

    Take-up tension T, one run that rises by h: the tight side is T + g h (q_B + q_G).
    """
    told = outline(
        outline={
            "centre_distance": "100 m", "lift": "10 m", "smallest_pulley": "500 mm",
            "drive_wrap": "180 deg", "take_up_distance": "50 m",
        },
        belt={"mass": "12 kg/m"},
        material={"rate": "100 kg/s", "line_mass": loads.get("line_mass", "60 to 100 kg/m")},
        drives=[{"name": "d"}],
        take_up={"kind": "gravity", "mass": loads.get("mass", "4000 to 5000 kg")},
        resistance={"friction": 0, "length_coefficient": 1},
    )  # fmt: skip
    conveyor = conveyor_of(told)
    known = {"resistance.friction", "material.line_mass", "take_up.mass"}
    settled: Conveyor = _settled(conveyor, known)
    return settled


def _settled(item: Any, known: set[str]) -> Any:
    """All spans closed but those of the keys wanted, and no pulley adds to the tension."""
    from dataclasses import fields, is_dataclass, replace

    if isinstance(item, Given):
        if item.key.endswith(".loss"):
            return replace(item, value=1.0, low=1.0, high=1.0)
        return item if item.key in known else replace(item, low=item.value, high=item.value, sd=0.0)
    if isinstance(item, tuple):
        return tuple(_settled(part, known) for part in item)
    if is_dataclass(item) and not isinstance(item, type):
        return replace(
            item, **{f.name: _settled(getattr(item, f.name), known) for f in fields(item)}
        )
    return item


# The take-up hangs 3 m (the assumed depth) under the middle of the return, which lies 5 m under
# the head: the slack side is T + g q_B 8 m, the tight side g h q_G more.
def tight(mass: Any, load: Any) -> Any:
    return (mass * G / 2 + G * 12 * (5 + 3) + G * 10 * load) / 0.8


def test_the_linear_conveyor_is_what_it_says() -> None:
    mass, load = np.array([4000.0, 4700.0]), np.array([60.0, 95.0])
    found = variants(linear(), {"take_up.mass": mass, "material.line_mass": load})[0]
    np.testing.assert_allclose(found, tight(mass, load), rtol=1e-9)
    assert {g.key for g in open_inputs(linear())} == {"take_up.mass", "material.line_mass"}


def test_sum_of_two_uniforms_by_closed_form() -> None:
    """Parts a = g Δm/(2 B) and b = 10 g Δq/B wide: a trapezoidal sum; its quantiles by hand."""
    low = tight(4000.0, 60.0)
    a, b = 1000 * G / 2 / 0.8, 10 * G * 40 / 0.8
    a, b = min(a, b), max(a, b)
    # Below the knee, P(s) = s^2/(2 a b); between, (s - a/2)/b.
    chance = (low + a + b) - math.sqrt(2 * a * b * 0.02)  # exceeded in 2 of 100
    found = unknowns(linear(), rating=chance, samples=4096)
    assert found.running.median == pytest.approx(low + (a + b) / 2, rel=1e-4)
    knee = a / (2 * b)

    def quantile(p: float) -> float:
        return float(low) + (math.sqrt(2 * a * b * p) if p < knee else b * p + a / 2)

    assert found.running.low == pytest.approx(quantile(0.05), rel=1e-3)
    assert found.running.high == pytest.approx(2 * low + a + b - quantile(0.05), rel=1e-3)
    assert found.exceeded == pytest.approx(0.02, abs=2e-3)


def test_mean_and_variance_of_the_sum() -> None:
    conveyor = linear()
    given_ = open_inputs(conveyor)
    sampler = stats.qmc.Sobol(len(given_), rng=np.random.default_rng(3))
    shares = sampler.random_base2(12).T
    values = {g.key: from_uniform(g, s) for g, s in zip(given_, shares, strict=True)}
    found = variants(conveyor, values)[0]
    a, b = 1000 * G / 2 / 0.8, 10 * G * 40 / 0.8
    assert float(np.mean(found)) == pytest.approx(tight(4500.0, 80.0), rel=1e-5)
    assert float(np.var(found)) == pytest.approx((a**2 + b**2) / 12, rel=1e-3)


def test_ranking_of_a_sum_with_known_indices() -> None:
    """Sobol indices of a sum of independent parts: each part's variance over the whole."""
    a, b = 1000 * G / 2, 10 * G * 40
    wanted = {"take_up.mass": a**2 / (a**2 + b**2), "material.line_mass": b**2 / (a**2 + b**2)}
    found = unknowns(linear())
    assert [i.given.key for i in found.influences] == sorted(wanted, key=lambda k: -wanted[k])
    for influence in found.influences:
        assert influence.alone == pytest.approx(wanted[influence.given.key], abs=0.03)
        assert influence.total == pytest.approx(influence.alone, abs=0.03)  # nothing interacts


def test_swings_of_the_sum() -> None:
    by = {s.given.key: s for s in swings(linear())}
    middle = {"take_up.mass": 4500.0, "material.line_mass": 80.0}
    for key, (low, high) in {
        "take_up.mass": (4000.0, 5000.0), "material.line_mass": (60.0, 100.0),
    }.items():  # fmt: skip
        ends = [tight(*({**middle, key: v}[k] for k in middle)) for v in (low, high)]
        assert (by[key].at_low, by[key].at_high) == pytest.approx(tuple(ends), rel=1e-9)


def test_same_seed_same_answer() -> None:
    conveyor = invented("flat")
    one, two = (unknowns(conveyor, 30e3, 256, seed=7) for _ in range(2))
    assert one == two
    other = unknowns(conveyor, 30e3, 256, seed=8)
    assert other.running != one.running
    assert other.running.median == pytest.approx(one.running.median, rel=0.02)


def test_the_next_power_of_two_is_taken() -> None:
    assert unknowns(invented("flat"), samples=200, rank=False).samples == 256
    assert unknowns(invented("flat"), samples=256, rank=False).samples == 256


def test_nothing_open_is_one_value() -> None:
    conveyor = _settled(invented("flat"), set())
    found = unknowns(conveyor, rating=1.0)
    assert found.running.low == found.running.median == found.running.high
    assert found.exceeded == 1.0
    assert found.influences == ()
    assert swings(conveyor) == ()


def test_an_open_input_that_moves_nothing_is_not_ranked() -> None:
    conveyor = linear(line_mass="80 kg/m", mass="4500 kg")
    moved = _settled(conveyor_of(outline()), {"conveyor.ambient"})
    assert unknowns(moved, samples=64).influences == ()
    assert unknowns(conveyor, samples=64).influences == ()


@settings(max_examples=examples(10), deadline=None)
@given(metres(4, 30), metres(0.5, 3), st.sampled_from(["head", "tail"]))
def test_a_lift_that_is_not_known_still_comes_back_down(
    lift: float, spread: float, at: str
) -> None:
    """The return side falls as far as the carry side rises: belt weight cancels round the loop."""
    told = outline(
        outline={"lift": f"{lift - spread} to {lift + spread} m", "drive_at": at},
        resistance={"friction": 0, "length_coefficient": 1},
    )
    conveyor = conveyor_of(told)
    given_ = {g.key: g for g in open_inputs(conveyor)}
    assert "outline.return_1_rise" not in given_
    for key in ("outline.lift", "outline.take_up_depth"):
        ends = np.array([given_[key].low, given_[key].high])
        many = with_inputs(conveyor, {key: ends})
        total = sum(np.asarray(r.rise.value) for r in many.runs())
        np.testing.assert_allclose(total, 0, atol=1e-9)


def test_a_rise_of_one_run_that_is_not_known_comes_back_down() -> None:
    conveyor = invented("incline")
    rises = np.array([33.0, 35.0])
    many = with_inputs(conveyor, {"loop.3.rise": rises})
    total = sum(np.asarray(r.rise.value) for r in many.runs())
    np.testing.assert_allclose(total, 0, atol=1e-9)
    by = {r.name: np.asarray(r.rise.value) for r in many.runs()}
    np.testing.assert_allclose(by["into the take-up"], -6)  # a hanging run stays as it is
    np.testing.assert_allclose(by["incline"], rises)
    # ... and what follows one key follows it everywhere.
    assert sum(1 for g in inputs_of(many) if g.of) == 0
