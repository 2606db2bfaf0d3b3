"""Transition and crown against SciPy quadrature, a root finder, and the published short forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from proof import proves
from splicewright.tension.across.transition import length_for_edge, length_for_middle
from splicewright.tension.across.width import (
    Across,
    across_transition,
    crown_tension,
    fibre_length,
    fibre_tension,
    mean_diameter,
    mean_fibre_length,
    slackest_fibre,
    trough_depth,
)

pytestmark = proves(
    "Transition, trough and curves",
    "Stretch across the width by quadrature",
    "B",
    "Fibres of a transition and of a crown integrated by SciPy; shortest lengths by a root finder.",
    doubt="Quadrature to 1e-9.",
    tolerance="rounding of floats; 4e-5 where the least of many fibres is taken",
    sketch="transition",
)


DEG = math.pi / 180
# A polyester belt 1.2 m wide on 35 degrees, three rolls.
M, B, L3, TROUGH = 5e6, 1.2, 0.465, 35 * DEG

shapes = st.tuples(
    st.floats(0.5, 2.4), st.floats(0.2, 0.9), st.floats(1, 45), st.floats(0.8, 12), st.floats(0, 1)
)  # fmt: skip


def walk(length: float, out: float, trough: float, raised: float) -> float:
    """Arc length of a fibre from its drawn line, integrated along the conveyor."""
    across, up = out * (math.cos(trough) - 1), out * math.sin(trough) - raised
    found, _ = quad(lambda x: math.hypot(1.0, across / length, up / length), 0, length)
    return float(found)


@given(shapes)
def test_fibres_and_their_mean_against_quadrature(
    shape: tuple[float, float, float, float, float],
) -> None:
    width, share, degrees, length, lift = shape
    middle, trough = share * width, degrees * DEG
    raised = lift * trough_depth(width, middle, trough) / 3
    wing = (width - middle) / 2
    assert fibre_length(length, wing, trough, raised) == pytest.approx(
        walk(length, wing, trough, float(raised)), rel=1e-12
    )
    over, _ = quad(lambda s: walk(length, s, trough, float(raised)), 0, wing)
    mean = (middle * walk(length, 0.0, trough, float(raised)) + 2 * over) / width
    assert mean_fibre_length(length, width, middle, trough, raised) == pytest.approx(
        mean, rel=1e-11
    )


@given(shapes, st.floats(0, 1e5))
def test_forces_balance_across_the_width(
    shape: tuple[float, float, float, float, float], mean: float
) -> None:
    width, share, degrees, length, lift = shape
    middle, trough = share * width, degrees * DEG
    raised = float(lift * trough_depth(width, middle, trough) / 3)
    through = mean_fibre_length(length, width, middle, trough, raised)

    def tension(y: float) -> float:
        fibre = fibre_length(length, max(0.0, y - middle / 2), trough, raised)
        return float(fibre_tension(mean, M, fibre, through))

    half, _ = quad(tension, 0, width / 2, points=[middle / 2])
    assert 2 * half / width == pytest.approx(mean, abs=1e-6 * M)


def test_closed_form_of_the_fibres_not_raised() -> None:
    # Not raised, the fibre's way is √(L² + s²(2 - 2 cos λ)): chord of its turn about the corner.
    chord = 2 * math.sin(TROUGH / 2)
    assert fibre_length(2.0, 0.3, TROUGH, 0.0) == pytest.approx(math.hypot(2.0, 0.3 * chord))
    # ∫√(L² + k²s²) ds = s/2 √(L² + k²s²) + L²/(2k) asinh(ks/L)
    w, k, length = (B - L3) / 2, chord, 2.0
    over = w / 2 * math.hypot(length, k * w) + length**2 / (2 * k) * math.asinh(k * w / length)
    mean = (L3 * length + 2 * over) / B
    assert mean_fibre_length(length, B, L3, TROUGH, 0.0) == pytest.approx(mean, rel=1e-14)


@pytest.mark.parametrize("raised_share", [0.0, 0.5, 1.0])
def test_shortest_lengths_against_a_root_finder(raised_share: float) -> None:
    raised = raised_share * float(trough_depth(B, L3, TROUGH)) / 3
    mean, permitted = 40e3, 65e3

    def spread(length: float) -> Across:
        return across_transition(mean=mean, modulus=M, length=length, width=B, middle=L3,
                                 trough=TROUGH, raised=raised)  # fmt: skip

    edge = brentq(lambda n: float(spread(n).tightest) - permitted, 0.2, 50, xtol=1e-12)
    slack = brentq(lambda n: float(spread(n).slackest), 0.2, 50, xtol=1e-12)
    assert length_for_edge(permitted, mean, M, B, L3, TROUGH, raised) == pytest.approx(edge)
    assert length_for_middle(0.0, mean, M, B, L3, TROUGH, raised) == pytest.approx(slack)


def test_the_slackest_fibre_is_the_least_of_many() -> None:
    raised = float(trough_depth(B, L3, TROUGH)) / 3
    out = np.linspace(0, (B - L3) / 2, 20001)
    fibres = np.asarray(fibre_length(2.0, out, TROUGH, raised))
    assert slackest_fibre(B, L3, TROUGH, raised) == pytest.approx(out[fibres.argmin()], abs=4e-5)
    assert slackest_fibre(B, L3, 0.0, 0.0) == 0.0


@given(st.floats(0.5, 2.4), st.floats(20, 45), st.floats(10e3, 60e3))
def test_longer_transitions_spread_less(width: float, degrees: float, mean: float) -> None:
    short, long = (
        across_transition(mean=mean, modulus=M, length=n * width, width=width,
                          middle=0.38 * width, trough=degrees * DEG)
        for n in (1.5, 3.0)
    )  # fmt: skip
    assert short.edge > long.edge > mean > long.middle > short.middle


def test_raising_the_pulley_shortens_the_transition() -> None:
    level, raised = (
        (
            float(length_for_edge(65e3, 40e3, M, B, L3, TROUGH, lift)),
            float(length_for_middle(0.0, 30e3, M, B, L3, TROUGH, lift)),
        )
        for lift in (0.0, float(trough_depth(B, L3, TROUGH)) / 3)
    )
    assert raised[0] < level[0]
    assert max(raised) < max(level)


def test_no_length_helps_where_the_belt_itself_is_too_tight_or_slack() -> None:
    assert length_for_edge(40e3, 40e3, M, B, L3, TROUGH, 0.0) == math.inf
    assert length_for_middle(10e3, 10e3, M, B, L3, TROUGH, 0.0) == math.inf
    assert length_for_edge(65e3, 40e3, M, B, L3, 0.0, 0.0) == 0.0


def test_many_at_once_are_the_same_as_one_by_one() -> None:
    troughs = np.array([20.0, 35.0, 45.0]) * DEG
    permitted = np.array([[60e3], [80e3]])
    many = np.asarray(length_for_edge(permitted, 40e3, M, B, L3, troughs, 0.0))
    assert many.shape == (2, 3)
    for i, p in enumerate(permitted[:, 0]):
        for k, trough in enumerate(troughs):
            one = length_for_edge(float(p), 40e3, M, B, L3, float(trough), 0.0)
            assert many[i, k] == pytest.approx(one, rel=1e-14)


@pytest.mark.parametrize("form", ["double cone", "arc", "cones with a cylinder between"])
def test_a_crown_keeps_the_mean_tension(form: str) -> None:
    edge, crown, thick, mean, width, flat = 0.6, 0.004, 0.01, 30e3, 1.0, 0.4
    heights = {
        "double cone": lambda y: 1 - 2 * abs(y) / width,
        "arc": lambda y: 1 - (2 * y / width) ** 2,
        "cones with a cylinder between": lambda y: min(1.0, (width - 2 * abs(y)) / (width - flat)),
    }
    fullness = {"double cone": 1 / 2, "arc": 2 / 3}.get(form, (1 + flat / width) / 2)
    over = mean_diameter(edge, crown, fullness)

    def tension(y: float) -> float:
        return float(crown_tension(mean, M, edge + 2 * crown * heights[form](y), over, thick))

    half, _ = quad(tension, 0, width / 2, points=[flat / 2])
    assert 2 * half / width == pytest.approx(mean, rel=1e-9)
    assert tension(0.0) > mean > tension(width / 2)
