"""Measures of a belt end as a photograph gives them: values with their ranges and covariance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from splicewright.photographs.arrays import Array

CONFIDENT = 1.96
"""Half-widths are so many standard deviations: 95 % [1]."""
_TO_THE_LEFT = ("out_of_square", "edge_", "middle")
"""Keys of values that count to the left, and change their sign with who looks."""


@dataclass(frozen=True, slots=True)
class Value:
    """One measure: its key, what it is, its value and the half-width of its 95 % range [m].

    A key ends in "left" or "right" where the measure is of one side.
    """

    key: str
    label: str
    value: float
    half_width: float


@dataclass(frozen=True, slots=True)
class EndMeasured:
    """A belt end as measured; left and right of who faces the cut.

    values : measures; covariance : of them, in their order [m2]
    drawn : what was found, for the picture: name -> pixels of each picture, shapes (n, 2)
    """

    values: tuple[Value, ...]
    covariance: Array
    drawn: tuple[dict[str, Array], ...]

    def turned(self) -> EndMeasured:
        """The same with left and right of who faces away from the cut."""
        values, covariance = turned(self.values, self.covariance)
        return EndMeasured(values, covariance, self.drawn)

    def joined(self, values: Sequence[Value]) -> EndMeasured:
        """The same with further values, whose errors have little to do with the others'."""
        n = len(self.values)
        whole = np.zeros((n + len(values),) * 2)
        whole[:n, :n] = self.covariance
        for k, value in enumerate(values, n):
            whole[k, k] = (value.half_width / CONFIDENT) ** 2
        return replace(self, values=(*self.values, *values), covariance=whole)


def turned(values: Sequence[Value], covariance: Array) -> tuple[tuple[Value, ...], Array]:
    """Values and covariance with left and right of who looks the other way."""
    at = {value.key: n for n, value in enumerate(values)}
    # What was measured on both sides changes places; what was on one alone is now on the other.
    order = [at.get(_other(value.key), n) for n, value in enumerate(values)]
    sign = np.array([-1.0 if v.key.startswith(_TO_THE_LEFT) else 1.0 for v in values])
    mirrored = []
    for n, value in enumerate(values):
        alone = _other(value.key) not in at
        key, label = (_other(value.key), _other(value.label)) if alone else (value.key, value.label)
        came = values[order[n]]
        mirrored.append(Value(key, label, float(sign[n] * came.value), came.half_width))
    return tuple(mirrored), sign[:, None] * covariance[np.ix_(order, order)] * sign


def _other(words: str) -> str:
    """The words of the other side."""
    if "left positive" in words:
        # Which way counts is said of who looks, whoever that is.
        measure, way = words.rsplit(",", 1)
        return f"{_other(measure)},{way}"
    if "left" in words:
        return words.replace("left", "right")
    return words.replace("right", "left")
