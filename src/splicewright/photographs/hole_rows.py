"""Holes of a punched end against the plan: each looked for where the plan puts it.

A hole is seen askew. Inside its upper rim lies the dark wall, and the floor where a ray passes the
lower rim too: the upper circle, and in it what it shares with the lower one, which stands aside by
the belt's thickness. Each hole is where these two, with light of their own each, fit best, so that
a light floor pulls no hole towards the camera.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from splicewright.photographs.adjustment import Adjusted
from splicewright.photographs.arrays import Array, Places, Yes
from splicewright.photographs.belt_end import (
    carried,
    edges_of,
    fitted,
    line_of,
    places_of,
    stretches,
)
from splicewright.photographs.edges import Edge
from splicewright.photographs.measures import CONFIDENT
from splicewright.photographs.outline import Outline
from splicewright.photographs.picture import Picture

STEP = 6e-4
"""Between samples around a hole [m]."""
RING = 2.5e-3
"""Cover around a hole that is looked at [m]."""
REACH = 0.45
"""A hole is looked for so far from its place, in distances to its nearest neighbour [1]; at most
`FURTHEST` [m]."""
FURTHEST = 8e-3
CLEAR = 0.45
"""Share of the light's variance that a hole must explain, or it is not seen [1]; in the trials
true ones had 0.6 and more."""
RIM = 0.17
"""Standard deviation of a hole's place in one picture [px]; from the trials."""
THICKNESS = 0.8e-3
"""Standard deviation of the belt's thickness and of how upright a hole was punched [m]."""
MIDDLE = 1e-4
"""Standard deviation of the belt's middle from the middle of what is seen of its sides: knives
wander and worn sides are wavy [m]; assumption of this tool, as for plates."""
FEWEST = 0.6
"""Share of the holes that must be seen, or the rows are refused [1]."""


@dataclass(frozen=True, slots=True)
class PlannedHole:
    """Where a hole is to be: behind the cut, and left of the belt's middle, of who faces it [m]."""

    plate: int
    row: int
    behind: float
    across: float


@dataclass(frozen=True, slots=True)
class HoleSeen:
    """One hole: how far behind its place from the cut, and left of it, it lies, with half-widths.

    out : of the line of its row [m]; all None where nothing like a hole is seen: to be confirmed
    """

    planned: PlannedHole
    behind: float | None
    behind_half_width: float | None
    across: float | None
    across_half_width: float | None
    out: float | None
    out_half_width: float | None


@dataclass(frozen=True, slots=True)
class HolesMeasured:
    """The holes, and each row: how far its middle lies behind its place, its lean over the belt's
    width (left further back positive), and how far all of it lies to the left.

    rows : row -> (behind, lean, left), each a value with its half-width [m]
    covariance : of behind and left of every hole seen, then of the rows' values [m2]
    drawn : for each picture, the rims of the holes seen, shapes (n, 2) [px]
    """

    holes: tuple[HoleSeen, ...]
    rows: dict[int, tuple[tuple[float, float], tuple[float, float], tuple[float, float]]]
    covariance: Array
    drawn: tuple[dict[str, Array], ...]


@dataclass(frozen=True, slots=True)
class _Found:
    """Of one picture: middles of the holes, shape (n, 2) [px]; which are seen; size of a pixel."""

    pixels: Array
    seen: Yes
    pixel: float
    slant: Array


def find_holes(
    adjusted: Adjusted,
    pictures: Sequence[Picture],
    outlines: Sequence[Outline],
    planned: Sequence[PlannedHole],
    hole: float,
    thickness: float,
) -> HolesMeasured | None:
    """Find every planned hole; None where too few are seen.

    Parameters
    ----------
    adjusted, pictures, outlines : as for a belt end, with both sides and the cut
    planned : the holes; hole : their diameter; thickness : of the belt [m]
    """
    edges = {name: edges_of(outlines, name) for name in ("left", "right", "cut")}
    places = np.array([(p.behind, p.across) for p in planned])
    width = _frame(adjusted, edges, adjusted.numbers)[4]
    views = [
        _find(adjusted, edges, picture, n, places, hole, thickness)
        for n, picture in enumerate(pictures)
    ]
    seen = np.all([f.seen for f in views], axis=0)
    which = np.array([p.row for p in planned])
    if seen.mean() < FEWEST or any((seen & (which == row)).sum() < 3 for row in set(which)):
        return None
    rows = sorted(set(which.tolist()))

    def figures(numbers: Array) -> Array:
        off = np.mean(
            [_off(adjusted, edges, numbers, n, f.pixels, places) for n, f in enumerate(views)],
            axis=0,
        )
        columns: list[Array] = [off[seen, 0], off[seen, 1]]
        columns += [_row(places, off, seen & (which == row), width) for row in rows]
        return np.concatenate(columns)

    middle = figures(adjusted.numbers)
    covariance = carried(figures, adjusted)
    n = int(seen.sum())
    # Each hole's own error, and a thickness that is a little another for all of them.
    own = RIM * float(np.mean([f.pixel for f in views])) / len(views) ** 0.5
    slant = np.mean([f.slant for f in views], axis=0)[seen] * THICKNESS / 2
    covariance[: 2 * n, : 2 * n] += np.diag(np.full(2 * n, own**2))
    covariance[: 2 * n, : 2 * n] += np.diag(slant.T.ravel() ** 2)
    knife = _wandering(adjusted, edges)
    covariance[:n, :n] += (knife / 2) ** 2
    covariance[n : 2 * n, n : 2 * n] += MIDDLE**2
    for at, row in enumerate(rows):
        few = (seen & (which == row)).sum()
        mine = np.abs(slant[which[seen] == row]).mean(axis=0)
        spread = np.array([own / few**0.5, 3.5 * own / few**0.5, own / few**0.5])
        spread = np.hypot(spread, [mine[0], 0.3 * mine[0], mine[1]])
        spread = np.hypot(spread, [knife / 2, knife, MIDDLE])
        part = slice(2 * n + 3 * at, 2 * n + 3 * at + 3)
        covariance[part, part] += np.diag(spread**2)
    half = CONFIDENT * np.sqrt(np.diag(covariance))
    holes = _holes(planned, places, middle, half, seen, which, width, CONFIDENT * own)
    lines = {
        row: tuple(
            (float(middle[2 * n + 3 * at + k]), float(half[2 * n + 3 * at + k])) for k in range(3)
        )
        for at, row in enumerate(rows)
    }
    drawn = tuple(
        _drawn(adjusted, k, f.pixels[seen], hole, np.flatnonzero(seen)) for k, f in enumerate(views)
    )
    return HolesMeasured(holes, lines, covariance, drawn)  # type: ignore[arg-type]


