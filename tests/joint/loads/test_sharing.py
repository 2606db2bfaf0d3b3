"""Plate loads: what must hold whatever the numbers are, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from depth import examples
from splicewright.errors import InputError
from splicewright.joint.loads.membrane import PlateRow, even_row, free_compliance, locked_compliance
from splicewright.joint.loads.meshing import Strip
from splicewright.joint.loads.sharing import (
    Guidance,
    _Problem,
    guided,
    share,
    straightened,
    unguided,
)

STRIP = Strip(0.65, 4.2e6, 1.5e6, 2.1e5, 0.2)
ROW = even_row(13, 0.048, 0.042, offset=0.004)
FREE = free_compliance(STRIP, ROW, (0.9,), refine=1)
LOCKED = locked_compliance(STRIP, ROW, (0.9,))
HOLDS = (guided(STRIP), straightened(STRIP, 2e4), unguided(), Guidance("stiff", 0.0))

slacks = hnp.arrays(np.float64, 13, elements=st.floats(-2e-3, 12e-3))
plates = hnp.arrays(np.float64, 13, elements=st.floats(2e5, 8e6))
inner = hnp.arrays(np.bool_, 11)
pulls = st.floats(2e3, 9e4)


@settings(deadline=None, max_examples=examples(150))
@given(slack=slacks, stiffness=plates, between=inner, pull=pulls, hold=st.sampled_from(HOLDS))
def test_balance_no_push_and_no_free_pull(
    slack: np.ndarray, stiffness: np.ndarray, between: np.ndarray, pull: float, hold: Guidance
) -> None:
    alive = np.concatenate([[True], between, [True]])
    found = share(FREE, stiffness, pull, slack=slack, alive=alive, guidance=hold)
    assert found.loads.sum() == pytest.approx(pull, rel=1e-12)
    assert (found.loads >= -1e-9 * pull).all()
    assert (found.loads[~alive] == 0).all()
    moment = found.loads @ ROW.y
    if math.isinf(hold.swing):
        assert abs(moment) < 1e-9 * pull
    else:
        assert found.swing == pytest.approx(hold.swing * moment, abs=1e-12)
    stretch = found.approach - slack - found.swing * ROW.y - FREE.matrix @ found.loads
    np.testing.assert_allclose(
        found.loads[found.bearing],
        (stiffness * stretch)[found.bearing],
        atol=1e-8 * pull * max(1.0, stiffness.max() / 2e6),
    )
    assert (stretch[alive & ~found.bearing] <= 1e-9).all()


@settings(deadline=None, max_examples=examples(40))
@given(slack=slacks, stiffness=plates, pull=pulls, hold=st.sampled_from(HOLDS))
def test_left_and_right_are_mirror_images(
    slack: np.ndarray, stiffness: np.ndarray, pull: float, hold: Guidance
) -> None:
    row = even_row(13, 0.048, 0.042)
    edge = locked_compliance(STRIP, row)
    one = share(edge, stiffness, pull, slack=slack)
    other = share(edge, stiffness[::-1], pull, slack=slack[::-1])
    np.testing.assert_allclose(one.loads, other.loads[::-1], atol=1e-7 * pull)


@settings(deadline=None, max_examples=examples(40))
@given(slack=slacks, pull=pulls, factor=st.floats(0.2, 5.0))
def test_pull_and_slack_grow_together(slack: np.ndarray, pull: float, factor: float) -> None:
    once = share(FREE, 2e6, pull, slack=slack)
    more = share(FREE, 2e6, factor * pull, slack=factor * slack)
    np.testing.assert_allclose(more.loads, factor * once.loads, atol=1e-8 * pull * factor)


@settings(deadline=None, max_examples=examples(40))
@given(slack=slacks, shift=st.floats(-5e-3, 5e-3), pull=pulls)
def test_slack_common_to_all_plates_changes_nothing(
    slack: np.ndarray, shift: float, pull: float
) -> None:
    once = share(FREE, 2e6, pull, slack=slack)
    moved = share(FREE, 2e6, pull, slack=slack + shift)
    np.testing.assert_allclose(moved.loads, once.loads, atol=1e-8 * pull)


def test_newtons_and_millimetres_give_the_same_loads() -> None:
    """Same belt typed in N and mm: moduli 1e-3, lengths 1e3, stiffness 1e-3."""
    mm = Strip(650.0, 4.2e3, 1.5e3, 2.1e2, 0.2)
    row = PlateRow(tuple(1e3 * c for c in ROW.centres), 42.0)
    slack = 1e-3 * np.linspace(0, 3, 13) ** 2
    for si, other, hold, hold_mm in (
        (LOCKED, locked_compliance(mm, row), None, None),
        (FREE, free_compliance(mm, row, (900.0,), refine=1), guided(STRIP), guided(mm)),
    ):
        ours = share(si, 2e6, 3e4, slack=slack, guidance=hold)
        theirs = share(other, 2e3, 3e4, slack=1e3 * slack, guidance=hold_mm)
        np.testing.assert_allclose(ours.loads, theirs.loads, rtol=1e-6)


def test_many_scenarios_at_once_equal_one_by_one() -> None:
    rng = np.random.default_rng(7)
    alive = rng.random((40, 13)) > 0.3
    alive[:, [0, 12]] = True
    slack = rng.uniform(0, 8e-3, (40, 13))
    pull = rng.uniform(5e3, 5e4, 40)
    many = share(FREE, 2e6, pull, slack=slack, alive=alive)
    for i in range(40):
        one = share(FREE, 2e6, pull[i], slack=slack[i], alive=alive[i])
        np.testing.assert_allclose(many.loads[i], one.loads, rtol=1e-12, atol=1e-9)
    assert many.worst_plate[3] == int(many.loads[3].argmax())
    assert many.factors[3] == pytest.approx(many.loads[3] / (pull[3] / 13))
    grid = share(FREE, 2e6, pull[:, None], slack=slack[None, :4])
    assert grid.loads.shape == (40, 4, 13)


@settings(deadline=None, max_examples=examples(60))
@given(slack=slacks, stiffness=plates, pull=pulls, hold=st.sampled_from(HOLDS))
def test_the_slow_way_finds_the_same_plates(
    slack: np.ndarray, stiffness: np.ndarray, pull: float, hold: Guidance
) -> None:
    quick = share(FREE, stiffness, pull, slack=slack, guidance=hold)
    problem = _Problem(FREE.matrix, ROW.y, stiffness[None], np.array([pull]), slack[None], hold)
    bearing = problem._bearing_by_least_squares(0, np.ones(13, bool))
    slow = problem.solve(np.array([0]), bearing[None])[0]
    np.testing.assert_allclose(np.where(bearing, slow[:13], 0.0), quick.loads, atol=1e-4 * pull)


def test_a_lost_edge_plate_is_worse_the_less_guides_the_belt() -> None:
    alive = np.arange(13) > 0
    locked = share(LOCKED, 2e6, 3e4, alive=alive).worst
    held, own, loose = (share(FREE, 2e6, 3e4, alive=alive, guidance=h).worst for h in HOLDS[:3])
    assert locked < held < own < loose


def test_an_end_out_of_square_is_taken_up_by_a_belt_nothing_guides() -> None:
    slack = 4e-3 * ROW.y / STRIP.width
    loose = share(FREE, 2e6, 3e4, slack=slack)
    straight = share(FREE, 2e6, 3e4)
    np.testing.assert_allclose(loose.loads, straight.loads, rtol=1e-9)
    held = share(FREE, 2e6, 3e4, slack=slack, guidance=guided(STRIP))
    assert held.worst > 1.05 * straight.worst


def test_a_pull_off_centre_loads_one_side() -> None:
    """Rigid belt: P = F/N + F e y / sum y^2, statics of a bolt group."""
    strip = Strip(0.65, 4e13, 4e13, 4e13)
    row = even_row(13, 0.048, 0.042)
    edge = free_compliance(strip, row, refine=1)
    loads = share(edge, 2e6, 3e4, guidance=unguided().with_moment(3e4 * 0.01)).loads
    np.testing.assert_allclose(loads, 3e4 / 13 + 3e4 * 0.01 * row.y / (row.y @ row.y), rtol=1e-5)


def test_belt_that_is_too_short_at_the_edges_loads_the_edges() -> None:
    strain = 1e-3 * np.linspace(-1, 1, FREE.stretches.size - 1) ** 2
    for edge in (FREE, LOCKED):
        flat = share(edge, 2e6, 3e4).loads
        bent = share(edge, 2e6, 3e4, slack=-edge.drawn_back(strain)).loads
        assert bent[0] > flat[0]
        assert bent[6] < flat[6]


def _says(*parts: str) -> str:
    return r"[\s\S]*".join(parts)


def test_refusals_name_field_value_and_what_is_accepted() -> None:
    with pytest.raises(InputError, match=r"^alive: all 13 plates are lost: nothing holds"):
        share(FREE, 2e6, 3e4, alive=np.zeros(13, bool))
    with pytest.raises(InputError, match=r"^alive: the plates left lie from 4 to 292 mm"):
        share(FREE, 2e6, 3e4, alive=np.arange(13) < 7)
    with pytest.raises(InputError, match=r"^stiffness: 0 is not accepted: give a number above 0"):
        share(FREE, 0.0, 3e4)
    with pytest.raises(InputError, match=r"^total_force: -5 is not accepted"):
        share(FREE, 2e6, -5.0)
    with pytest.raises(InputError, match=r"^slack: 12 values given: give one, or one for each of"):
        share(FREE, 2e6, 3e4, slack=np.zeros(12))
    with pytest.raises(InputError, match=r"^slack: a value is not a number"):
        share(FREE, 2e6, 3e4, slack=math.nan)
    with pytest.raises(InputError, match=r"^guidance: 'not guided' given for a belt whose weft"):
        share(LOCKED, 2e6, 3e4, guidance=unguided())
    with pytest.raises(InputError, match=_says(r"strip.width: 0 is", r"strip.shear_modulus: nan")):
        Strip(0.0, 1e6, 1e6, math.nan)
    with pytest.raises(InputError, match=r"^strip.poisson: 1.2 is not accepted: give 0 up to"):
        Strip(1.0, 1e6, 1e6, 1e5, 1.2)
    with pytest.raises(InputError, match=r"^plates: plates 1 and 2 overlap by 2.00 mm"):
        PlateRow((0.04, 0.0), 0.042)
    with pytest.raises(InputError, match=r"^plates: none given"):
        PlateRow((), 0.04)
    with pytest.raises(InputError, match=r"^plate_width: 0 is not accepted"):
        PlateRow((0.0,), 0.0)
    with pytest.raises(InputError, match=r"^plates: plate 1 of 13 at 312.0 mm hangs over"):
        locked_compliance(STRIP, even_row(13, 0.052, 0.042))
    with pytest.raises(InputError, match=r"^transition_lengths: -1 m is not accepted"):
        locked_compliance(STRIP, ROW, (-1.0,))
    with pytest.raises(InputError, match=r"^refine: 0 is not accepted: give 1 or more"):
        free_compliance(STRIP, ROW, refine=0)


def test_one_plate_far_ahead_on_the_centreline_carries_all_alone() -> None:
    row = even_row(13, 0.048, 0.042)
    edge = free_compliance(STRIP, row, refine=1)
    slack = np.full(13, 0.05)
    slack[6] = 0.0
    found = share(edge, 2e6, 3e4, slack=slack)
    np.testing.assert_allclose(found.loads, np.where(np.arange(13) == 6, 3e4, 0.0), atol=1e-6)
    assert found.bearing.sum() == 1


def test_a_guided_end_swings_as_a_beam_whose_shear_alone_gives() -> None:
    """Timoshenko's beam on stiff sides: S = 5/6 G W of a rectangle, swing λ/EI = 1/√(EI S)."""
    from splicewright.joint.loads.sharing import guided as held

    strip = Strip(0.9, 5e6, 2e6, 3e5)
    bending = 5e6 * 0.9**3 / 12
    assert held(strip).swing == pytest.approx((bending * 5 / 6 * 3e5 * 0.9) ** -0.5)


