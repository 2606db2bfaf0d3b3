"""Reading the pulley table: rounding, bands, groups, refusals; pressure by hand."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from splicewright.errors import InputError
from splicewright.plant import Carcass
from splicewright.tension.second_look.pulleys import TABLE, Group, group_of, least_pulley


def test_c_d_is_rounded_up_to_the_next_row() -> None:
    # Polyester 4 mm: 108 x 4 = 432 mm, row 500.
    found = least_pulley(Carcass.POLYESTER, 0.004, Group.A, 0.8)
    assert (found.row, found.diameter, found.outside) == (0.5, 0.5, False)
    assert found.computed == pytest.approx(0.432)
    # A value that is a row itself stays: cotton 80 x 5 mm = 400 mm.
    assert least_pulley(Carcass.COTTON, 0.005, Group.A, 1.0).diameter == 0.4


def test_borders_of_the_bands_are_read_on_the_safe_side() -> None:
    diameters = [
        least_pulley(Carcass.COTTON, 0.005, Group.A, use).diameter
        for use in (1.0, 0.6, 0.59, 0.3001, 0.3, 0.0)
    ]
    assert diameters == [0.4, 0.4, 0.315, 0.315, 0.25, 0.25]


def test_below_the_table_its_first_row_is_taken_and_said() -> None:
    found = least_pulley(Carcass.COTTON, 0.0015, Group.B, 0.5)
    assert (found.diameter, found.outside) == (0.125, True)
    assert found.remark == "below the table, its first row 200 mm taken"


def test_every_diameter_of_the_table_is_a_preferred_number() -> None:
    """ISO 3, series R10, with 1400 and 1800 of R20 (from memory): a slip of a digit is none."""
    tens = (100, 125, 160, 200, 250, 315, 400, 500, 630, 800)
    preferred = {*tens, *(10 * n for n in tens if n <= 200), 1400, 1800}
    for row, bands in TABLE.items():
        assert {row, *(value for band in bands for value in band)} <= preferred
        assert bands[0][0] == row
        for band in bands:
            assert list(band) == sorted(band, reverse=True)
        for tighter, slacker in pairwise(bands):
            assert all(a >= b for a, b in zip(tighter, slacker, strict=True))
    for smaller, larger in pairwise(TABLE.values()):
        assert all(a <= b for a, b in zip(sum(smaller, ()), sum(larger, ()), strict=True))


@given(
    st.sampled_from([Carcass.COTTON, Carcass.POLYAMIDE, Carcass.POLYESTER]),
    st.floats(0.001, 0.018), st.floats(0, 1), st.floats(0, 1), st.floats(1.0, 1.02),
)  # fmt: skip
def test_thicker_tighter_and_driven_never_ask_for_less(
    carcass: Carcass, thickness: float, use: float, other: float, more: float
) -> None:
    low, high = sorted((use, other))
    a, b, c = (least_pulley(carcass, thickness, g, low).diameter for g in Group)
    assert a >= b >= c
    assert least_pulley(carcass, thickness, Group.A, high).diameter >= a
    assert least_pulley(carcass, thickness * more, Group.A, low).diameter >= a


@pytest.mark.parametrize(
    ("carcass", "thickness", "use", "sentence"),
    [
        (
            Carcass.ARAMID, 0.004, 0.5,
            "carcass: no published pulley factor for aramid; known are cotton, NN, EP, steel cord",
        ),
        (
            Carcass.POLYESTER, 0.02, 0.5,
            "thickness: 20 mm of EP wants a pulley of 2160 mm, the table ends at 2000 mm; ask "
            "the belt's maker",
        ),
        (
            Carcass.POLYESTER, 0.004, 1.2,
            "use: 120 % of the permitted tension lies outside the table; accepted is 0 to 100 %: "
            "beyond, the belt itself is too weak",
        ),
        (
            Carcass.POLYESTER, -0.004, 0.5,
            "thickness: -4 mm is no carcass thickness; give more than 0",
        ),
    ],
)  # fmt: skip
def test_beyond_the_table_is_refused(
    carcass: Carcass, thickness: float, use: float, sentence: str
) -> None:
    with pytest.raises(InputError) as caught:
        least_pulley(carcass, thickness, Group.A, use)
    assert str(caught.value) == sentence


def test_groups_by_what_a_pulley_does() -> None:
    assert group_of(True, False, 0.2) is Group.A
    assert group_of(False, True, math.pi) is Group.A
    assert group_of(False, False, math.pi) is Group.B
    assert group_of(False, True, math.radians(30)) is Group.C
