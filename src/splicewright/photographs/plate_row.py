"""Plates of one end in photographs: place, tilt, set-back, those that seem missing or stand off.

What seems missing, bent or standing off is a candidate for a person to confirm, never a verdict.
Two photographs from places beside each other tell how high a plate stands: it moves between them
against the row.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from splicewright.photographs.adjustment import Adjusted
from splicewright.photographs.arrays import Array, Yes
from splicewright.photographs.outline import Outline
from splicewright.photographs.picture import Picture
from splicewright.photographs.plate_sides import BANDS, PlannedRow, Sides, find_sides

HEIGHT = 0.5e-3
"""How far plates may stand higher or lower than the range says, standard deviation [m]."""
FLANK = 0.23
"""Standard deviation of a plate's side as found in one picture and band [px]; from the trials."""
CONFIDENT = 1.96
SIDE = 4e-4
"""Standard deviation of the belt's side at the row from the line through what is seen of it [m];
assumption of this tool: knives wander and worn sides are wavy."""
APART = 0.08
"""Root of the squared differences of the photographs' slants, beneath which they tell no height."""
STANDS_OFF = 1e-3
"""A plate that stands so much over the row, and more than its range, is a candidate [m]."""


@dataclass(frozen=True, slots=True)
class PlateSeen:
    """One plate, numbered from the left of who faces the joint.

    place : across from the belt's middle, left positive [m]; off : from its place in the row of
    equal pitch that fits best [m]; half_width : of the 95 % range of `off` [m]; tilt : turned to
    the left positive [rad]; tilt_half_width : [rad]; all None where it seems missing
    lifts : of its back and front over what most plates do [m]; None from one place of the camera
    """

    number: int
    place: float | None
    off: float | None
    half_width: float | None
    tilt: float | None
    tilt_half_width: float | None
    lifts: tuple[float, float] | None = None
    lift_half_width: float | None = None

    @property
    def stands_off(self) -> bool:
        """Whether it seems bent or to stand off the belt: to be confirmed by a person."""
        if self.lifts is None or self.lift_half_width is None:
            return False
        return max(self.lifts) > max(STANDS_OFF, self.lift_half_width)

    @property
    def missing(self) -> bool:
        """Whether nothing like a plate is seen there: to be confirmed by a person."""
        return self.place is None


@dataclass(frozen=True, slots=True)
class RowMeasured:
    """The row: its plates, mean pitch and its middle across from the belt's, with 95 % ranges.

    setbacks : from the belt's left and right edge to the outermost plate, with half-widths; None
        where that plate seems missing [m]
    covariance : of places, distances off the even row, tilts of the plates that are there, middle,
        pitch, set-backs, and lifts of backs and fronts where they are known
    drawn : for each picture, the sides of the plates that were seen, shapes (n, 2) [px]
    """

    plates: tuple[PlateSeen, ...]
    pitch: float
    pitch_half_width: float
    middle: float
    middle_half_width: float
    setbacks: tuple[tuple[float, float] | None, tuple[float, float] | None]
    covariance: Array
    drawn: tuple[dict[str, Array], ...]

    def turned(self) -> RowMeasured:
        """The same, numbered from the left of who faces away from the joint."""
        plates = tuple(
            replace(
                plate,
                number=number,
                place=None if plate.place is None else -plate.place,
                off=None if plate.off is None else -plate.off,
            )
            for number, plate in enumerate(reversed(self.plates), 1)
        )
        n = sum(not plate.missing for plate in self.plates)
        one = np.arange(n)[::-1]
        apart = np.array([3 * n, 3 * n + 1, 3 * n + 3, 3 * n + 2])
        order = [one, one + n, one + 2 * n, apart]
        order += [one + at for at in range(3 * n + 4, len(self.covariance), n)]
        which = np.concatenate(order).astype(int)
        sign = np.where((which < 2 * n) | (which == 3 * n), -1.0, 1.0)
        return replace(
            self,
            plates=plates,
            middle=-self.middle,
            setbacks=(self.setbacks[1], self.setbacks[0]),
            covariance=sign[:, None] * self.covariance[np.ix_(which, which)] * sign,
        )


