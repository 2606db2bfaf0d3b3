"""Tolerances: statics on rigid belts, and the promise that the limit costs what it says."""

from __future__ import annotations

import numpy as np
import pytest

from splicewright.errors import InputError
from splicewright.joint.membrane import Strip, even_row, free_compliance, locked_compliance
from splicewright.joint.sharing import Guidance, guided, share, unguided
from splicewright.joint.stiffness import Case
from splicewright.joint.tolerances import Error, thickness_limit, tolerance

ROW = even_row(11, 0.056, 0.05)
WIDTH, PULL, PLATE = 0.65, 2e4, 2e6
RIGID = free_compliance(Strip(WIDTH, 1e14, 1e14, 1e14), ROW, refine=1)
HELD = Case("rigid, held", RIGID, PLATE, Guidance("held", 0.0))
LOOSE = Case("rigid, loose", RIGID, PLATE, unguided())
STRIP = Strip(WIDTH, 5e6, 1.6e6, 2.5e5)
SOFT = free_compliance(STRIP, ROW, refine=1)
REAL = Case("real", SOFT, PLATE, guided(STRIP))
EXTRA = PULL / 11 * (1 / 0.9 - 1)


def test_out_of_square_on_a_rigid_held_belt() -> None:
    """Plates stretch by s y/W: the outer one gains k s y_max / W."""
    found = tolerance(Error.OUT_OF_SQUARE, [HELD], PULL)
    assert found.typical == pytest.approx(EXTRA / PLATE * WIDTH / ROW.y[0], rel=1e-4)


def test_one_plate_ahead_on_a_rigid_held_belt() -> None:
    """One of n springs ahead by a: it gains k a (n - 1)/n."""
    found = tolerance(Error.HOLE_LINE, [HELD], PULL)
    assert found.typical == pytest.approx(EXTRA / PLATE * 11 / 10, rel=1e-4)


def test_pull_off_centre_on_a_rigid_loose_belt() -> None:
    """Bolt group: the outer plate gains F (a/2) y_max / sum y^2; a held end feels nothing."""
    found = tolerance(Error.OFF_CENTRE, [LOOSE, HELD], PULL)
    expected = EXTRA * (ROW.y @ ROW.y) / (PULL / 2 * ROW.y[0])
    assert found.typical == pytest.approx(expected, rel=1e-4)
    assert found.cases[1].amount is None
    assert found.smallest == found.typical


def test_uneven_tightness_on_a_rigid_held_belt() -> None:
    """Springs in parallel share as their stiffness: 5 stiff among 11, or 6, whichever first.

    With m plates at k (1 + c): P = F k (1 + c) / (k (11 + c (2 m - 11))).
    """
    found = tolerance(Error.TIGHTNESS, [HELD], PULL)
    grow = 1 / 0.9
    # (1 + c) 11 / (11 - c) = grow for m = 5, the sooner of the two.
    assert found.typical == pytest.approx(11 * (grow - 1) / (11 + grow), rel=1e-4)


@pytest.mark.parametrize("error", list(Error))
def test_at_the_limit_the_margin_is_down_by_the_loss(error: Error) -> None:
    found = tolerance(error, [REAL], PULL, loss=0.08)
    amount = found.typical
    assert amount is not None
    y, n = ROW.y, len(ROW)
    before = share(SOFT, PLATE, PULL, guidance=REAL.guidance).worst
    hold = guided(STRIP)
    if error is Error.OUT_OF_SQUARE:
        after = share(SOFT, PLATE, PULL, slack=amount * y / WIDTH, guidance=hold).worst
    elif error is Error.HOLE_LINE:
        after = share(SOFT, PLATE, PULL, slack=-amount * np.eye(n), guidance=hold).worst.max()
    elif error is Error.OFF_CENTRE:
        after = share(SOFT, PLATE, PULL, guidance=hold.with_moment(PULL * amount / 2)).worst
    else:
        turn = (-1.0) ** np.arange(n)
        uneven = PLATE * (1 + amount * np.array([turn, -turn]))
        after = share(SOFT, uneven, PULL, guidance=hold).worst.max()
    assert before / after == pytest.approx(0.92, rel=1e-4)


def test_weft_locked_belt_feels_no_pull_off_centre() -> None:
    case = Case("locked", locked_compliance(STRIP, ROW), PLATE, None)
    assert tolerance(Error.OFF_CENTRE, [case], PULL).smallest is None


def test_thickness_difference_by_levers() -> None:
    """10 mm belts, 10 %: middle Δt/4 off the axis between plates 10 mm apart."""
    difference = thickness_limit(10e-3, 0.1)
    share_of_worse = 0.5 + difference / 4 / 10e-3
    assert 0.5 / share_of_worse == pytest.approx(0.9)


def test_refusals() -> None:
    with pytest.raises(InputError, match=r"^cases: none given"):
        tolerance(Error.HOLE_LINE, [], PULL)
    with pytest.raises(InputError, match=r"^loss: 1 is not accepted: give more than 0, below 1"):
        tolerance(Error.HOLE_LINE, [HELD], PULL, loss=1.0)
    with pytest.raises(InputError, match=r"^up_to: 0 is not accepted: give more than 0 m"):
        tolerance(Error.HOLE_LINE, [HELD], PULL, up_to=0.0)
    with pytest.raises(InputError, match=r"^up_to: 1 is not accepted: give more than 0, below 1"):
        tolerance(Error.TIGHTNESS, [HELD], PULL, up_to=1.0)
