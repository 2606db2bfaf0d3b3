"""A loop whose length is held: mean strain kept; hand calculation and a linear programme."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linprog

from proof import proves
from splicewright.tension.at_rest.held import PIECES, held_tension
from splicewright.tension.at_rest.strand import Span, Strand, Unknown

pytestmark = proves(
    "The stopped belt",
    "A loop whose length is held",
    "B",
    "Ends of the tension of a screw or winch loop that keeps its mean, by hand and by a "
    "linear programme.",
    doubt="The programme cuts runs into short pieces.",
    tolerance="2 % of the value and 1 % of the mean, for the pieces",
    sketch="take-up",
)


G = 9.81


def ring(rows: list[tuple[float, float, float, bool]], drum: float = 1.0) -> Strand:
    """Runs (length, climb, rolls, carries) closed by one pulley whose drive may hold it."""
    parts = [
        (length, climb, (length**2 - climb**2) ** 0.5, rolls, 0.0, float(carries), 1.0, 1.0)
        for length, climb, rolls, carries in rows
    ]
    parts.append((0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, drum))
    columns = (np.array(c) for c in zip(*parts, strict=True))
    driven = (False,) * len(rows) + (drum > 1,)
    return Strand(tuple(f"piece {n}" for n in range(len(parts))), driven, *columns)


def unknown(belt: float, friction: float, load: float = 0.0, metres: float = 0.0) -> Unknown:
    return Unknown(
        Span(belt, belt), Span(0.0, load), Span(friction, friction), 0.01, metres, Span(5e6, 5e6)
    )


@pytest.mark.parametrize("mean", [15e3, 20e3, 30e3])
def test_a_level_loop_keeps_its_mean(mean: float) -> None:
    """By hand: from the place the tension falls by the friction ρ a metre both ways round to half
    the loop L, so the mean lies ρ L/4 below the largest and above the least. Statics."""
    loop = ring([(300.0, 0.0, 14.0, False), (300.0, 0.0, 5.0, False)])
    uniform = ring([(300.0, 0.0, 9.0, False), (300.0, 0.0, 9.0, False)])
    rho = 0.04 * G * (12.0 + 9.0)
    for sign, largest in ((1.0, True), (-1.0, False)):
        found = held_tension(uniform, unknown(12.0, 0.04), mean, 0.0, largest=largest)
        by_hand = mean + sign * rho * 600.0 / 4
        assert found == pytest.approx(by_hand, rel=2e-3)
        # The end of the search on the safe side, never the other.
        assert sign * (float(found) - by_hand) >= -1e-6 * mean
    # Rolls that differ by side: the drop of each way by hand is the same integral in two parts.
    carry, back = 0.04 * G * (12 + 14), 0.04 * G * (12 + 5)
    found = held_tension(loop, unknown(12.0, 0.04), mean, 0.0, largest=True)
    drop = _mean_drop(carry, back)
    assert found == pytest.approx(mean + drop, rel=2e-3)


def _mean_drop(carry: float, back: float) -> float:
    """Mean drop from the place round a loop of two runs of 300 m, by a fine sum."""
    s = np.linspace(0.0, 600.0, 60_001)
    ahead = np.where(s < 300, carry * s, carry * 300 + back * (s - 300))
    behind = np.where(s > 300, back * (600 - s), back * 300 + carry * (300 - s))
    return float(np.trapezoid(np.minimum(ahead, behind), s) / 600.0)


def program(
    loop: Strand, known: Unknown, mean: float, drum: float, sign: float, cuts: int
) -> float:
    """The same by HiGHS: tension at every end of short pieces, friction in each, mean given."""
    rows = []
    for n in range(len(loop.names)):
        if loop.length[n] == 0:
            rows.append((0.0, 0.0, 0.0, 0.0, float(loop.gripping[n])))
            continue
        for _ in range(cuts):
            rows.append(
                (
                    loop.length[n] / cuts,
                    loop.climb[n] / cuts,
                    loop.across[n] / cuts,
                    loop.rolls[n],
                    1.0,
                )
            )
    count, belt, f = len(rows), float(known.belt.low), float(known.friction.high)
    size = count + 1
    upper, right = [], []
    for n, (length, climb, across, rolls, ratio) in enumerate(rows):
        weight = G * belt * climb
        slip = f * G * (rolls * length + belt * across) if length else drum
        for way in (1.0, -1.0):
            row = np.zeros(size)
            row[n + 1], row[n] = way, -way
            upper.append(row)
            right.append(slip + way * weight)
        if ratio > 1:
            for a, b in ((n, n + 1), (n + 1, n)):
                row = np.zeros(size)
                row[a], row[b] = 1.0, -ratio
                upper.append(row)
                right.append(0.0)
    same = np.zeros((2, size))
    same[0, 0], same[0, count] = 1.0, -1.0
    for n, (length, *_) in enumerate(rows):
        same[1, n] += length / 2
        same[1, n + 1] += length / 2
    cost = np.zeros(size)
    cost[0] = -sign
    found = linprog(
        cost,
        A_ub=np.array(upper),
        b_ub=right,
        A_eq=same,
        b_eq=[0.0, mean * float(np.sum(loop.length))],
        bounds=[(0, None)] * size,
    )
    assert found.status == 0
    return sign * -float(found.fun or 0.0)


@pytest.mark.parametrize("seed", range(12))
def test_ends_are_those_of_the_linear_programme(seed: int) -> None:
    rng = np.random.default_rng(seed)
    climb = float(rng.uniform(-20, 20))
    rows = [
        (float(rng.uniform(60, 300)), climb, float(rng.uniform(8, 20)), False),
        (float(rng.uniform(60, 300)), -climb, float(rng.uniform(3, 8)), False),
    ]
    loop = ring(rows, drum=2.5)
    known = unknown(float(rng.uniform(8, 25)), float(rng.uniform(0.02, 0.06)))
    mean, drum = float(rng.uniform(8e3, 40e3)), float(rng.uniform(2e3, 15e3))
    for sign, largest in ((1.0, True), (-1.0, False)):
        exact = program(loop, known, mean, drum, sign, PIECES)
        found = float(held_tension(loop, known, mean, drum, largest=largest))
        assert sign * (found - exact) >= -1e-6 * mean  # never inside
        assert found == pytest.approx(exact, rel=0.02, abs=0.01 * mean)


def test_many_loops_at_once_give_what_each_gives() -> None:
    loop = ring([(200.0, 12.0, 14.0, False), (200.0, -12.0, 5.0, False)], drum=2.0)
    belts, means = np.array([9.0, 12.0, 20.0]), np.array([12e3, 20e3, 35e3])
    many = Unknown(Span(belts, belts), Span(0.0, 0.0), Span(0.04, 0.04), 0.01, 0.0, Span(5e6, 5e6))
    together = held_tension(loop, many, means, 4e3, largest=True)
    alone = [
        held_tension(loop, unknown(b, 0.04), m, 4e3, largest=True)
        for b, m in zip(belts, means, strict=True)
    ]
    assert together == pytest.approx(np.array(alone, dtype=float), rel=1e-3)
