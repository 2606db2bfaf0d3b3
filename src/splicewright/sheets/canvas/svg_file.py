"""A scene as an SVG file that stands alone, on the smallest sheet that holds it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from splicewright.sheets.canvas.scene import Scene


def standing_alone(scene: Scene, *, within: bool = False) -> bytes:
    """A drawing to stand alone: its title and what it says of itself are written under it.

    Parameters
    ----------
    within : whether these words keep to the drawing's width, as a phone needs it
    """
    from dataclasses import replace

    from splicewright.sheets.canvas.expansion import bounds
    from splicewright.sheets.canvas.scene import Group, Text
    from splicewright.sheets.canvas.svg import svg

    left, low, right, _ = bounds(scene)
    wide = right - left if within else None
    lines: list[Text] = []
    y = low - 8.0
    for words, size, step in ((scene.title, 3.2, 5.5), (scene.description, 2.8, 4.4)):
        for row in _rows(words, size, wide):
            lines.append(Text((left, y), row, size, bold=size > 3.0))
            y -= step
    drawing = replace(scene, items=(*scene.items, Group("caption", tuple(lines))))
    return svg(drawing, margin=5.0).encode()


def _rows(text: str, size: float, wide: float | None) -> list[str]:
    """The text in rows no wider than `wide` [mm]; in one where that is None."""
    from splicewright.sheets.canvas.expansion import text_width

    rows: list[str] = []
    for word in text.split(" "):
        longer = f"{rows[-1]} {word}" if rows else word
        if rows and (wide is None or text_width(longer, size) <= wide):
            rows[-1] = longer
        else:
            rows.append(word)
    return rows
