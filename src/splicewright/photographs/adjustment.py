"""One adjustment for all photographs of one thing: cameras, sheets, and the belt's surface at once.

Least squares over the corners of the sheets (bundle adjustment), with what is known beforehand as
further observations: how large the printer printed, how far a belt end bows, what lenses phones
have. All of it together gives the covariance that every measure is carried through.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from splicewright.photographs.arrays import Array
from splicewright.photographs.camera import INNER, OUTER, Camera, rotation
from splicewright.photographs.detection import SheetFound
from splicewright.photographs.surface import SHAPE, SPREAD, Surface
from splicewright.quantities.going_on import go_on

CORNER = 0.05
"""Least standard deviation of a corner [px]. Garrido-Jurado et al. 2014 and others tell of 0.05 to
0.1 px for such corners in good light (from memory); a phone's sharpening adds to it."""
FOCAL_KNOWN, FOCAL_UNKNOWN = 0.05, 0.25
"""Standard deviations of the log of the focal length, told by the file or not; assumption."""
USUAL_FOCAL = 1.45
"""Focal length of a phone's main camera in half longer sides (26 mm on film); from memory."""
AXIS = 0.006
"""Standard deviation of the axis from the picture's middle, in half longer sides: 8 px of 2560;
assumption."""
BEND = 0.035
"""Standard deviation of k1 and of k2: what a phone's own correction leaves, 2 % of the way to a
picture's corner; assumption."""
FIXED = 1e-6
"""The first sheet holds the belt's axes: its place is kept within this [m], [rad]."""


@dataclass(frozen=True, slots=True)
class Printed:
    """How large the sheets were printed: over what is drawn, along and across, and how sure [1]."""

    along: float
    across: float
    along_spread: float
    across_spread: float


@dataclass(frozen=True, slots=True)
class Sighting:
    """What one photograph gives to the adjustment.

    sheets : found in it; size : of the picture [px]; focal : in half longer sides, if told
    """

    sheets: tuple[SheetFound, ...]
    size: tuple[int, int]
    focal: float | None


@dataclass(frozen=True, slots=True)
class Adjusted:
    """The solution: all its numbers, their covariance, and how well the corners fit.

    numbers, covariance : printed scale (2), surface (`SHAPE`), each sheet (forward, left, turn),
        each camera (`INNER` and `OUTER`); shapes (n,) and (n, n)
    sheets : their numbers in order; sizes : of the pictures [px]
    residuals : of each sheet in each picture, (picture, sheet number) -> rms [px]
    worst : largest residual of a corner [px]; spread : standard deviation of a corner [px]
    """

    numbers: Array
    covariance: Array
    sheets: tuple[int, ...]
    sizes: tuple[tuple[int, int], ...]
    residuals: dict[tuple[int, int], float]
    worst: float
    spread: float

    def surface(self, numbers: Array | None = None, height: float = 0.0) -> Surface:
        """The surface of these numbers, or of the solution."""
        taken = self.numbers if numbers is None else numbers
        return Surface(taken[2 : 2 + SHAPE], height)

    def camera(self, picture: int, numbers: Array | None = None) -> Camera:
        """The camera of a picture, from these numbers or the solution's."""
        taken = self.numbers if numbers is None else numbers
        return _camera(taken, len(self.sheets), picture, self.sizes[picture])

    @property
    def sheet_poses(self) -> Array:
        """Forward and left place [m] and turn [rad] of each sheet, shape (n, 3)."""
        at = 2 + SHAPE
        return self.numbers[at : at + 3 * len(self.sheets)].reshape(-1, 3)


