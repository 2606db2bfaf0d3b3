"""Edges of the belt in a picture: the cut, the two sides, the chalk line, to a part of a pixel.

Each is searched along many rays over the belt's surface as the adjustment knows it. A belt's
edge is where dark rubber ends and something light begins and stays; a chalk line is light between
dark. Rays vote for one curve; where a second curve has as many votes, nothing is taken.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from splicewright.photographs.arrays import Array, Places, Yes
from splicewright.photographs.camera import Camera
from splicewright.photographs.picture import Picture
from splicewright.photographs.surface import Surface
from splicewright.quantities.going_on import go_on

STEP = 5e-4
"""Between samples of a ray [m]."""
SPACING = 4e-3
"""Between rays [m]."""
_LANE = 0.3
"""A ray is three lanes wide, this share of the spacing apart [1]."""
RISE = 1.35
"""What lies beyond the belt is so many times as light as the rubber, or no edge is taken [1]."""
NEAR, FAR = 5e-3, 18e-3
"""The light on both sides of an edge is taken from here to there beyond it [m]."""
SUPPORT = 0.55
"""Share of the rays that must agree on an edge; in the trials true ones had 0.8 and more [1]."""
RIVAL = 0.6
"""A second curve with so many of the first one's votes makes the first doubtful [1]."""
CHALK_SUPPORT = 0.4
"""Share of the rays that must see the chalk line: it is often broken [1]."""


@dataclass(frozen=True, slots=True)
class Edge:
    """Points of one edge in one picture.

    pixels : shape (n, 2) [px]; blocks : which of `BLOCKS` stretches of the edge each lies on
    support : share of the rays that agree [1]; doubtful : a second curve has as many votes
    pixel : size of a pixel across the edge there [m]
    """

    pixels: Array
    blocks: Array
    support: float
    doubtful: bool
    pixel: float


BLOCKS = 10
"""Stretches of an edge whose errors are taken to be independent of one another."""


@dataclass(frozen=True, slots=True)
class Search:
    """Where to look: rays from `starts` (n, 2) in one direction (2,), so far [m].

    along : the place of each ray along the edge, shape (n,) [m]
    power : 1 for a straight edge, 2 for a curved one; tolerance : of a vote [m]
    """

    starts: Array
    direction: Array
    reach: float
    along: Array
    power: int
    tolerance: float

    @property
    def begun(self) -> Array:
        """How far along the direction each ray begins, shape (n,) [m]."""
        return np.asarray(self.starts @ self.direction)


def find_edge(picture: Picture, camera: Camera, surface: Surface, search: Search) -> Edge | None:
    """Find where the belt ends along the rays; None where too few agree.

    Parameters
    ----------
    picture, camera, surface : of the adjustment
    search : the rays
    """
    far, light = profiles(picture, camera, surface, search)
    n = round(NEAR / STEP), round(FAR / STEP)
    inner, outer = _beside(light, -n[1], -n[0]), _beside(light, n[0], n[1])
    rise = outer - inner
    # It happens within the near range: a soft shadow takes longer.
    steep = _shifted(light, n[0]) - _shifted(light, -n[0])
    slope = np.gradient(_blurred(light), axis=1)
    good = (outer > RISE * inner + 0.015) & (steep > 0.75 * rise) & _peaks(slope)
    vote = _vote(good, slope, far, search)
    if vote is None:
        return None
    which, at, support, doubtful = vote
    if support < SUPPORT:
        return None
    exact, kept = _crossings(light, which, at, inner, outer)
    return _edge(camera, surface, search, which[kept], exact, support, doubtful)


