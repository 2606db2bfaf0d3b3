"""What is cut or torn out of a belt's sides: notches at the corners, wear, tears from the edge.

The sound side is the line most of it lies on. From outside inwards each ray goes to where the
rubber begins and stays. What is found is a candidate for a person to confirm, never a verdict.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from splicewright.photographs.adjustment import Adjusted
from splicewright.photographs.arrays import Array
from splicewright.photographs.belt_end import line_of
from splicewright.photographs.edges import FAR, NEAR, STEP, Edge, Search, profiles
from splicewright.photographs.measures import CONFIDENT, Value
from splicewright.photographs.outline import Outline, paper_ends, sideways
from splicewright.photographs.picture import Picture

RUBBER = 3e-3
"""Rubber begins where it stays dark so far [m]."""
LEAST = 3e-3
"""A side that stands so far inside its line, and more than it scatters, is a candidate [m]."""
SLACK = 2e-4
"""Standard deviation of a depth: the sound side itself is wavy, and how a torn edge is lit; from
the trials [m]."""
LENGTH = 8e-4
"""Standard deviation of the length of what is torn or worn: rays stand 2 mm apart [m]."""
CORNER = 3e-4
"""Standard deviation of a notch's width, and of its length along the taper; from the trials [m]."""
BLUNT = 0.95
"""A tear to a point is told less deep by so much of a pixel and a ray's spacing over its length, as
a share of its depth [1]; from the trials."""
SPACING = 2e-3
_CHALK = 8e-3
"""So near to the chalk line nothing is said: chalk that runs to the edge is as light as floor."""
_WITHIN = (-0.04, -0.022)
"""The light of the rubber is taken from here to there inside the line, beyond most notches [m]."""
_LONGEST_NOTCH = 0.16
_CORNER_RAYS = 12


@dataclass(frozen=True, slots=True)
class Damage:
    """A piece of a side that stands inside its line.

    side : "left" or "right" of who faces the cut; begin, end : places along, forward [m]
    depth, long : [m]; depth_half_width, long_half_width : of their 95 % ranges [m]
    beyond : whether it reaches the end of the stretch looked at, so that it may go on
    """

    side: str
    begin: float
    end: float
    depth: float
    depth_half_width: float
    long: float
    long_half_width: float
    beyond: bool = False

    def values(self, number: int, origin: float, of: str) -> tuple[Value, Value, Value]:
        """Depth, length and place as values; `origin` is where distances back count from [m]."""
        key, label = f"damage {number}", f"{self.side} edge torn or worn ({number})"
        back, spread = origin - (self.begin + self.end) / 2, self.long_half_width
        middle = float(np.hypot(spread / 2, CONFIDENT * 5e-4))
        return (
            Value(f"{key} depth {self.side}", f"{label}: depth", self.depth, self.depth_half_width),
            Value(
                f"{key} length {self.side}",
                f"{label}: length" + (", as far as looked at: it may go on" if self.beyond else ""),
                self.long,
                spread,
            ),
            Value(f"{key} place {self.side}", f"{label}: its middle {of}", back, middle),
        )


