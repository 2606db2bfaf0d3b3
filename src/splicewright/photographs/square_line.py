"""A chalked square line on a belt that is not cut yet: where it runs against the belt's edges."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from splicewright.photographs.adjustment import Adjusted
from splicewright.photographs.arrays import Array
from splicewright.photographs.belt_end import LIGHT, carried, edges_of, fitted, line_of, places_of
from splicewright.photographs.measures import CONFIDENT, EndMeasured, Value
from splicewright.photographs.outline import Outline

CHALK = 4e-4
"""Standard deviation of the middle of a snapped line over some decimetres of it [m]; assumption of
this tool: it is two to five millimetres wide and broken."""
_LABELS = {
    "width": "belt width at the square line",
    "out_of_square": "square line out of square to the belt's edges over the width, left further "
    "ahead positive",
}


def measure_line(adjusted: Adjusted, outlines: Sequence[Outline]) -> EndMeasured:
    """Measure a square line.

    Parameters
    ----------
    adjusted : the solution
    outlines : of each picture, each with both sides and the chalk line
    """
    edges = {name: edges_of(outlines, name) for name in ("left", "right", "chalk")}

    def figures(numbers: Array) -> Array:
        places = places_of(adjusted, edges, numbers)
        sides = [line_of(places[name], np.ones(len(places[name]))) for name in ("left", "right")]
        turn = np.arctan((sides[0][1] + sides[1][1]) / 2)
        cos, sin = np.cos(turn), np.sin(turn)
        spun = {n: at @ np.array([[cos, -sin], [sin, cos]]) for n, at in places.items()}
        x, y = spun["chalk"].T
        left, right = (
            line_of(spun[n], np.ones(len(spun[n])), float(x.mean()))[0] for n in ("left", "right")
        )
        lean = fitted(np.column_stack([np.ones_like(y), y]), x, np.ones(len(x)))[1]
        return np.array([left - right, lean * (left - right)])

    middle = figures(adjusted.numbers)
    covariance = carried(figures, adjusted)
    pixel = {n: float(np.mean([e.pixel for _, e in pairs])) for n, pairs in edges.items()}
    side = LIGHT * (pixel["left"] + pixel["right"]) / 2
    covariance += np.diag([2 * side**2, 2 * CHALK**2])
    half = CONFIDENT * np.sqrt(np.diag(covariance))
    values = tuple(
        Value(key, label, float(middle[n]), float(half[n]))
        for n, (key, label) in enumerate(_LABELS.items())
    )
    drawn = tuple(
        {
            name: edge.pixels
            for name in ("left", "right", "chalk")
            if (edge := getattr(outline, name)) is not None
        }
        for outline in outlines
    )
    return EndMeasured(values, covariance, drawn)


def measure_width(adjusted: Adjusted, outlines: Sequence[Outline]) -> EndMeasured:
    """The width where the sheets lie, of a belt of which no cut is looked at; arguments alike."""
    edges = {name: edges_of(outlines, name) for name in ("left", "right")}

    def figures(numbers: Array) -> Array:
        places = places_of(adjusted, edges, numbers)
        (left, lean), (right, other) = (
            line_of(places[name], np.ones(len(places[name]))) for name in ("left", "right")
        )
        return np.array([(left - right) * np.cos(np.arctan((lean + other) / 2))])

    covariance = carried(figures, adjusted)
    side = LIGHT * float(np.mean([e.pixel for pairs in edges.values() for _, e in pairs]))
    covariance[0, 0] += 2 * side**2
    half = CONFIDENT * float(np.sqrt(covariance[0, 0]))
    width = float(figures(adjusted.numbers)[0])
    value = Value("width", "belt width between the sheets", width, half)
    drawn = tuple(
        {
            name: edge.pixels
            for name in ("left", "right")
            if (edge := getattr(outline, name)) is not None
        }
        for outline in outlines
    )
    return EndMeasured((value,), covariance, drawn)