def find_chalk(picture: Picture, camera: Camera, surface: Surface, search: Search) -> Edge | None:
    """Find the chalk line along the rays; None where too few see it."""
    far, light = profiles(picture, camera, surface, search)
    n = round(7e-3 / STEP)
    base = np.maximum(_shifted(light, -n), _shifted(light, n))
    over = _blurred(light) - base
    good = (over > 0.25 * base + 0.008) & _peaks(over)
    vote = _vote(good, over, far, search)
    if vote is None or vote[2] < CHALK_SUPPORT:
        return None
    which, at, support, doubtful = vote
    window = np.arange(-n, n + 1)
    columns = np.clip(at[:, None] + window, 0, light.shape[1] - 1)
    rows = light[which[:, None], columns]
    low = np.minimum(rows[:, 0], rows[:, -1])[:, None]
    tilt = rows[:, :1] + (rows[:, -1:] - rows[:, :1]) * (window + n) / (2 * n)
    weight = np.clip(rows - np.maximum(tilt, low), 0, None)
    total = weight.sum(axis=1)
    kept = np.isfinite(total) & (total > 0)
    exact = at[kept] + (weight[kept] @ window) / total[kept]
    return _edge(camera, surface, search, which[kept], exact, support, doubtful)


def profiles(
    picture: Picture, camera: Camera, surface: Surface, search: Search
) -> tuple[Array, Array]:
    """Distances (m,) along the rays and light (n, m), of three lanes each."""
    go_on()
    far = np.arange(0, search.reach, STEP)
    # Between every eighth sample the picture is straight to 0.01 px.
    coarse = np.unique(np.append(far[::8], far[-1]))
    places = search.starts[:, None, :] + coarse[None, :, None] * search.direction
    # A lane lies square to its ray, wherever the rays beside it begin.
    aside = _LANE * SPACING * np.array([search.direction[1], -search.direction[0]])
    part = np.searchsorted(coarse, far, side="right").clip(1, len(coarse) - 1)
    share = ((far - coarse[part - 1]) / (coarse[part] - coarse[part - 1]))[None, :, None]

    def on_picture(at: Array) -> Array:
        known = camera.project(surface.points(at.reshape(-1, 2))).reshape(at.shape)
        return np.asarray(known[:, part - 1] * (1 - share) + known[:, part] * share)

    pixels = on_picture(places)
    beside = on_picture(places + aside) - pixels
    light = np.zeros(pixels.shape[:2])
    for lane in (-1, 0, 1):
        lit = picture.sample((pixels + lane * beside).reshape(-1, 2))
        light += lit.reshape(light.shape) / 3
    return far, light


def _blurred(light: Array) -> Array:
    kernel = np.exp(-(np.arange(-4, 5) ** 2) / 2 / 1.5**2)
    kernel /= kernel.sum()
    out = np.zeros_like(light)
    for shift, weight in zip(range(-4, 5), kernel, strict=True):
        out += weight * _shifted(light, shift)
    return out


def _shifted(light: Array, by: int) -> Array:
    """Light so many samples further along; not a number beyond the ends."""
    out = np.full_like(light, np.nan)
    if by > 0:
        out[:, :-by] = light[:, by:]
    elif by < 0:
        out[:, -by:] = light[:, :by]
    else:
        out[:] = light
    return out


def _beside(light: Array, first: int, last: int) -> Array:
    """Mean light over a window of samples, first to last from each place."""
    total = np.cumsum(np.nan_to_num(light), axis=1)
    bad = np.cumsum(~np.isfinite(light), axis=1)
    mean = (_shifted(total, last) - _shifted(total, first - 1)) / (last - first + 1)
    gaps = _shifted(bad.astype(float), last) - _shifted(bad.astype(float), first - 1)
    return np.where(gaps == 0, mean, np.nan)


def _peaks(value: Array) -> Yes:
    return np.asarray((value > _shifted(value, -1)) & (value >= _shifted(value, 1)))


def _vote(
    good: Yes, weight: Array, far: Array, search: Search
) -> tuple[Places, Places, float, bool] | None:
    """The curve most rays agree on: rays, samples, their share, and whether another rivals it."""
    rays, samples = np.nonzero(good)
    rayful = np.isfinite(weight).any(axis=1).sum()
    if rayful == 0 or len(np.unique(rays)) < max(10, 0.3 * rayful):
        return None
    along, at = search.along[rays], search.begun[rays] + far[samples]
    first = _best(rays, along, at, search)
    if first is None:
        return None
    votes = len(np.unique(rays[first]))
    rest = np.abs(at - np.polyval(np.polyfit(along[first], at[first], search.power), along))
    apart = rest > 2.5 * search.tolerance
    rival = 0
    if apart.sum() > search.power + 1:
        second = _best(rays[apart], along[apart], at[apart], search)
        rival = 0 if second is None else len(np.unique(rays[apart][second]))
    # One vote a ray: the nearest to the curve.
    order = np.lexsort((rest[first], rays[first]))
    mine = np.flatnonzero(first)[order]
    _, one = np.unique(rays[mine], return_index=True)
    mine = mine[one]
    return rays[mine], samples[mine], votes / float(rayful), rival > RIVAL * votes


