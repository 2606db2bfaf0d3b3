"""Tolerances: statics on rigid belts, and the promise that the limit costs what it says."""

from __future__ import annotations

import numpy as np
import pytest

from proof import proves
from splicewright.errors import InputError
from splicewright.joint.loads.hinge import Hinge, pin_bending, share_both, turned
from splicewright.joint.loads.membrane import even_row, free_compliance, locked_compliance
from splicewright.joint.loads.meshing import Strip
from splicewright.joint.loads.sharing import Guidance, guided, share, unguided
from splicewright.joint.loads.stiffness import Case
from splicewright.joint.loads.tolerances import LOSS, Error, cost, thickness_limit, tolerance

pytestmark = proves(
    "Limits of making, and damage",
    "What a making error costs",
    "C",
    "Out of square, one plate ahead, off centre, uneven tightness on rigid ends by statics; "
    "at each limit the margin must be down by exactly the loss asked for, by the direct "
    "solve.",
    doubt="Exact for rigid ends; the direct solve is the tool's own.",
    tolerance="1e-4 for nearly rigid belts, 1e-6 against the direct solve",
    sketch="pin",
)


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


RIGID_HINGE = Hinge(RIGID, turned(RIGID), 1e12)
PINNED_HELD = Case("rigid ends and pin, held", RIGID, PLATE, Guidance("held", 0.0), RIGID_HINGE)
PINNED_LOOSE = Case("rigid ends and pin, loose", RIGID, PLATE, unguided(), RIGID_HINGE)


def test_rigid_ends_on_a_rigid_pin_out_of_square_on_both() -> None:
    """Long on the same side the pin stays where it is: each end as against a wall."""
    found = tolerance(Error.OUT_OF_SQUARE, [PINNED_HELD, PINNED_LOOSE], PULL)
    assert found.typical == pytest.approx(EXTRA / PLATE * WIDTH / ROW.y[0], rel=1e-4)
    # Nothing guides the ends: they swing until they are square.
    assert found.cases[1].amount is None


def test_one_plate_of_each_rigid_end_ahead() -> None:
    """Springs side by side on a rod that tilts freely, worked plate by plate.

    P = k (δ_end - φ side y - g), Σ P = F on each end, Σ side y P = 0; held, so no swing.
    """
    y = ROW.y
    n, k, best = len(y), PLATE, np.inf
    both = np.r_[y, y]
    side = np.r_[np.ones(n), -np.ones(n)]
    for i in range(n):
        for j in [*range(n, 2 * n), None]:
            g = np.zeros(2 * n)
            g[i] = -1e-6
            if j is not None:
                g[j] = -1e-6
            a = np.zeros((2 * n + 3, 2 * n + 3))
            a[: 2 * n, : 2 * n] = np.eye(2 * n) / k
            rows = np.array([side > 0, side < 0, -side * both], dtype=float)
            a[: 2 * n, 2 * n :] = -rows.T
            a[2 * n :, : 2 * n] = rows
            loads = np.linalg.solve(a, np.r_[-g, PULL, PULL, 0.0])[: 2 * n]
            best = min(best, 1e-6 * EXTRA / (loads.max() - PULL / n))
    assert tolerance(Error.HOLE_LINE, [PINNED_HELD], PULL).typical == pytest.approx(best, rel=1e-4)


@pytest.mark.parametrize("case", [PINNED_HELD, PINNED_LOOSE], ids=lambda c: c.name)
def test_rigid_ends_off_centre_are_a_row_of_bolts_whatever_guides_them(case: Case) -> None:
    """F/n (1 + 3 a/((n + 1) p)) on the outermost plate: P = F/n + M y/Σ y², M = F a/2."""
    found = tolerance(Error.OFF_CENTRE, [case], PULL)
    pitch = float(ROW.y[0] - ROW.y[1])
    assert found.typical == pytest.approx((1 / 0.9 - 1) * (len(ROW) + 1) * pitch / 3, rel=1e-4)


def test_uneven_tightness_of_rigid_ends_on_a_rigid_pin() -> None:
    """As one end alone: springs side by side share as their stiffness."""
    found = tolerance(Error.TIGHTNESS, [PINNED_HELD], PULL)
    grow = 1 / 0.9
    assert found.typical == pytest.approx(11 * (grow - 1) / (11 + grow), rel=1e-4)


HINGED = Case("real", SOFT, PLATE, guided(STRIP), Hinge(SOFT, turned(SOFT), pin_bending(0.01)))


@pytest.mark.parametrize("error", list(Error))
def test_at_the_limit_of_a_hinged_joint_the_margin_is_down_by_the_loss(error: Error) -> None:
    """Put into the direct solve of both ends, the worst of all ways the error can lie."""
    found = tolerance(error, [HINGED], PULL, loss=0.08).typical
    assert found is not None
    hinge, n, hold = HINGED.hinge, len(ROW), guided(STRIP)
    assert hinge is not None

    def worst(**given: object) -> float:
        return float(share_both(hinge, guidance=hold, **{  # type: ignore[arg-type]
            "stiffness": PLATE, "total_force": PULL, **given}).max())  # fmt: skip

    ways = [(s, t) for s in (1.0, -1.0) for t in (1.0, -1.0)]
    if error is Error.OUT_OF_SQUARE:
        lean = found * ROW.y / WIDTH
        after = max(worst(slack=np.r_[s * lean, t * lean]) for s, t in ways)
    elif error is Error.HOLE_LINE:
        ahead = -found * np.eye(2 * n)
        after = max(worst(slack=ahead[i] + ahead[n + j]) for i in range(n) for j in range(n))
    elif error is Error.OFF_CENTRE:
        # The pin's balance by hand: a lever of the pull on the joint's own equations.
        from splicewright.joint.loads.tolerances import _shifted

        after = max(
            float(share_both(_shifted(hinge, s * found), PLATE, PULL, guidance=hold).max())
            for s in (1.0, -1.0)
        )
        for loads in (share_both(_shifted(hinge, found), PLATE, PULL, guidance=hold),):
            pulls = [loads[:n] @ ROW.y / PULL, loads[n:] @ turned(SOFT).row.y / PULL]
            assert pulls[1] - pulls[0] == pytest.approx(found, rel=1e-6)
    else:
        turn = (-1.0) ** np.arange(n)
        after = max(worst(stiffness=PLATE * (1 + found * np.r_[s * turn, t * turn]))
                    for s, t in ways)  # fmt: skip
    assert worst() / after == pytest.approx(0.92, rel=1e-6)
    assert cost(error, HINGED, PULL, found) == pytest.approx(0.08, rel=1e-6)


def test_cost_of_nothing_is_nothing_and_of_more_is_more() -> None:
    assert cost(Error.HOLE_LINE, HINGED, PULL, 0.0) == 0.0
    small, large = (cost(Error.HOLE_LINE, HINGED, PULL, a) for a in (2e-4, 2e-3))
    assert 0 < small < LOSS < large < 1


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
