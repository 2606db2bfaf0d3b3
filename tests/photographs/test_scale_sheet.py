"""The printed sheets against OpenCV: its dictionary, its own board, its detector on our PDF."""

from __future__ import annotations

from functools import cache
from io import BytesIO

import cv2
import numpy as np
import pdfplumber
import pypdfium2
import pytest

from splicewright.photographs.detection import find_sheets
from splicewright.photographs.picture import Picture
from splicewright.photographs.scale_sheet import (
    ACROSS,
    BAR,
    CROSS_BAR,
    DOWN,
    MARK,
    PLACES,
    SQUARE,
    black_boxes,
    corner_places,
    mark_numbers,
)
from splicewright.sheets.canvas.paper import PAPERS
from splicewright.sheets.scale_sheets import scale_sheets

POINT = 25.4 / 72
_pdf = cache(lambda paper: scale_sheets(PAPERS[paper]))


@pytest.mark.parametrize("place", PLACES, ids=lambda p: str(p.number))
def test_a_board_is_the_one_the_library_draws(place) -> None:  # type: ignore[no-untyped-def]
    side = 96  # pixels of a square: a mark has 72, a cell 12, all whole numbers
    ours = np.full((DOWN * side, ACROSS * side), 255, dtype=np.uint8)
    for right, down, size in black_boxes(place.number):
        x, y, n = (round(v / SQUARE * side) for v in (right, down, size))
        ours[y : y + n, x : x + n] = 0
    marks = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_100)
    numbers = np.array(mark_numbers(place.number))
    board = cv2.aruco.CharucoBoard((ACROSS, DOWN), SQUARE, MARK, marks, numbers)
    theirs = board.generateImage((ACROSS * side, DOWN * side), None, 0, 1)
    assert np.array_equal(ours, theirs)
    # Corners: the library counts right and down from the top left.
    corners = np.array(board.getChessboardCorners())[:, :2]
    mine = np.array(corner_places())
    assert np.allclose(DOWN / 2 * SQUARE - corners[:, 1], mine[:, 0], atol=1e-6)
    assert np.allclose(ACROSS / 2 * SQUARE - corners[:, 0], mine[:, 1], atol=1e-6)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_printed_sheets_are_found_and_true_to_size(paper: str) -> None:
    document = pypdfium2.PdfDocument(_pdf(paper))
    assert len(document) == 1 + len(PLACES)
    for page, place in zip(list(document)[1:], PLACES, strict=True):
        scale = 4.0
        drawn = np.asarray(page.render(scale=scale).to_pil().convert("L"))
        grey = cv2.GaussianBlur(drawn, (0, 0), 1.0)
        (found,) = find_sheets(Picture("page", np.asarray(grey, dtype=np.uint8))).sheets
        assert found.number == place.number
        assert len(found.corners) == (ACROSS - 1) * (DOWN - 1)
        # Their distances on paper are those of the drawing, within what was rasterised.
        at = found.pixels / scale * POINT * 1e-3
        span = at - at.mean(axis=0)
        wanted = -(found.places - found.places.mean(axis=0))[:, ::-1]
        assert np.abs(span - wanted).max() < 0.1e-3


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_both_bars_are_as_long_as_the_measurement_takes_them(paper: str) -> None:
    with pdfplumber.open(BytesIO(_pdf(paper))) as document:
        for page in document.pages[1:]:
            lines = [(e["width"] * POINT, e["height"] * POINT) for e in page.edges]
            assert any(abs(high - BAR * 1e3) < 0.01 and wide < 0.3 for wide, high in lines)
            assert any(abs(wide - CROSS_BAR * 1e3) < 0.01 and high < 0.3 for wide, high in lines)
            words = page.extract_text()
            assert "waterproof" in words and "arrow to the cut" in words
