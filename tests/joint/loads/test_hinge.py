"""Both ends and the pin as one system: statics, limits of the pin, and direct stiffness."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from depth import examples
from proof import proves
from splicewright.errors import InputError
from splicewright.joint.loads.hinge import (
    Hinge,
    hinge_inverse,
    hold_each_other,
    pin_bending,
    share_both,
    turned,
    with_turned_end,
)
from splicewright.joint.loads.membrane import even_row, free_compliance, locked_compliance
from splicewright.joint.loads.meshing import Strip
from splicewright.joint.loads.sharing import Guidance, guided, share, straightened, unguided

Array = NDArray[np.float64]

STRIP = Strip(0.65, 5e6, 1.6e6, 2.5e5)
N, K, PULL = 10, 2e6, 2e4
LEADING = free_compliance(STRIP, even_row(N, 0.06, 0.055, 0.012), refine=1)
TRAILING = turned(LEADING)
ROD = pin_bending(0.01)
HINGE = Hinge(LEADING, TRAILING, ROD)
RIGID = free_compliance(Strip(0.65, 1e14, 1e14, 1e14), even_row(N, 0.06, 0.055), refine=1)
HOLDS = (guided(STRIP), straightened(STRIP, PULL), unguided())


def lost(*plates: int) -> NDArray[np.bool_]:
    """All plates but these; 0 to 9 on the leading end, 10 to 19 on the trailing."""
    alive = np.ones(2 * N, dtype=bool)
    alive[list(plates)] = False
    return alive


def test_bending_of_a_round_bar() -> None:
    """E I with I = π d⁴/64: a bar of twice the diameter is sixteen times as stiff."""
    assert pin_bending(0.02) == pytest.approx(16 * pin_bending(0.01))
    assert pin_bending(0.01, 2e11) == pytest.approx(2e11 * math.pi / 4 * 0.005**4)


@settings(max_examples=examples(40), deadline=None)
@given(st.integers(0, 10**6), st.sampled_from(HOLDS), st.sampled_from([0.005, 1.0, 300.0]))
def test_balance_no_push_and_the_pin_turns_nowhere(seed: int, hold: Guidance, pin: float) -> None:
    rng = np.random.default_rng(seed)
    alive = rng.random(2 * N) > 0.2
    alive[[0, N - 1, N, 2 * N - 1]] = True
    slack = rng.uniform(0, 2e-3, 2 * N)
    hinge = Hinge(LEADING, TRAILING, pin * ROD)
    loads = share_both(hinge, K, PULL, guidance=hold, alive=alive, slack=slack)
    one, other = loads[:N], loads[N:]
    assert one.sum() == pytest.approx(PULL, rel=1e-9) == pytest.approx(other.sum(), rel=1e-9)
    assert one @ LEADING.row.y == pytest.approx(other @ TRAILING.row.y, abs=1e-6 * PULL)
    assert (loads >= 0).all() and (loads[~alive] == 0).all()


def test_a_rigid_belt_and_pin_are_a_bolt_group_on_each_end() -> None:
    """Held: even. One plate gone on the left of one end: both ends' moments are equal."""
    hinge = Hinge(RIGID, RIGID, 1e9)
    even = share_both(hinge, K, PULL, guidance=Guidance("held", 0.0))
    np.testing.assert_allclose(even, PULL / N, rtol=1e-4)
    loads = share_both(hinge, K, PULL, guidance=unguided(), alive=lost(0))
    y = RIGID.row.y[1:]
    arm = y - y.mean()
    wanted = PULL / (N - 1) - PULL * y.mean() * arm / (arm @ arm)
    np.testing.assert_allclose(loads[1:N], wanted, rtol=1e-4)
    np.testing.assert_allclose(loads[N:], PULL / N, rtol=1e-4)


