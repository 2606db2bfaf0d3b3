"""Measures of a cut belt end from the outlines in all pictures, with their covariance."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from splicewright.photographs.adjustment import Adjusted
from splicewright.photographs.arrays import Array
from splicewright.photographs.edges import BLOCKS, Edge
from splicewright.photographs.measures import CONFIDENT, EndMeasured, Value
from splicewright.photographs.outline import Outline

LIGHT = 0.10
"""How far the light, the tone curve and the rounding of an edge move all of it to one side,
standard deviation [px]; found in the trials of docs/photographs.md."""
_LESS = 0.05
_LABELS = {
    "width": "belt width at the cut",
    "out_of_square": "out of square to the belt's edges over the width, left long positive",
    "curve_depth": "curve depth: how far the middle is cut back behind the edges",
    "deviation": "largest deviation of the cut from its curve",
    "chalk_left": "chalk line to cut at the left edge",
    "chalk_right": "chalk line to cut at the right edge",
    "out_of_square_chalk": "out of square to the chalk line over the width, left long positive",
}


def measure_end(
    adjusted: Adjusted, outlines: Sequence[Outline], template_depth: float | None = None
) -> EndMeasured:
    """Measure the end.

    Parameters
    ----------
    adjusted : the solution
    outlines : of each picture, each with both sides and the cut
    template_depth : curve depth of the template [m]; without it the end's own depth is taken
    """
    chalk = any(outline.chalk is not None for outline in outlines)
    names = ["left", "right", "cut", *(["chalk"] if chalk else [])]
    edges = {name: edges_of(outlines, name) for name in names}

    places = places_of(adjusted, edges, adjusted.numbers)
    values, stretch = _figures(places, template_depth)

    def figures(numbers: Array) -> Array:
        return _figures(places_of(adjusted, edges, numbers), template_depth, None, stretch)[0]

    geometry = carried(figures, adjusted)
    scatter = _scattered(places, edges, template_depth, stretch)
    pixel = {n: float(np.mean([e.pixel for _, e in edges[n]])) for n in names}
    common = _common(pixel, chalk, len(outlines))
    covariance = geometry + scatter + common
    # The stretch that deviates most is a mean over few places: its scatter is that of the light.
    covariance[3, :] = covariance[:, 3] = geometry[3]
    covariance[3, 3] += (LIGHT * pixel["cut"]) ** 2 / 4
    keys = list(_LABELS)[: len(values)]
    spread = CONFIDENT * np.sqrt(np.diag(covariance))
    measures = tuple(
        Value(key, _LABELS[key], float(value), float(half))
        for key, value, half in zip(keys, values, spread, strict=True)
    )
    drawn = tuple(
        {
            name: edge.pixels
            for name in ("left", "right", "cut", "chalk")
            if (edge := getattr(outline, name)) is not None
        }
        for outline in outlines
    )
    return EndMeasured(measures, covariance, drawn)


def edges_of(outlines: Sequence[Outline], name: str) -> list[tuple[int, Edge]]:
    """The edges of this name, each with the number of its picture."""
    return [
        (number, edge)
        for number, outline in enumerate(outlines)
        if (edge := getattr(outline, name)) is not None
    ]


def places_of(
    adjusted: Adjusted, edges: dict[str, list[tuple[int, Edge]]], numbers: Array
) -> dict[str, Array]:
    """Places on the belt of the points of each edge, in all pictures, shapes (n, 2) [m]."""
    surface = adjusted.surface(numbers)
    places = {}
    for name, pairs in edges.items():
        parts = []
        for picture, edge in pairs:
            camera = adjusted.camera(picture, numbers)
            parts.append(surface.meet(camera.place, camera.rays(edge.pixels)))
        places[name] = np.concatenate(parts)
    return places


def _figures(
    places: dict[str, Array],
    template: float | None,
    weights: dict[str, Array] | None = None,
    stretch: int | None = None,
) -> tuple[Array, int]:
    """The measures from places on the belt [m], each place counted by its weight; and which
    stretch of the cut deviates most. The same is taken where it is given: which of them it is would
    jump when a number moves a little."""
    counted = weights or {name: np.ones(len(p)) for name, p in places.items()}
    sides = [line_of(places[name], counted[name]) for name in ("left", "right")]
    # The belt's own direction is the mean of its sides'; everything is turned onto it.
    turn = np.arctan((sides[0][1] + sides[1][1]) / 2)
    cos, sin = np.cos(turn), np.sin(turn)
    spun = {n: p @ np.array([[cos, -sin], [sin, cos]]) for n, p in places.items()}
    x, y = spun["cut"].T
    middle_x = float(x.mean())
    left, right = (line_of(spun[n], counted[n], middle_x)[0] for n in ("left", "right"))
    width, centre = left - right, (left + right) / 2
    t = 2 * (y - centre) / width
    bent = np.column_stack([np.ones_like(t), t / 2, t**2 - 1])
    edge, square, depth = fitted(bent, x, counted["cut"])
    shape = depth if template is None else template
    rest = x - edge - square * t / 2 - shape * (t**2 - 1)
    off = stretches(t, rest)
    worst = int(np.abs(off).argmax()) if stretch is None else stretch
    values = [width, square, depth, float(off[worst])]
    if "chalk" in spun:
        cx, cy = spun["chalk"].T
        s = 2 * (cy - centre) / width
        line = fitted(np.column_stack([np.ones_like(s), s / 2]), cx, counted["chalk"])
        lean = 1 / np.hypot(1, line[1] / width)
        ahead = (edge - line[0]) * lean, (square - line[1]) * lean
        values += [ahead[0] + ahead[1] / 2, ahead[0] - ahead[1] / 2, ahead[1]]
    return np.array(values), worst


def fitted(basis: Array, y: Array, weights: Array) -> Array:
    """Least squares of a basis (n, k) to values (n,), each counted by its weight."""
    root = np.sqrt(weights)
    return np.asarray(np.linalg.lstsq(basis * root[:, None], y * root, rcond=None)[0])


def line_of(places: Array, counted: Array, at: float = 0.0) -> tuple[float, float]:
    """Across at a place along, and slope, of a side; points far off (nicks) count little."""
    x, y = places[:, 0] - at, places[:, 1]
    basis = np.column_stack([np.ones_like(x), x])
    weight = counted
    for _ in range(4):
        line = fitted(basis, y, weight)
        off = np.abs(y - basis @ line)
        scale = max(1.4826 * float(np.median(off)), 1e-5)
        weight = counted * np.minimum(1, 2.5 * scale / np.maximum(off, 1e-9))
    return float(line[0]), float(line[1])


def stretches(t: Array, rest: Array) -> Array:
    """Mean deviation of each twelfth of the width, with its sign, shape (12,) [m]."""
    part = np.clip(((t + 1) * 6).astype(int), 0, 11)
    count = np.bincount(part, minlength=12)
    return np.asarray(np.bincount(part, rest, minlength=12) / np.maximum(count, 1))


def carried(figures: Callable[[Array], Array], adjusted: Adjusted) -> Array:
    """Covariance of the measures that comes from cameras, sheets and surface."""
    spread = np.sqrt(np.diag(adjusted.covariance))
    columns = []
    middle = figures(adjusted.numbers)
    for n, step in enumerate(0.1 * spread):
        moved = adjusted.numbers + step * (np.arange(len(spread)) == n)
        columns.append((figures(moved) - middle) / step)
    slope = np.column_stack(columns)
    return np.asarray(slope @ adjusted.covariance @ slope.T)


def _scattered(
    places: dict[str, Array],
    edges: dict[str, list[tuple[int, Edge]]],
    template: float | None,
    stretch: int,
) -> Array:
    """Covariance that comes from the edges' own scatter: by how much the measures change when
    one stretch of an edge counts a little less (infinitesimal jackknife, Jaeckel 1972, from
    memory; leaving stretches out whole says too much where the outermost hold the line)."""
    whole = _figures(places, template, None, stretch)[0]
    ones = {name: np.ones(len(p)) for name, p in places.items()}
    total = np.zeros((len(whole), len(whole)))
    for name, pairs in edges.items():
        blocks = np.concatenate([BLOCKS * number + edge.blocks for number, edge in pairs])
        names = np.unique(blocks)
        less = [{**ones, name: np.where(blocks == block, 1 - _LESS, 1.0)} for block in names]
        moved = [_figures(places, template, w, stretch)[0] for w in less]
        slope = (whole - np.array(moved)) / _LESS
        total += len(names) / (len(names) - 1) * slope.T @ slope
    return total


def _common(pixel: dict[str, float], chalk: bool, pictures: int) -> Array:
    """Covariance from what moves a whole edge to one side; the same in all pictures.

    The sides move apart or together with their light; nothing square to them changes.
    """
    side, cut = LIGHT * (pixel["left"] + pixel["right"]) / 2, LIGHT * pixel["cut"]
    size = 7 if chalk else 4
    out = np.zeros((size, size))
    out[0, 0] = 2 * side**2
    if chalk:
        out[4:6, 4:6] = cut**2
    return out
