"""The joint from above, to tap: both ends, plates numbered from the left, travel upwards."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from splicewright.joint import Candidate, End, Layout

CELL = 58.0
"""Width of one pitch on the screen: a plate is never a target of less than 48 [px]."""
SIDE = 46.0
"""Beside the belt, for the words left and right [px]."""
HEIGHT = 78.0
"""Of a plate [px]."""


@dataclass(frozen=True, slots=True)
class PlateDrawn:
    """One plate: left edge and width of what is drawn and of what is tapped [px]."""

    number: int
    left: float
    width: float
    cell_left: float
    cell_width: float

    @property
    def middle(self) -> float:
        """Its middle [px]."""
        return self.left + self.width / 2


@dataclass(frozen=True, slots=True)
class EndDrawn:
    """One belt end: its word as a field name, its name, top of its plates [px]."""

    word: str
    name: str
    top: float
    plates: tuple[PlateDrawn, ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """The whole picture; belt_left and belt_width of the belt in it [px]."""

    width: float
    height: float
    belt_left: float
    belt_width: float
    pin: float
    ends: tuple[EndDrawn, ...]
    plates: int


def picture(layout: Layout, fastener: Candidate) -> Picture:
    """The picture of a planned joint, ahead in travel at the top."""
    centres = {end.which: tuple(p.y for p in end.plates) for end in layout.ends}
    return drawn(centres, fastener.size.pitch, fastener.size.plate_width, layout.width.value)


def drawn(
    centres: Mapping[End, Sequence[float]], pitch: float, plate_width: float, belt_width: float
) -> Picture:
    """The picture of a joint.

    Parameters
    ----------
    centres : plate middles of each end, from the left, from the centreline, left positive [m]
    pitch, plate_width, belt_width : [m]
    """
    scale = CELL / pitch
    belt, width = belt_width * scale, plate_width * scale
    ends = []
    # The leading end lies ahead of the joint: above, when travel goes up the page.
    tops = {"leading": 58.0, "trailing": 58.0 + HEIGHT + 22.0}
    for which, middles in centres.items():
        word = which.name.lower()
        plates = []
        for number, y in enumerate(middles, 1):
            middle = SIDE + belt / 2 - y * scale
            plates.append(PlateDrawn(number, middle - width / 2, width, middle - CELL / 2, CELL))
        ends.append(EndDrawn(word, which.value, tops[word], tuple(plates)))
    pin = 58.0 + HEIGHT + 11.0
    return Picture(belt + 2 * SIDE, pin * 2, SIDE, belt, pin, tuple(ends), len(ends[0].plates))
