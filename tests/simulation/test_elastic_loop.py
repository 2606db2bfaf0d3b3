"""Fixed take-up against a discretised loop of springs solved by SciPy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog, root, root_scalar

from proof import proves
from simulation.elastic_loop import (
    fixed_take_up,
    level_for_stretch,
    stretch_from_take_up,
    stretch_of_loop,
    take_up_moves,
)

M, B = 3e6, 1.0
# Return, tail (factor 1.03), carry, drive: by hand, X leaves the drive.
LENGTHS = np.array([120.0, 0.8, 121.0, 1.2])
A_IN = np.array([1.0, 1.0, 1.03, 1.03])
A_OUT = np.array([1.0, 1.03, 1.03, 1.0])
EMPTY_IN = np.array([0.0, 1500.0, 1545.0, 6000.0])
EMPTY_OUT = np.array([1500.0, 1545.0, 6000.0, 0.0])
FULL_IN = np.array([0.0, 1500.0, 1545.0, 32e3])
FULL_OUT = np.array([1500.0, 1545.0, 32e3, 0.0])


def springs(level: float, stretch: float, parts: int) -> float:
    """Loop of many short springs: stretch left over at a level of tension."""
    left = -stretch
    for n, length in enumerate(LENGTHS):
        share = (np.arange(parts) + 0.5) / parts
        first, last = A_IN[n] * level + FULL_IN[n], A_OUT[n] * level + FULL_OUT[n]
        left += float(np.sum((first + share * (last - first)) * length / parts / (M * B)))
    return left


@proves(
    "Loop and take-up",
    "Fixed take-up as a loop of springs",
    "B",
    "A loop of springs with its length held, solved by SciPy's root finder.",
    doubt="Solver tolerance 1e-12.",
    tolerance="1e-9: rounding of floats",
    sketch="take-up",
)
@pytest.mark.parametrize("stretch", [0.9, 2.5])
def test_level_of_a_loop_of_springs(stretch: float) -> None:
    found = fixed_take_up(
        stretch=stretch, modulus=M, width=B, lengths=LENGTHS, alpha_in=A_IN, alpha_out=A_OUT,
        beta_in=FULL_IN, beta_out=FULL_OUT,
    )  # fmt: skip
    solved = root_scalar(lambda x: springs(x, stretch, 500), bracket=(-60e3, 60e3), xtol=1e-6)
    assert not found.slack
    assert found.level == pytest.approx(solved.root, rel=1e-9)


def test_a_loop_too_long_hangs_behind_the_drive_and_still_pulls_its_load() -> None:
    """SciPy's linear program: least belt left over with every tension pulling and lengths fitting.

    Unknowns: level x [kN], free in sign, and belt left over h [m], not negative.
    """
    stretch = 0.4
    found = fixed_take_up(
        stretch=stretch, modulus=M, width=B, lengths=LENGTHS, alpha_in=A_IN, alpha_out=A_OUT,
        beta_in=FULL_IN, beta_out=FULL_OUT,
    )  # fmt: skip
    at_rest = springs(0.0, stretch, 50)
    solved = linprog(
        [0.0, 1.0],
        A_ub=np.stack([-np.concatenate([A_IN, A_OUT]), np.zeros(8)], axis=-1),
        b_ub=np.concatenate([FULL_IN, FULL_OUT]) / 1e3,
        A_eq=[[springs(1e3, stretch, 50) - at_rest, -1.0]],
        b_eq=[-at_rest],
        bounds=[(None, None), (0.0, None)],
    )
    assert solved.success
    assert solved.x is not None
    assert bool(found.slack)
    assert found.level == pytest.approx(1e3 * solved.x[0], abs=0.01)
    assert found.hanging == pytest.approx(solved.x[1], rel=1e-6)
    # By hand: nothing is left behind the drive, so the tight side is the whole pull, 32 kN.
    assert found.level == 0.0
    assert found.entering.max() == 32e3


def test_exact_large_stretch_of_every_spring_differs_by_the_strain_only() -> None:
    """Positions of all nodes as unknowns, natural lengths kept: no small-strain shortcut."""
    stretch, parts = 2.5, 40
    path = float(LENGTHS.sum())
    natural_total = path - stretch
    level = float(
        level_for_stretch(stretch, M, B, LENGTHS, A_IN, A_OUT, FULL_IN, FULL_OUT)
    )  # fmt: skip

    def equations(unknown: np.ndarray) -> np.ndarray:
        x, natural = unknown[0], unknown[1:].reshape(len(LENGTHS), parts)
        share = (np.arange(parts) + 0.5) / parts
        first, last = A_IN * x + FULL_IN, A_OUT * x + FULL_OUT
        tension = first[:, None] + share * (last - first)[:, None]
        fits = natural * (1 + tension / (M * B)) - (LENGTHS / parts)[:, None]
        return np.concatenate([[natural.sum() - natural_total], fits.ravel()])

    start = np.concatenate([[level], np.repeat(LENGTHS / parts, parts)])
    found = root(equations, start, method="krylov", tol=1e-10)
    # The strain is about 1 %, so level and stretch differ by that order.
    assert found.x[0] == pytest.approx(level, rel=0.03)


@given(st.floats(0.9, 6.0))
def test_loading_a_fixed_loop_lowers_the_slack_side(stretch: float) -> None:
    """A screw set on the empty belt: the full belt stretches on the carry side, X falls."""
    empty, full = (
        fixed_take_up(stretch=stretch, modulus=M, width=B, lengths=LENGTHS, alpha_in=A_IN,
                      alpha_out=A_OUT, beta_in=into, beta_out=out)
        for into, out in ((EMPTY_IN, EMPTY_OUT), (FULL_IN, FULL_OUT))
    )  # fmt: skip
    assert full.level < empty.level
    for case in (empty, full):
        held = stretch_of_loop(LENGTHS, case.entering, case.leaving, M, B)
        assert held - case.hanging == pytest.approx(stretch, rel=1e-12)


def test_two_springs_by_hand() -> None:
    # Two equal strands of 100 m, 10 kN more on one: mean is X + 5 kN; 1 % of 200 m at 3 MN is
    # 30 kN mean, so X = 25 kN.
    level = level_for_stretch(2.0, M, B, [100, 100], 1.0, 1.0, [0, 10e3], [0, 10e3])
    assert level == pytest.approx(25e3)
    assert stretch_from_take_up(2.0, 1.0) == 2.0


def test_gravity_moves_where_a_screw_changes_tension() -> None:
    level = 20e3
    before, after = (
        stretch_of_loop(LENGTHS, A_IN * level + i, A_OUT * level + o, M, B)
        for i, o in ((EMPTY_IN, EMPTY_OUT), (FULL_IN, FULL_OUT))
    )
    moved = float(take_up_moves(before, after, 2.0))
    # By hand: only the carry side changes, its mean by 13 kN, the drive's arc too.
    by_hand = (121.0 * (32e3 - 6e3) / 2 + 1.2 * (32e3 - 6e3) / 2) / (M * B) / 2
    assert moved == pytest.approx(by_hand)
    # A screw with the same belt: X falls by that stretch over the loop's compliance.
    fixed = fixed_take_up(
        stretch=before, modulus=M, width=B, lengths=LENGTHS, alpha_in=A_IN, alpha_out=A_OUT,
        beta_in=FULL_IN, beta_out=FULL_OUT,
    )  # fmt: skip
    compliance = float(np.sum(LENGTHS * (A_IN + A_OUT) / 2)) / (M * B)
    assert float(fixed.level) == pytest.approx(level - 2 * moved / compliance)


def test_many_settings_at_once() -> None:
    stretches = np.array([0.3, 1.5, 3.0])
    many = fixed_take_up(
        stretch=stretches, modulus=M, width=B, lengths=LENGTHS, alpha_in=A_IN, alpha_out=A_OUT,
        beta_in=FULL_IN, beta_out=FULL_OUT,
    )  # fmt: skip
    assert many.entering.shape == (3, 4)
    for n, stretch in enumerate(stretches):
        one = fixed_take_up(
            stretch=float(stretch), modulus=M, width=B, lengths=LENGTHS, alpha_in=A_IN,
            alpha_out=A_OUT, beta_in=FULL_IN, beta_out=FULL_OUT,
        )  # fmt: skip
        assert math.isclose(float(np.asarray(many.level)[n]), float(one.level), rel_tol=1e-12)
        assert bool(many.slack[n]) is bool(one.slack)
