"""The belt map: the closed belt laid out straight, with its pieces, joints and damage."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from splicewright.quantities import Kind, System, show
from splicewright.sheets.canvas.chart import INVENTED, ladder
from splicewright.sheets.canvas.expansion import text_width
from splicewright.sheets.canvas.scene import (
    OUTLINE,
    THIN,
    Circle,
    Group,
    Hatch,
    Item,
    Line,
    Polyline,
    Scene,
    Text,
)

WIDE, HIGH = 110.0, 12.0
"""The belt on paper [mm]: small enough to be read on a phone."""
_LETTER = 3.0
_FLOORS = 6


class Stretch(Protocol):
    """From `start` to `end` along the belt [m]."""

    @property
    def start(self) -> float:
        """Where it begins."""
        ...

    @property
    def end(self) -> float:
        """Where it ends."""
        ...


class Piece(Stretch, Protocol):
    """A piece of the belt."""

    @property
    def name(self) -> str:
        """Name used by the crew."""
        ...


class Place(Protocol):
    """A joint at its place along the belt [m]; `can_run` False marks one that must not."""

    @property
    def label(self) -> str:
        """Name used by the crew."""
        ...

    @property
    def place(self) -> float:
        """Where its pin axis lies."""
        ...

    @property
    def can_run(self) -> bool | None:
        """What the last inspection decided."""
        ...


def belt_map_drawing(
    name: str,
    length: float,
    pieces: Sequence[Piece],
    joints: Sequence[Place],
    damage: Sequence[Stretch],
    system: System = "metric",
    *,
    invented: bool = False,
) -> Scene:
    """Draw a belt from its mark, on the left, once round.

    Parameters
    ----------
    length : of the closed belt [m]
    pieces, joints, damage : what lies where; places from 0 to `length` [m]
    """

    def _at(place: float) -> float:
        return WIDE * min(max(place / length, 0.0), 1.0) if length > 0 else 0.0

    belt: list[Item] = []
    names: list[Item] = []  # over the damage, which is as high as the belt and seen beside them
    for number, piece in enumerate(pieces):
        left, right = _at(piece.start), _at(piece.end)
        corners = ((left, 0.0), (right, 0.0), (right, HIGH), (left, HIGH))
        belt.append(Polyline(corners, THIN, closed=True, fill=0.86 if number % 2 else 0.94))
        if text_width(piece.name, 2.6) < right - left - 1:
            middle = ((left + right) / 2, HIGH / 2)
            names.append(Text(middle, piece.name, 2.6, "middle", "middle", masked=True))
    belt.append(
        Polyline(((0.0, 0.0), (WIDE, 0.0), (WIDE, HIGH), (0.0, HIGH)), OUTLINE, closed=True)
    )
    spoilt: list[Item] = []
    for torn in damage:
        left = min(_at(torn.start), WIDE - 1.2)
        right = max(_at(torn.end), left + 1.2)
        area = ((left, 0.0), (right, 0.0), (right, HIGH), (left, HIGH))
        spoilt += [Hatch(area, spacing=0.8, angle=45.0), Polyline(area, THIN, closed=True)]
    return Scene(
        (
            Group("belt", tuple(belt)),
            Group("damage", tuple(spoilt)),
            Group("names", tuple(names)),
            Group("joints", tuple(_flags([(_at(j.place), j) for j in joints]))),
            Group("scale", tuple(_scale(length, system))),
        ),
        f"Belt map: {name}",
        f"{show(length, Kind.DISTANCE, system)} round, from the mark on the left in the direction "
        "of travel." + (INVENTED if invented else ""),
    )


def _flags(placed: list[tuple[float, Place]]) -> list[Item]:
    """A stroke at every joint and its label above, on as many floors as it takes."""
    items: list[Item] = []
    reached = [-1e9] * _FLOORS
    for x, joint in placed:
        items.append(Line((x, -1.5), (x, HIGH + 2.0), OUTLINE))
        wide = text_width(joint.label, _LETTER) + 2.0
        left = min(x, WIDE - wide)
        floor = next((n for n in range(_FLOORS) if reached[n] <= left), None)
        if floor is None:
            continue  # too many to tell apart here; the list beside the map names all
        reached[floor] = left + wide
        foot = HIGH + 3.5 + floor * (_LETTER + 2.0)
        items.append(Line((x, HIGH), (x, foot + _LETTER), THIN))
        items.append(Text((left + 1.0, foot), joint.label, _LETTER, bold=True, masked=True))
        if joint.can_run is False:
            items.append(Circle((x, HIGH / 2), 1.8, OUTLINE, fill=0.0))
    return items


def _scale(length: float, system: System) -> list[Item]:
    if length <= 0:
        return []
    step, unit = ladder(length, Kind.DISTANCE, system, 5)
    items: list[Item] = []
    for rung in range(int(length / step + 1e-9) + 1):
        x = WIDE * rung * step / length
        items.append(Line((x, 0.0), (x, -2.5), THIN))
        items.append(Text((x, -3.5), f"{rung * step / unit:.6g}", 2.8, "middle", "top"))
    unit_name = "ft" if system == "inch" else "m"
    items.append(Text((WIDE, -8.5), f"from the mark, {unit_name}", 2.8, "end", "top"))
    return items
