"""Derive the two files of Splicewright Sans from IBM Plex Sans.

    python derive.py FOLDER_WITH_THE_PLEX_FILES OUT_FOLDER

Needs fontTools. What it changes: cuts the glyphs down to those that sheets use, makes the zero with
a stroke the only zero, adds ballot boxes and the diameter sign, and renames the family, because
the OFL keeps the name "Plex" for the unchanged font.
"""

from __future__ import annotations

import sys
from pathlib import Path

from fontTools import subset  # type: ignore[import-untyped]
from fontTools.pens.cu2quPen import Cu2QuPen  # type: ignore[import-untyped]
from fontTools.pens.ttGlyphPen import TTGlyphPen  # type: ignore[import-untyped]
from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

FAMILY = "Splicewright Sans"
RANGES = (
    (0x20, 0x7E),
    (0xA0, 0x17F),
    (0x2BC, 0x2DD),
    (0x386, 0x3CE),
    (0x2010, 0x2027),
    (0x2030, 0x203A),
)
SIGNS = "⁄⁰⁴⁵⁶⁷⁸⁹€№™⅓⅔⅛⅜⅝⅞←↑→↓↔↖↗↘↙∂√∞∫≈≠≤≥◊✓"
CODES = (0x2009, 0x200A, 0x202F, 0x2126, 0x2206, 0x2211, 0x2212)  # spaces; Ω, Δ, Σ, − of maths
BOX, STROKE = (60, 700), {"Regular": 62, "Bold": 96}


def square(pen: TTGlyphPen, low: float, high: float, inward: bool) -> None:
    """Draw one square ring edge, turned so that the inner one is cut out."""
    corners = [(low, low), (low, high), (high, high), (high, low)]
    corners = [(x, y - 20) for x, y in (reversed(corners) if inward else corners)]
    pen.moveTo(corners[0])
    for corner in corners[1:]:
        pen.lineTo(corner)
    pen.closePath()


def bar(
    pen: TTGlyphPen, start: tuple[float, float], end: tuple[float, float], width: float
) -> None:
    """Draw a straight stroke."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    long = (dx * dx + dy * dy) ** 0.5
    nx, ny = -dy / long * width / 2, dx / long * width / 2
    pen.moveTo((start[0] + nx, start[1] + ny))
    for x, y in (
        (end[0] + nx, end[1] + ny),
        (end[0] - nx, end[1] - ny),
        (start[0] - nx, start[1] - ny),
    ):
        pen.lineTo((x, y))
    pen.closePath()


def add(font: TTFont, code: int, name: str, pen: TTGlyphPen, width: int) -> None:
    """Put a drawn glyph into the font under its code point."""
    font.setGlyphOrder([*font.getGlyphOrder(), name])
    font["glyf"][name] = pen.glyph(round=round)
    glyph = font["glyf"][name]
    glyph.recalcBounds(font["glyf"])
    font["hmtx"][name] = (width, glyph.xMin)
    for table in font["cmap"].tables:
        if table.isUnicode():
            table.cmap[code] = name


def derive(source: Path, target: Path, weight: str) -> None:
    """Write one weight."""
    font = TTFont(source, recalcTimestamp=False)
    font.flavor = None
    zero = next(
        lookup.SubTable[0].mapping["zero"]
        for record in font["GSUB"].table.FeatureList.FeatureRecord
        if record.FeatureTag == "zero"
        for lookup in [font["GSUB"].table.LookupList.Lookup[record.Feature.LookupListIndex[0]]]
    )
    for table in font["cmap"].tables:
        for code, name in list(table.cmap.items()):
            if name == "zero":
                table.cmap[code] = zero
    options = subset.Options(
        layout_features=["kern", "mark", "mkmk", "ccmp", "locl"],
        hinting=False,
        name_IDs=["*"],
        name_languages=["*"],
        notdef_outline=True,
        glyph_names=False,
        recalc_timestamp=False,
    )
    cutter = subset.Subsetter(options)
    wanted = {code for low, high in RANGES for code in range(low, high + 1)} | {
        *map(ord, SIGNS),
        *CODES,
    }
    cutter.populate(unicodes=wanted)
    cutter.subset(font)

    stroke = STROKE[weight]
    low, high = BOX
    for code, name, marks in (
        (0x2610, "uni2610", ()),
        (0x2611, "uni2611", (((190, 330), (330, 180)), ((312, 180), (590, 540)))),
        (0x2612, "uni2612", (((190, 170), (570, 550)), ((190, 550), (570, 170)))),
    ):
        pen = TTGlyphPen(None)
        square(pen, low, high, False)
        square(pen, low + stroke, high - stroke, True)
        for start, end in marks:
            bar(pen, start, end, stroke * 1.2)
        add(font, code, name, pen, 760)
    pen = TTGlyphPen(None)  # diameter sign: a true circle crossed by a stroke
    ring_out, ring_in = 300, 300 - stroke
    k = 0.5522847498
    for radius, turn in ((ring_out, -1), (ring_in, 1)):
        soft = Cu2QuPen(pen, 0.5)
        cx, cy = 350, 349
        soft.moveTo((cx + radius, cy))
        for (ax, ay), (bx, by) in (
            ((1, 0), (0, turn)),
            ((0, turn), (-1, 0)),
            ((-1, 0), (0, -turn)),
            ((0, -turn), (1, 0)),
        ):
            soft.curveTo(
                (cx + radius * (ax + k * bx), cy + radius * (ay + k * by)),
                (cx + radius * (bx + k * ax), cy + radius * (by + k * ay)),
                (cx + radius * bx, cy + radius * by),
            )
        soft.closePath()
    bar(pen, (70, 0), (630, 698), stroke)
    add(font, 0x2300, "uni2300", pen, 700)

    name = font["name"]
    copyright_line = name.getDebugName(0)
    name.names = []
    for number, text in (
        (0, copyright_line),
        (1, FAMILY),
        (2, weight),
        (3, f"{FAMILY} {weight} 1.0"),
        (4, f"{FAMILY} {weight}"),
        (5, "Version 1.0"),
        (6, f"SplicewrightSans-{weight}"),
        (13, "This Font Software is licensed under the SIL Open Font License, Version 1.1."),
        (14, "https://openfontlicense.org"),
    ):
        name.setName(text, number, 3, 1, 0x409)
    font["OS/2"].achVendID = "NONE"
    font["head"].modified = font["head"].created
    font.save(target)


if __name__ == "__main__":
    for weight in ("Regular", "Bold"):
        derive(
            Path(sys.argv[1]) / f"IBMPlexSans-{weight}.woff2",
            Path(sys.argv[2]) / f"SplicewrightSans-{weight}.ttf",
            weight,
        )
