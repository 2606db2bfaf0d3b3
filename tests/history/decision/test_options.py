"""Repair, re-make, insert or replace: order, reasons, refusals."""

from dataclasses import replace

import pytest

from splicewright.errors import InputError
from splicewright.history.decision.options import Option, Situation, Way, compare_options
from splicewright.history.life.weibull import Weibull
from splicewright.quantities import Sentence

HOUR = 3600.0
# invented figures
OPTIONS = (
    Option(Way.REPAIR, 3 * HOUR, 400.0, 0.4, Weibull(1.2, 3000 * HOUR)),
    Option(Way.REMAKE, 6 * HOUR, 900.0, 0.6, Weibull(2.5, 9000 * HOUR), belt_taken=0.5),
    Option(
        Way.INSERT, 10 * HOUR, 2500.0, 0.6, Weibull(2.5, 9000 * HOUR), belt_taken=6.0,
        belt_let_in=6.0, joints_more=1,
    ),
    Option(Way.REPLACE, 30 * HOUR, 40e3, 0.6, Weibull(2.5, 12000 * HOUR)),
)  # fmt: skip
SITUATION = Situation(
    window=12 * HOUR,
    strength_needed=0.5,
    belt_spare=0.8,
    belt_in_stock=10.0,
    stop_cost=0.1,
    failure_cost=30e3,
    until=4000 * HOUR,
)


def texts(sentences: tuple[Sentence, ...]) -> tuple[str, ...]:
    return tuple(s.say() for s in sentences)


def test_ways_that_cannot_be_done_stay_in_the_list_with_the_reason() -> None:
    verdicts = compare_options(OPTIONS, SITUATION)
    assert [v.option.way for v in verdicts[:2]] == [Way.REMAKE, Way.INSERT]
    refused = {v.option.way: texts(v.refused) for v in verdicts if not v.possible}
    assert refused[Way.REPAIR] == ("keeps 40 % of the belt's strength, the duty needs 50 %",)
    assert refused[Way.REPLACE] == ("takes 30 h, the window is 12 h",)


def test_costs_by_hand() -> None:
    best = compare_options(OPTIONS, SITUATION)[0]
    chance = float(Weibull(2.5, 9000.0).failed(4000.0))
    assert best.chance_of_failing == pytest.approx(chance)
    assert best.expected_cost == pytest.approx(900 + 0.1 * 6 * HOUR + 30e3 * chance)
    # nearly all joints live to the next stop, so the use they give is nearly all of it
    assert best.cost_per_use == pytest.approx(best.expected_cost / (4000 * HOUR), rel=0.05)


def test_reasons_name_the_strong_and_weak_points() -> None:
    remake, insert = compare_options(OPTIONS, SITUATION)[:2]
    assert (
        texts(remake.reasons)[0] == "the cheapest and surest and quickest of those that can be done"
    )
    assert "uses 500 mm of the 800 mm the take-up can give" in texts(remake.reasons)
    assert "leaves 1 joint more to maintain" in texts(insert.reasons)


def test_belt_that_is_not_there_is_named() -> None:
    short = replace(SITUATION, belt_spare=0.2, belt_in_stock=1.0)
    refused = {v.option.way: texts(v.refused) for v in compare_options(OPTIONS, short)}
    assert refused[Way.REMAKE] == ("shortens the loop by 500 mm, the take-up can give 200 mm",)
    assert refused[Way.INSERT] == ("needs 6 m of belt, 1 m is in stock",)


def test_what_is_just_enough_is_enough() -> None:
    """Time, strength, belt to spare and belt in stock as much as a way needs: it can be done."""
    just = Situation(10 * HOUR, 0.6, 0.5, 6.0, 0.1, 30e3, 4000 * HOUR)
    possible = {v.option.way for v in compare_options(OPTIONS, just) if v.possible}
    assert possible == {Way.REMAKE, Way.INSERT}
    best = compare_options(OPTIONS, just)[0]
    assert "uses 500 mm of the 500 mm the take-up can give" in texts(best.reasons)
    whole = replace(OPTIONS[1], kept_strength=1.0, time=0.0, belt_taken=0.0, cost=0.0)
    (free,) = compare_options([whole], replace(just, window=0.0, belt_spare=0.0, belt_in_stock=0.0))
    assert free.possible


def test_a_dear_failure_turns_the_order() -> None:
    cheap = replace(SITUATION, failure_cost=0.0, strength_needed=0.3)
    dear = replace(SITUATION, failure_cost=1e6, strength_needed=0.3)
    assert compare_options(OPTIONS, cheap)[0].option.way is Way.REPAIR
    assert compare_options(OPTIONS, dear)[0].option.way is Way.REMAKE


def test_figures_that_cannot_be_are_refused() -> None:
    with pytest.raises(InputError, match="options: there are none"):
        compare_options([], SITUATION)
    wrong = [replace(OPTIONS[0], time=-1.0, kept_strength=1.4)]
    with pytest.raises(InputError) as caught:
        compare_options(wrong, replace(SITUATION, window=-2.0, until=0.0, failure_cost=-1.0))
    assert str(caught.value).splitlines() == [
        "repair: time -1; accepted is zero or more",
        "repair: kept strength 1.4; accepted is above 0 and up to 1",
        "window: -2; accepted is zero or more",
        "failure cost: -1; accepted is zero or more",
        "use until the next stop: 0; accepted is above zero",
    ]
