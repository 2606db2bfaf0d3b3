"""Where load left on a belt pulls most: the worst spread, found, not guessed.

Every metre of full load pulls in proportion to the slope under it, so with so many metres of it
somewhere on the belt the worst spread fills the steepest pieces first: a knapsack whose pieces
may be cut, for which that order is exact.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from splicewright.quantities import Figure, Kind, Worksheet, percent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

WHY = "the steepest pieces full first, as far as the load left reaches"


def worst_shares(weights: ArrayLike, lengths: ArrayLike, metres: ArrayLike) -> NDArray[np.float64]:
    """How far each piece is loaded in the worst spread: max Σ x w with Σ x l up to `metres`.

    Parameters
    ----------
    weights : what full load on each piece adds; pieces that do not add stay empty,
        shape (..., pieces)
    lengths : of the pieces, above 0 [m], shape (..., pieces)
    metres : of full load that there is [m], shape (...)

    Returns
    -------
    x, 0 to 1, shape (..., pieces)
    """
    w, length = np.broadcast_arrays(
        np.asarray(weights, dtype=np.float64), np.asarray(lengths, dtype=np.float64)
    )
    room = np.asarray(metres, dtype=np.float64)[..., np.newaxis]
    w, length, room = np.broadcast_arrays(w, length, room)
    order = np.argsort(-w / length, axis=-1, kind="stable")
    sorted_lengths = np.take_along_axis(length, order, axis=-1)
    before = np.cumsum(sorted_lengths, axis=-1) - sorted_lengths
    filled = np.clip((room - before) / sorted_lengths, 0.0, 1.0)
    shares = np.empty_like(filled)
    np.put_along_axis(shares, order, filled, axis=-1)
    return np.where(w > 0, shares, 0.0)


def loaded_pieces(names: Sequence[str], shares: Sequence[float]) -> str:
    """Which pieces carry load, in words: "incline, 40 % of loading run", or "nothing"."""
    pieces = [
        name if share > 1 - 1e-9 else f"{percent(share)} of {name}"
        for name, share in zip(names, shares, strict=True)
        if share > 1e-9
    ]
    return ", ".join(pieces) or "nothing"


def worst_rise(
    key: str,
    label: str,
    rises: Sequence[float],
    lengths: Sequence[float],
    metres: float,
    parts: Sequence[Figure],
    sheet: Worksheet,
) -> tuple[Figure, NDArray[np.float64]]:
    """Height over which load in its worst spread pulls one way [m], and how far each piece is full.

    Parameters
    ----------
    key, label : of the height in the worksheet
    rises, lengths : of the pieces; a rise above 0 pulls the way that is asked about [m]
    metres : of full load left on the belt [m]
    parts : what the height rests on
    sheet : takes the line
    """
    if not len(rises):
        return sheet.total(key, label, [], Kind.DISTANCE), np.zeros(0)
    shares = worst_shares(rises, lengths, metres)
    height = float(np.sum(shares * np.asarray(rises)))
    return sheet.found(key, label, height, Kind.DISTANCE, WHY, parts), shares