def measure_row(
    adjusted: Adjusted,
    pictures: Sequence[Picture],
    outlines: Sequence[Outline],
    row: PlannedRow,
) -> RowMeasured | None:
    """Measure the row; None where no row of that many plates can be told in every picture.

    Parameters
    ----------
    adjusted, pictures : as for the outline
    outlines : with both sides of the belt
    row : as planned
    """
    bands: list[Sides] = []
    for number, picture in enumerate(pictures):
        sides = find_sides(adjusted, picture, outlines[number], number, row)
        if sides is None:
            return None
        bands += sides
    seen = np.all([s.seen for s in bands], axis=0)
    if seen.sum() < 3:
        return None

    aside = _slants(adjusted, bands)

    def figures(numbers: Array, height: float) -> Array:
        return _figures(adjusted, outlines, bands, seen, row, numbers, height, aside)

    middle = figures(adjusted.numbers, row.height)
    spread = np.sqrt(np.diag(adjusted.covariance))
    columns = []
    for n, step in enumerate(0.1 * spread):
        moved = adjusted.numbers + step * (np.arange(len(spread)) == n)
        columns.append((figures(moved, row.height) - middle) / step)
    slope = np.column_stack(columns)
    rise = (figures(adjusted.numbers, row.height + HEIGHT) - middle)[:, None]
    covariance = slope @ adjusted.covariance @ slope.T + rise @ rise.T
    n = int(seen.sum())
    # Two sides of each plate in each picture and band; a tilt is a difference of two bands.
    one = FLANK * float(np.mean([s.pixel for s in bands])) / np.sqrt(len(bands))
    apart = (BANDS[1] - BANDS[0]) * row.length
    side = np.hypot(SIDE, one)
    own: list[Array] = [np.full(2 * n, one), np.full(n, 2 * one / apart)]
    own.append(np.array([one, one / n, side, side]))
    if aside is not None:
        # One band of each picture tells a lift.
        slant = float(np.sqrt(np.sum((aside - aside.mean()) ** 2)))
        own.append(np.full(2 * n, one * np.sqrt(len(bands)) / slant))
    covariance += np.diag(np.concatenate(own) ** 2)
    half = CONFIDENT * np.sqrt(np.diag(covariance))
    plates = []
    at = 0
    for number in range(1, row.count + 1):
        if not seen[number - 1]:
            plates.append(PlateSeen(number, None, None, None, None, None))
            continue
        place, off, wide, tilt, turned = (
            float(v)
            for v in (
                middle[at],
                middle[n + at],
                half[n + at],
                middle[2 * n + at],
                half[2 * n + at],
            )
        )
        plate = PlateSeen(number, place, off, wide, tilt, turned)
        if aside is not None:
            back = 3 * n + 4 + at
            lifts = float(middle[back]), float(middle[back + n])
            high = float(max(half[back], half[back + n]))
            plate = replace(plate, lifts=lifts, lift_half_width=high)
        plates.append(plate)
        at += 1
    left, right = (
        (float(middle[k]), float(half[k])) if seen[outermost] else None
        for k, outermost in ((3 * n + 2, 0), (3 * n + 3, -1))
    )
    return RowMeasured(
        tuple(plates),
        float(middle[3 * n + 1]),
        float(half[3 * n + 1]),
        float(middle[3 * n]),
        float(half[3 * n]),
        (left, right),
        covariance,
        tuple(_drawn(bands[2 * n : 2 * n + 2], seen) for n in range(len(pictures))),
    )


def _drawn(bands: Sequence[Sides], seen: Yes) -> dict[str, Array]:
    rear, front = bands
    return {
        f"plate {n + 1} {name}": np.stack([rear.pixels[n, side], front.pixels[n, side]])
        for n in np.flatnonzero(seen)
        for side, name in enumerate(("left", "right"))
    }


def _figures(
    adjusted: Adjusted,
    outlines: Sequence[Outline],
    bands: Sequence[Sides],
    seen: Yes,
    row: PlannedRow,
    numbers: Array,
    height: float,
    aside: Array | None,
) -> Array:
    """In the order of `RowMeasured.covariance`."""
    cover, plane = adjusted.surface(numbers), adjusted.surface(numbers, height)
    every, beside = [], []
    for sides in bands:
        eye = adjusted.camera(sides.picture, numbers)
        outline = outlines[sides.picture]
        pair = sides.pixels[seen].reshape(-1, 2)
        laid = plane.meet(eye.place, eye.rays(pair)).reshape(-1, 2, 2).mean(axis=1)
        lines = []
        for edge in (outline.left, outline.right):
            assert edge is not None
            x, y = cover.meet(eye.place, eye.rays(edge.pixels)).T
            lines.append(np.polyfit(x, y, 1))
        centre = np.mean(lines, axis=0)
        every.append(np.column_stack([laid[:, 0], laid[:, 1] - np.polyval(centre, laid[:, 0])]))
        (x1, y1), (x2, y2) = laid[0], laid[-1]
        outer = np.polyval(lines[0], x1) - y1, y2 - np.polyval(lines[1], x2)
        beside.append(np.array(outer) - row.width / 2)
    rear = np.mean(every[0::2], axis=0)
    front = np.mean(every[1::2], axis=0)
    places = (rear[:, 1] + front[:, 1]) / 2
    order = np.flatnonzero(seen).astype(float)
    steps = order - (len(seen) - 1) / 2
    fit = np.polyfit(steps, places, 1)
    tilt = (front[:, 1] - rear[:, 1]) / (front[:, 0] - rear[:, 0])
    # A row that runs a little askew is no tilt of its plates.
    off = places - np.polyval(fit, steps)
    setbacks = np.mean(beside, axis=0)
    parts: list[Array] = [places, off, tilt, np.array([fit[1], -fit[0]]), setbacks]
    if aside is not None:
        slant = (aside - aside.mean())[:, None]
        for band in (every[0::2], every[1::2]):
            across = np.array([laid[:, 1] for laid in band])
            # Seen from further left, what stands higher lies further right in the cover.
            lift = np.sum(slant * (across - across.mean(axis=0)), axis=0) / np.sum(slant**2)
            parts.append(lift - _most(steps, lift))
    return np.concatenate(parts)


def _most(steps: Array, lift: Array) -> Array:
    """What most plates do, as a curve over the row: the belt lies in a bow, and how the cameras
    were held tells no more of one height than of that. Plates that stand out are left out."""
    kept, curve = np.ones(len(lift), dtype=bool), np.zeros(len(lift))
    power = min(2, len(lift) - 2)
    for _ in range(3):
        curve = np.asarray(np.polyval(np.polyfit(steps[kept], lift[kept], power), steps), float)
        off = np.abs(lift - curve)
        near = off <= 3 * 1.4826 * float(np.median(off)) + 1e-4
        if near.sum() <= power + 1:
            break
        kept = near
    return curve


def _slants(adjusted: Adjusted, bands: Sequence[Sides]) -> Array | None:
    """By how much each picture moves a plate to the left for its height over the cover; None
    where all pictures are from one place."""
    eyes = [adjusted.camera(sides.picture).place for sides in bands[0::2]]
    slants = np.array([-eye[1] / eye[2] for eye in eyes])
    apart = float(np.sqrt(np.sum((slants - slants.mean()) ** 2)))
    return slants if apart >= APART else None
