"""The gap between two belt ends, and how the edges of one stand against those of the other.

Sheets 1 and 2 lie on the end that one stands on, 3 and 4 beyond the gap, all arrows one way. Seen
askew the far end's face covers part of the floor in the gap, by the belt's thickness: it is counted
in. Edges are held against each other where the ends meet, whether a gap is seen or plates cover it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from splicewright.photographs.adjustment import Adjusted
from splicewright.photographs.arrays import Array, Places
from splicewright.photographs.belt_end import LIGHT, carried, line_of
from splicewright.photographs.edges import STEP, Edge, Search, find_edge, profiles
from splicewright.photographs.measures import CONFIDENT, EndMeasured, Value
from splicewright.photographs.outline import paper_ends, sideways
from splicewright.photographs.picture import Picture

NEAR_SHEETS, FAR_SHEETS = (1, 2), (3, 4)
THICKNESS = 0.7e-3
"""Standard deviation of the belt's thickness [m]."""
EDGE = 2.5e-4
"""Standard deviation of a belt's side where the ends meet from the line through what is seen of it
[m]; assumption of this tool, as for plates."""
LEAST = 5e-3
"""A light strip narrower than this is no gap: a chalk line is 4 mm wide [m]."""
SUPPORT = 0.6
"""Share of the rays that must see the strip [1]."""
_CLEAR, _CORNER = 0.012, 0.03
_LABELS = {
    "gap_left": "gap between the ends at the left edge",
    "gap_right": "gap between the ends at the right edge",
    "gap_middle": "gap between the ends in the middle",
    "edge_left": "left edge of the far end against the near one, further left positive",
    "edge_right": "right edge of the far end against the near one, further left positive",
}


@dataclass(frozen=True, slots=True)
class _Seen:
    """Of one picture: the sides of both ends, and both rims of the gap, shapes (n, 2) [px]."""

    sides: tuple[tuple[Edge, Edge], tuple[Edge, Edge]]
    rims: tuple[Array, Array] | None
    pixel: float


def measure_gap(
    adjusted: Adjusted, pictures: Sequence[Picture], thickness: float
) -> EndMeasured | None:
    """Measure gap and edges; None where the sides of an end are not found or no sheets lie beyond.

    Parameters
    ----------
    adjusted, pictures : as for a belt end
    thickness : of the belt [m]
    """
    if not any(s in adjusted.sheets for s in NEAR_SHEETS) or not any(
        s in adjusted.sheets for s in FAR_SHEETS
    ):
        return None
    front, back = paper_ends(adjusted, NEAR_SHEETS)[0], paper_ends(adjusted, FAR_SHEETS)[1]
    if back - front < 2 * _CLEAR + LEAST:
        return None
    views = [_look(adjusted, picture, n, front, back) for n, picture in enumerate(pictures)]
    seen = [f for f in views if f is not None]
    if len(seen) < len(views):
        return None
    gap = all(f.rims is not None for f in seen)

    def figures(numbers: Array, thick: float) -> Array:
        each = [_figures(adjusted, n, f, numbers, thick, gap) for n, f in enumerate(seen)]
        return np.asarray(np.mean(each, axis=0))

    middle = figures(adjusted.numbers, thickness)
    covariance = carried(lambda numbers: figures(numbers, thickness), adjusted)
    thicker = figures(adjusted.numbers, thickness + THICKNESS) - middle
    covariance += np.outer(thicker, thicker)
    pixel = float(np.mean([f.pixel for f in seen]))
    rim, side = 2**0.5 * np.hypot(LIGHT, 0.12) * pixel, 2**0.5 * EDGE
    own = np.array([*([rim] * 3 if gap else []), side, side])
    covariance += np.diag(own**2)
    half = CONFIDENT * np.sqrt(np.diag(covariance))
    keys = list(_LABELS) if gap else list(_LABELS)[3:]
    values = tuple(
        Value(key, _LABELS[key], float(v), float(h))
        for key, v, h in zip(keys, middle, half, strict=True)
    )
    return EndMeasured(values, covariance, tuple(map(_drawn, seen)))


def _drawn(seen: _Seen) -> dict[str, Array]:
    lines = {
        f"{name} {part}": edge.pixels
        for part, sides in zip(("near", "far"), seen.sides, strict=True)
        for name, edge in zip(("left", "right"), sides, strict=True)
    }
    if seen.rims is not None:
        lines["cut near"], lines["cut far"] = seen.rims
    return lines


