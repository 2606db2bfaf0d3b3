"""The response of a joint against the direct solves of one end and of both ends."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from depth import examples
from splicewright.errors import SplicewrightError
from splicewright.joint.loads import response as module
from splicewright.joint.loads.hinge import Hinge, pin_bending, share_both, turned
from splicewright.joint.loads.membrane import even_row, free_compliance, locked_compliance
from splicewright.joint.loads.meshing import Strip
from splicewright.joint.loads.response import Response, response_of
from splicewright.joint.loads.sharing import Guidance, guided, share, straightened, unguided
from splicewright.joint.loads.stiffness import Case

STRIP = Strip(0.65, 5e6, 1.6e6, 2.5e5)
N, K, PULL = 9, 2e6, 2e4
EDGE = free_compliance(STRIP, even_row(N, 0.065, 0.058, 0.012), refine=1)
HINGE = Hinge(EDGE, turned(EDGE), pin_bending(0.009))
LIMP = Hinge(EDGE, turned(EDGE), 0.01 * pin_bending(0.007))
HOLDS = (guided(STRIP), straightened(STRIP, PULL), unguided())
SETTINGS = settings(max_examples=examples(30), deadline=None)


def _random(seed: int, plates: int) -> tuple[np.ndarray, np.ndarray]:
    """Shares of stiffness left, outermost plates kept; slack in three scenarios."""
    rng = np.random.default_rng(seed)
    left = np.where(rng.random(plates) < 0.2, 0.0, 1.0)
    left = np.where(rng.random(plates) < 0.2, rng.uniform(0.1, 0.9, plates), left)
    left[[0, N - 1, plates - N, plates - 1]] = 1.0
    return left, rng.uniform(-1e-3, 4e-3, (3, plates))


def _answer(case: Case, left: np.ndarray, pull: np.ndarray, slack: np.ndarray) -> np.ndarray:
    weaker = np.flatnonzero(left < 1)
    return response_of(case).changed(weaker, left[weaker] * K).loads(pull, slack)


@SETTINGS
@given(st.integers(0, 10**6), st.sampled_from(HOLDS), st.sampled_from([HINGE, LIMP]))
def test_both_ends_answer_as_the_direct_solve(seed: int, hold: Guidance, hinge: Hinge) -> None:
    left, slack = _random(seed, 2 * N)
    pull = np.array([0.3, 1.0, 2.0]) * PULL
    ours = _answer(Case("both", EDGE, K, hold, hinge), left, pull, slack)
    stiffness = K * np.where(left > 0, left, 1.0)
    direct = share_both(hinge, stiffness, pull, guidance=hold, slack=slack, alive=left > 0)
    np.testing.assert_allclose(ours, direct, atol=1e-8 * PULL)


@SETTINGS
@given(st.integers(0, 10**6), st.sampled_from(HOLDS), st.sampled_from([1e-15, 1e-6, 1e9]))
def test_loads_keep_their_shares_whatever_the_size_of_pull_and_slack(
    seed: int, hold: Guidance, size: float
) -> None:
    """Plates only pull, and give way linearly: all loads grow with pull and slack together.

    So what counts as no load is a share of the pull and no force of its own.
    """
    left, slack = _random(seed, 2 * N)
    pull = np.array([0.3, 1.0, 2.0]) * PULL
    case = Case("both", EDGE, K, hold, HINGE)
    loads = _answer(case, left, pull, slack)
    scaled = _answer(case, left, size * pull, size * slack)
    np.testing.assert_allclose(scaled / size, loads, atol=1e-8 * PULL)


@SETTINGS
@given(st.integers(0, 10**6), st.sampled_from([*HOLDS, None]))
def test_one_end_answers_as_the_direct_solve(seed: int, hold: Guidance | None) -> None:
    left, slack = _random(seed, N)
    pull = np.array([0.3, 1.0, 2.0]) * PULL
    edge = EDGE if hold is not None else locked_compliance(STRIP, EDGE.row)
    ours = _answer(Case("one", edge, K, hold), left, pull, slack)
    stiffness = K * np.where(left > 0, left, 1.0)
    direct = share(edge, stiffness, pull, slack=slack, alive=left > 0, guidance=hold).loads
    np.testing.assert_allclose(ours, direct, atol=1e-8 * PULL)


@pytest.mark.parametrize("hinge", [HINGE, None])
@pytest.mark.parametrize("hold", HOLDS, ids=lambda h: h.name)
def test_a_moment_is_carried_as_the_direct_solve_says(hinge: Hinge | None, hold: Guidance) -> None:
    moment = 0.03 * PULL
    case = Case("moment", EDGE, K, hold, hinge)
    ours = response_of(case).loads(
        np.array([PULL]), np.zeros((1, len(response_of(case).even))), np.array([moment])
    )[0]
    with_it = hold.with_moment(moment)
    if hinge is None:
        direct = share(EDGE, K, PULL, guidance=with_it).loads
    else:
        direct = share_both(hinge, K, PULL, guidance=with_it)
    np.testing.assert_allclose(ours, direct, atol=1e-8 * PULL)
    assert np.ptp(ours - response_of(case).even * PULL) > 1e-3 * PULL / N


@pytest.mark.parametrize("hinge", [HINGE, None])
@pytest.mark.parametrize("hold", HOLDS, ids=lambda h: h.name)
def test_a_damaged_joint_carries_a_moment_as_the_direct_solve_says(
    hinge: Hinge | None, hold: Guidance
) -> None:
    """One plate lost and one weaker, beside the middle: what is left takes up the moment."""
    moment = 0.03 * PULL
    left = np.ones(N if hinge is None else 2 * N)
    left[3], left[5] = 0.0, 0.4
    weaker = np.flatnonzero(left < 1)
    ours = (
        response_of(Case("moment", EDGE, K, hold, hinge))
        .changed(weaker, left[weaker] * K)
        .loads(np.array([PULL]), np.zeros((1, len(left))), np.array([moment]))[0]
    )
    with_it, stiffness, alive = hold.with_moment(moment), K * np.where(left, left, 1.0), left > 0
    if hinge is None:
        direct = share(EDGE, stiffness, PULL, guidance=with_it, alive=alive).loads
    else:
        direct = share_both(hinge, stiffness, PULL, guidance=with_it, alive=alive)
    np.testing.assert_allclose(ours, direct, atol=1e-8 * PULL)


def test_losing_plates_one_by_one_is_losing_them_at_once() -> None:
    sound = response_of(Case("both", EDGE, K, guided(STRIP), HINGE))
    step: Response = sound
    for plate in (3, 11, 12):
        step = step.changed(np.array([plate]), np.zeros(1))
    at_once = sound.changed(np.array([3, 11, 12]), np.zeros(3))
    np.testing.assert_allclose(step.taken, at_once.taken, atol=1e-9 * K)
    np.testing.assert_allclose(step.even, at_once.even, atol=1e-10)
    assert not step.alive[[3, 11, 12]].any() and step.alive.sum() == 2 * N - 3


def test_one_spring_of_n_that_grows_weaker_by_hand() -> None:
    """Rigid belt held: springs side by side. One with half the stiffness takes F/2 / (n - 1/2)."""
    rigid = free_compliance(Strip(0.65, 1e14, 1e14, 1e14), even_row(N, 0.065, 0.058), refine=1)
    case = Case("rigid", rigid, K, Guidance("held", 0.0))
    weak = response_of(case).changed(np.array([2]), np.array([K / 2]))
    assert weak.even[2] == pytest.approx(0.5 / (N - 0.5), rel=1e-6)
    assert weak.even[5] == pytest.approx(1 / (N - 0.5), rel=1e-6)
    assert weak.stiffness[2] == K / 2


def test_the_direct_way_is_for_what_nobody_meets() -> None:
    """Half the plates lost, much slack, little pull: still settled plate by plate."""

    def never(*_: object) -> np.ndarray:
        raise AssertionError("gone the direct way")

    rng = np.random.default_rng(11)
    sound = response_of(Case("both", EDGE, K, straightened(STRIP, PULL), HINGE))
    watched = replace(sound, direct=never)
    for _ in range(12):
        lost = rng.choice(np.r_[1 : N - 1, N + 1 : 2 * N - 1], 7, replace=False)
        slack = rng.uniform(0, 2e-2, (20, 2 * N))
        pull = rng.uniform(0.02, 1.0, 20) * PULL
        loads = watched.changed(lost, np.zeros(7)).loads(pull, slack)
        assert (loads == 0).sum() > 20 * 7


def test_what_does_not_settle_goes_the_direct_way(monkeypatch: pytest.MonkeyPatch) -> None:
    slack = np.random.default_rng(3).uniform(0, 2e-2, (4, 2 * N))
    moment = np.array([0.0, 0.01, 0.0, -0.02]) * PULL
    case = Case("both", EDGE, K, straightened(STRIP, PULL), HINGE)
    quick = response_of(case).loads(np.full(4, PULL), slack, moment)
    monkeypatch.setattr(module, "_ROUNDS", 0)
    slow = response_of(case).loads(np.full(4, PULL), slack, moment)
    assert (quick == 0).any()
    np.testing.assert_allclose(slow, quick, atol=1e-6 * PULL)


def test_a_joint_out_of_balance_is_refused() -> None:
    sound = response_of(Case("both", EDGE, K, guided(STRIP), HINGE))
    broken = Response(1.001 * sound.even, sound.taken, sound.turned, sound.alive, sound.stiffness,
                      sound.first, sound.direct)  # fmt: skip
    with pytest.raises(SplicewrightError, match=r"balance missed by 1.0e-03 of the pull"):
        broken.loads(np.array([PULL]), np.zeros((1, 2 * N)))


def test_the_same_assumptions_are_worked_once() -> None:
    case = Case("both", EDGE, K, guided(STRIP), HINGE)
    again = Case("named otherwise", EDGE, K, guided(STRIP),
                 Hinge(HINGE.leading, HINGE.trailing, HINGE.bending))  # fmt: skip
    assert response_of(case) is response_of(again)