def direct(hinge: Hinge, alive: NDArray[np.bool_]) -> Array:
    """The same by displacements: the pin as beam elements, belts as the inverse of compliance."""
    y, side = hinge.y, hinge.side
    nodes = np.unique(np.round(y, 9))
    at = np.searchsorted(nodes, np.round(y, 9))
    m, n = len(nodes), len(y)
    # Unknowns: deflection and slope of the pin, then δ and swing of each end.
    size = 2 * m + 4
    system = np.zeros((size, size))
    for i, long in enumerate(np.diff(nodes)):
        e = (
            hinge.bending
            / long**3
            * np.array(
                [
                    [12, 6 * long, -12, 6 * long],
                    [6 * long, 4 * long**2, -6 * long, 2 * long**2],
                    [-12, -6 * long, 12, -6 * long],
                    [6 * long, 2 * long**2, -6 * long, 4 * long**2],
                ]
            )
        )
        where = [2 * i, 2 * i + 1, 2 * i + 2, 2 * i + 3]
        system[np.ix_(where, where)] += e
    right = np.zeros(size)
    maps = []
    for end, edge in enumerate((hinge.leading, hinge.trailing)):
        own = np.flatnonzero(alive & (side == (1 if end == 0 else -1)))
        local = own - end * N
        soft = edge.matrix[np.ix_(local, local)] + np.eye(len(own)) / K
        stiff = np.linalg.inv(soft)
        # Elongation = δ - y θ - side w.
        b = np.zeros((len(own), size))
        b[np.arange(len(own)), 2 * at[own]] = -side[own]
        b[:, 2 * m + 2 * end] = 1.0
        b[:, 2 * m + 2 * end + 1] = -y[own]
        system += b.T @ stiff @ b
        right[2 * m + 2 * end] = PULL
        maps.append((own, stiff @ b))
    # The pin's own travel is free: hold one end's travel instead, its pull follows.
    free = [i for i in range(size) if i not in (2 * m, 2 * m + 1)]
    answer = np.zeros(size)
    answer[free] = np.linalg.solve(system[np.ix_(free, free)], right[free])
    loads = np.zeros(n)
    for own, force in maps:
        loads[own] = force @ answer
    return loads


@proves(
    "Plate loads",
    "Both ends and the pin, unlike losses",
    "B",
    "The pin as Hermite beam elements between two compliant ends, solved for movements where "
    "the tool eliminates loads.",
    doubt="Beam elements carry point loads exactly.",
    tolerance="1e-7 of the pull: rounding of two systems solved differently",
    sketch="pin",
)
@pytest.mark.parametrize("alive", [lost(), lost(0, 1), lost(0, 15), lost(4, 14), lost(3, 17)])
@pytest.mark.parametrize("pin", [0.05, 1.0, 20.0])
def test_condensed_equals_beam_elements(alive: NDArray[np.bool_], pin: float) -> None:
    """Hermite beam elements carry point loads exactly: no mesh error is left."""
    hinge = Hinge(LEADING, TRAILING, pin * ROD)
    ours = share_both(hinge, K, PULL, guidance=unguided(), alive=alive)
    wanted, left = direct(hinge, alive), alive.copy()
    while (wanted < 0).any():  # a plate that would push is off
        left &= wanted >= 0
        wanted = direct(hinge, left)
    np.testing.assert_allclose(ours, wanted, atol=1e-7 * PULL)


def test_ends_alike_are_worked_by_one() -> None:
    slack = np.random.default_rng(0).uniform(0, 1e-3, N)
    both = share_both(HINGE, K, PULL, guidance=guided(STRIP), slack=np.r_[slack, slack[::-1]])
    one = share(with_turned_end(LEADING, ROD), K, PULL, guidance=unguided(), slack=slack).loads
    np.testing.assert_allclose(both[:N], one, rtol=1e-8)
    np.testing.assert_allclose(both[N:], one[::-1], rtol=1e-8)


def test_rows_are_alike_only_where_every_plate_stands_alike() -> None:
    """Else the trailing end would carry the loads of the leading one."""
    row = even_row(22, 0.043, 0.038)
    assert row.alike(even_row(22, 0.043, 0.038, 1e-9))
    for other in (even_row(22, 0.043, 0.038, 1e-3), even_row(22, 0.0431, 0.038),
                  even_row(21, 0.043, 0.038)):  # fmt: skip
        assert not row.alike(other)


def test_turning_an_end_is_condensing_the_turned_row() -> None:
    built_in = free_compliance(STRIP, LEADING.row, (0.5, 2.0), refine=1)
    turned_round = turned(built_in)
    again = free_compliance(STRIP, turned_round.row, (0.5, 2.0), refine=1)
    np.testing.assert_allclose(turned_round.matrix, again.matrix, rtol=1e-7, atol=1e-15)
    np.testing.assert_allclose(turned_round.stretches, again.stretches, atol=1e-12)
    assert turned_round.lift.shape == built_in.lift.shape
    np.testing.assert_allclose(
        turned_round.lift, again.lift, rtol=1e-6, atol=1e-9 * float(np.abs(again.lift).max())
    )


FACING = Hinge(
    free_compliance(STRIP, even_row(N, 0.06, 0.055), refine=1),
    free_compliance(STRIP, even_row(N, 0.06, 0.055), refine=1),
    ROD,
)


def worst(hold: Guidance, *plates: int, pin: float = 1.0) -> float:
    hinge = Hinge(FACING.leading, FACING.trailing, pin * ROD)
    return float(share_both(hinge, K, PULL, guidance=hold, alive=lost(*plates)).max())


