"""Belt round placed pulleys, against closed forms of textbooks on belt drives and SciPy."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import root
from scipy.spatial import ConvexHull

from proof import proves
from splicewright.errors import InputError
from splicewright.plant import Cover, Placed, TautLoop, round_pulleys
from splicewright.plant.geometry.tangents import (
    Turn,
    closing_error,
    span_length,
    turned_through,
    wind,
)

pytestmark = proves(
    "Loop and take-up",
    "Belt round placed pulleys",
    "B",
    "Tangents of many pulleys against textbook belt lengths, a root finder and a convex hull "
    "of SciPy.",
    doubt="Exact geometry; SciPy's own tolerance 1e-11.",
    tolerance="rounding of floats; 1e-7 for a curve of many short pieces",
    sketch="two-pulleys",
)


if TYPE_CHECKING:
    from numpy.typing import NDArray

CARRY = Cover.CARRY

# Tail, head, snub, bend, take-up, bend, tail snub: unequal on purpose, travel to the right on top.
SERPENTINE = (
    Placed("tail", 0.0, 0.0, 0.5),
    Placed("head", 100.0, 10.0, 0.8),
    Placed("snub", 98.9, 9.4, 0.3, CARRY),
    Placed("first bend", 60.0, 5.0, 0.4, CARRY),
    Placed("take-up", 59.5, 2.0, 0.5),
    Placed("second bend", 59.0, 4.9, 0.35, CARRY),
    Placed("tail snub", 1.5, -0.2, 0.25, CARRY),
)
THICK = 0.012


def turns(loop: TautLoop) -> list[int]:
    return [int(a.turn) for a in loop.arcs]


@given(
    st.floats(0.2, 2.0), st.floats(0.2, 2.0), st.floats(2.5, 500.0), st.floats(0.0, 0.03)
)  # fmt: skip
def test_open_belt_on_two_pulleys(small: float, large: float, apart: float, t: float) -> None:
    # Textbook open belt: L = 2 C cos a + pi (r1 + r2) + 2 a (r2 - r1), sin a = (r2 - r1)/C.
    loop = round_pulleys([Placed("a", 0, 0, small), Placed("b", apart, 0, large)], t)
    r1, r2 = (small + t) / 2, (large + t) / 2
    a = math.asin((r2 - r1) / apart)
    length = 2 * apart * math.cos(a) + math.pi * (r1 + r2) + 2 * a * (r2 - r1)
    assert loop.length == pytest.approx(length, rel=1e-12)
    assert loop.arc("a").wrap == pytest.approx(math.pi - 2 * a, abs=1e-9)
    assert loop.arc("b").wrap == pytest.approx(math.pi + 2 * a, abs=1e-9)
    assert loop.turn is Turn.RIGHT


def test_crossed_belt_has_the_textbook_length_and_is_refused_as_a_conveyor() -> None:
    # Crossed belt: L = 2 sqrt(C² - (r1 + r2)²) + (r1 + r2)(pi + 2 asin((r1 + r2)/C)).
    r1, r2, apart = 0.3, 0.5, 4.0
    found = wind([0, apart], [0, 0], [r1, r2], [1, -1])
    both = r1 + r2
    length = 2 * math.sqrt(apart**2 - both**2) + both * (math.pi + 2 * math.asin(both / apart))
    assert found.length == pytest.approx(length, rel=1e-13)
    assert turned_through(found.wrap, [1, -1]) == pytest.approx(0.0, abs=1e-12)
    with pytest.raises(InputError, match="cross"):
        round_pulleys([Placed("a", 0, 0, 0.6), Placed("b", apart, 0, 1.0, CARRY)])


@pytest.mark.parametrize("count", [3, 4, 7])
def test_equal_pulleys_on_a_ring(count: int) -> None:
    # Equal circles at the corners of a regular polygon: perimeter of the polygon plus one circle.
    ring, diameter = 5.0, 0.6
    angles = [-2 * math.pi * n / count for n in range(count)]
    loop = round_pulleys(
        [
            Placed(str(n), ring * math.cos(a), ring * math.sin(a), diameter)
            for n, a in enumerate(angles)
        ]
    )
    side = 2 * ring * math.sin(math.pi / count)
    assert loop.length == pytest.approx(count * side + math.pi * diameter, rel=1e-13)
    assert [a.wrap for a in loop.arcs] == pytest.approx([2 * math.pi / count] * count)


def test_a_serpentine_against_a_root_finder() -> None:
    """SciPy finds the points where spans are square to both spokes, from a disturbed start."""
    loop = round_pulleys(SERPENTINE, THICK)
    centre = np.array([(p.x, p.z) for p in SERPENTINE])
    radius = np.array([(p.diameter + THICK) / 2 for p in SERPENTINE])
    turn = np.array(turns(loop))

    def on(angle: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.stack([np.cos(angle), np.sin(angle)], axis=-1)

    def strands(angles: NDArray[np.float64]) -> NDArray[np.float64]:
        meets, leaves = np.split(angles, 2)
        ends = np.roll(centre + radius[:, None] * on(meets), -1, axis=0)
        made: NDArray[np.float64] = ends - centre - radius[:, None] * on(leaves)
        return made

    def square(angles: NDArray[np.float64]) -> NDArray[np.float64]:
        meets, leaves = np.split(angles, 2)
        span = strands(angles)
        return np.concatenate(
            [np.sum(span * on(leaves), axis=-1), np.sum(np.roll(span, 1, axis=0) * on(meets), -1)]
        )

    meets = [
        math.atan2(a.entry[1] - p.z, a.entry[0] - p.x)
        for a, p in zip(loop.arcs, SERPENTINE, strict=True)
    ]
    leaves = [m + t * a.wrap for m, t, a in zip(meets, turn, loop.arcs, strict=True)]
    start = np.array([*meets, *leaves]) + 0.02 * np.sin(np.arange(14))
    found = root(square, start, tol=1e-13)
    assert found.success
    arcs = radius * turn * (found.x[7:] - found.x[:7])
    length = np.linalg.norm(strands(found.x), axis=-1).sum() + arcs.sum()
    assert length == pytest.approx(loop.length, rel=1e-11)


def test_a_sampled_curve_has_the_same_length_and_turns_once() -> None:
    loop = round_pulleys(SERPENTINE, THICK)
    points: list[tuple[float, float]] = []
    for arc, span, p in zip(loop.arcs, loop.spans, SERPENTINE, strict=True):
        first = math.atan2(arc.entry[1] - p.z, arc.entry[0] - p.x)
        angles = first + int(arc.turn) * np.linspace(0, arc.wrap, 2001)
        r = (p.diameter + THICK) / 2
        points.extend(zip(p.x + r * np.cos(angles), p.z + r * np.sin(angles), strict=True))
        points.append(span.end)
    chain = np.array([*points, points[0]])
    steps = np.diff(chain, axis=0)
    # Chords of 2000 parts of an arc fall short by φ²/(24 n²), below 1e-7.
    assert np.hypot(*steps.T).sum() == pytest.approx(loop.length, rel=1e-7)
    assert turned_through([a.wrap for a in loop.arcs], turns(loop)) == pytest.approx(
        int(loop.turn) * 2 * math.pi
    )
    assert loop.closing_error < 1e-9


def test_spans_touch_their_pulleys_square_to_the_radius() -> None:
    loop = round_pulleys(SERPENTINE, THICK)
    for n, span in enumerate(loop.spans):
        along = np.subtract(span.end, span.start) / span.length
        for p, point in (
            (SERPENTINE[n], span.start),
            (SERPENTINE[(n + 1) % len(SERPENTINE)], span.end),
        ):
            spoke = np.subtract(point, (p.x, p.z))
            assert np.hypot(*spoke) == pytest.approx((p.diameter + THICK) / 2)
            assert float(along @ spoke) == pytest.approx(0.0, abs=1e-11)


def moved(turned_by: float, dx: float, dz: float, mirror: bool) -> list[Placed]:
    c, s = math.cos(turned_by), math.sin(turned_by)
    side = -1 if mirror else 1
    return [
        replace(p, x=side * (c * p.x - s * p.z) + dx, z=s * p.x + c * p.z + dz) for p in SERPENTINE
    ]


@given(
    st.floats(-math.pi, math.pi), st.floats(-500, 500), st.floats(-500, 500), st.booleans(),
    st.booleans(), st.integers(0, 6),
)  # fmt: skip
def test_turning_moving_mirroring_and_reversing_change_nothing(
    angle: float, dx: float, dz: float, mirror: bool, reverse: bool, first: int
) -> None:
    expected = round_pulleys(SERPENTINE, THICK)
    set_ = moved(angle, dx, dz, mirror)
    set_ = [*set_[first:], *set_[:first]]
    if reverse:
        set_.reverse()
    found = round_pulleys(set_, THICK)
    assert found.length == pytest.approx(expected.length, rel=1e-9)
    for arc in found.arcs:
        assert arc.wrap == pytest.approx(expected.arc(arc.pulley).wrap, abs=1e-8)
    same = (int(found.turn) == int(expected.turn)) != (mirror != reverse)
    assert same


@given(st.lists(st.tuples(st.floats(0.3, 1.0), st.floats(0.5, 2.0)), min_size=3, max_size=8))
def test_signed_wraps_add_up_to_one_turn(ring: list[tuple[float, float]]) -> None:
    """Pulleys inside a convex belt, of any size and spacing round it."""
    steps = np.cumsum([s for _, s in ring])
    angles = -2 * math.pi * steps / steps[-1]
    assume(max(np.diff(steps, prepend=0)) < 0.45 * steps[-1])
    pulleys = [
        Placed(str(n), 20 * math.cos(a), 20 * math.sin(a), d)
        for n, (a, (d, _)) in enumerate(zip(angles, ring, strict=True))
    ]
    try:
        loop = round_pulleys(pulleys)
    except InputError:
        assume(False)
    assert turned_through([a.wrap for a in loop.arcs], turns(loop)) == pytest.approx(
        -2 * math.pi, abs=1e-9
    )
    assert loop.closing_error < 1e-10
    # All pulleys inside: the belt is the convex hull of their rims, which Qhull finds.
    rim = np.linspace(0, 2 * math.pi, 4000, endpoint=False)
    rims = np.concatenate(
        [
            np.stack([p.x + p.diameter / 2 * np.cos(rim), p.z + p.diameter / 2 * np.sin(rim)], -1)
            for p in pulleys
        ]
    )
    # Qhull calls the perimeter of a plane hull its area; 4000 chords fall short by below 1e-6.
    assert ConvexHull(rims).area == pytest.approx(loop.length, rel=2e-6)


def test_many_belts_at_once_are_the_same_as_one_by_one() -> None:
    lift = np.linspace(-3.0, 12.0, 5)
    x = np.broadcast_to([0.0, 90.0], (5, 2))
    z = np.stack([np.zeros(5), lift], axis=-1)
    many = wind(x, z, [0.3, 0.4], [-1, -1])
    for n, h in enumerate(lift):
        one = round_pulleys([Placed("a", 0, 0, 0.6), Placed("b", 90.0, float(h), 0.8)])
        assert many.length[n] == pytest.approx(one.length, rel=1e-14)
    assert closing_error(many, [0.3, 0.4], [-1, -1]) == pytest.approx(np.zeros(5), abs=1e-12)


def test_no_tangent_gives_nan_not_a_number() -> None:
    assert math.isnan(float(span_length(0.5, 0.3, 0.3, 1, -1)))


@pytest.mark.parametrize(
    ("pulleys", "sentence"),
    [
        ([Placed("only", 0, 0, 1)], "pulleys: 1 given; a belt loop has two pulleys or more"),
        (
            [Placed("tail", 0, 0, 0.5), Placed("head", 0.4, 0, 0.5)],
            "head: overlaps tail: centres are 400 mm apart, at least 500 mm is needed",
        ),
        (
            [Placed("tail", 0, 0, 2.0), Placed("head", 0.4, 0, 0.5)],
            "head: stands inside tail; centres must be 1.25 m apart",
        ),
        (
            [Placed("tail", 0, 0, 0.5), Placed("tail", 5, 0, 0.5)],
            "tail: two pulleys have this name; each needs its own",
        ),
        (
            [Placed("tail", 0, 0, -0.5), Placed("head", 5, 0, 0.5)],
            "tail: diameter -0.5 m is not possible; give more than 0",
        ),
        (
            [Placed("tail", 0, math.nan, 0.5), Placed("head", 5, 0, 0.5)],
            "tail: centre (0, nan) is no place; give x and z",
        ),
        (
            [Placed("tail", 0, 0, 0.5), Placed("head", 50, 0, 0.5), Placed("post", 25, 0, 0.6)],
            "post: stands in the way",
        ),
    ],
)
def test_what_cannot_be_built_is_refused_in_one_sentence(
    pulleys: list[Placed], sentence: str
) -> None:
    with pytest.raises(InputError) as caught:
        round_pulleys(pulleys)
    assert str(caught.value).startswith(sentence)
    assert "\n" not in str(caught.value)


def test_belt_that_cannot_pass_between_two_pulleys() -> None:
    close = [replace(p, x=99.46, z=9.85) if p.name == "snub" else p for p in SERPENTINE]
    with pytest.raises(InputError, match="snub: the belt cannot pass between it and head"):
        round_pulleys(close, 0.02)


def test_a_pulley_on_the_wrong_side_is_named() -> None:
    wrong = [replace(p, touches=Cover.PULLEY) if p.name == "first bend" else p for p in SERPENTINE]
    with pytest.raises(InputError, match="first bend"):
        round_pulleys(wrong, THICK)


def test_a_figure_of_eight_is_refused_without_its_bend_pulleys() -> None:
    corners = [(0.0, 0.0), (10.0, 0.1), (10.0, 5.0), (0.0, 6.0)]
    eight = [Placed(str(n), *corners[n], 0.5) for n in (0, 2, 1, 3)]
    with pytest.raises(InputError, match="cross"):
        round_pulleys(eight)
