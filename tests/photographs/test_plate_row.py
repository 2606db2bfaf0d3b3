"""Plates of known places and turns in a rendered photograph, one of them not there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from depth import sized
from photographs.rendering import photograph
from photographs.scenes import COUNT, HIGH, LONG, PITCH, PLATE, bars_of, from_aside, plated
from proof import noted, proves
from splicewright.errors import InputError
from splicewright.photographs.measuring import measure_plates
from splicewright.photographs.picture import read_picture
from splicewright.photographs.plate_row import RowMeasured
from splicewright.photographs.plate_sides import PlannedRow

ROW = PlannedRow(COUNT, PITCH, PLATE, LONG, HIGH)


@proves(
    "Photographs",
    "Plates of a rendered belt end",
    "B",
    "A row of plates drawn at known places and turns, one of them left out: each found, the "
    "missing one named, place and tilt against how they were drawn.",
    doubt="A rendered scene is no belt: clean plates on a clean end.",
    tolerance="2.5 of the printed 95 % half-widths; 1.2 mm from the belt's middle",
    sketch="photograph",
)
@pytest.mark.parametrize("seed", range(7000, 7000 + sized(1, deep=20)))
def test_plates_lie_where_they_were_put(seed: int) -> None:
    missing = 7
    scene, places, turns = plated(seed, missing)
    picture = read_picture(photograph(scene), "plates.jpg")
    try:
        made, _, _ = measure_plates([picture], bars_of(scene, seed), ROW)
    except InputError:
        # Some scenes are refused; the first is not.
        assert seed != 7000
        return
    assert [p.number for p in made.plates if p.missing] == [missing]
    seen = np.array([n for n in range(COUNT) if n != missing - 1])
    steps = (COUNT - 1) / 2 - seen
    even = np.polyval(np.polyfit(steps, places[seen], 1), steps)
    inside = []
    for i, n in enumerate(seen):
        plate = made.plates[n]
        assert plate.place is not None and plate.off is not None and plate.tilt is not None
        assert plate.half_width is not None and plate.tilt_half_width is not None
        off = abs(plate.off - (places[n] - even[i])) / plate.half_width
        turn = abs(plate.tilt - turns[n]) / plate.tilt_half_width
        assert off < 2.5 and turn < 2.5, plate
        inside += [off <= 1, turn <= 1]
        noted(f"plate {n + 1}: place [m]", plate.place, float(places[n]), 1.2e-3)
        # Within a millimetre from the belt's middle, sides and all.
        assert abs(plate.place - places[n]) < 1.2e-3
    assert np.mean(inside) > 0.85
    outer = (scene.width / 2 - places[0], scene.width / 2 + places[-1])
    for setback, known in zip(made.setbacks, outer, strict=True):
        assert setback is not None
        assert abs(setback[0] - (known - PLATE / 2)) < 1.5 * setback[1], (setback, known)
    _turned(made)


def test_a_plate_that_stands_off_is_named_and_no_other() -> None:
    scene, _, _ = plated(7000, 7)
    # Number 12 of the row, 3 mm over the others; one is missing before it.
    scene = replace(scene, raised=((10, 3e-3),))
    pictures = [
        read_picture(photograph(s), name)
        for name, s in (("one.jpg", scene), ("two.jpg", from_aside(scene, 0.3)))
    ]
    made, _, _ = measure_plates(pictures, bars_of(scene, 7000), ROW)
    assert [p.number for p in made.plates if p.stands_off] == [12]
    lifted = made.plates[11]
    assert lifted.lifts is not None and lifted.lift_half_width is not None
    for lift in lifted.lifts:
        assert abs(lift - 3e-3) < 1.5 * lifted.lift_half_width
    assert [p.number for p in made.turned().plates if p.stands_off] == [COUNT + 1 - 12]
    one, _, _ = measure_plates(pictures[:1], bars_of(scene, 7000), ROW)
    assert all(p.lifts is None for p in one.plates), "one place of the camera tells no height"


def _turned(row: RowMeasured) -> None:
    other = row.turned()
    assert other.middle == -row.middle and other.pitch == row.pitch
    assert [p.number for p in other.plates if p.missing] == [COUNT + 1 - 7]
    assert other.setbacks == (row.setbacks[1], row.setbacks[0])
    assert np.allclose(other.turned().covariance, row.covariance)
    first, last = row.plates[0], other.plates[-1]
    assert first.place is not None and last.place == -first.place and last.tilt == first.tilt


def test_a_belt_without_plates_has_no_row() -> None:
    scene, _, _ = plated(7000, 7)
    bare = read_picture(photograph(replace(scene, plates=())), "bare.jpg")
    with pytest.raises(InputError, match="no row of 20 plates"):
        measure_plates([bare], bars_of(scene, 7000), ROW)