def adjust(seen: Sequence[Sighting], printed: Printed) -> Adjusted | None:
    """Solve for everything at once; None where no solution comes near the corners.

    Parameters
    ----------
    seen : one for each photograph, each with two sheets or more; together they hang on one
        another by the sheets they share
    printed : from the bars as measured
    """
    first = _first(seen, printed)
    if first is None:
        return None
    sheets, start, middle, spread = first
    used = [(n, s) for n, photo in enumerate(seen) for s in photo.sheets]
    sizes = tuple(photo.size for photo in seen)
    numbers, sigma = start, 3.0
    kept = [np.ones(len(s.corners), dtype=bool) for _, s in used]
    for step in range(3):
        numbers, jacobian, off = _solve(used, sizes, sheets, numbers, middle, spread, sigma, kept)
        each = [np.linalg.norm(o, axis=1) for o in off]
        rest = np.concatenate([e[k] for e, k in zip(each, kept, strict=True)])
        free = max(2 * len(rest) - _settled_by_corners(jacobian, len(rest)), 4.0)
        sigma = max(CORNER, float(np.sqrt(np.sum(rest**2) / free)))
        if step == 1:
            # Single corners under dust or a fold are left out, once, and few of them.
            bad = [e > max(4.5 * _robust(rest), 0.4) for e in each]
            if sum(int(b.sum()) for b in bad) <= 0.12 * sum(len(b) for b in bad):
                kept = [~b for b in bad]
    residuals = {
        (n, s.number): float(np.sqrt(np.mean(e[k] ** 2) / 2)) if k.any() else np.inf
        for (n, s), e, k in zip(used, each, kept, strict=True)
    }
    covariance = np.asarray(np.linalg.inv(jacobian.T @ jacobian), dtype=np.float64)
    return Adjusted(
        numbers, covariance, sheets, sizes, residuals, float(rest.max(initial=0.0)), sigma
    )


def _settled_by_corners(jacobian: Array, corners: int) -> float:
    """How many of the numbers the corners themselves settle: trace of their part of the hat."""
    part = jacobian[: 2 * corners]
    return float(np.trace(np.linalg.solve(jacobian.T @ jacobian, part.T @ part)))


def _robust(lengths: Array) -> float:
    """Standard deviation of a coordinate from the median length of its vectors (Rayleigh)."""
    return float(np.median(lengths)) / 1.1774


def _solve(
    used: list[tuple[int, SheetFound]],
    sizes: tuple[tuple[int, int], ...],
    sheets: tuple[int, ...],
    start: Array,
    middle: Array,
    spread: Array,
    sigma: float,
    kept: list[np.ndarray],
) -> tuple[Array, Array, list[Array]]:
    from scipy.optimize import least_squares

    def misses(numbers: Array) -> list[Array]:
        surface = Surface(numbers[2 : 2 + SHAPE])
        cameras = [_camera(numbers, len(sheets), n, size) for n, size in enumerate(sizes)]
        return [
            cameras[n].project(surface.points(_corners(numbers, sheets.index(s.number), s.places)))
            - s.pixels
            for n, s in used
        ]

    def residuals(scaled: Array) -> Array:
        go_on()
        numbers = middle + scaled * spread
        off = np.concatenate([m[k] for m, k in zip(misses(numbers), kept, strict=True)])
        return np.concatenate([off.ravel() / sigma, scaled])

    def slopes(scaled: Array) -> Array:
        every = _slopes(used, sizes, sheets, middle + scaled * spread)
        off = np.concatenate([e[k] for e, k in zip(every, kept, strict=True)])
        return np.concatenate([off.reshape(-1, len(scaled)) * spread / sigma, np.eye(len(scaled))])

    # In units of what was known beforehand all numbers are of one size.
    solution = least_squares(
        residuals, (start - middle) / spread, slopes, method="trf", x_scale="jac", max_nfev=60
    )
    numbers = np.asarray(middle + solution.x * spread)
    return numbers, np.asarray(solution.jac) / spread, misses(numbers)


