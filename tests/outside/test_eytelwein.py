"""Euler-Eytelwein: the slack side that keeps a belt from slipping on its pulley.

Relation: T1/T2 <= e^(mu phi), GB 50431 clause 5.1.2 (start, running and braking). The values of
1/(e^(mu phi) - 1) to three digits are own arithmetic of the reference notes, made apart from this
program; the first is also printed as 0.50 in a published sheet. The last test integrates the
equilibrium of a short piece of belt, dT = mu T d(phi), which is where the relation comes from.
"""

from __future__ import annotations

import math

import pytest

from proof import proves
from splicewright.tension.resistance.traction import slack_side_for_grip


@proves(
    "Tension of the running belt",
    "Slack side that keeps a belt from slipping",
    "A",
    "1/(e^(mu phi) - 1) for five wraps and frictions.",
    doubt=(
        "One of the five is printed in a published sheet; the others are three digits "
        "worked apart from this program."
    ),
    tolerance="half of the third digit",
    sketch="wrap",
)
@pytest.mark.parametrize(
    ("friction", "degrees", "factor"),
    [
        (0.35, 180, 0.499),
        (0.35, 210, 0.384),
        (0.35, 220, 0.353),
        (0.25, 180, 0.838),
        (0.35, 420, 0.083),
    ],
)
def test_slack_side_factors(friction: float, degrees: float, factor: float) -> None:
    found = slack_side_for_grip(1.0, 1.0, friction, math.radians(degrees))
    assert found == pytest.approx(factor, abs=5e-4)


def test_braking_swaps_the_sides() -> None:
    # F < 0: the belt leaves on its tight side, e^(mu phi) times the slack side it enters with.
    leaving = slack_side_for_grip(1.0, -10e3, 0.3, math.pi)
    entering = leaving - 10e3
    assert leaving / entering == pytest.approx(math.exp(0.3 * math.pi))


def test_margin_raises_the_pull() -> None:
    assert slack_side_for_grip(1.5, 8e3, 0.3, 3.0) == pytest.approx(
        slack_side_for_grip(1.0, 12e3, 0.3, 3.0)
    )


@proves(
    "Tension of the running belt",
    "Euler-Eytelwein from short pieces of belt",
    "C",
    "Equilibrium of a short piece, dT = mu T dphi, summed over a wrap by the midpoint rule; "
    "the error must fall with the square of the piece.",
    doubt="Exact in the limit.",
    tolerance="5 % on the order of convergence, for two finite sizes",
    sketch="wrap",
)
def test_against_the_belt_cut_into_short_pieces() -> None:
    # Midpoint rule: the error falls with the square of the piece.
    def tight(pieces: int) -> float:
        tension, step = 1.0, 0.35 * 3.5 / pieces
        for _ in range(pieces):
            tension *= (1 + step / 2) / (1 - step / 2)
        return tension

    slack = slack_side_for_grip(1.0, 1.0, 0.35, 3.5)
    ratio = (slack + 1) / slack
    errors = [abs(tight(n) / ratio - 1) for n in (50, 100)]
    assert errors[1] < 2e-5
    assert errors[0] / errors[1] == pytest.approx(4, rel=0.05)
