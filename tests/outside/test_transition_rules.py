"""Published rules for the flat-to-trough transition.

Sources: GB 50431 clause 10.4.1 (jianbiaoku.com 4615632): lower bound 8.5 or 14 times the
height, pulley line raised by at most a third; ISO 5293:1981 abstract: edge at most 130 % of
rated tension, middle not buckled; a published geometric rule L = α B/(3 √(ε (2 + ε))).
"""

from __future__ import annotations

import math

import pytest

from proof import proves
from splicewright.plant import Carcass
from splicewright.tension.across.transition import (
    LEAST_LENGTH_FACTOR,
    least_transition,
    length_for_edge,
    length_for_middle,
)
from splicewright.tension.across.width import across_transition

pytestmark = proves(
    "Transition, trough and curves",
    "Published rules for the transition",
    "A",
    "Lower bounds, largest raise, the geometric rule, and the edge and middle conditions at "
    "the length found.",
    doubt="Clause text read in a public copy; the ISO formula from memory.",
    tolerance="half the last printed digit",
    sketch="transition",
)


DEG = math.pi / 180


def test_lower_bounds() -> None:
    assert LEAST_LENGTH_FACTOR[Carcass.POLYESTER.textile] == 8.5
    assert LEAST_LENGTH_FACTOR[Carcass.STEEL_CORD.textile] == 14
    assert least_transition(8.5, 0.2) == pytest.approx(1.7)


@pytest.mark.parametrize("degrees", [20, 35, 45])
def test_edge_at_130_percent_and_middle_not_buckled(degrees: float) -> None:
    # ISO 5293 conditions: at the length found, one holds with equality and none is broken.
    rated, modulus, width, middle = 50e3, 5e6, 1.2, 0.465
    shape = (modulus, width, middle, degrees * DEG, 0.0)
    edge = float(length_for_edge(1.3 * rated, rated, *shape))
    slack = float(length_for_middle(0.0, 0.6 * rated, *shape))
    for mean in (0.6 * rated, rated):
        across = across_transition(
            mean=mean, modulus=modulus, length=max(edge, slack), width=width, middle=middle,
            trough=degrees * DEG,
        )  # fmt: skip
        assert float(across.edge) <= 1.3 * rated * (1 + 1e-9)
        assert float(across.slackest) >= -1e-6 * rated
