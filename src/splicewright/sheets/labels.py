"""Stickers that lead to a page: a QR code with the name in letters beside it, on sheets to cut."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from splicewright.errors import OutputError
from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.canvas.pdf import render

_TEMPLATE = Path(__file__).parent / "canvas" / "templates" / "labels.typ"
MOST = 400
"""Stickers in one PDF."""
LONGEST_LINK = 300
"""Characters of a link: more make modules too small to be read off a dirty sticker."""

StickerSize = Literal["large", "small"]
GRID: dict[StickerSize, tuple[int, int, float]] = {"large": (2, 4, 44.0), "small": (3, 7, 25.0)}
"""Stickers across and down a sheet, and the side of the code with its quiet zone [mm]."""


@dataclass(frozen=True, slots=True)
class Sticker:
    """One sticker.

    link : what the code says; name : in large letters; lines : under it, short
    """

    link: str
    name: str
    lines: tuple[str, ...]


def sticker_sheet(
    stickers: Sequence[Sticker], size: StickerSize = "large", paper: Paper = A4
) -> bytes:
    """Return the stickers as PDF, with lines to cut along; the same stickers give the same bytes.

    Parameters
    ----------
    stickers : in the order they are wanted; one that is wanted twice stands twice
    size : "large" for eight on a sheet, "small" for twenty-one

    Raises
    ------
    OutputError
        None or too many given, a link too long, or the document cannot be made.
    """
    if not 0 < len(stickers) <= MOST:
        msg = f"{len(stickers)} stickers cannot be drawn; accepted is 1 to {MOST}"
        raise OutputError(msg)
    across, down, side = GRID[size]
    links = sorted({sticker.link for sticker in stickers})
    files = {f"code-{n}": code_svg(link) for n, link in enumerate(links)}
    data = {
        "title": "Labels",
        "width": paper.width,
        "height": paper.height,
        "margin": paper.margin,
        "across": across,
        "down": down,
        "side": side,
        "small": size == "small",
        "stickers": [
            {
                "file": f"code-{links.index(s.link)}.svg",
                "name": s.name,
                "lines": list(s.lines),
                "link": s.link.partition("://")[2] or s.link,
            }
            for s in stickers
        ],
    }
    return render(_TEMPLATE.read_text("utf-8"), data, files, name="labels")


def code_svg(link: str) -> str:
    """A link as QR code in SVG, black on white with its quiet zone.

    Error correction "Q": a quarter of it may be scratched or dirty (ISO/IEC 18004, from memory).

    Raises
    ------
    OutputError
        The link is empty or too long.
    """
    import segno

    if not 0 < len(link) <= LONGEST_LINK:
        msg = f"a link of {len(link)} characters cannot be drawn; accepted is 1 to {LONGEST_LINK}"
        raise OutputError(msg)
    out = io.BytesIO()
    segno.make(link, error="q", micro=False).save(
        out, kind="svg", scale=4, border=4, light="#ffffff", xmldecl=False, svgns=True
    )
    return out.getvalue().decode()