def _row(places: Array, off: Array, mine: Yes, width: float) -> Array:
    lean, behind = np.polyfit(places[mine, 1], off[mine, 0], 1)
    return np.array([behind, lean * width, off[mine, 1].mean()])


def _holes(
    planned: Sequence[PlannedHole],
    places: Array,
    middle: Array,
    half: Array,
    seen: Yes,
    which: Array,
    width: float,
    own: float,
) -> tuple[HoleSeen, ...]:
    n = int(seen.sum())
    out = np.zeros(len(planned))
    behind, across = np.full(len(planned), np.nan), np.full(len(planned), np.nan)
    behind[seen], across[seen] = middle[:n], middle[n : 2 * n]
    for row in set(which.tolist()):
        mine = seen & (which == row)
        out[mine] = behind[mine] - np.polyval(
            np.polyfit(places[mine, 1], behind[mine], 1), places[mine, 1]
        )
    holes, at = [], 0
    for k, hole in enumerate(planned):
        if not seen[k]:
            holes.append(HoleSeen(hole, None, None, None, None, None, None))
            continue
        holes.append(
            HoleSeen(
                hole, float(behind[k]), float(half[at]), float(across[k]), float(half[n + at]),
                float(out[k]), own,
            )
        )  # fmt: skip
        at += 1
    return tuple(holes)


def _frame(
    adjusted: Adjusted, edges: dict[str, list[tuple[int, Edge]]], numbers: Array
) -> tuple[float, float, float, Array, float]:
    """Turn of the belt's direction, its middle (place, slope after turning), the cut's curve over
    places across, and the width."""
    places = places_of(adjusted, edges, numbers)
    sides = [line_of(places[name], np.ones(len(places[name]))) for name in ("left", "right")]
    turn = float(np.arctan((sides[0][1] + sides[1][1]) / 2))
    spun = {name: at @ _spin(turn) for name, at in places.items()}
    x, y = spun["cut"].T
    left, right = (
        line_of(spun[name], np.ones(len(spun[name])), float(x.mean())) for name in ("left", "right")
    )
    centre = (left[0] + right[0]) / 2
    basis = np.column_stack([np.ones_like(y), y - centre, (y - centre) ** 2])
    return turn, centre, float(x.mean()), fitted(basis, x, np.ones(len(x))), left[0] - right[0]


def _wandering(adjusted: Adjusted, edges: dict[str, list[tuple[int, Edge]]]) -> float:
    """How far twelfths of the cut lie off its curve, root mean square: the knife wanders, and with
    twelve of them to hold it the cut's lean over the width is off by as much [m]."""
    turn, centre, _, curve, width = _frame(adjusted, edges, adjusted.numbers)
    x, y = (places_of(adjusted, edges, adjusted.numbers)["cut"] @ _spin(turn)).T
    y = y - centre
    return float(np.std(stretches(2 * y / width, x - np.polyval(curve[::-1], y))))


def _spin(turn: float) -> Array:
    cos, sin = np.cos(turn), np.sin(turn)
    return np.array([[cos, -sin], [sin, cos]])


def _off(
    adjusted: Adjusted,
    edges: dict[str, list[tuple[int, Edge]]],
    numbers: Array,
    picture: int,
    pixels: Array,
    places: Array,
) -> Array:
    """How far behind and to the left of their places the holes lie, shape (n, 2) [m]."""
    turn, centre, _, curve, _ = _frame(adjusted, edges, numbers)
    eye = adjusted.camera(picture, numbers)
    laid = adjusted.surface(numbers).meet(eye.place, eye.rays(pixels)) @ _spin(turn)
    across = laid[:, 1] - centre
    behind = curve[0] + curve[1] * across + curve[2] * across**2 - laid[:, 0]
    return np.column_stack([behind, across]) - places


