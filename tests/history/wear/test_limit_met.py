"""Wear to a limit: what is answered, with how many readings, and what is refused."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from depth import examples
from splicewright.errors import InputError
from splicewright.history.wear.limit_met import (
    Reading,
    WearForecast,
    forecast_wear,
    which_goes_first,
)
from splicewright.quantities.measure import Measure


def worn(rate: float = 1e-6, noise: float = 1e-4, number: int = 8, seed: int = 1) -> list[Reading]:
    """A 12 mm cover read every 500 h, losing `rate` metres an hour."""
    rng = np.random.default_rng(seed)
    return [
        Reading(500.0 * i, 0.012 - rate * 500 * i + noise * rng.standard_normal(), f"look {i}")
        for i in range(number)
    ]


def forecast(readings: list[Reading], **more: object) -> WearForecast:
    return forecast_wear(readings, 0.004, place="left edge", **more)  # type: ignore[arg-type]


def test_limit_and_its_range_lie_ahead() -> None:
    result = forecast(worn())
    assert result.now == 3500.0
    assert result.likely == pytest.approx(8000, rel=0.05)
    assert result.now < result.earliest < result.likely < result.latest < math.inf
    assert result.left == pytest.approx(result.likely - 3500)
    assert result.sentence == "the limit lies ahead, within the range given"


def test_a_new_reading_moves_the_forecast() -> None:
    before = forecast(worn())
    after = forecast([*worn(), Reading(4000.0, 0.0070, "look 8")])
    assert after.likely < before.likely


def test_a_depth_that_grows_to_its_limit_is_the_same_in_the_mirror() -> None:
    thick = forecast(worn())
    depth = forecast_wear([Reading(r.use, 0.012 - r.value + 1e-3) for r in worn()], 0.009)
    assert depth.likely == pytest.approx(thick.likely, rel=1e-9)
    assert depth.latest == pytest.approx(thick.latest, rel=1e-9)


def test_a_wild_reading_is_named_with_what_was_expected() -> None:
    readings = worn()
    readings[4] = Reading(2000.0, 0.0050, "12 March")
    result = forecast(readings)
    assert [w.reading.label for w in result.wild] == ["12 March"]
    assert result.wild[0].expected == pytest.approx(0.010, abs=3e-4)
    assert result.sentence.endswith("; 1 reading lies far off and counted less")
    assert result.likely == pytest.approx(8000, rel=0.1)


def test_next_reading_is_expected_in_a_range() -> None:
    low, high = forecast(worn()).next_reading(4000.0)
    assert low < 0.008 < high
    with pytest.raises(InputError) as caught:
        forecast(worn(number=2)).next_reading(4000.0)
    assert str(caught.value) == (
        "left edge: has too few readings to say where the next one should lie"
    )


def test_one_reading_says_what_is_missing() -> None:
    result = forecast(worn(number=1))
    assert result.line is None
    assert math.isinf(result.likely)
    assert result.sentence == (
        "one use only has been read: wear shows from the second on, or from a known new value"
    )


def test_one_reading_and_the_new_value_give_a_rate() -> None:
    result = forecast([Reading(1000.0, 0.010)], start=0.012)
    assert result.likely == pytest.approx(4000.0)
    assert result.earliest == 1000.0
    assert math.isinf(result.latest)
    assert result.sentence.startswith("the readings give a rate but no range")


def test_the_gauge_s_error_gives_a_range_to_one_reading() -> None:
    result = forecast([Reading(1000.0, 0.010)], start=0.012, gauge_error=1e-4)
    # Fieller by hand: slope -2e-6 with error 1e-7, reading error 1e-4 about the limit
    half = 1.6448536 * 1e-4
    for end in (result.earliest, result.latest):
        gap = abs(0.012 - 2e-6 * end - 0.004)
        assert gap == pytest.approx(half * math.sqrt(1 + (end / 1000) ** 2), rel=1e-4)


def test_two_readings_give_a_rate_only() -> None:
    result = forecast(worn(noise=0.0, number=2))
    assert result.likely == pytest.approx(8000.0)
    assert math.isinf(result.latest)


def test_readings_that_repeat_themselves_are_not_taken_for_exact() -> None:
    # a gauge that shows 0.1 mm: four equal readings and two on the way
    uses = [0.0, 0.0, 0.0, 0.0, 900.0, 2300.0]
    readings = [Reading(u, v) for u, v in zip(uses, [0.0113] * 4 + [0.0110, 0.0105], strict=True)]
    result = forecast(readings)
    assert result.wild == ()
    assert result.line is not None
    assert result.line.spread >= 1e-4 / math.sqrt(12) * (1 - 1e-12)
    assert result.latest - result.earliest > 0.02 * result.likely


def test_readings_in_a_row_still_have_the_error_of_their_rounding() -> None:
    result = forecast([Reading(0.0, 0.012), Reading(1000.0, 0.011), Reading(2000.0, 0.010)])
    assert result.line is not None
    assert result.line.spread == pytest.approx(1e-3 / math.sqrt(12))
    assert result.earliest < 8000.0 < result.latest


@settings(max_examples=examples(60), deadline=None)
@given(
    seed=st.integers(0, 10_000),
    number=st.integers(1, 12),
    digits=st.integers(3, 7),
    start=st.sampled_from([None, 0.012]),
)
def test_ends_are_always_in_order(seed: int, number: int, digits: int, start: float | None) -> None:
    rng = np.random.default_rng(seed)
    use = np.sort(np.round(rng.uniform(0, 9000, number), -3))
    value = np.round(0.0115 - rng.uniform(-2e-7, 7e-7) * use + 1e-4 * rng.random(number), digits)
    result = forecast(
        [Reading(float(u), float(v)) for u, v in zip(use, value, strict=True)], start=start
    )
    assert result.earliest <= result.likely
    assert result.earliest <= result.latest
    if not result.met:
        assert result.now <= result.earliest
        assert result.likely <= result.latest


def test_a_limit_already_met() -> None:
    result = forecast(worn(rate=3e-6))
    assert result.met
    assert result.left == 0.0
    assert result.likely < result.now
    assert result.sentence == "the limit is met"


@pytest.mark.parametrize("rises", [False, True])
def test_a_value_at_its_limit_is_worn_out(rises: bool) -> None:
    """Two readings in halves of a metre, so that nothing is rounded: the line ends just there."""
    first, limit = (0.5, 1.0) if rises else (1.0, 0.5)
    at = forecast_wear([Reading(0.0, first), Reading(1024.0, limit, checked=True)], limit)
    short = (limit + first) / 2
    before = forecast_wear([Reading(0.0, first), Reading(1024.0, short, checked=True)], limit)
    assert at.met and at.left == 0.0
    assert not before.met and before.left == pytest.approx(1024.0)


def test_readings_without_wear() -> None:
    # a cover does not grow, so readings that surely rise are questioned; those that scatter by more
    # than they rise show no wear
    for noise, said in ((1e-5, "the readings move away from the limit"), (2e-3, "show no wear")):
        result = forecast(worn(rate=-1e-7, noise=noise, seed=5))
        assert math.isinf(result.likely)
        assert math.isinf(result.latest)
        assert said in result.sentence


def test_an_unsure_rate_has_no_latest_end() -> None:
    result = forecast(worn(rate=1e-7, noise=4e-4, seed=3))
    assert math.isinf(result.latest)
    assert result.earliest > result.now


def test_the_faster_place_goes_first() -> None:
    places = {
        "left": forecast(worn(1.0e-6, 3e-4)),
        "middle": forecast(worn(0.6e-6, 3e-4, seed=2)),
        "right": forecast(worn(1.1e-6, 3e-4, seed=3)),
    }
    turns = which_goes_first(places)
    assert sum(t.chance_first for t in turns) == pytest.approx(1.0)
    assert turns[0].forecast.likely < turns[1].forecast.likely < turns[2].forecast.likely
    assert turns[2].forecast is places["middle"]
    assert turns[2].chance_first < 0.01
    assert turns[0].chance_first > 0.5
    assert which_goes_first(places) == turns


def test_equal_places_are_equally_likely_first() -> None:
    same = forecast(worn())
    turns = which_goes_first({"left": same, "right": same})
    assert turns[0].chance_first == pytest.approx(0.5, abs=0.02)


def test_places_on_one_bare_line_share_being_first() -> None:
    bare = forecast(worn(number=2))
    turns = which_goes_first({"left": bare, "right": bare})
    assert [t.chance_first for t in turns] == [0.5, 0.5]


@pytest.mark.parametrize(
    ("readings", "more", "words"),
    [
        ([], {}, "left edge: has no reading; give at least one"),
        (
            [Reading(0.0, -0.001)],
            {},
            "left edge, reading 1: the value -1 mm must be a number of zero or more",
        ),
        (
            [Reading(math.nan, 0.01, "May")],
            {},
            "left edge, May: the use nan must be a number of zero or more",
        ),
        (
            [Reading(500.0, 0.01), Reading(300.0, 0.009, "June")],
            {},
            "left edge, June: the use 300 is below 500 of the reading before; use does not run "
            "backwards: join a changed or reset meter first",
        ),
        (
            [Reading(0.0, 0.012), Reading(300.0, 0.00045, "June")],
            {},
            "left edge, June: jumps from 12 mm to 0.45 mm, as if inches and millimetres had been "
            "mixed; give all readings in one unit, or mark this one as checked if the wear is real",
        ),
        (
            [Reading(0.0, 0.012), Reading(300.0, 11.5, "June")],
            {},
            "left edge, June: jumps from 12 mm to 11500 mm, as if metres and millimetres had been "
            "mixed; give all readings in one unit, or mark this one as checked if the wear is real",
        ),
        (
            [Reading(0.0, 0.012)],
            {"start": 0.004},
            "left edge, limit: 4 mm is the new value itself",
        ),
        (
            [Reading(0.0, 0.012)],
            {"start": -0.001},
            "left edge, start: -1 mm must be a number of zero or more",
        ),
        (
            [Reading(0.0, 0.012)],
            {"start": math.nan},
            "left edge, start: nan mm must be a number of zero or more",
        ),
        (
            [Reading(-1.0, 0.012)],
            {},
            "left edge, reading 1: the use -1 must be a number of zero or more",
        ),
    ],
)
def test_readings_that_cannot_be(
    readings: list[Reading], more: dict[str, float], words: str
) -> None:
    with pytest.raises(InputError) as caught:
        forecast(readings, **more)
    assert str(caught.value) == words


def test_a_jump_that_was_checked_is_wear() -> None:
    # a cover torn off to a skin between two looks: as steep as a change of unit, but real
    checked = forecast_wear(
        [Reading(0.0, 0.012), Reading(300.0, 0.00045, "June", checked=True)], 0.002
    )
    assert checked.met
    assert checked.line is not None and checked.line.at(300.0) == pytest.approx(0.00045)


def test_places_in_different_measures_are_refused() -> None:
    with pytest.raises(InputError, match="give all of them in one"):
        which_goes_first({"a": forecast(worn()), "b": forecast(worn(), measure=Measure.MASS)})
    with pytest.raises(InputError, match="places: there are none"):
        which_goes_first({})
