"""Numbers as people read them, in both systems."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from splicewright.quantities import (
    POLICY,
    Kind,
    System,
    as_wrench_sets,
    read,
    sentence,
    show,
    show_fraction,
)
from splicewright.quantities import show_time as time_text
from splicewright.quantities.limits import beyond

SYSTEMS: tuple[System, ...] = ("metric", "inch")


@pytest.mark.parametrize(
    ("value", "kind", "metric", "inch"),
    [
        (0.0115, Kind.LENGTH, "11.5 mm", "0.453 in"),  # no 1/32 is near enough
        (0.0110, Kind.LENGTH, "11 mm", "0.433 in"),
        (0.01508125, Kind.LENGTH, "15.1 mm", "19/32 in"),
        (0.9325, Kind.LENGTH, "933 mm", "36-23/32 in"),  # a tape reads whole millimetres
        (0.0031, Kind.TAPE, "3 mm", "3/32 in"),  # a limit is never read wider than it is
        (0.00028, Kind.TAPE, "under 1 mm", "under 1/32 in"),
        (0.186, Kind.WRENCH, "20 %", "20 %"),
        (0.01775, Kind.LENGTH, "17.8 mm", "0.699 in"),
        (3.7338, Kind.DISTANCE, "3.73 m", "12 ft 3 in"),
        (12.192, Kind.DISTANCE, "12.2 m", "40 ft"),
        (0.034925, Kind.LENGTH, "34.9 mm", "1-3/8 in"),
        (-0.0127, Kind.LENGTH, "-12.7 mm", "-1/2 in"),
        (0.0, Kind.LENGTH, "0 mm", "0 in"),
        (0.000218, Kind.LENGTH, "0.218 mm", "0.0086 in"),
        (0.5, Kind.DISTANCE, "500 mm", "19-11/16 in"),
        (240.0, Kind.DISTANCE, "240 m", "787 ft"),
        (12345.0, Kind.FORCE, "12.3 kN", "2775 lbf"),
        (80e3, Kind.WIDTH_FORCE, "80 N/mm", "457 lbf/in"),
        (math.radians(35), Kind.ANGLE, "35°", "35°"),
        (293.15, Kind.TEMPERATURE, "20 °C", "68 °F"),
        (0.125, Kind.SHARE, "12.5 %", "12.5 %"),
        (1.5, Kind.RATIO, "1.5", "1.5"),
        (9000.0, Kind.TIME, "2 h 30 min", "2 h 30 min"),
        (math.inf, Kind.FORCE, "-", "-"),
        (math.nan, Kind.LENGTH, "-", "-"),
    ],
)
def test_shown(value: float, kind: Kind, metric: str, inch: str) -> None:
    assert show(value, kind) == metric
    assert show(value, kind, "inch") == inch


def test_without_unit() -> None:
    assert show(0.0115, Kind.LENGTH, unit=False) == "11.5"


@given(
    st.sampled_from([k for k in Kind if k is not Kind.TIME and not POLICY[k].metric.step]),
    st.sampled_from(SYSTEMS),
    st.floats(1e-3, 1e5, allow_nan=False),
)
def test_what_is_shown_reads_back_within_its_rounding(
    kind: Kind, system: System, number: float
) -> None:
    policy = POLICY[kind].shown(system)
    value = number * policy.factor + policy.offset
    assume(not beyond(1.01 * value, kind))  # beside the largest of a kind, rounded up, lies beyond
    back = read(show(value, kind, system), kind)
    if kind is Kind.DISTANCE and system == "inch" and 1 <= value < 100 * 0.3048:
        assert abs(back - value) <= 0.0254 / 16 * 1.0001  # feet and inches to 1/8 in
    elif policy.fraction or (kind is Kind.DISTANCE and value < 1):
        step = 0.0254 / 64 if system == "inch" else 1e-3
        loose = 0.0254 / 2 if value > 25 else step  # fractions are dropped above 1000 in
        assert abs(back - value) <= loose * 1.0001
    else:
        # The kind's digits are shown, but no decimals past its own and nothing short of a whole.
        # Below one never more than three of them: nobody reads 0.31250 mm off a gauge.
        digits = policy.digits if number >= 1 else min(policy.digits, 3)
        digit = 10.0 ** (math.floor(math.log10(number)) - digits + 1)
        step = min(1.0, max(digit, 10.0**-policy.decimals if number >= 1 else 0.0))
        if policy.most:
            # Tonnes and hours of a life are not known to the last one: so many digits at most.
            step = max(step, 10.0 ** (math.floor(math.log10(number)) - policy.most + 1))
        assert abs(back - value) <= policy.factor * step * 0.5001


@given(st.integers(0, 31_999), st.sampled_from([2, 8, 32]))
def test_fractions_are_exact_in_lowest_terms(steps: int, denominator: int) -> None:
    inches = steps / denominator
    text = show_fraction(inches, denominator)
    back = read(f"{text} in", Kind.LENGTH) / 0.0254
    assert back == pytest.approx(inches, abs=1e-9 if inches < 1000 else 0.5001)
    if "/" in text:
        top, bottom = text.split("-")[-1].split("/")
        assert math.gcd(int(top), int(bottom)) == 1


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (12, "12 s"),
        (60, "1 min"),
        (3599, "1 h"),
        (12_000, "3 h 20 min"),
        (25 * 3600, "25 h"),
        (4 * 86400, "4 d"),
        (2.5 * 86400, "2.5 d"),
        (14 * 86400, "2 weeks"),
        (15 * 86400, "15 d"),
        (-1500, "-25 min"),
    ],
)
def test_times(seconds: float, text: str) -> None:
    assert time_text(seconds) == text


def test_a_sentence_says_its_numbers_in_either_system() -> None:
    said = sentence("{x} behind {y}.", x=(1000.0, Kind.FORCE), y=(0.0254, Kind.LENGTH))
    assert str(said) == "1 kN behind 25.4 mm."
    assert said.say("inch") == "225 lbf behind 1 in."


def test_braces_of_the_users_own_do_no_harm() -> None:
    assert str(sentence("Head {pulley} {x}", x=(1.0, Kind.RATIO))) == "Head {pulley} 1"


@given(st.sampled_from(SYSTEMS), st.floats(0.0, 5.0))
def test_a_limit_by_tape_is_never_read_wider_than_it_is(system: System, limit: float) -> None:
    shown = show(limit, Kind.TAPE, system)
    step = 0.001 if system == "metric" else 0.0254 / 32
    if shown.startswith("under"):
        assert limit < step
    else:
        assert limit - step * 1.00001 <= read(shown, Kind.TAPE) <= limit * (1 + 1e-6)


@given(st.floats(0.0, 2.0) | st.integers(1, 39).map(lambda n: n / 20))
def test_a_wrench_is_judged_by_what_is_printed(share: float) -> None:
    assert show(as_wrench_sets(share), Kind.WRENCH) == show(share, Kind.WRENCH)
    assert read(show(share, Kind.WRENCH), Kind.WRENCH) == pytest.approx(as_wrench_sets(share))
