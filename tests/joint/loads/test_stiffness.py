"""Assumed belt and plate stiffness: named, ranged, and spread over all combinations."""

from __future__ import annotations

import pytest

from splicewright.errors import InputError
from splicewright.joint.loads.membrane import even_row
from splicewright.joint.loads.meshing import Strip
from splicewright.joint.loads.stiffness import (
    TEXTURES,
    assumed_plate_stiffness,
    assumed_strips,
    spread_cases,
)
from splicewright.plant.belt import Carcass
from splicewright.quantities import Kind, assumed, measured

WARP = assumed("belt.modulus", "belt stiffness", 5e6, Kind.WIDTH_FORCE, "by class", (4e6, 6.5e6))
ROW = even_row(5, 0.12, 0.1)


def test_every_carcass_has_ranges_in_order() -> None:
    assert set(TEXTURES) == set(Carcass)
    for texture in TEXTURES.values():
        for low, typical, high in (texture.weft, texture.shear):
            assert 0 < low < typical < high <= 1


def test_plate_stiffness_is_marked_as_assumed_with_its_range() -> None:
    """2 kN over 1 mm (3 mm, 0.5 mm): plain division."""
    given = assumed_plate_stiffness(2000.0)
    assert given.assumed
    assert (given.low, given.value, given.high) == pytest.approx((2000 / 3e-3, 2e6, 4e6))


def test_cases_cover_belt_plate_and_guidance_with_the_typical_first() -> None:
    strips = assumed_strips(0.65, WARP, Carcass.POLYESTER)
    cases = spread_cases(strips, ROW, assumed_plate_stiffness(2000.0), 2e4)
    assert cases[0].name == "belt typical, plates typical, straightened by its own pull"
    assert len({case.name for case in cases}) == len(cases) == 27
    assert strips[0].shear_modulus == pytest.approx(4e6 * 0.02)


def test_measured_belt_and_plate_leave_only_the_guidance_open() -> None:
    plate = measured("plate.stiffness", "plate", 1.8e6, Kind.WIDTH_FORCE, "pull test")
    cases = spread_cases([Strip(0.65, 5e6, 2e6, 2e5)], ROW, plate, 2e4)
    assert [case.name for case in cases] == [
        "belt measured, plates typical, straightened by its own pull",
        "belt measured, plates typical, guided all along",
        "belt measured, plates typical, not guided",
    ]
    with pytest.raises(InputError, match=r"^strips: 2 given: give one measured belt, or soft"):
        spread_cases([Strip(0.65, 5e6, 2e6, 2e5)] * 2, ROW, plate, 2e4)
