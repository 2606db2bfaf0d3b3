"""A scene as an SVG file that stands alone, on the smallest sheet that holds it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from splicewright.sheets.canvas.scene import Scene


def standing_alone(scene: Scene) -> bytes:
    """A drawing to stand alone: its title and what it says of itself are written under it."""
    from dataclasses import replace

    from splicewright.sheets.canvas.expansion import bounds
    from splicewright.sheets.canvas.scene import Group, Text
    from splicewright.sheets.canvas.svg import svg

    left, low, _, _ = bounds(scene)
    lines = (
        Text((left, low - 8.0), scene.title, 3.2, bold=True),
        Text((left, low - 13.5), scene.description, 2.8),
    )
    told = replace(scene, items=(*scene.items, Group("caption", lines)))
    return svg(told, margin=5.0).encode()
