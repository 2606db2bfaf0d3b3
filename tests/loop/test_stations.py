"""Following a point of the belt, against counting by hand and a step-by-step walk."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from splicewright.errors import InputError
from splicewright.loop import Station, follow, follow_legs, place
from splicewright.loop.stations import loop_length, passes
from splicewright.plant import Placed, TautLoop, round_pulleys

# A loop of 100 m by hand: tail 0-2, carry 2-50 rising 6 m, head 50-53, return 53-100.
LOOP = (
    Station("tail", False, 0.0, 2.0, 0.0, 0.0),
    Station("carry", True, 2.0, 50.0, 0.0, 6.0),
    Station("head", False, 50.0, 53.0, 6.0, 6.0),
    Station("return", True, 53.0, 100.0, 6.0, 0.0),
)
points = st.floats(0, 99)
legs = st.lists(st.tuples(st.floats(0, 300), st.floats(-5, 5)), min_size=1, max_size=4)


def test_places_by_hand() -> None:
    assert loop_length(LOOP) == 100.0
    half = place(LOOP, 26.0)
    assert (half.element, half.is_run) == ("carry", True)
    assert half.height == pytest.approx(3.0)
    assert place(LOOP, 151.0).element == "head"
    assert place(LOOP, -0.5).element == "return"


def test_two_and_a_half_turns_by_hand() -> None:
    # 250 m from 10 m: head at 51.5 passed at 41.5, 141.5, 241.5 m of travel, tail at 91, 191.
    found = follow(LOOP, 10.0, 100.0, 2.5)
    assert found.passed == (("tail", 2), ("head", 3))
    assert found.turns == 2.0
    assert found.place.along == pytest.approx(60.0)
    assert found.travelled == pytest.approx(250.0)
    assert found.bends() == 5


def test_a_shuttle_bends_the_joint_both_ways() -> None:
    # 60 m out over the head, 60 m back: the head is passed twice, the point is back, no turn.
    found = follow_legs(LOOP, 10.0, [(60.0, 1.0), (30.0, -2.0)])
    assert found.passed == (("tail", 0), ("head", 2))
    assert found.place.along == pytest.approx(10.0)
    assert (found.turns, found.travelled) == (0.0, 120.0)


@given(points, legs)
def test_there_and_back_doubles_every_pass(point: float, way: list[tuple[float, float]]) -> None:
    there = follow_legs(LOOP, point, way)
    back = [(time, -speed) for time, speed in reversed(way)]
    both = follow_legs(LOOP, point, [*way, *back])
    assert both.travelled == pytest.approx(2 * there.travelled, abs=1e-9)
    apart = abs(both.place.along - point % 100.0)
    assert min(apart, 100.0 - apart) < 1e-6


@given(points, st.floats(0, 500), st.floats(0.1, 5))
def test_whole_turns_pass_every_pulley_once_each(point: float, time: float, speed: float) -> None:
    ends = (point, point + time * speed)
    # Start or end on a middle of a wrap: rounding decides whether it counts.
    assume(all(1e-6 < (e - m) % 100.0 < 100.0 - 1e-6 for e in ends for m in (1.0, 51.5)))
    first = follow(LOOP, point, time, speed)
    longer = follow(LOOP, point, time + 3 * 100.0 / speed, speed)
    for (_, before), (_, after) in zip(first.passed, longer.passed, strict=True):
        assert after - before == 3


def test_passes_agree_with_a_walk_in_small_steps() -> None:
    way = np.arange(7.0, 731.0, 0.01)
    beyond = ((way[:-1] - 51.5) // 100.0) != ((way[1:] - 51.5) // 100.0)
    assert passes(way[0], way[-1], 51.5, 100.0) == beyond.sum()
    many = passes(7.0, np.array([51.0, 52.0, 152.0]), 51.5, 100.0)
    assert list(np.asarray(many)) == [0, 1, 2]


def _stations(loop: TautLoop) -> list[Station]:
    made, along = [], 0.0
    for arc, span in zip(loop.arcs, loop.spans, strict=True):
        for name, is_run, length in (
            (arc.pulley, False, arc.length),
            (span.after, True, span.length),
        ):
            made.append(Station(name, is_run, along, along + length, 0.0, 0.0))
            along += length
    return made


def test_a_real_loop_is_followed_round() -> None:
    stations = _stations(
        round_pulleys([Placed("tail", 0, 0, 0.5), Placed("head", 60, 8, 0.63)], 0.01)
    )
    length = loop_length(stations)
    once = follow(stations, 3.0, length / 2.0, 2.0)
    assert once.place.along == pytest.approx(3.0)
    assert once.passed == (("tail", 1), ("head", 1))
    assert once.turns == 1.0


def test_a_negative_time_is_refused() -> None:
    with pytest.raises(InputError) as caught:
        follow(LOOP, 0.0, -3.0, 2.0)
    assert str(caught.value) == (
        "time: -3 s at 2 m/s cannot be followed; give a time of 0 or more, and a negative speed "
        "for running backwards"
    )