def _best(rays: Places, along: Array, at: Array, search: Search) -> Yes | None:
    rng = np.random.default_rng(1)
    scale = max(float(np.ptp(search.along)), 1e-3)
    t = (along - search.along.mean()) / scale
    basis = np.vander(t, search.power + 1)
    best: Yes | None = None
    most = 0
    for _ in range(250):
        few = rng.choice(len(t), search.power + 1, replace=False)
        if np.ptp(t[few]) < 0.25:
            continue
        try:
            curve = np.linalg.solve(basis[few], at[few])
        except np.linalg.LinAlgError:
            continue
        if abs(curve[-2]) > 0.2 * scale or (search.power == 2 and abs(curve[0]) > 0.2 * scale):
            continue
        near = np.abs(basis @ curve - at) < search.tolerance
        votes = _rays_in(rays[near])
        if votes > most:
            best, most = near, votes
    if best is None or best.sum() <= search.power + 2:
        return None
    for _ in range(3):
        curve = np.linalg.lstsq(basis[best], at[best], rcond=None)[0]
        near = np.abs(basis @ curve - at) < search.tolerance
        if near.sum() <= search.power + 2:
            break
        best = near
    return best


def _rays_in(ordered: Places) -> int:
    """How many different rays there are in an ordered list of them."""
    return 0 if len(ordered) == 0 else int(np.count_nonzero(np.diff(ordered))) + 1


def _crossings(
    light: Array, rays: Places, samples: Places, inner: Array, outer: Array
) -> tuple[Array, Yes]:
    """Where each ray has half the light between both sides, in samples, and which have one."""
    n = round(NEAR / STEP)
    window = np.arange(-n, n + 1)
    columns = np.clip(samples[:, None] + window, 0, light.shape[1] - 1)
    rows = light[rays[:, None], columns]
    half = ((inner + outer) / 2)[rays, samples][:, None]
    up = (rows[:, :-1] < half) & (rows[:, 1:] >= half)
    # The crossing nearest to the steepest place.
    gap = np.where(up, np.abs(window[:-1] + 0.5)[None, :], np.inf)
    k = gap.argmin(axis=1)
    kept = np.isfinite(gap[np.arange(len(k)), k])
    k, i = k[kept], np.flatnonzero(kept)
    low, high = rows[i, k], rows[i, k + 1]
    share = (half[i, 0] - low) / (high - low)
    return samples[i] + window[k] + share, kept


def _edge(
    camera: Camera,
    surface: Surface,
    search: Search,
    rays: Places,
    exact: Array,
    support: float,
    doubtful: bool,
) -> Edge:
    places = search.starts[rays] + (exact * STEP)[:, None] * search.direction
    along, at = search.along[rays], search.begun[rays] / STEP + exact
    rest = at - np.polyval(np.polyfit(along, at, search.power), along)
    spread = 1.4826 * float(np.median(np.abs(rest)))
    kept = np.abs(rest) < max(4 * spread, 1.0)
    places, along = places[kept], along[kept]
    pixels = camera.project(surface.points(places))
    ahead = camera.project(surface.points(places + 1e-3 * search.direction))
    size = 1e-3 / float(np.median(np.linalg.norm(ahead - pixels, axis=1)))
    low, high = along.min(), along.max()
    blocks = np.minimum((BLOCKS * (along - low) / max(high - low, 1e-9)).astype(int), BLOCKS - 1)
    return Edge(pixels, blocks.astype(np.float64), support, doubtful, size)
