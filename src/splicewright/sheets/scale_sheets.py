"""Scale sheets for measuring by photograph: one page how they lie, then the sheets themselves."""

from __future__ import annotations

from splicewright.photographs.scale_sheet import (
    ACROSS,
    BAR,
    CROSS_BAR,
    DOWN,
    PLACES,
    SQUARE,
    black_boxes,
)
from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.canvas.pdf import TEMPLATES, render

_OVER = 0.02
"""Neighbouring black boxes lap over so much that no viewer shows a hairline between them [mm];
a quarter of what the best printer resolves."""


def scale_sheets(paper: Paper = A4) -> bytes:
    """Return the scale sheets as PDF; the same paper gives the same bytes.

    Parameters
    ----------
    paper : A4 or LETTER, upright

    Raises
    ------
    OutputError
        The document cannot be made.
    """
    data = {
        "width": paper.width,
        "height": paper.height,
        "margin": paper.margin,
        "paper": paper.name,
        "board": [ACROSS * SQUARE * 1e3, DOWN * SQUARE * 1e3],
        "bar": BAR * 1e3,
        "cross_bar": CROSS_BAR * 1e3,
        "sheets": [
            {"number": place.number, "file": f"board-{place.number}.svg", "words": place.words}
            for place in PLACES
        ],
    }
    boards = {f"board-{place.number}": _board(place.number) for place in PLACES}
    template = (TEMPLATES / "scale_sheets.typ").read_text("utf-8")
    return render(template, data, boards, name="scale sheets")


def _board(sheet: int) -> str:
    """The board of a sheet as SVG in millimetres, at its true size."""
    wide, high = ACROSS * SQUARE * 1e3, DOWN * SQUARE * 1e3
    boxes = "".join(
        f"M{max(x * 1e3 - _OVER / 2, 0):.3f} {max(y * 1e3 - _OVER / 2, 0):.3f}"
        f"h{side * 1e3 + _OVER:.3f}v{side * 1e3 + _OVER:.3f}h-{side * 1e3 + _OVER:.3f}z"
        for x, y, side in black_boxes(sheet)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:g}mm" height="{high:g}mm" '
        f'viewBox="0 0 {wide:g} {high:g}"><path d="{boxes}" fill="#000"/></svg>'
    )