@dataclass(frozen=True, slots=True)
class Notch:
    """What is cut off a corner: width at the cut, length along the edge, 95 % half-widths [m]."""

    side: str
    wide: float
    wide_half_width: float
    long: float
    long_half_width: float

    def values(self) -> tuple[Value, Value]:
        """Width and length as values."""
        return (
            Value(f"notch_width_{self.side}", f"notch at the {self.side} corner: width at the cut",
                  self.wide, self.wide_half_width),
            Value(f"notch_length_{self.side}",
                  f"notch at the {self.side} corner: length along the edge",
                  self.long, self.long_half_width),
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class SideLooked:
    """One side of the belt in one picture.

    along : places of the rays, forward [m]; inside : how far inside the line each is, not a number
    where nothing is told [m]; pixels : of the side, shape (n, 2); pixel : size of one there [m]
    """

    side: str
    along: Array
    inside: Array
    pixels: Array
    pixel: float


def sides_of(
    adjusted: Adjusted, pictures: Sequence[Picture], outlines: Sequence[Outline], of: str
) -> tuple[list[Value], dict[str, Array]]:
    """Notches and damage along both sides, and the pieces of side they are on, to be drawn.

    The first picture is looked at: what it shows the person who signs looks at too.

    Parameters
    ----------
    adjusted, pictures, outlines : as measured
    of : from where distances are counted in words: the cut, or the middle of the sheets
    """
    outline, eye, surface = outlines[0], adjusted.camera(0), adjusted.surface()

    def laid(edge: Edge) -> Array:
        return surface.meet(eye.place, eye.rays(edge.pixels))

    values: list[Value] = []
    drawn: dict[str, Array] = {}
    number = 0
    for side in ("left", "right"):
        edge: Edge | None = getattr(outline, side)
        assert edge is not None
        across, lean = line_of(laid(edge), np.ones(len(edge.pixels)))
        last, cut, chalk, origin = float(laid(edge)[:, 0].max()), None, None, 0.0
        if outline.cut is not None:
            x, y = laid(outline.cut).T
            corner = across + lean * float(x.mean())
            last = cut = origin = float(np.polyval(np.polyfit(y, x, 2), corner))
        if outline.chalk is not None:
            x, y = laid(outline.chalk).T
            chalk = float(np.polyval(np.polyfit(y, x, 1), across))
        looked = look_along(adjusted, pictures[0], 0, outline, side, last - 1e-3)
        notch = notch_of(looked, cut) if cut is not None else None
        if notch is not None:
            values += notch.values()
        for damage in damage_of(looked, cut, notch, chalk):
            number += 1
            values += damage.values(number, origin, of)
            piece = (looked.along >= damage.begin) & (looked.along <= damage.end)
            drawn[f"damage {number}"] = looked.pixels[piece[np.isfinite(looked.inside)]]
    return values, drawn


def look_along(
    adjusted: Adjusted, picture: Picture, number: int, outline: Outline, side: str, last: float
) -> SideLooked:
    """Go along one side of the belt.

    Parameters
    ----------
    adjusted, picture, number, outline : as for the outline, whose line of this side was found
    last : how far forward to go [m]
    """
    camera, surface = adjusted.camera(number), adjusted.surface()
    edge: Edge | None = getattr(outline, side)
    assert edge is not None
    way = 1 if side == "left" else -1
    laid = surface.meet(camera.place, camera.rays(edge.pixels))
    across, lean = line_of(laid, np.ones(len(laid)))
    coarse = sideways(adjusted, paper_ends(adjusted)[1] - 0.1, last, way)
    along = np.arange(coarse.along[0], last, SPACING)
    begun = np.interp(along, coarse.along, coarse.starts[:, 1])
    search = Search(
        np.column_stack([along, begun]), coarse.direction, coarse.reach, along, 1, coarse.tolerance
    )
    far, light = profiles(picture, camera, surface, search)
    line = (way * (across + lean * along) - search.begun) / STEP  # in samples from each start
    inner, outer = (
        _steadied(_level(light, line, first, end)) for first, end in (_WITHIN, (NEAR, FAR))
    )
    half = (inner + outer) / 2
    run = round(RUBBER / STEP)
    dark = light < half[:, None]
    total = np.cumsum(dark, axis=1)
    whole = np.zeros_like(dark)
    whole[:, run:] = total[:, run:] - total[:, :-run] == run
    outside = np.clip(np.round(line + NEAR / STEP), 0, len(far) - 1).astype(int)
    whole &= np.arange(len(far)) <= outside[:, None]
    rows = np.arange(len(along))
    last_dark = np.where(whole.any(axis=1), whole.shape[1] - 1 - whole[:, ::-1].argmax(axis=1), -1)
    # Light all the way: a tear goes as deep as the ray begins, or deeper.
    reached = (total[rows, outside] < run) & (line > 2 * run)
    last_dark = np.where(reached, 0, last_dark)
    clear = (last_dark >= 0) & (last_dark < outside) & (outer > 1.2 * inner + 0.01)
    clear &= light[rows, outside] > half
    k = np.clip(last_dark, 0, len(far) - 2)
    low, high = light[rows, k], light[rows, k + 1]
    share = np.clip((half - low) / np.maximum(high - low, 1e-9), 0, 1)
    clear &= np.isfinite(share)  # a ray that leaves the picture there
    inside = np.where(clear, (line - k - share) * STEP, np.nan)
    places = np.column_stack([along, way * (search.begun + (k + share) * STEP)])
    return SideLooked(
        side, along, inside, camera.project(surface.points(places[clear])), edge.pixel
    )


def damage_of(
    looked: SideLooked, cut: float | None, notch: Notch | None, chalk: float | None
) -> list[Damage]:
    """Pieces of a side that stand well inside its line.

    Parameters
    ----------
    looked : the side; cut : where the belt ends there, if it does; notch : of that corner
    chalk : where the chalk line is at this side, forward [m]
    """
    off = looked.inside
    sound = np.isfinite(off)
    if sound.sum() < 20:
        return []
    scatter = 1.4826 * float(np.median(np.abs(off[sound] - np.median(off[sound]))))
    least, foot = max(LEAST, 4 * scatter + looked.pixel), max(1e-3, 2.5 * scatter)
    left_out = np.zeros(len(off), dtype=bool)
    if cut is not None:
        left_out |= looked.along > cut - (0.01 if notch is None else notch.long + 0.015)
    if chalk is not None:
        left_out |= np.abs(looked.along - chalk) < _CHALK
    beyond = np.where(sound & ~left_out, off, 0.0) > foot
    edges = np.flatnonzero(np.diff(np.concatenate([[False], beyond, [False]]).astype(int)))
    indices = np.flatnonzero(sound)
    damages = []
    for begin, end in edges.reshape(-1, 2):
        depth = float(np.nanmax(off[begin:end]))
        if depth < least or end - begin < 2:
            continue
        first, last = looked.along[begin], looked.along[end - 1]
        long = float(last - first) + SPACING
        # The tip of a narrow tear is finer than a pixel and a ray's spacing: it goes deeper. And
        # what tapers out goes on below what can be told from a wavy side.
        blunt = depth * min(1.0, BLUNT * (looked.pixel + SPACING) / long)
        taper = long * (1 / (1 - foot / depth) - 1)
        spread = np.hypot(SLACK, 0.25 * looked.pixel)
        damages.append(
            Damage(
                looked.side, float(first), float(last), depth + blunt,
                CONFIDENT * float(spread) + blunt / 3,
                long + taper, CONFIDENT * float(np.hypot(LENGTH, looked.pixel)) + taper / 4,
                bool(begin <= indices[0] + 1 or end >= indices[-1]),
            )
        )  # fmt: skip
    return damages


def notch_of(looked: SideLooked, cut: float) -> Notch | None:
    """The notch at the corner of a side, a taper from the cut to the edge; None without one.

    Parameters
    ----------
    looked : the side; cut : where the cut is there, forward [m]
    """
    back = cut - looked.along
    near = (back < _LONGEST_NOTCH) & (back > 2e-3) & np.isfinite(looked.inside)
    if near.sum() < _CORNER_RAYS:
        return None
    back, off = back[near], looked.inside[near]
    best = (np.inf, 0.0, 0.0)
    for long in np.arange(0.01, 0.15, 5e-4):
        shape = np.clip(1 - back / long, 0, None)
        wide = float(shape @ off) / max(float(shape @ shape), 1e-9)
        miss = float(np.sum(np.minimum(np.abs(off - wide * shape), 2e-3)))
        best = min(best, (miss, wide, float(long)))
    _, wide, long = best
    if wide < 2e-3 + looked.pixel:
        return None
    shape = np.clip(1 - back / long, 0, None)
    rest = off - wide * shape
    scatter = max(1.4826 * float(np.median(np.abs(rest))), 0.15 * looked.pixel)
    # Width and length from one fit: how they move with the scatter of the rays in the taper.
    inside = shape > 0
    slope = np.column_stack([shape, wide * back / long**2])[inside]
    spread = np.linalg.inv(slope.T @ slope + 1e-12 * np.eye(2)) * scatter**2 * 4
    common = np.hypot(CORNER, 0.3 * looked.pixel)
    steep = 1.5 * wide / long
    return Notch(
        looked.side, wide, CONFIDENT * float(np.hypot(spread[0, 0] ** 0.5, common)),
        long, CONFIDENT * float(np.hypot(spread[1, 1] ** 0.5, common / steep)),
    )  # fmt: skip


def _level(light: Array, line: Array, first: float, end: float) -> Array:
    """Median light of each ray from `first` to `end` beyond its line [m]; shape (n,)."""
    window = np.arange(round(first / STEP), round(end / STEP) + 1)
    columns = np.round(line).astype(int)[:, None] + window
    taken = np.take_along_axis(light, np.clip(columns, 0, light.shape[1] - 1), axis=1)
    within = (columns >= 0) & (columns < light.shape[1])
    return _medians(np.where(within, taken, np.nan))


def _steadied(level: Array) -> Array:
    """Each ray's light by the median of those around it, so that a tear does not count."""
    wide = 20
    padded = np.pad(level, wide, mode="edge")
    return _medians(np.lib.stride_tricks.sliding_window_view(padded, 2 * wide + 1))


def _medians(rows: Array) -> Array:
    """Median of what is known of each row; not a number where nothing is."""
    known = np.isfinite(rows).any(axis=1)
    out = np.full(len(rows), np.nan)
    out[known] = np.nanmedian(rows[known], axis=1)
    return out