def test_strain_may_end_anywhere_between_the_lines_of_the_mesh() -> None:
    """What is read off a coarse mesh inside its elements is what a fine one says."""
    ends = tuple(np.linspace(0.05, 2.4, 23).tolist())
    coarse, fine = (free_compliance(STRIP, ROW, ends, refine=n) for n in (1, 4))
    strain = np.linspace(-1, 1, FREE.stretches.size - 1) ** 2
    for one, other in (
        (coarse.drawn_back(strain, n), fine.drawn_back(np.interp(
            (fine.stretches[1:] + fine.stretches[:-1]) / 2,
            (coarse.stretches[1:] + coarse.stretches[:-1]) / 2, strain), n))
        for n in range(len(ends))
    ):  # fmt: skip
        np.testing.assert_allclose(one, other, atol=0.01 * np.abs(other).max())


def test_strain_inside_an_element_is_the_integral_of_its_movements() -> None:
    """Second-order movements: the slope of what is drawn back is a straight line in an element."""
    from splicewright.joint.loads.membrane import edge_stretches
    from splicewright.joint.loads.meshing import factored_strip, mesh_strip

    lines, at = edge_stretches(STRIP, ROW)
    model = mesh_strip(STRIP, lines, ROW.plate_width, 1)
    profile = model.profile(factored_strip(model)(model.edge_loads[:, at].toarray()))
    low, high = model.x[3:5]
    r = np.linspace(0.0, 1.0, 7)
    drawn = np.array([profile.built_in_strain(low + share * (high - low)) for share in r])
    # With a belt that narrows the integral adds a cubic: four points settle all seven.
    fit = np.polynomial.polynomial.polyfit(r[::2], drawn[::2].reshape(4, -1), 3)
    again = np.polynomial.polynomial.polyval(r, fit).T.reshape(drawn.shape)
    np.testing.assert_allclose(again, drawn, atol=1e-9 * np.abs(drawn).max())
    # From one element to the next there is no step.
    both = [profile.built_in_strain(low * (1 + sign * 1e-9)) for sign in (-1, 1)]
    np.testing.assert_allclose(both[0], both[1], atol=1e-7 * np.abs(drawn).max())
    assert np.abs(profile.built_in_strain(0.0)).max() < 1e-12 * np.abs(drawn).max()