def _look(
    adjusted: Adjusted, picture: Picture, number: int, front: float, back: float
) -> _Seen | None:
    camera, surface = adjusted.camera(number), adjusted.surface()
    sides: list[tuple[Edge, Edge]] = []
    for sheets in (NEAR_SHEETS, FAR_SHEETS):
        ahead, behind = paper_ends(adjusted, sheets)
        pair = [
            find_edge(picture, camera, surface, sideways(adjusted, behind, ahead, way))
            for way in (1, -1)
        ]
        if pair[0] is None or pair[1] is None or pair[0].doubtful or pair[1].doubtful:
            return None
        sides.append((pair[0], pair[1]))
    laid = [surface.meet(camera.place, camera.rays(edge.pixels)) for edge in sides[0]]
    left, right = (line_of(at, np.ones(len(at)), front)[0] for at in laid)
    along = np.arange(right + _CORNER, left - _CORNER, 4e-3)
    starts = np.column_stack([np.full(len(along), front + _CLEAR), along])
    search = Search(starts, np.array([1.0, 0.0]), back - front - 2 * _CLEAR, along, 2, 2.5e-3)
    far, light = profiles(picture, camera, surface, search)
    rims = _rims(far, light)
    pixel = sides[0][0].pixel
    if rims is None:
        return _Seen((sides[0], sides[1]), None, pixel)
    kept, begin, end = rims
    ends = tuple(
        camera.project(surface.points(starts[kept] + at[:, None] * search.direction))
        for at in (begin, end)
    )
    step = camera.project(surface.points(np.array([[front, 0.0], [front + 1e-3, 0.0]])))
    pixel = 1e-3 / float(np.linalg.norm(step[1] - step[0]))
    return _Seen((sides[0], sides[1]), (ends[0], ends[1]), pixel)


def _rims(far: Array, light: Array) -> tuple[Places, Array, Array] | None:
    """Which rays see a light strip that most of them see, and where it begins and ends on each."""
    few = max(3, round(8e-3 / STEP))
    if not np.isfinite(light).all():
        return None  # not all of it is in the picture
    rubber = np.nanmedian(np.column_stack([light[:, :few], light[:, -few:]]), axis=1)
    floor = np.nanpercentile(light, 97, axis=1)
    half = (rubber + floor) / 2
    kept, begin, end = [], [], []
    for k in np.flatnonzero(floor > 1.5 * rubber + 0.02):
        bright = np.concatenate([[False], light[k] > half[k], [False]])
        steps = np.flatnonzero(np.diff(bright.astype(int)))
        pairs = steps.reshape(-1, 2)
        a, b = pairs[np.argmax(pairs[:, 1] - pairs[:, 0])]
        if (b - a) * STEP < LEAST or a == 0 or b >= len(far):
            continue
        kept.append(k)
        row = light[k]
        begin.append(STEP * (a - 1 + (half[k] - row[a - 1]) / (row[a] - row[a - 1])))
        end.append(STEP * (b - 1 + (half[k] - row[b - 1]) / (row[b] - row[b - 1])))
    if len(kept) < max(10, SUPPORT * len(light)):
        return None
    which, first, last = np.array(kept), np.array(begin), np.array(end)
    near = np.ones(len(which), dtype=bool)
    for _ in range(3):
        for at in (first, last):
            rest = np.abs(at - np.polyval(np.polyfit(which[near], at[near], 2), which))
            near &= rest < max(4 * 1.4826 * float(np.median(rest[near])), 1e-3)
    if near.sum() < max(10, SUPPORT * len(light)):
        return None
    return which[near], first[near], last[near]


def _figures(
    adjusted: Adjusted, picture: int, seen: _Seen, numbers: Array, thick: float, gap: bool
) -> Array:
    surface, eye = adjusted.surface(numbers), adjusted.camera(picture, numbers)

    def laid(pixels: Array) -> Array:
        return surface.meet(eye.place, eye.rays(pixels))

    ends = [[laid(edge.pixels) for edge in pair] for pair in seen.sides]
    leans = [line_of(at, np.ones(len(at)))[1] for at in ends[0]]
    turn = float(np.arctan(np.mean(leans)))
    cos, sin = np.cos(turn), np.sin(turn)
    spin = np.array([[cos, -sin], [sin, cos]])
    spun = [[at @ spin for at in pair] for pair in ends]
    meet = (max(float(at[:, 0].max()) for at in spun[0]) + min(
        float(at[:, 0].min()) for at in spun[1]
    )) / 2  # fmt: skip
    figures: list[float] = []
    if gap:
        assert seen.rims is not None
        near, far = (laid(rim) @ spin for rim in seen.rims)
        at = eye.place[:2] @ spin
        curves = []
        for rim, way in ((near, -1), (far, 1)):
            # What is seen of a rim is its lower one where the eye looks at that face.
            lower = thick * np.maximum(way * (rim[:, 0] - at[0]), 0) / eye.place[2] * way
            curves.append(np.polyfit(rim[:, 1], rim[:, 0] + lower, 2))
        meet = float(np.mean(near[:, 0].mean() + far[:, 0].mean())) / 2
    sides = [[line_of(at, np.ones(len(at)), meet)[0] for at in pair] for pair in spun]
    if gap:
        left, right = sides[0]
        across = np.array([left, right, (left + right) / 2])
        figures += (np.polyval(curves[1], across) - np.polyval(curves[0], across)).tolist()
    figures += [sides[1][0] - sides[0][0], sides[1][1] - sides[0][1]]
    return np.array(figures)
