"""Move, scale and mirror a scene: pure functions from scene to scene."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from splicewright.sheets.canvas.scene import (
    Anchor,
    Arc,
    Baseline,
    Circle,
    Dimension,
    Group,
    Hatch,
    Item,
    Leader,
    Line,
    Marker,
    Point,
    Polyline,
    RunningDimension,
    ScaleBar,
    Scene,
    Text,
    readable,
)


def translated(scene: Scene, dx: float, dy: float) -> Scene:
    """Return the scene moved by `dx` and `dy` [mm]."""
    return _placed(scene, _Placement(1.0, 1.0, dx, dy))


def scaled(scene: Scene, factor: float) -> Scene:
    """Return the scene with positions multiplied; letters, pens, offsets stay paper size.

    Dimensions keep showing the true distances.

    Raises:
        ValueError: `factor` is not above zero.
    """
    if not factor > 0.0:
        message = f"factor: {factor} cannot scale a scene; a number above 0 is accepted"
        raise ValueError(message)
    return _placed(scene, _Placement(factor, factor, 0.0, 0.0))


def mirrored(scene: Scene, about: Literal["x", "y"] = "x", line: float = 0.0) -> Scene:
    """Return the scene seen from the other side, with its letters still readable.

    Args:
        about: "x" swaps left and right about x = `line`; "y" swaps top and bottom.
        line: where the mirror stands [mm].
    """
    if about == "x":
        return _placed(scene, _Placement(-1.0, 1.0, 2.0 * line, 0.0))
    return _placed(scene, _Placement(1.0, -1.0, 0.0, 2.0 * line))


@dataclass(frozen=True, slots=True)
class _Placement:
    """x' = fx·x + dx, y' = fy·y + dy with |fx| = |fy|."""

    fx: float
    fy: float
    dx: float
    dy: float

    @property
    def factor(self) -> float:
        return abs(self.fx)

    @property
    def flips(self) -> bool:
        return self.fx * self.fy < 0.0

    def point(self, point: Point) -> Point:
        return (self.fx * point[0] + self.dx, self.fy * point[1] + self.dy)

    def points(self, points: tuple[Point, ...]) -> tuple[Point, ...]:
        return tuple(self.point(point) for point in points)

    def angle(self, angle: float) -> float:
        angle = -angle if self.fy < 0.0 else angle
        return 180.0 - angle if self.fx < 0.0 else angle


def _placed(scene: Scene, move: _Placement) -> Scene:
    return replace(scene, items=tuple(_moved(item, move) for item in scene.items))


def _moved(item: Item, move: _Placement) -> Item:
    match item:
        case Group():
            return replace(item, items=tuple(_moved(part, move) for part in item.items))
        case Line() | Dimension():
            return _moved_span(item, move)
        case Polyline():
            return replace(item, points=move.points(item.points))
        case Circle():
            return replace(item, centre=move.point(item.centre), radius=item.radius * move.factor)
        case Arc():
            start, end = move.angle(item.start), move.angle(item.end)
            start, end = (end, start) if move.flips else (start, end)
            centre, radius = move.point(item.centre), item.radius * move.factor
            return replace(item, centre=centre, radius=radius, start=start, end=end)
        case Text():
            return _moved_text(item, move)
        case RunningDimension():
            return replace(
                item,
                datum=move.point(item.datum),
                stations=move.points(item.stations),
                offset=_moved_offset(item, move),
                scale=item.scale * move.factor,
            )
        case Leader():
            return replace(item, tip=move.point(item.tip), elbow=move.point(item.elbow))
        case Hatch():
            return replace(
                item,
                boundary=move.points(item.boundary),
                holes=tuple(move.points(hole) for hole in item.holes),
                angle=move.angle(item.angle) % 180.0 if move.flips else item.angle,
            )
        case Marker():
            return replace(item, at=move.point(item.at))
        case ScaleBar():
            x, y = move.point(item.at)
            return replace(item, at=(x - item.length if move.fx < 0.0 else x, y))


def _moved_span(item: Line | Dimension, move: _Placement) -> Line | Dimension:
    start, end = move.point(item.start), move.point(item.end)
    if isinstance(item, Line):
        return replace(item, start=start, end=end)
    offset, scale = _moved_offset(item, move), item.scale * move.factor
    return replace(item, start=start, end=end, offset=offset, scale=scale)


def _moved_offset(item: Dimension | RunningDimension, move: _Placement) -> float:
    """Keep the dimension line on the same side of the thing when it is mirrored."""
    other_side = {"x": move.fy < 0.0, "y": move.fx < 0.0, "free": move.flips}
    return -item.offset if other_side[item.direction] else item.offset


def _moved_text(item: Text, move: _Placement) -> Text:
    """Move letters; a mirrored place gets a frame that still reads from below or the right."""
    at = move.point(item.at)
    if not move.flips:
        return replace(item, at=at)
    along = move.angle(item.rotation)
    rotation = readable(along)
    anchor, baseline = item.anchor, item.baseline
    turned = abs((along - rotation + 180.0) % 360.0 - 180.0) > 90.0
    if turned:
        anchor = _OTHER_ANCHOR[anchor]
    else:
        # A flip that keeps the reading direction sends the letters' top to the bottom.
        baseline = _OTHER_BASELINE[baseline]
    return replace(item, at=at, rotation=rotation, anchor=anchor, baseline=baseline)


_OTHER_ANCHOR: dict[Anchor, Anchor] = {"start": "end", "middle": "middle", "end": "start"}
_OTHER_BASELINE: dict[Baseline, Baseline] = {"base": "top", "middle": "middle", "top": "base"}
