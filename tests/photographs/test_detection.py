"""Sheets found in scenes where grain or print looks like a mark that is there already."""

from __future__ import annotations

from photographs.rendering import draw, photograph
from photographs.scenes import SMALL, bad
from splicewright.photographs.detection import find_sheets
from splicewright.photographs.picture import read_picture


def test_one_mark_seen_twice_is_no_second_sheet() -> None:
    """In this scene something looks like mark 17 of sheet 2: the photograph was refused as showing
    that sheet twice."""
    found = find_sheets(read_picture(photograph(draw(5114, size=SMALL)), "one.jpg"))
    assert not found.twice
    assert [(sheet.number, len(sheet.corners)) for sheet in found.sheets] == [
        (number, 12) for number in (1, 2, 3, 4)
    ]


def test_a_second_sheet_is_told() -> None:
    scene = bad("two sheets of one number", 6000)
    assert find_sheets(read_picture(photograph(scene), "one.jpg")).twice == (1,)
