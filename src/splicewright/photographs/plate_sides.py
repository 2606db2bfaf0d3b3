"""The sides of the plates of one end in one picture, looked for where the plan puts them.

Plates are looked at where they are: a plane as high above the cover as they stand. Seen from a
metre up, a plate 5 mm high taken as lying in the cover is 2 mm off at the belt's edge.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from splicewright.photographs.adjustment import Adjusted
from splicewright.photographs.arrays import Array, Yes
from splicewright.photographs.outline import Outline, paper_ends
from splicewright.photographs.picture import Picture

ACROSS, ALONG = 4e-4, 1e-3
"""Between samples of the row [m]."""
REACH = 0.6
"""How far ahead of the sheets a row is searched [m]."""
BANDS = (0.3, 0.7)
"""Where along its length, from its back, a plate is looked at [1]."""
_MISSING = 0.5
"""Darkness of a place, between belt (1) and plates (0), above which its plate seems missing."""
_GAP, _GAPS = 0.15, 0.75
"""A gap is so much darker than the plates beside it, and so many of the gaps between two plates
must be, or it is no row: light floor ahead of a cut has none."""


@dataclass(frozen=True, slots=True)
class PlannedRow:
    """The row as planned: plates of one end, their pitch, width, length and height [m]."""

    count: int
    pitch: float
    width: float
    length: float
    height: float


@dataclass(frozen=True, slots=True)
class Sides:
    """Sides of the plates in one picture and band: pixels (n, 2, 2), left then right; seen (n,)."""

    picture: int
    pixels: Array
    seen: Yes
    pixel: float


def find_sides(
    adjusted: Adjusted, picture: Picture, outline: Outline, number: int, row: PlannedRow
) -> list[Sides] | None:
    """The sides in both bands of the picture of this number; None where no such row is told."""
    eye, plane = adjusted.camera(number), adjusted.surface(height=row.height)
    begin = paper_ends(adjusted)[0] + 0.012
    lines = []
    for edge in (outline.left, outline.right):
        assert edge is not None
        x, y = adjusted.surface().meet(eye.place, eye.rays(edge.pixels)).T
        lines.append(np.polyfit(x, y, 1))
    left, right = (float(np.polyval(line, begin + 0.15)) for line in lines)
    if (row.count - 1) * row.pitch + row.width > left - right:
        return None
    along, across = np.arange(begin, begin + REACH, ALONG), np.arange(left, right, -ACROSS)
    grid = np.stack(np.meshgrid(along, across, indexing="ij"), axis=-1)
    seen = picture.sample(eye.project(plane.points(grid.reshape(-1, 2))))
    # Outside the picture there is nothing light.
    light = np.nan_to_num(seen.reshape(grid.shape[:2]))
    belt = float(np.median(light[:15, np.abs(across - across.mean()) < 0.4 * np.ptp(across)]))
    back = _back(along, across, light, row, belt)
    if back is None:
        return None
    by_band = []
    for share in BANDS:
        lanes = np.linspace(share - 0.1, share + 0.1, 7) * row.length
        x = np.polyval(back, across)
        band = np.stack([x + lane for lane in lanes[:, None]])
        every = np.stack([band, np.broadcast_to(across, band.shape)], axis=-1)
        level = picture.sample(eye.project(plane.points(every.reshape(-1, 2))))
        sides = _sides(across, level.reshape(band.shape).mean(axis=0), row, belt)
        if sides is None:
            return None
        places, whole = sides
        x = np.polyval(back, places) + share * row.length
        pixels = eye.project(plane.points(np.stack([x, places], axis=-1).reshape(-1, 2)))
        beside = np.array([[x.mean(), 0.0], [x.mean(), 1e-3]])
        step = np.diff(eye.project(plane.points(beside)), axis=0)
        by_band.append(
            Sides(number, pixels.reshape(-1, 2, 2), whole, 1e-3 / float(np.linalg.norm(step)))
        )
    return by_band


def _back(along: Array, across: Array, light: Array, row: PlannedRow, belt: float) -> Array | None:
    """Where the plates begin, forward, as a line (slope, place) over the places across."""
    span = (row.count - 1) * row.pitch + row.width
    half = 0.4 * row.width
    long = max(3, int(0.5 * row.length / ALONG))
    points = []
    for y in np.arange(-0.46, 0.47, 0.02) * span + across.mean():
        strip = np.median(light[:, np.abs(across - y) < half], axis=1)
        bright = strip > 1.35 * belt + 0.015
        start = next((a for a in range(len(bright) - long) if bright[a : a + long].all()), None)
        if start is not None:
            points.append((y, along[start]))
    if len(points) < 12:
        return None
    y, x = np.array(points).T
    line = np.array([0.0, float(np.median(x))])
    for near in (0.03, 0.01, 0.006):
        kept = np.abs(x - np.polyval(line, y)) < near
        if kept.sum() < 8:
            return None
        line = np.polyfit(y[kept], x[kept], 1)
    return np.asarray(line)


def _sides(across: Array, profile: Array, row: PlannedRow, belt: float) -> tuple[Array, Yes] | None:
    """Both sides of each plate across (n, 2) [m], and which plates are there.

    The width of a gap is its darkness summed up, which blur does not change, where its deepest
    grey does.
    """
    good = np.isfinite(profile)
    if good.mean() < 0.9:
        return None
    profile = np.interp(across[::-1], across[good][::-1], profile[good][::-1])[::-1]
    bright = float(np.percentile(profile, 75))
    if bright < 1.35 * belt:
        return None
    dark = np.clip((bright - profile) / (bright - belt), 0, 1.2)
    steps = (row.count - 1) / 2 - np.arange(row.count)
    middle = float(across.mean())

    def at(places: Array) -> Array:
        return np.asarray(np.interp(-places, -across, dark))

    gaps = np.concatenate([steps + 0.5, [steps[-1] - 0.5]])
    shifts = np.arange(-0.45, 0.45, 0.01) * row.pitch
    score = [
        at(middle + s + gaps * row.pitch).sum()
        - 0.5 * at(middle + s + (steps + 0.3) * row.pitch).sum()
        - 0.5 * at(middle + s + (steps - 0.3) * row.pitch).sum()
        for s in shifts
    ]
    middle += float(shifts[int(np.argmax(score))])
    near = [np.abs(across - middle - s * row.pitch) < 0.35 * row.width for s in steps]
    there = np.array([float(dark[n].mean()) < _MISSING for n in near])
    level = np.array([float(np.percentile(profile[n], 70)) for n in near])
    places = np.zeros((row.count, 2))
    gap = row.pitch - row.width
    both = there[:-1] & there[1:]
    between = at(np.asarray(middle + (steps[:-1] - 0.5) * row.pitch, dtype=np.float64))
    inner = np.array([float(np.median(dark[n])) for n in near])
    visible = between - np.maximum(inner[:-1], inner[1:]) > _GAP
    if both.sum() < 2 or visible[both].mean() < _GAPS:
        return None
    alone = np.zeros((row.count, 2), dtype=bool)
    for i, s in enumerate(steps):
        for side, way in ((0, 1), (1, -1)):
            other = i - way
            alone[i, side] = not 0 <= other < row.count or not there[other]
            if alone[i, side]:
                continue
            flank = middle + s * row.pitch + way * row.pitch / 2
            light = (level[i] + level[other]) / 2
            part = np.abs(across - flank) < min(0.3 * row.pitch, gap / 2 + 4e-3)
            share = np.clip((light - profile[part]) / max(light - belt, 1e-6), 0, 1.2)
            width = float(share.sum()) * ACROSS
            if width < 0.1 * gap:
                places[i, side] = flank - way * gap / 2
            else:
                places[i, side] = float(share @ across[part]) / float(share.sum()) - way * width / 2
    # Beside a gap lies belt here and floor there, light or dark: the plate's own width is better.
    places[:, 0] = np.where(alone[:, 0], places[:, 1] + row.width, places[:, 0])
    places[:, 1] = np.where(alone[:, 1], places[:, 0] - row.width, places[:, 1])
    places[alone.all(axis=1)] = (middle + steps[alone.all(axis=1)] * row.pitch)[:, None]
    there &= ~alone.all(axis=1)
    return places, there
