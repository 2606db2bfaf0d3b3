"""Places round the loop: slack and strain by geometry, loads as the share gives them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from splicewright.errors import InputError
from splicewright.joint.loads.membrane import even_row, free_compliance
from splicewright.joint.loads.meshing import Strip
from splicewright.joint.loads.places import Place, curve_slack, loads_round_the_loop, uneven_strain
from splicewright.joint.loads.sharing import share, straightened
from splicewright.joint.loads.stiffness import Case

STRIP = Strip(1.0, 6e6, 2e6, 3e5, 0.1)
ROW = even_row(23, 0.043, 0.038)
FREE = free_compliance(STRIP, ROW, (0.5, 1.5), refine=1)
CASE = Case("trial", FREE, 2e6, straightened(STRIP, 4e4))
FLAT = Place("head, flat", 4e4)


def test_parabola_is_full_at_the_sides_and_nil_in_the_middle() -> None:
    np.testing.assert_allclose(
        curve_slack(np.array([-0.5, -0.25, 0.0, 0.5]), 1.0, 8e-3), [8e-3, 2e-3, 0.0, 8e-3]
    )


@given(flat=st.floats(0.0, 0.9), strain=st.floats(-1e-2, 1e-2), power=st.sampled_from([1, 2]))
def test_strain_means_are_those_of_the_profile(flat: float, strain: float, power: int) -> None:
    """Against numerical means of e ((|2y/W| - f)/(1 - f))^p."""
    ours = uneven_strain(FREE, strain, flat, power)
    for low, high, mean in zip(FREE.stretches[:-1], FREE.stretches[1:], ours, strict=True):
        y = low + (high - low) * (np.arange(2000) + 0.5) / 2000
        profile = strain * (np.maximum(np.abs(2 * y) - flat, 0) / (1 - flat)) ** power
        assert mean == pytest.approx(profile.mean(), abs=5e-6 * abs(strain) + 1e-15)


def test_loads_round_the_loop_are_those_of_each_place() -> None:
    stiff = Case("stiff plates", FREE, 4e6, CASE.guidance)
    places = [FLAT, Place("return", 1.5e4), Place("transition", 4e4, 3e-3, 0.35, 1)]
    found = loads_round_the_loop([CASE, stiff], places, 2e-3)
    for at, place in zip(found, places, strict=True):
        slack = curve_slack(ROW.y, 1.0, 2e-3)
        if place.edge_strain:
            slack = slack - FREE.drawn_back(uneven_strain(FREE, 3e-3, 0.35), 1)
        one, other = (
            share(
                FREE, case.plate_stiffness, place.width_tension, slack=slack, guidance=case.guidance
            )
            for case in (CASE, stiff)
        )
        np.testing.assert_allclose(at.loads, one.loads, rtol=1e-9)
        assert at.worst[1] == pytest.approx(float(one.worst))
        assert at.worst[2] == pytest.approx(max(float(one.worst), float(other.worst)))
        assert at.held == at.loose == at.loads  # one kind of guidance only
        both = np.array([one.loads, other.loads])
        np.testing.assert_allclose(at.low, both.min(axis=0), rtol=1e-9)
        np.testing.assert_allclose(at.high, both.max(axis=0), rtol=1e-9)
        assert at.plate == int(one.worst_plate) + 1
        assert at.factor[1] == pytest.approx(float(one.factors.max()))
        assert at.margin(3e3)[0] == pytest.approx(3e3 / at.worst[2])
    with pytest.raises(InputError) as caught:
        loads_round_the_loop([], [])
    assert [str(fault) for fault in caught.value.faults] == [
        "cases: none given: give at least one set of assumptions",
        "places: none given: give at least one place the joint passes",
    ]


def test_refusals() -> None:
    with pytest.raises(InputError, match=r"^place.width_tension: 0 N/m at 'tail' is not accept"):
        Place("tail", 0.0)
    with pytest.raises(InputError, match=r"^place.flat: 1 at 'tail' is not accepted: give 0 up"):
        Place("tail", 1e4, 1e-3, 1.0)


def test_a_crown_loads_the_middle() -> None:
    """Sides shorter on the pulley: less strain there than in the middle."""
    flat, crown = loads_round_the_loop([CASE], [FLAT, Place("crown", 4e4, -2e-3, 0.3, 0, 1.0)])
    assert crown.loads[11] > flat.loads[11] and crown.loads[0] < flat.loads[0]
    assert sum(crown.loads) == pytest.approx(4e4)
