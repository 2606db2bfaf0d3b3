"""Strands of the stopped belt, against a linear programme that knows only equilibrium.

The programme has a tension at every end of a piece, a friction force in every piece and a load on
every carrying one as unknowns; it is solved by SciPy's HiGHS. Statics, derived here.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from proof import proves
from splicewright.tension.at_rest.strand import Span, Strand, Unknown, largest, least, profile

G = 9.81


def strand(rows: list[tuple[float, float, float, bool]]) -> Strand:
    """Runs (length, climb, rolls, carries) with a pulley that turns between them."""
    parts: list[tuple[float, ...]] = []
    for length, climb, rolls, carries in rows:
        parts.append((length, climb, math.sqrt(length**2 - climb**2), rolls, 0.0, carries, 1, 1))
        parts.append((0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.02, 1.02))
    columns = (np.array(c, dtype=float) for c in zip(*parts, strict=True))
    return Strand(tuple(f"piece {n}" for n in range(len(parts))), (False,) * len(parts), *columns)


def program(s: Strand, unknown: Unknown, belt: float, start: float, sign: float) -> float:
    """Largest (or least) tension at the end: equilibrium, nothing else.

    Belt that would be pushed lies slack: a piece may end with more tension than its weight and
    friction give only where it begins with none; the programme is solved for every place where
    the slack ends, with the tension there nought.
    """
    best = -math.inf
    count = len(s.names)
    for first in range(count):
        pieces = range(first, count)
        n = len(pieces)
        # Unknowns: tension entering each piece and leaving the last; friction share -1..1; load.
        size = (n + 1) + n + n
        rows, right = [], []
        upper, bound = [], []
        f = float(unknown.friction.high)
        for k, i in enumerate(pieces):
            ratio = float(s.turning[i])
            if s.length[i] == 0:
                for a, b in ((ratio, 1.0), (1 / ratio, -1.0)):
                    row = np.zeros(size)
                    row[k + 1], row[k] = b, -b * a
                    upper.append(row)
                    bound.append(0.0)
                row = np.zeros(size)
                row[n + 1 + k] = 1.0
                rows.append(row)
                right.append(0.0)
                continue
            # Friction of the load is proportional to it: bounded by its own inequality below.
            grip = G * f * (belt * s.across[i] + s.rolls[i] * s.length[i]) + s.held[i]
            row = np.zeros(size)
            row[k + 1], row[k] = 1.0, -1.0
            row[n + 1 + k] = -1.0
            row[n + 1 + n + k] = -G * float(unknown.load.high) * s.climb[i]
            rows.append(row)
            right.append(G * belt * s.climb[i])
            for way in (1.0, -1.0):
                row = np.zeros(size)
                row[n + 1 + k] = way
                row[n + 1 + n + k] = -G * f * float(unknown.load.high) * s.across[i]
                upper.append(row)
                bound.append(grip)
        row = np.zeros(size)
        row[n + 1 + n :] = s.length[first:]
        upper.append(row)
        bound.append(float(unknown.metres))
        begin = start if first == 0 else 0.0
        limits = [(begin, begin), *[(None, None)] * (2 * n)]
        limits += [(0.0, 1.0 if s.carries[i] else 0.0) for i in pieces]
        cost = np.zeros(size)
        cost[n] = -sign
        found = linprog(
            cost, A_ub=np.array(upper), b_ub=bound, A_eq=np.array(rows), b_eq=right, bounds=limits
        )
        if found.status == 0:
            best = max(best, sign * -float(found.fun or 0.0))
    return max(0.0, best)


runs = st.lists(
    st.tuples(st.floats(5, 300), st.floats(-0.3, 0.3), st.floats(2, 25), st.booleans()).map(
        lambda r: (r[0], r[0] * r[1], r[2], r[3])
    ),
    min_size=1,
    max_size=4,
)


@proves(
    "The stopped belt",
    "A strand against a linear programme",
    "B",
    "Largest tension that equilibrium allows, with friction and load free within their "
    "limits, by HiGHS.",
    doubt="Solver tolerance 1e-7 relative.",
    tolerance="1e-6 of the tension, ten times the solver's own",
    sketch="stopped",
)
@settings(max_examples=60, deadline=None)
@given(
    runs,
    st.floats(4, 40),
    st.floats(0, 150),
    st.floats(0.02, 0.08),
    st.floats(0, 1),
    st.floats(0, 50e3),
)
def test_the_largest_is_that_of_the_linear_programme_and_the_least_no_more(
    rows: list[tuple[float, float, float, bool]],
    belt: float,
    load: float,
    friction: float,
    share: float,
    start: float,
) -> None:
    made = strand(rows)
    carried = sum(r[0] for r in rows if r[3])
    unknown = Unknown(
        Span(belt, belt),
        Span(0.0, load),
        Span(friction, friction),
        0.01,
        share * carried,
        Span(1e6, 1e6),
    )
    assert largest(made, unknown, start).tension == pytest.approx(
        program(made, unknown, belt, start, 1.0), rel=1e-6, abs=1e-3
    )
    fewest = least(made, unknown, start)
    assert fewest <= program(made, unknown, belt, start, -1.0) * (1 + 1e-6) + 1e-3


def test_the_mass_of_the_belt_that_gives_most_is_taken() -> None:
    """Up a slope a heavy belt pulls more, down a slope a light one: statics."""
    up, down = strand([(100.0, 20.0, 0.0, False)]), strand([(100.0, -20.0, 0.0, False)])
    unknown = Unknown(Span(10.0, 12.0), Span(0, 0), Span(0.02, 0.02), 0.01, 0.0, Span(1e6, 1e6))
    level = math.sqrt(100.0**2 - 20.0**2)
    heavy = G * 12.0 * (20.0 + 0.02 * level) * 1.02
    assert largest(up, unknown, 0.0).tension == pytest.approx(heavy)
    light = (50e3 + G * 10.0 * (-20.0 + 0.02 * level)) * 1.02
    assert largest(down, unknown, 50e3).tension == pytest.approx(light)


def test_a_hanging_strand_weighs_what_it_weighs() -> None:
    """A belt hanging straight down 30 m, no friction: T = q g h. Statics."""
    hung = strand([(30.0, 30.0, 0.0, False)]).part(0, 1)
    unknown = Unknown(Span(9.0, 9.0), Span(0, 0), Span(0.05, 0.05), 0.01, 0.0, Span(1e6, 1e6))
    assert largest(hung, unknown, 0.0).tension == pytest.approx(9.0 * G * 30.0)
    assert least(hung, unknown, 50.0) == pytest.approx(50.0 + 9.0 * G * 30.0)


def test_a_taut_strand_has_its_least_from_its_beginning() -> None:
    """Level, held by its take-up: T - friction of the way, each pulley taking its share."""
    flat = strand([(100.0, 0.0, 5.0, False)])
    unknown = Unknown(Span(9.0, 9.0), Span(0, 0), Span(0.04, 0.04), 0.01, 0.0, Span(1e6, 1e6))
    by_hand = (10e3 - 0.04 * G * 100 * (9.0 + 5.0)) / 1.02
    assert least(flat, unknown, 10e3) == pytest.approx(by_hand)
    assert least(flat, unknown, 500.0) == 0  # friction may hold all of it: slack


def test_tensions_along_a_strand_by_hand() -> None:
    """60 m of full load on 100 m level, a pulley, 50 m that fall by 30 m: friction on belt, load
    and rolls adds to the tension, and what falls takes off its weight."""
    unknown = Unknown(
        Span(12.0, 12.0), Span(80.0, 80.0), Span(0.04, 0.04), 0.03, 60.0, Span(5e6, 5e6)
    )
    made = strand([(100.0, 0.0, 14.0, True), (50.0, -30.0, 5.0, False)])
    level = 10e3 + G * 0.04 * (12 * 100 + 80 * 60 + 14 * 100)
    past = 1.02 * level
    down = past - G * 12 * 30 + G * 0.04 * (12 * 40 + 5 * 50)
    along = profile(made, unknown, 10e3)
    assert along.entering == pytest.approx([10e3, level, past, down])
    assert along.leaving == pytest.approx([level, past, down, 1.02 * down])


def test_a_wider_range_never_narrows_a_bound() -> None:
    made = strand([(80.0, 10.0, 12.0, True), (60.0, -15.0, 8.0, False)])
    narrow = Unknown(Span(12, 13), Span(0, 60), Span(0.02, 0.03), 0.01, 30.0, Span(1e6, 1e6))
    for wider in (
        replace(narrow, belt=Span(11, 14)),
        replace(narrow, load=Span(0, 80)),
        replace(narrow, friction=Span(0.02, 0.05)),
        replace(narrow, metres=60.0),
    ):
        assert largest(made, wider, 5e3).tension >= largest(made, narrow, 5e3).tension
        assert least(made, wider, 5e3) <= least(made, narrow, 5e3)
