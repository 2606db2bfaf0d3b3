"""Facts about sites, conveyors, belts, stock and people. Numbers are SI."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID

from splicewright.store.facts.kinds import (
    Amount,
    Digest,
    Moment,
    Name,
    Number,
    Stream,
    Text,
    What,
    fact_kind,
)


class PersonRole(StrEnum):
    """What a person may do."""

    VIEWER = "viewer"
    CREW = "crew"
    LEAD = "lead"
    ADMIN = "admin"

    def reaches(self, needed: PersonRole) -> bool:
        """Whether this role may do what `needed` may: viewer, crew, lead, admin, in this order."""
        order = list(PersonRole)
        return order.index(self) >= order.index(needed)


class Grade(StrEnum):
    """How bad a damage of the belt is, as the finder judged it."""

    WATCH = "watch"
    REPAIR = "repair soon"
    STOP = "stop the belt"


@fact_kind("site added", Stream.SITE, begins=True)
@dataclass(frozen=True, slots=True)
class SiteAdded(What):
    """A site is known; said again it renames the site."""

    site: UUID
    name: Name
    note: Text = ""


@fact_kind("conveyor recorded", Stream.CONVEYOR, begins=True)
@dataclass(frozen=True, slots=True)
class ConveyorRecorded(What):
    """A version of a conveyor's file; the first makes the conveyor known.

    file : digest of the kept file, None when there is none yet
    belt_length [m], speed [m/s] : as the file gives them, None when unknown
    """

    conveyor: UUID
    site: UUID
    name: Name
    file: Digest | None = None
    belt_length: Amount | None = None
    speed: Amount | None = None


@fact_kind("belt placed", Stream.BELT, begins=True)
@dataclass(frozen=True, slots=True)
class BeltPlaced(What):
    """A belt lies on a conveyor; said again it restates the belt, as after shortening.

    length : of the closed loop [m]. Places on the belt are measured from a mark on it, in the
        direction of travel, from 0 to `length`.
    """

    belt: UUID
    conveyor: UUID
    name: Name
    length: Amount
    marking: Text = ""


@fact_kind("belt piece placed", Stream.BELT)
@dataclass(frozen=True, slots=True)
class PiecePlaced(What):
    """A piece of belt lies in the loop from `start`, `length` long [m]; may pass the mark."""

    belt: UUID
    piece: UUID
    name: Name
    start: Amount
    length: Amount
    marking: Text = ""
    made: Moment | None = None


@fact_kind("belt piece removed", Stream.BELT)
@dataclass(frozen=True, slots=True)
class PieceRemoved(What):
    """A piece of belt was taken out."""

    belt: UUID
    piece: UUID
    why: Text = ""


@fact_kind("damage found", Stream.BELT)
@dataclass(frozen=True, slots=True)
class DamageFound(What):
    """Damage of the belt at `place`, `length` along it, `across` from the centreline [m].

    across : positive to the left facing in the direction of travel; None when not measured
    """

    belt: UUID
    damage: UUID
    place: Amount
    length: Amount
    grade: Grade
    across: Number | None = None
    note: Text = ""


@fact_kind("damage mended", Stream.BELT)
@dataclass(frozen=True, slots=True)
class DamageMended(What):
    """A damage was repaired."""

    belt: UUID
    damage: UUID
    how: Text = ""


@fact_kind("stock moved", Stream.SITE)
@dataclass(frozen=True, slots=True)
class StockMoved(What):
    """Parts came in (count above 0) or went out (below 0) of a site's store."""

    site: UUID
    item: Name
    count: Number
    why: Text = ""
    job: UUID | None = None


@fact_kind("fasteners recorded", Stream.SITE)
@dataclass(frozen=True, slots=True)
class FastenersRecorded(What):
    """A fastener range file the site plans with; said again it is the file's newer version.

    name : of the range, as the file has it
    file : digest of the kept file; None when the site does not use the range any more
    """

    site: UUID
    name: Name
    file: Digest | None


@fact_kind("person added", Stream.PERSON, begins=True)
@dataclass(frozen=True, slots=True)
class PersonAdded(What):
    """A person is known; said again it changes name or role."""

    person: UUID
    name: Name
    role: PersonRole = PersonRole.CREW
