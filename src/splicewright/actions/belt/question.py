"""What is asked of a belt, its pieces and its damage, and the facts that the answers make."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from typing import Annotated
from uuid import UUID, uuid4

from splicewright.errors import Fault
from splicewright.files.answers import Day, OneOf, Tick, Typed, Words
from splicewright.files.question import Ask, Question
from splicewright.quantities import Kind, read
from splicewright.store.facts.plant_facts import BeltPlaced, DamageFound, Grade, PiecePlaced

_MARKING = Ask("Marking")
_SIDES = {"left": 1.0, "right": -1.0}
Length = Annotated[
    str, Typed(Kind.DISTANCE, above_zero=True), Ask("Length", example="35 m", inch="120 ft")
]


def _before_the_mark(field: str, text: str | None) -> list[Fault]:
    if not text or read(text, Kind.DISTANCE) >= 0:
        return []
    return [Fault(field, f'"{text}" is before the mark; give 0 or more')]


class BeltAsked(Question):
    """The belt that lies on a conveyor, as a whole."""

    name: Annotated[str, Words(), Ask("Name used by the crew")]
    length: Annotated[
        str,
        Typed(Kind.DISTANCE, above_zero=True),
        Ask("Length, once round", example="240 m", inch="790 ft"),
    ]
    marking: Annotated[str, Words(4000), _MARKING] = ""
    new: Annotated[
        bool,
        Tick(),
        Ask("this is a new belt, not a change of the present one (such as shortening)"),
    ] = False

    def fact(self, conveyor: UUID, belt: UUID | None) -> BeltPlaced:
        """A new belt lies on the conveyor, or the one that lies there is restated."""
        this = uuid4() if belt is None or self.new else belt
        return BeltPlaced(this, conveyor, self.name, read(self.length, Kind.DISTANCE), self.marking)


class PieceAsked(Question):
    """A piece inserted into the belt."""

    name: Annotated[str, Words(), Ask("Piece inserted", example="insert piece")]
    start: Annotated[str, Typed(Kind.DISTANCE), Ask("Begins at", example="35 m", inch="120 ft")]
    length: Length
    marking: Annotated[str, Words(4000), _MARKING] = ""
    made: Annotated[date | None, Day(), Ask("Made on, if known")] = None

    def faults(self) -> list[Fault]:
        """It begins at the mark or behind it."""
        return _before_the_mark("start", self.start)

    def fact(self, belt: UUID) -> PiecePlaced:
        """The piece lies in the belt."""
        made = None if self.made is None else datetime.combine(self.made, time(), UTC)
        return PiecePlaced(
            belt,
            uuid4(),
            self.name,
            read(self.start, Kind.DISTANCE),
            read(self.length, Kind.DISTANCE),
            self.marking,
            made,
        )


class DamageAsked(Question):
    """Damage of the belt, where and how bad."""

    place: Annotated[
        str, Typed(Kind.DISTANCE), Ask("Damage found at", example="35 m", inch="120 ft")
    ]
    length: Annotated[
        str,
        Typed(Kind.DISTANCE, above_zero=True),
        Ask("Length along the belt", example="200 mm", inch="8 in"),
    ]
    grade: Annotated[
        str, OneOf({grade.value: grade.value for grade in Grade}, "choose"), Ask("How bad")
    ]
    across: Annotated[
        str,
        Typed(Kind.LENGTH),
        Ask("From the centreline", example="250 mm", inch="10 in", hint="Blank: not measured."),
    ] = ""
    side: Annotated[
        str,
        OneOf({side: side for side in _SIDES}, "not measured"),
        Ask("Side, facing in the direction of travel"),
    ] = ""
    note: Annotated[str, Words(4000), Ask("Note")] = ""

    def faults(self) -> list[Fault]:
        """It lies at the mark or behind it; off the centreline it has a side."""
        faults = _before_the_mark("place", self.place)
        off = read(self.across, Kind.LENGTH) if self.across else 0.0
        if off < 0 or (off > 0 and not self.side):
            say = "is a distance from the centreline, 0 or more; say on which side"
            faults.append(Fault("across", say))
        return faults

    def fact(self, belt: UUID) -> DamageFound:
        """The damage was found; left of the centreline counts as positive."""
        across = None
        if self.across:
            off = read(self.across, Kind.LENGTH)
            across = off * _SIDES[self.side] if off else 0.0
        return DamageFound(
            belt,
            uuid4(),
            read(self.place, Kind.DISTANCE),
            read(self.length, Kind.DISTANCE),
            Grade(self.grade),
            across,
            self.note,
        )
