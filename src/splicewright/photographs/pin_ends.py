"""How far the hinge pin stands out beyond the belt's edges.

A rod shows as light and shade across it, over whatever floor: along the pin's axis that is followed
outwards from the belt's edge until it ends. Named for a person to look at, never a verdict. A pin
that ends between the outermost plate and the edge is not told: the cut runs beside it there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from splicewright.photographs.adjustment import Adjusted
from splicewright.photographs.arrays import Array
from splicewright.photographs.belt_end import line_of
from splicewright.photographs.edges import Edge
from splicewright.photographs.measures import CONFIDENT, Value
from splicewright.photographs.outline import Outline
from splicewright.photographs.picture import Picture
from splicewright.photographs.plate_row import SIDE
from splicewright.photographs.plate_sides import PlannedRow

STEP = 5e-4
REACH = 0.25
"""How far beyond the edge the pin is followed [m]."""
LEAST = 1e-2
"""What stands out less is not told: at 5 mm corners of belts were taken for pins [m]."""
HEIGHT = 2e-3
"""Standard deviation of the height of the pin's middle in the belt's thickness [m]."""
END = 0.5
"""Standard deviation of where a pin is seen to end [px]."""
_TOLD = 0.12
"""Light and shade across the rod, of the light around, that tell it [1]."""
_EVEN = 0.75
"""What lies on both sides of the rod is so evenly lit, or it is another thing's edge [1]."""
_BREAK, _CLEAR = 6e-3, 3e-3


@dataclass(frozen=True, slots=True)
class Pin:
    """The hinge pin: its diameter, and the thickness of the belt, in whose middle it lies [m]."""

    diameter: float
    thickness: float


def pin_ends(
    adjusted: Adjusted,
    pictures: Sequence[Picture],
    outlines: Sequence[Outline],
    drawn: Sequence[Mapping[str, Array]],
    row: PlannedRow,
    pin: Pin,
) -> list[tuple[Value, Array]]:
    """What stands out at each side, with the line seen of it in the first picture [px].

    Parameters
    ----------
    adjusted, pictures, outlines, row : as for the row
    drawn : sides of its plates, from `RowMeasured`
    pin : the hinge pin
    """
    overhangs = []
    for side, number, way in (("left", 1, 1), ("right", row.count, -1)):
        ends = [
            _end(adjusted, picture, n, getattr(outlines[n], side),
                 drawn[n].get(f"plate {number} {side}"), row, way, pin)
            for n, picture in enumerate(pictures)
        ]  # fmt: skip
        if any(end is None for end in ends):
            continue
        known = [end for end in ends if end is not None]
        out = float(np.mean([end[0] for end in known]))
        spread = float(np.mean([end[1] for end in known]))
        label = f"pin beyond the belt's {side} edge"
        value = Value(f"pin_{side}", label, out, CONFIDENT * spread)
        overhangs.append((value, known[0][2]))
    return overhangs


def _end(
    adjusted: Adjusted,
    picture: Picture,
    number: int,
    edge: Edge,
    plate: Array | None,
    row: PlannedRow,
    way: int,
    pin: Pin,
) -> tuple[float, float, Array] | None:
    if plate is None:
        return None
    eye = adjusted.camera(number)
    top = adjusted.surface(height=row.height)
    level = adjusted.surface(height=-pin.thickness / 2)
    x1, x2 = top.meet(eye.place, eye.rays(plate))[:, 0]
    # The plate's two bands lie 0.3 and 0.7 of its length from its back, the axis at its front.
    axis = x2 + 0.75 * (x2 - x1)
    laid = adjusted.surface().meet(eye.place, eye.rays(edge.pixels))
    begin = line_of(laid, np.ones(len(laid)), axis)[0]
    far = np.arange(_CLEAR, REACH, STEP)
    longest: tuple[float, Array] | None = None
    for shift in np.arange(-6e-3, 6.1e-3, 1e-3):
        lanes = np.linspace(-0.95, 0.95, 13) * pin.diameter + axis + shift
        every = np.stack(np.meshgrid(lanes, begin + way * far, indexing="ij"), axis=-1).reshape(
            -1, 2
        )
        light = picture.sample(eye.project(level.points(every))).reshape(len(lanes), -1)
        light = np.where(np.isfinite(light), light, np.nan)
        smooth = _smoothed(light)
        around = (smooth[0] + smooth[-1]) / 2
        middle = smooth[5:8].mean(axis=0)
        shade = np.minimum(smooth[1:4].min(axis=0), smooth[9:12].min(axis=0))
        visible = (middle - shade) / np.maximum(around, 0.02) > _TOLD
        visible &= np.minimum(smooth[0], smooth[-1]) > _EVEN * np.maximum(smooth[0], smooth[-1])
        gap = round(_BREAK / STEP)
        out, dark = 0, 0
        for k, yes in enumerate(visible):
            dark = 0 if yes else dark + 1
            if dark > gap:
                break
            out = k + 1 if yes else out
        long = float(far[out - 1]) if out else 0.0
        if long >= LEAST and (longest is None or long > longest[0]):
            line = np.column_stack([np.full(2, axis + shift), begin + way * np.array([0.0, long])])
            longest = long, eye.project(level.points(line))
    if longest is None or longest[0] > REACH - 3 * _BREAK:
        return None
    at = begin + way * longest[0]
    beside = eye.project(level.points(np.array([[axis, at], [axis, at + 1e-3]])))
    pixel = 1e-3 / float(np.linalg.norm(beside[1] - beside[0]))
    slant = abs(at - eye.place[1]) / eye.place[2]
    spread = float(np.sqrt((END * pixel) ** 2 + (HEIGHT * slant) ** 2 + SIDE**2))
    return longest[0], spread, longest[1]


def _smoothed(light: Array) -> Array:
    kernel = np.ones(5) / 5
    padded = np.pad(light, ((0, 0), (2, 2)), mode="edge")
    return np.stack([np.convolve(lane, kernel, mode="valid") for lane in padded])
