"""A display list in millimetres, y up: draw once, replay to SVG, DXF and PDF.

Two kinds of length live here. Positions are millimetres of the thing drawn and follow
`placement.scaled`. Letter heights, pen widths, arrowheads, offsets and hatch spacings are
millimetres of paper and stay as they are when a scene is scaled, so that a drawing at 1:20 can
still be read.

Angles are degrees, counter-clockwise from the x axis.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias

Point: TypeAlias = tuple[float, float]
Anchor: TypeAlias = Literal["start", "middle", "end"]
Baseline: TypeAlias = Literal["base", "middle", "top"]
Direction: TypeAlias = Literal["x", "y", "free"]

BLACK = 0.0
WHITE = 1.0


@dataclass(frozen=True, slots=True)
class Pen:
    """How a stroke looks on paper.

    Args:
        name: what the line means; becomes the line type's name in DXF.
        width: stroke width [mm of paper].
        dash: lengths of dash and gap by turns; empty for a full line [mm of paper].
        grey: 0 is black, 1 is white [-].
    """

    name: str
    width: float
    dash: tuple[float, ...] = ()
    grey: float = BLACK


# Line kinds after ISO 128-2 (wide and narrow lines about 2:1, narrow dashed and chain lines);
# the widths are our choice, none thinner than 0.18 mm so that a copy of a copy keeps them.
OUTLINE = Pen("outline", 0.5)
THIN = Pen("thin", 0.25)
HIDDEN = Pen("hidden", 0.35, (3.0, 1.5))
CENTRE = Pen("centre", 0.25, (9.0, 1.5, 1.0, 1.5))
CUT = Pen("cut", 0.7)
HOLE = Pen("hole", 0.35)
DIMENSION = Pen("dimension", 0.18)
PENS = (OUTLINE, THIN, HIDDEN, CENTRE, CUT, HOLE, DIMENSION)


@dataclass(frozen=True, slots=True)
class Line:
    """A straight stroke."""

    start: Point
    end: Point
    pen: Pen = OUTLINE


@dataclass(frozen=True, slots=True)
class Polyline:
    """Strokes through points, open or closed; `fill` is a grey level for the area, or None."""

    points: tuple[Point, ...]
    pen: Pen | None = OUTLINE
    closed: bool = False
    fill: float | None = None


@dataclass(frozen=True, slots=True)
class Arc:
    """Part of a circle, counter-clockwise from `start` to `end` [deg]."""

    centre: Point
    radius: float
    start: float
    end: float
    pen: Pen = OUTLINE


@dataclass(frozen=True, slots=True)
class Circle:
    """A full circle; `fill` is a grey level for the area, or None."""

    centre: Point
    radius: float
    pen: Pen | None = OUTLINE
    fill: float | None = None


@dataclass(frozen=True, slots=True)
class Text:
    """One line of letters; `size` is the height of a capital letter [mm of paper].

    A masked text whites out what was drawn under it before.
    """

    at: Point
    text: str
    size: float = 3.0
    anchor: Anchor = "start"
    baseline: Baseline = "base"
    rotation: float = 0.0
    bold: bool = False
    grey: float = BLACK
    masked: bool = False


@dataclass(frozen=True, slots=True)
class Dimension:
    """The distance between two points, with arrows that touch what is measured.

    Args:
        start, end: the measured points [mm].
        direction: "x" measures across, "y" measures up, "free" along the line of the points.
        offset: how far the dimension line stands off the points; up for "x", right for "y",
            left of start-to-end for "free"; negative for the other side [mm of paper].
        text: what to write; None writes the distance in millimetres.
        size: letter height [mm of paper].
        decimals: most decimals of a derived text; trailing zeros are left out.
        scale: drawn length over true length; kept by `placement.scaled`.
    """

    start: Point
    end: Point
    direction: Direction = "free"
    offset: float = 10.0
    text: str | None = None
    size: float = 3.0
    decimals: int = 1
    scale: float = 1.0
    pen: Pen = DIMENSION

    @property
    def measure(self) -> float:
        """True distance [mm]."""
        dx, dy = self.end[0] - self.start[0], self.end[1] - self.start[1]
        drawn = {"x": abs(dx), "y": abs(dy), "free": math.hypot(dx, dy)}[self.direction]
        return drawn / self.scale

    @property
    def label(self) -> str:
        """What is written on the dimension line."""
        return metric_text(self.measure, self.decimals) if self.text is None else self.text


@dataclass(frozen=True, slots=True)
class RunningDimension:
    """Distances of many points from one datum, each its own, so that no errors add up.

    Args:
        datum: where the tape's zero lies [mm].
        stations: the measured points [mm].
        direction: "x" measures across, "y" measures up.
        offset: how far the dimension line stands off the datum and the stations; up for "x",
            right for "y"; negative for the other side [mm of paper].
        texts: what to write at each station; None writes the distances in millimetres.
        size, decimals, scale: as for `Dimension`.
    """

    datum: Point
    stations: tuple[Point, ...]
    direction: Literal["x", "y"] = "x"
    offset: float = 10.0
    texts: tuple[str, ...] | None = None
    size: float = 3.0
    decimals: int = 1
    scale: float = 1.0
    pen: Pen = DIMENSION

    @property
    def measures(self) -> tuple[float, ...]:
        """True distance of each station from the datum, signed [mm]."""
        axis = 0 if self.direction == "x" else 1
        return tuple((point[axis] - self.datum[axis]) / self.scale for point in self.stations)

    @property
    def labels(self) -> tuple[str, ...]:
        """What is written at each station."""
        if self.texts is not None:
            return self.texts
        return tuple(metric_text(abs(measure), self.decimals) for measure in self.measures)


@dataclass(frozen=True, slots=True)
class Leader:
    """A note with an arrow: from `tip` over `elbow`, the text standing at the elbow."""

    tip: Point
    elbow: Point
    text: str
    size: float = 3.0
    pen: Pen = DIMENSION


@dataclass(frozen=True, slots=True)
class Hatch:
    """An area filled with lines; `holes` stay white. Spacing [mm of paper], angle [deg]."""

    boundary: tuple[Point, ...]
    holes: tuple[tuple[Point, ...], ...] = ()
    spacing: float = 3.0
    angle: float = 45.0
    crossed: bool = False
    pen: Pen = DIMENSION


@dataclass(frozen=True, slots=True)
class Marker:
    """A point to find again: a plain cross, or a registration cross with a ring.

    `size` is the whole width [mm of paper].
    """

    at: Point
    kind: Literal["cross", "registration"] = "cross"
    size: float = 6.0
    pen: Pen = THIN


@dataclass(frozen=True, slots=True)
class ScaleBar:
    """A bar to hold a rule against; its length is paper, whatever the scene's scale [mm]."""

    at: Point
    length: float = 100.0
    divisions: int = 10
    label: str = "100 mm"
    pen: Pen = DIMENSION


