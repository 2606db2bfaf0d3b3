"""Find scale sheets in a picture: corners to a fraction of a pixel, and how sharp they are."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from splicewright.photographs.arrays import Array
from splicewright.photographs.picture import Picture
from splicewright.photographs.scale_sheet import (
    ACROSS,
    DOWN,
    MARK,
    PLACES,
    SQUARE,
    corner_places,
    mark_numbers,
)
from splicewright.quantities.going_on import go_on

FEWEST_CORNERS = 6
"""Corners of a sheet below which it is not used: half of them, so that a torn or covered one
still counts and a chance find does not."""
TWICE = 2
"""So many marks of one number seen again make a second sheet."""
_WINDOW = 0.22
"""Half side of the patch a corner is found in, in squares: clear of the marks."""
_REACH = 0.16
"""Half length of the profile across a square's side, in squares."""


@dataclass(frozen=True, slots=True)
class SheetFound:
    """One sheet in one picture.

    number : of the sheet; corners : which of its corners, from 0, shape (n,)
    pixels : where they are, shape (n, 2) [px]; square : mean side of a square there [px]
    blur : standard deviation of the blur across its sharpest and its softest sides, the larger [px]
    contrast : white less black over white, 0 to 1: glare and haze lower it
    """

    number: int
    corners: Array
    pixels: Array
    square: float
    blur: float
    contrast: float

    @property
    def places(self) -> Array:
        """The corners on the sheet as drawn, (forward, left), shape (n, 2) [m]."""
        every: Array = np.array(corner_places())
        return np.asarray(every[self.corners.astype(int)])


@dataclass(frozen=True, slots=True)
class Detected:
    """What was found in one picture: sheets, and numbers that lie there twice."""

    sheets: tuple[SheetFound, ...]
    twice: tuple[int, ...]


def find_sheets(picture: Picture) -> Detected:
    """Find every scale sheet that shows `FEWEST_CORNERS` or more.

    Parameters
    ----------
    picture : upright, grey values 0 to 255
    """
    import cv2

    go_on()
    marks, numbers, _ = _marks().detectMarkers(picture.grey)
    if numbers is None:
        return Detected((), ())
    counted = Counter(int(n) for n in numbers.ravel())
    # One mark seen twice is a chance find in grain or print; a second sheet repeats several.
    again = Counter(n // len(mark_numbers(1)) + 1 for n, often in counted.items() if often > 1)
    twice = sorted(sheet for sheet, marks_ in again.items() if marks_ >= TWICE)
    sheets = []
    for place in PLACES:
        # Of a mark seen twice nobody knows which is the true one: the others do.
        mine = [
            i
            for i, n in enumerate(numbers.ravel())
            if int(n) in mark_numbers(place.number) and counted[int(n)] == 1
        ]
        if len(mine) < 2 or place.number in twice:
            continue
        corners, which, _, _ = _board(place.number).detectBoard(
            picture.grey,
            markerCorners=[marks[i] for i in mine],
            markerIds=numbers[mine],
        )
        if which is None or len(which) < FEWEST_CORNERS:
            continue
        rough = corners.reshape(-1, 2).astype(np.float64)
        square = _square(rough, which.ravel())
        half = max(2, min(12, round(_WINDOW * square)))
        stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 60, 1e-3)
        fine = cv2.cornerSubPix(
            picture.grey, corners.reshape(-1, 1, 2).astype(np.float32), (half, half), (-1, -1), stop
        )
        pixels = np.asarray(fine, dtype=np.float64).reshape(-1, 2)
        # A corner that walked off is none: something lies across it.
        stayed = np.linalg.norm(pixels - rough, axis=1) < 0.2 * square
        which, pixels = which.ravel()[stayed], pixels[stayed]
        if len(which) < FEWEST_CORNERS:
            continue
        blur, contrast = _sharpness(picture, which, pixels, square)
        sheets.append(
            SheetFound(place.number, which.astype(np.float64), pixels, square, blur, contrast)
        )
    return Detected(tuple(sheets), tuple(twice))


@cache
def _dictionary() -> Any:
    import cv2

    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_100)


@cache
def _marks() -> Any:
    import cv2

    how = cv2.aruco.DetectorParameters()
    how.adaptiveThreshWinSizeMin, how.adaptiveThreshWinSizeMax = 5, 45
    how.adaptiveThreshWinSizeStep = 20
    how.minMarkerPerimeterRate = 0.015
    return cv2.aruco.ArucoDetector(_dictionary(), how)


@cache
def _board(sheet: int) -> Any:
    import cv2

    numbers = np.array(mark_numbers(sheet), dtype=np.int32)
    board = cv2.aruco.CharucoBoard((ACROSS, DOWN), SQUARE, MARK, _dictionary(), numbers)
    how = cv2.aruco.CharucoParameters()
    how.minMarkers = 1
    return cv2.aruco.CharucoDetector(board, how)


def _neighbours(which: Array) -> list[tuple[int, int]]:
    """Pairs of places in `which` whose corners are one square apart."""
    at = {int(n): i for i, n in enumerate(which)}
    inner = ACROSS - 1
    pairs = []
    for n, i in at.items():
        if n % inner + 1 < inner and n + 1 in at:
            pairs.append((i, at[n + 1]))
        if n + inner in at:
            pairs.append((i, at[n + inner]))
    return pairs


def _square(pixels: Array, which: Array) -> float:
    sides = [np.linalg.norm(pixels[i] - pixels[j]) for i, j in _neighbours(which)]
    return float(np.mean(sides)) if sides else float(np.ptp(pixels, axis=0).max() / ACROSS)


def _sharpness(picture: Picture, which: Array, pixels: Array, square: float) -> tuple[float, float]:
    """Blur [px] and contrast from profiles across the sides between neighbouring corners.

    A step of height C blurred by a Gaussian of s rises by C / (s sqrt(2 pi)) a pixel at most.
    """
    steps = np.arange(-1.0, 1.0 + 1e-9, 0.04)
    blurs: dict[bool, list[float]] = {True: [], False: []}
    contrasts = []
    for i, j in _neighbours(which):
        along = pixels[j] - pixels[i]
        length = float(np.linalg.norm(along))
        normal = np.array([-along[1], along[0]]) / length
        reach = max(2.5, _REACH * square)
        lanes = np.linspace(0.35, 0.65, 5)[:, None, None] * along
        line = pixels[i] + lanes + steps[None, :, None] * reach * normal
        profile = picture.sample(line.reshape(-1, 2)).reshape(5, -1).mean(axis=0)
        low, high = np.sort(profile)[[2, -3]]
        rise = float(np.abs(np.gradient(profile, steps * reach)).max())
        if high > low and rise > 0:
            blurs[abs(along[0]) > abs(along[1])].append((high - low) / rise / np.sqrt(2 * np.pi))
            contrasts.append((high - low) / max(high, 1e-9))
    if not contrasts:
        return np.inf, 0.0
    worst = max(float(np.median(b)) for b in blurs.values() if b)
    return worst, float(np.median(contrasts))
