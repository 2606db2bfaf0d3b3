"""Belts of one kind: leaning, doubt, and what is refused."""

import math

import numpy as np
import pytest

from splicewright.errors import InputError
from splicewright.history.wear.belts_alike import fit_alike
from splicewright.history.wear.limit_met import Reading
from splicewright.history.wear.line import fit_line


def belts(seed: int = 1, number: int = 12, looks: int = 6) -> dict[str, list[Reading]]:
    rng = np.random.default_rng(seed)
    made = {}
    for i in range(number):
        start, rate = 0.012 + 2e-4 * rng.standard_normal(), -1e-6 + 2e-7 * rng.standard_normal()
        made[f"belt {i}"] = [
            Reading(u, start + rate * u + 2e-4 * rng.standard_normal())
            for u in np.linspace(0, 5000, looks)
        ]
    return made


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_spreads_in_closed_form_when_all_are_read_at_the_same_uses(seed: int) -> None:
    # variance of the belts' own intercepts and slopes, less what the noise gives them
    data = belts(seed, number=60)
    own = [fit_line([r.use for r in rs], [r.value for r in rs]) for rs in data.values()]
    noise = float(np.mean([line.spread**2 for line in own]))
    (a, b), (_, c) = own[0].unit_covariance
    between = np.cov([line.intercept for line in own], [line.slope for line in own])
    between -= noise * np.array([[a, b], [b, c]])
    lines = fit_alike(data)
    assert lines.noise == pytest.approx(math.sqrt(noise), rel=1e-5)
    assert lines.spread_start == pytest.approx(math.sqrt(between[0, 0]), rel=1e-4)
    assert lines.spread_rate == pytest.approx(math.sqrt(between[1, 1]), rel=1e-4)
    product = lines.correlation * lines.spread_start * lines.spread_rate
    assert product == pytest.approx(between[0, 1], rel=1e-2, abs=1e-14)
    assert lines.typical.slope == pytest.approx(np.mean([line.slope for line in own]), rel=1e-6)


def test_lines_are_drawn_toward_the_typical_one() -> None:
    data = belts()
    lines = fit_alike(data)
    own = {n: fit_line([r.use for r in rs], [r.value for r in rs]) for n, rs in data.items()}
    for use in (0.0, 2500.0, 8000.0):
        typical = lines.typical.at(use)
        alone = np.array([own[n].at(use) - typical for n in data])
        leaning = np.array([lines.belts[n].at(use) - typical for n in data])
        assert float(leaning @ leaning) < float(alone @ alone)
        assert float(np.corrcoef(alone, leaning)[0, 1]) > 0.8


def test_a_belt_with_few_readings_is_less_sure_than_one_with_many_and_surer_than_none() -> None:
    data = belts()
    data["short"] = data["belt 0"][:2]
    lines = fit_alike(data)
    width = [
        line.half_width(6000.0, 0.9, reading=False)
        for line in (lines.belts["belt 1"], lines.belts["short"], lines.new)
    ]
    assert width == sorted(width)


def test_the_unit_of_use_does_not_matter() -> None:
    data = belts()
    hours = fit_alike(data)
    seconds = fit_alike({n: [Reading(3600 * r.use, r.value) for r in rs] for n, rs in data.items()})
    assert seconds.typical.slope == pytest.approx(hours.typical.slope / 3600, rel=1e-6)
    assert seconds.spread_rate == pytest.approx(hours.spread_rate / 3600, rel=1e-4)


def test_ranges_hold_the_next_reading_nine_times_in_ten() -> None:
    # 25 sets of 12 belts: standard error 0.017
    held = []
    for seed in range(25):
        data = belts(seed)
        lines = fit_alike({n: rs[:5] for n, rs in data.items()})
        for name, readings in data.items():
            line, last = lines.belts[name], readings[5]
            half = line.half_width(last.use, 0.9, reading=True)
            held.append(abs(last.value - line.at(last.use)) <= half)
    assert 0.85 < float(np.mean(held)) < 0.94


def test_belts_that_cannot_be_compared_are_refused() -> None:
    data = belts(number=3)
    with pytest.raises(InputError) as caught:
        fit_alike({"a": data["belt 0"], "b": data["belt 1"]})
    assert str(caught.value) == "belts: 2 are too few to say how alike they are; give three"
    with pytest.raises(InputError, match="have too few readings; give more than two to a belt"):
        fit_alike({n: rs[:2] for n, rs in data.items()})
    with pytest.raises(InputError, match="belt a: has no reading; leave it out"):
        fit_alike({**data, "a": []})
    with pytest.raises(InputError, match="belt a: has a use or value that is no finite number"):
        fit_alike({**data, "a": [Reading(math.nan, 1.0)]})
    with pytest.raises(InputError, match="were all read at one use"):
        fit_alike({n: [Reading(5.0, 0.01)] * 4 for n in "abc"})