def metric_check_bar(at: Point) -> ScaleBar:
    """Return the 100 mm bar that shows whether a print kept its size; `at` is its left end."""
    return ScaleBar(at)


def inch_check_bar(at: Point) -> ScaleBar:
    """Return the 4 in bar that shows whether a print kept its size; `at` is its left end."""
    return ScaleBar(at, 4 * 25.4, 8, "4 in")


@dataclass(frozen=True, slots=True)
class Group:
    """Items on one named layer; a group inside a group keeps its own layer."""

    layer: str
    items: tuple[Item, ...]


Primitive: TypeAlias = Line | Polyline | Arc | Circle | Text
Item: TypeAlias = (
    Primitive | Dimension | RunningDimension | Leader | Hatch | Marker | ScaleBar | Group
)

PLAIN_LAYER = "drawing"


@dataclass(frozen=True, slots=True)
class Scene:
    """A drawing: items in the order they are drawn; items outside a group lie on `drawing`."""

    items: tuple[Item, ...]
    title: str = ""
    description: str = ""

    @property
    def layers(self) -> tuple[str, ...]:
        """Names of the layers in the order in which they are first drawn on."""
        return tuple(dict.fromkeys(layer for layer, _ in leaves(self)))


def leaves(scene: Scene) -> Iterator[tuple[str, Item]]:
    """Yield every item that is no group, with its layer, in drawing order."""

    def walk(items: tuple[Item, ...], layer: str) -> Iterator[tuple[str, Item]]:
        for item in items:
            if isinstance(item, Group):
                yield from walk(item.items, item.layer)
            else:
                yield layer, item

    return walk(scene.items, PLAIN_LAYER)


_TIE = 1e-6
"""Noise of sums that must not turn a tie [mm]."""


def metric_text(length: float, decimals: int = 1) -> str:
    """Write a length in millimetres without trailing zeros: 875, 43.5.

    Ties go away from zero, as in every other number.
    """
    text = f"{length + math.copysign(_TIE, length):.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text.replace("-", "−")


def readable(angle: float) -> float:
    """Turn a text angle by 180° where needed, so that it reads from below or from the right.

    Returns:
        The angle in (-90, 90] [deg].
    """
    angle = angle % 180.0
    return angle - 180.0 if angle > 90.0 else angle
