"""The scale sheet: a printed board of numbered marks that lies on the belt in the photograph.

A board of `ACROSS` by `DOWN` squares, black at its top left, with one numbered mark in each white
square. The marks are those of the open dictionary "4x4, 100" of OpenCV (tests compare every bit
with the library), so that printing needs no picture library.

A sheet's own axes: forward along its arrow, left square to it, both from the board's middle.
"""

from __future__ import annotations

from dataclasses import dataclass

ACROSS, DOWN = 4, 5
SQUARE, MARK = 0.042, 0.0315
"""Side of a square and of a mark as drawn [m]; the paper has them times the printed scale."""
MARKS_EACH = ACROSS * DOWN // 2
CELLS = 6
"""Cells along a mark's side: four of its number, and a black border of one."""
BAR, CROSS_BAR = 0.2, 0.16
"""Printed bars as drawn, along the sheet and across [m]: the crew measures both, to know how large
the printer printed."""
SMALLEST, LARGEST = 0.94, 1.04
"""Shares of a bar's length between which a printer may have printed ("fit to page" prints 3 to
5 % small); outside it was misread [1]."""

_NUMBERS = (
    "b5320f9a332d9946549e79cd9e2ec4f2fedacf56f99111a70eb72a0f24b1"
    "263e466566006c5e76af868bb02bccd5dd82fe479471ace4a5542123346f"
    "441557b29ecff0cb08ae0929187504ff0df61c5a17182a28328c38b224e8"
    "2eeb2d3f4b64502e5013519455685d415f9768016867612461e96b126fe5"
)
"""Inner cells of every mark, 16 bits each, row by row from its top left; 1 is white."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where the sheet of a number lies; left and right of who stands on the belt, facing the cut.

    number : printed large on the sheet
    side : "left", "middle" or "right"
    back : whether it lies a step behind the others
    words : for the crew
    """

    number: int
    side: str
    back: bool
    words: str


PLACES = (
    Place(1, "left", False, "left edge, behind the cut"),
    Place(2, "right", False, "right edge, behind the cut"),
    Place(3, "left", True, "left edge, one step further back"),
    Place(4, "right", True, "right edge, one step further back"),
    Place(5, "middle", False, "middle of the belt, behind the cut"),
    Place(6, "middle", True, "middle of the belt, one step further back"),
)
"""Two sheets square a cut; four measure the width; five or six are for wide belts."""


def mark_numbers(sheet: int) -> range:
    """Numbers of the marks on a sheet, row by row from its top left."""
    return range((sheet - 1) * MARKS_EACH, sheet * MARKS_EACH)


def corner_places() -> list[tuple[float, float]]:
    """Inner corners of the board, row by row from its top left: (forward, left) as drawn [m]."""
    return [
        ((DOWN / 2 - row) * SQUARE, (ACROSS / 2 - column) * SQUARE)
        for row in range(1, DOWN)
        for column in range(1, ACROSS)
    ]


def black_boxes(sheet: int) -> list[tuple[float, float, float]]:
    """What is black on the board of a sheet: (right, down) of a box from its top left, and side.

    Parameters
    ----------
    sheet : its number, from 1

    Returns
    -------
    list of (right, down, side) [m], the black squares first
    """
    squares = [
        (column * SQUARE, row * SQUARE, SQUARE)
        for row in range(DOWN)
        for column in range(ACROSS)
        if (row + column) % 2 == 0
    ]
    numbers = iter(mark_numbers(sheet))
    cell, inset = MARK / CELLS, (SQUARE - MARK) / 2
    cells = [
        (column * SQUARE + inset + x * cell, row * SQUARE + inset + y * cell, cell)
        for row in range(DOWN)
        for column in range(ACROSS)
        if (row + column) % 2
        for x, y in _black_cells(next(numbers))
    ]
    return squares + cells


def _black_cells(number: int) -> list[tuple[int, int]]:
    bits = int(_NUMBERS[4 * number : 4 * number + 4], 16)
    inner = range(1, CELLS - 1)
    return [
        (x, y)
        for y in range(CELLS)
        for x in range(CELLS)
        if x not in inner or y not in inner or not bits >> (15 - 4 * (y - 1) - (x - 1)) & 1
    ]
