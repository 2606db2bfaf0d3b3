"""The outline of a belt end in one picture: both sides, the cut, and a chalk line."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

import numpy as np

from splicewright.photographs.adjustment import Adjusted
from splicewright.photographs.arrays import Array
from splicewright.photographs.edges import SPACING, Edge, Search, find_chalk, find_edge
from splicewright.photographs.picture import Picture

_PAPER = (0.105, 0.1485)
"""Half width and half length of the larger of both papers, about [m]."""
_GAP = 0.012
"""Rays begin so far beside the paper [m]."""
_ASIDE, _AHEAD = 0.45, 0.60
"""How far beside and ahead of the sheets the belt's edges are searched [m]."""
_CORNER = 0.03
"""The cut is not looked at so near to the belt's corners: they may be notched or round [m]."""


Seek = Literal["cut", "chalk", "sides"]


@dataclass(frozen=True, slots=True)
class Outline:
    """What of the belt's outline was found in one picture; None for what was not."""

    left: Edge | None
    right: Edge | None
    cut: Edge | None
    chalk: Edge | None


def find_outline(picture: Picture, adjusted: Adjusted, number: int, seek: Seek = "cut") -> Outline:
    """Find the outline in the picture of this number.

    Parameters
    ----------
    picture : the same that the adjustment had at `number`
    seek : beside both sides a cut and the chalk line behind it; a chalk line on a belt that goes
        on; or nothing more
    """
    camera, surface = adjusted.camera(number), adjusted.surface()

    def edge(search: Search) -> Edge | None:
        return find_edge(picture, camera, surface, search)

    def on_belt(border: Edge) -> Array:
        return surface.meet(camera.place, camera.rays(border.pixels))

    front, rear = paper_ends(adjusted)
    lines: list[Array] = []
    sides: list[Edge | None] = []
    for way in (1, -1):
        side = edge(sideways(adjusted, rear, front, way))
        sides.append(side)
        if side is None:
            return Outline(sides[0], None, None, None)
        x, y = on_belt(side).T
        lines.append(np.polyfit(x, y, 1))
    if seek == "chalk":
        rays = _forward(front, lines)
        rays = Search(rays.starts, rays.direction, rays.reach, rays.along, 1, 2e-3)
        return Outline(sides[0], sides[1], None, find_chalk(picture, camera, surface, rays))
    cut = edge(_forward(front, lines)) if seek == "cut" else None
    if cut is None:
        return Outline(sides[0], sides[1], None, None)
    x, y = on_belt(cut).T
    shape = np.polyfit(y, x, 2)
    nearest = float(np.polyval(shape, [np.polyval(line, front) for line in lines]).min())
    # Now that the cut is known, the sides are looked at up to it.
    for n, way in enumerate((1, -1)):
        sides[n] = edge(sideways(adjusted, rear, nearest - _CORNER, way)) or sides[n]
    ahead = _forward(front, lines)
    inner = np.polyval(shape, ahead.along)
    room = float(np.min(inner)) - front - _GAP - 0.012
    chalk = None
    if room > 0.02:
        rays = Search(ahead.starts, ahead.direction, room, ahead.along, 1, 2e-3)
        chalk = find_chalk(picture, camera, surface, rays)
    return Outline(sides[0], sides[1], cut, chalk)


def paper_ends(adjusted: Adjusted, sheets: Collection[int] = ()) -> tuple[float, float]:
    """How far forward and back the papers reach [m]: of all sheets, or of those named."""
    poses = adjusted.sheet_poses
    if sheets:
        poses = poses[[number in sheets for number in adjusted.sheets]]
    half = _PAPER[1] * np.abs(np.cos(poses[:, 2])) + _PAPER[0] * np.abs(np.sin(poses[:, 2]))
    return float((poses[:, 0] + half).max()), float((poses[:, 0] - half).min())


def _beside(adjusted: Adjusted, along: Array, way: int) -> Array:
    """How far the papers reach to the left (1) or the right (-1) at places along, shape (n,) [m].

    Place by place, so that a sheet that lies turned or further out moves no ray but those beside
    it. Where no sheet lies it is as at the nearest place where one does.
    """
    corners = np.array([[a, b] for a, b in ((1, 1), (1, -1), (-1, -1), (-1, 1))])
    reach = np.full(len(along), -np.inf)
    for x, y, turn in adjusted.sheet_poses:
        cos, sin = np.cos(turn), np.sin(turn)
        around = corners * [_PAPER[1] + _GAP, _PAPER[0]] @ np.array([[cos, sin], [-sin, cos]])
        around += [x, y]
        for (x1, y1), (x2, y2) in zip(around, np.roll(around, -1, axis=0), strict=True):
            if abs(x2 - x1) > 1e-6:
                share = (along - x1) / (x2 - x1)
                there = np.where((share >= 0) & (share <= 1), y1 + share * (y2 - y1), np.nan)
                reach = np.fmax(reach, way * there)
    # A sheet of the other side alone says nothing of where to begin on this one.
    near = np.flatnonzero(reach > reach.max() - _ASIDE / 2)
    nearest = near[np.abs(along[:, None] - along[near]).argmin(axis=1)]
    return np.asarray(reach[nearest])


def sideways(adjusted: Adjusted, first: float, last: float, way: int) -> Search:
    """Rays from beside the sheets out to the left (1) or right (-1), first to last along [m]."""
    along = np.arange(first, last, SPACING)
    starts = np.column_stack([along, way * (_beside(adjusted, along, way) + _GAP)])
    return Search(starts, np.array([0.0, float(way)]), _ASIDE, along, 1, 2e-3)


def _forward(front: float, lines: list[Array]) -> Search:
    left, right = (float(np.polyval(line, front)) for line in lines)
    along = np.arange(right + _CORNER, left - _CORNER, SPACING)
    starts = np.column_stack([np.full(len(along), front + _GAP), along])
    return Search(starts, np.array([1.0, 0.0]), _AHEAD, along, 2, 2.5e-3)