def _slopes(
    used: list[tuple[int, SheetFound]],
    sizes: tuple[tuple[int, int], ...],
    sheets: tuple[int, ...],
    numbers: Array,
) -> list[Array]:
    """How the corners in the picture move with every number: of each sheet, (n, 2, numbers)."""
    surface = Surface(numbers[2 : 2 + SHAPE])
    every = []
    for n, s in used:
        sheet = sheets.index(s.number)
        at = 2 + SHAPE + 3 * sheet
        x, y, turn = numbers[at : at + 3]
        laid = _corners(numbers, sheet, s.places)
        cos, sin = np.cos(turn), np.sin(turn)
        own = np.zeros((len(laid), 2, len(numbers)))  # of the places on the belt
        own[:, 0, 0], own[:, 1, 0] = cos * s.places[:, 0], sin * s.places[:, 0]
        own[:, 0, 1], own[:, 1, 1] = -sin * s.places[:, 1], cos * s.places[:, 1]
        own[:, 0, at] = own[:, 1, at + 1] = 1.0
        own[:, 0, at + 2], own[:, 1, at + 2] = y - laid[:, 1], laid[:, 0] - x
        by_place, by_shape = surface.slopes(laid)
        risen = by_place @ own
        risen[:, :, 2 : 2 + SHAPE] += by_shape
        by_point, by_camera = _camera(numbers, len(sheets), n, sizes[n]).slopes(
            surface.points(laid)
        )
        moved = by_point @ risen
        own_camera = 2 + SHAPE + 3 * len(sheets) + (INNER + OUTER) * n
        moved[:, :, own_camera : own_camera + INNER + OUTER] += by_camera
        every.append(moved)
    return every


def _corners(numbers: Array, sheet: int, places: Array) -> Array:
    """Places (n, 2) on the belt of corners (n, 2) of a sheet as drawn [m]."""
    at = 2 + SHAPE + 3 * sheet
    x, y, turn = numbers[at : at + 3]
    forward, left = places[:, 0] * numbers[0], places[:, 1] * numbers[1]
    cos, sin = np.cos(turn), np.sin(turn)
    return np.column_stack([x + cos * forward - sin * left, y + sin * forward + cos * left])


def _camera(numbers: Array, sheets: int, picture: int, size: tuple[int, int]) -> Camera:
    at = 2 + SHAPE + 3 * sheets + (INNER + OUTER) * picture
    inner = numbers[at : at + INNER]
    return Camera(inner, numbers[at + INNER : at + INNER + OUTER], size)


def _first(
    seen: Sequence[Sighting], printed: Printed
) -> tuple[tuple[int, ...], Array, Array, Array] | None:
    """Sheets in order, where to begin, and what is known beforehand with its spread."""
    order = tuple(sorted({s.number for photo in seen for s in photo.sheets}))
    best: tuple[float, Array] | None = None
    for focal in (1.45, 1.1, 1.9):
        begun = _begin(seen, order, printed, focal)
        if begun is not None and (best is None or begun[0] < best[0]):
            best = begun
    if best is None:
        return None
    start = best[1]
    middle, spread = np.zeros(len(start)), np.full(len(start), 10.0)
    middle[:2] = printed.along, printed.across
    spread[:2] = printed.along_spread, printed.across_spread
    spread[2 : 2 + SHAPE] = SPREAD
    hold = 2 + SHAPE
    middle[hold : hold + 3], spread[hold : hold + 3] = start[hold : hold + 3], FIXED
    for n, photo in enumerate(seen):
        at = 2 + SHAPE + 3 * len(order) + (INNER + OUTER) * n
        half = max(photo.size) / 2
        known_focal = photo.focal
        middle[at] = np.log((known_focal or USUAL_FOCAL) * half)
        spread[at] = FOCAL_UNKNOWN if known_focal is None else FOCAL_KNOWN
        spread[at + 1 : at + 3] = AXIS
        spread[at + 3 : at + 5] = BEND
    return order, start, middle, spread