@pytest.mark.parametrize("hold", HOLDS, ids=lambda h: h.name)
def test_plates_lost_facing_each_other_leave_the_pin_straight(hold: Guidance) -> None:
    """Mirror images pull alike: the pin stays straight, whatever it is made of."""
    alone = float(share(FACING.leading, K, PULL, guidance=hold, alive=lost(0, 1)[:N]).worst)
    for pin in (0.01, 1.0, 100.0):
        assert worst(hold, 0, 1, N, N + 1, pin=pin) == pytest.approx(alone, rel=1e-6)


def test_plates_lost_at_opposite_corners_are_as_an_end_that_nothing_guides() -> None:
    """Half a turn maps one end on the other, so the moment is nil, guided or not."""
    for hold in HOLDS:
        assert worst(hold, 0, 2 * N - 1) == pytest.approx(worst(unguided(), 0, 2 * N - 1), rel=1e-7)


def test_a_solid_pin_levers_on_the_last_plate_more_than_either_limit() -> None:
    """The sound end's plates pull at the pin where it stands over the lost ones: a lever.

    A pin without stiffness carries nothing past a plate, one without give shares it out; a
    real rod does neither, and the plate beside the gap has more than both limits.
    """
    hold = straightened(STRIP, PULL)
    limp, rod, stiff = (worst(hold, 0, 1, pin=p) for p in (1e-3, 1.0, 1e4))
    straight = float(share(FACING.leading, K, PULL, guidance=hold, alive=lost(0, 1)[:N]).worst)
    assert limp == pytest.approx(straight, rel=0.02)
    assert rod > 1.1 * limp and rod > 1.05 * stiff


def test_the_slow_way_finds_the_same_plates() -> None:
    from splicewright.joint.loads import hinge as module

    rng = np.random.default_rng(3)
    slack = rng.uniform(0, 4e-3, (6, 2 * N))
    slack[3:] *= 5  # so much that some plates hang free
    for hold in HOLDS:
        quick = share_both(HINGE, K, PULL, guidance=hold, slack=slack)
        assert (quick[3:] == 0).any()
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(module, "_ROUNDS", 0)
            slow = share_both(HINGE, K, PULL, guidance=hold, slack=slack)
        np.testing.assert_allclose(slow, quick, atol=1e-6 * PULL)


def test_plates_left_on_opposite_sides_hold_nothing() -> None:
    left = [*range(5, N), *range(N, N + 5)]  # leading end keeps its left half, trailing its right
    alive = lost(*left)
    assert not hold_each_other(FACING, alive[None], guided(STRIP))[0]
    with pytest.raises(InputError) as caught:
        share_both(FACING, K, PULL, guidance=guided(STRIP), alive=alive)
    assert str(caught.value) == (
        "alive: the plates left on the two ends cannot hold each other: they lie on opposite "
        "sides, or beside the pull; the joint tears open from the side"
    )
    same = lost(*range(5, N), *range(N + 5, 2 * N))
    assert hold_each_other(FACING, same[None], guided(STRIP))[0]
    assert not hold_each_other(FACING, same[None], unguided())[0]


@pytest.mark.parametrize("hold", HOLDS, ids=lambda h: h.name)
def test_one_inverse_answers_as_each_case_by_itself(hold: Guidance) -> None:
    """While every plate bears: pull, slack and the moment of a pull off the centre add up."""
    slack = np.random.default_rng(8).uniform(0, 2e-4, 2 * N)
    moment = 0.002 * PULL
    by_pull, by_slack, by_moment = hinge_inverse(HINGE, K, hold)
    added = PULL * by_pull - by_slack @ slack + moment * by_moment
    alone = share_both(HINGE, K, PULL, guidance=hold.with_moment(moment), slack=slack)
    assert (alone > 0).all()
    np.testing.assert_allclose(added, alone, rtol=1e-7)
    if not math.isinf(hold.swing):
        assert np.abs(by_moment).max() < np.abs(hinge_inverse(HINGE, K, unguided())[2]).max()


def test_refusals() -> None:
    locked = locked_compliance(STRIP, even_row(N, 0.06, 0.055))
    with pytest.raises(InputError, match="a belt whose weft is locked cannot be hinged"):
        Hinge(locked, locked, ROD)
    with pytest.raises(InputError, match="0 N m2 is not accepted: give a number above 0"):
        Hinge(LEADING, TRAILING, 0.0)
    with pytest.raises(InputError, match="stiffness: not every value is above 0"):
        share_both(HINGE, -1.0, PULL, guidance=unguided())


def test_a_pull_off_centre_is_the_moment_on_both_ends() -> None:
    """Nothing guides the belt: the plates of either end carry its moment, to the left positive."""
    moment = 0.04 * PULL
    loads = share_both(HINGE, K, PULL, guidance=unguided().with_moment(moment))
    assert loads[:N] @ LEADING.row.y == pytest.approx(moment, rel=1e-9)
    assert loads[N:] @ TRAILING.row.y == pytest.approx(moment, rel=1e-9)