def _find(
    adjusted: Adjusted,
    edges: dict[str, list[tuple[int, Edge]]],
    picture: Picture,
    number: int,
    places: Array,
    hole: float,
    thickness: float,
) -> _Found:
    turn, centre, _, curve, _ = _frame(adjusted, edges, adjusted.numbers)
    eye, surface = adjusted.camera(number), adjusted.surface()
    at = places[:, 1]
    spun = np.column_stack(
        [curve[0] + curve[1] * at + curve[2] * at**2 - places[:, 0], at + centre]
    )
    laid = spun @ _spin(turn).T
    between = np.linalg.norm(places[:, None] - places, axis=2) + 9 * np.eye(len(places))
    reach = min(REACH * float(between.min()), FURTHEST)
    wide = hole / 2 + RING + reach
    side = _evenly(wide)
    grid = np.stack(np.meshgrid(side, side, indexing="ij"), axis=-1)
    every = laid[:, None, None] + grid
    light = picture.sample(eye.project(surface.points(every.reshape(-1, 2))))
    light = light.reshape(every.shape[:3])
    slant = (laid - eye.place[:2]) / eye.place[2]
    moved, seen = np.zeros((len(places), 2)), np.zeros(len(places), dtype=bool)
    for k in range(len(places)):
        shift = _fit(light[k], hole, -slant[k] * thickness, reach)
        if shift is not None:
            moved[k], seen[k] = shift, True
    middles = laid + moved
    step = np.diff(
        eye.project(surface.points(np.array([[0, 0], [1e-3, 0]]) + laid.mean(axis=0))), axis=0
    )
    return _Found(
        eye.project(surface.points(middles)), seen, 1e-3 / float(np.linalg.norm(step)), slant
    )


def _evenly(reach: float) -> Array:
    """Samples to both sides of nought [m]."""
    many = int(np.ceil(reach / STEP))
    return np.asarray(STEP * np.arange(-many, many + 1), dtype=np.float64)


def _fit(light: Array, hole: float, shift: Array, reach: float) -> Array | None:
    """Where in its patch a hole is: forward and left of the middle [m]; None without one.

    shift : by how much the lower rim is seen aside of the upper one [m]
    """
    if not np.isfinite(light).all():
        return None
    around = _evenly(hole / 2 + RING)
    a, b = np.meshgrid(around, around, indexing="ij")
    top = np.hypot(a, b) < hole / 2
    low = top & (np.hypot(a - shift[0], b - shift[1]) < hole / 2)
    zones = [top & ~low, low, ~top & (np.hypot(a, b) < hole / 2 + RING)]
    views = np.lib.stride_tricks.sliding_window_view(light, a.shape)
    steps = min(views.shape[0] // 2, round(reach / STEP))
    mid = views.shape[0] // 2
    views = views[mid - steps : mid + steps + 1, mid - steps : mid + steps + 1]
    rest, total = np.zeros(views.shape[:2]), np.zeros(views.shape[:2])
    every = np.any(zones, axis=0)
    flat = views[..., every]
    total = flat.var(axis=-1) * every.sum()
    for zone in zones:
        if zone.sum() > 2:
            rest += views[..., zone].var(axis=-1) * zone.sum()
    left = rest / np.maximum(total, 1e-12)
    i, j = np.unravel_index(int(left.argmin()), left.shape)
    inner = 0 < i < left.shape[0] - 1 and 0 < j < left.shape[1] - 1
    darker = views[i, j][zones[0]].mean() if zones[0].sum() > 2 else np.inf
    cover = views[i, j][zones[2]].mean()
    if (
        left[i, j] > 1 - CLEAR
        or not inner
        or (darker > 0.93 * cover and zones[0].sum() > 0.3 * top.sum())
    ):
        return None

    def finer(before: float, here: float, after: float) -> float:
        bend = before - 2 * here + after
        return 0.0 if bend <= 0 else 0.5 * (before - after) / bend

    di = finer(left[i - 1, j], left[i, j], left[i + 1, j])
    dj = finer(left[i, j - 1], left[i, j], left[i, j + 1])
    return np.array([(i - steps + di) * STEP, (j - steps + dj) * STEP], dtype=np.float64)


def _drawn(
    adjusted: Adjusted, picture: int, pixels: Array, hole: float, which: Places
) -> dict[str, Array]:
    eye, surface = adjusted.camera(picture), adjusted.surface()
    laid = surface.meet(eye.place, eye.rays(pixels))
    angle = np.linspace(0, 2 * np.pi, 17)
    rim = hole / 2 * np.column_stack([np.cos(angle), np.sin(angle)])
    return {
        f"hole {n + 1}": eye.project(surface.points(laid[k] + rim)) for k, n in enumerate(which)
    }