def _begin(
    seen: Sequence[Sighting], order: tuple[int, ...], printed: Printed, focal: float
) -> tuple[float, Array] | None:
    """A flat belt and plain lenses of this focal length: how far corners miss, and the numbers."""
    import cv2

    poses: dict[int, Array] = {}  # sheet -> forward, left, turn on the belt
    cameras: list[Array | None] = [None] * len(seen)
    inners = []
    for photo in seen:
        half = max(photo.size) / 2
        inners.append(np.array([np.log((photo.focal or focal) * half), 0, 0, 0, 0]))
    scale = np.array([printed.along, printed.across])
    todo = list(range(len(seen)))
    while todo:
        # The photograph that shares a sheet with those already placed; the first stands alone.
        n = next((k for k in todo if any(s.number in poses for s in seen[k].sheets)), todo[0])
        if poses and not any(s.number in poses for s in seen[n].sheets):
            return None
        todo.remove(n)
        photo = seen[n]
        base = max(photo.sheets, key=lambda s: (s.number in poses, len(s.corners) * s.square))
        x, y, turn = poses.setdefault(base.number, np.zeros(3))
        lens = Camera(inners[n], np.zeros(OUTER), photo.size)
        matrix = np.array([[lens.focal, 0, lens.axis[0]], [0, lens.focal, lens.axis[1]], [0, 0, 1]])
        flat = np.column_stack([base.places * scale, np.zeros(len(base.places))])
        try:
            good, turned, moved = cv2.solvePnP(
                flat, base.pixels, matrix, None, flags=cv2.SOLVEPNP_IPPE
            )
        except cv2.error:
            return None
        if not good:
            return None
        # From the sheet's axes to the belt's: a turn about z and a shift.
        spin = rotation(np.array([0, 0, -turn]))
        whole = cv2.Rodrigues(turned)[0] @ spin
        vector = cv2.Rodrigues(whole)[0].ravel()
        shift = moved.ravel() - whole @ np.array([x, y, 0.0])
        cameras[n] = np.concatenate([vector, shift])
        eye = Camera(inners[n], np.concatenate([vector, shift]), photo.size)
        for s in photo.sheets:
            if s.number not in poses:
                laid = Surface(np.zeros(SHAPE)).meet(eye.place, eye.rays(s.pixels))
                if not np.isfinite(laid).all():
                    return None
                poses[s.number] = _laid(s.places * scale, laid)
    return _centred(seen, order, poses, inners, cameras, scale)


def _laid(places: Array, laid: Array) -> Array:
    """Rigid motion from a sheet's places to the belt: forward, left, turn."""
    a, b = places - places.mean(axis=0), laid - laid.mean(axis=0)
    turn = np.arctan2(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]), np.sum(a * b))
    cos, sin = np.cos(turn), np.sin(turn)
    moved = laid.mean(axis=0) - np.array([[cos, -sin], [sin, cos]]) @ places.mean(axis=0)
    return np.array([moved[0], moved[1], turn])


def _centred(
    seen: Sequence[Sighting],
    order: tuple[int, ...],
    poses: dict[int, Array],
    inners: list[Array],
    cameras: list[Array | None],
    scale: Array,
) -> tuple[float, Array]:
    """The same with the belt's axes in the middle of the sheets, along their arrows."""
    import cv2

    turns = np.array([poses[n][2] for n in order])
    mean = float(np.arctan2(np.sin(turns).mean(), np.cos(turns).mean()))
    centre = np.mean([poses[n][:2] for n in order], axis=0)
    cos, sin = np.cos(mean), np.sin(mean)
    back = np.array([[cos, sin], [-sin, cos]])
    numbers = [scale, np.zeros(SHAPE)]
    for n in order:
        place = back @ (poses[n][:2] - centre)
        turn = poses[n][2] - mean
        numbers.append(np.array([*place, np.arctan2(np.sin(turn), np.cos(turn))]))
    for inner, pose in zip(inners, cameras, strict=True):
        assert pose is not None
        old = rotation(pose[:3])
        new = old @ rotation(np.array([0, 0, mean]))
        shift = pose[3:] + old @ np.array([*centre, 0.0])
        numbers.append(np.concatenate([inner, cv2.Rodrigues(new)[0].ravel(), shift]))
    start = np.concatenate(numbers)
    off = 0.0
    for n, photo in enumerate(seen):
        eye = _camera(start, len(order), n, photo.size)
        for s in photo.sheets:
            laid = _corners(start, order.index(s.number), s.places)
            flat = np.column_stack([laid, np.zeros(len(laid))])
            off += float(np.sum((eye.project(flat) - s.pixels) ** 2))
    return off, start
