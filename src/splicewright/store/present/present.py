"""The present state, derived from the facts: one frozen row for each thing. Numbers are SI.

Moments are those of the facts, but never later than their arrival (`Stored.when`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from uuid import UUID

from splicewright.quantities import Kind
from splicewright.store.facts.joint_facts import VULCANISED, Mode, Task
from splicewright.store.facts.kinds import Stream
from splicewright.store.facts.plant_facts import Grade, PersonRole


class State(StrEnum):
    """Where a joint is in its life."""

    PLANNED = "planned"
    BUILT = "built"
    RUNNING = "running"
    SUSPENDED = "suspended"
    REMOVED = "removed"


class Standing(StrEnum):
    """What became of a value that was left outside its limits."""

    STANDS = "stands"
    CHANGED = "measured anew"
    RIGHT = "put right"


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the present state."""


@dataclass(frozen=True, slots=True)
class SubjectNow(Row):
    """A thing the register knows: what it is and its version, the number of its last fact."""

    subject: UUID
    stream: Stream
    version: int


@dataclass(frozen=True, slots=True)
class SiteNow(Row):
    """A site."""

    site: UUID
    name: str
    note: str


@dataclass(frozen=True, slots=True)
class StockNow(Row):
    """How many of an item lie in a site's store; below 0 when more went out than came in."""

    site: UUID
    item: str
    count: float


@dataclass(frozen=True, slots=True)
class ConveyorNow(Row):
    """A conveyor and the newest version of its file (numbered from 1)."""

    conveyor: UUID
    site: UUID
    name: str
    file: str | None
    file_version: int
    belt_length: float | None
    speed: float | None


@dataclass(frozen=True, slots=True)
class BeltNow(Row):
    """A belt: the loop's length [m], and when it was placed."""

    belt: UUID
    conveyor: UUID
    name: str
    length: float
    marking: str
    placed: datetime


@dataclass(frozen=True, slots=True)
class PieceNow(Row):
    """A piece of belt in the loop: from `start`, `length` long [m]; removed when not None."""

    piece: UUID
    belt: UUID
    name: str
    start: float
    length: float
    marking: str
    made: datetime | None
    placed: datetime
    removed: datetime | None


@dataclass(frozen=True, slots=True)
class DamageNow(Row):
    """A damage of the belt, `mended` when it was repaired."""

    damage: UUID
    belt: UUID
    place: float
    length: float
    grade: Grade
    across: float | None
    note: str
    found: datetime
    mended: datetime | None


@dataclass(frozen=True, slots=True)
class JointNow(Row):
    """A joint: where it is, its state, and when it came to each.

    put_to_work : first time; stopped : when it was suspended, None while it runs
    inspected, can_run : last closed inspection and what it decided
    seen_station [m], seen : where and when it was last seen on the loop
    construction : kind of joint, as planned or as described; empty where nobody said it
    """

    joint: UUID
    conveyor: UUID
    belt: UUID | None
    label: str
    place: float | None
    state: State
    plan: str | None
    plan_id: str
    retighten_after: float | None
    inspect_after: float | None
    planned: datetime
    built: datetime | None = None
    put_to_work: datetime | None = None
    stopped: datetime | None = None
    removed: datetime | None = None
    mode: Mode | None = None
    retightened: datetime | None = None
    inspected: datetime | None = None
    can_run: bool | None = None
    seen_station: float | None = None
    seen: datetime | None = None
    construction: str = ""

    @property
    def plateless(self) -> bool:
        """Whether it is known to have no plates: vulcanised. Where nobody said it, it may have."""
        return is_plateless(self.construction)


def is_plateless(construction: str) -> bool:
    """Whether a construction is known to have no plates."""
    return construction == VULCANISED


@dataclass(frozen=True, slots=True)
class DueNow(Row):
    """A task due at a joint, since when it is due and why."""

    joint: UUID
    conveyor: UUID
    task: Task
    due: datetime
    why: str


@dataclass(frozen=True, slots=True)
class JobNow(Row):
    """A job; `signed` is the last signature, `changed` whether facts came after what was seen.

    deviations : values of which one was signed, put right since or not
    """

    job: UUID
    conveyor: UUID
    joint: UUID | None
    name: str
    opened: datetime
    signed: datetime | None = None
    signed_by: str = ""
    changed: bool = False
    closed: datetime | None = None
    deviations: int = 0


@dataclass(frozen=True, slots=True)
class DeviationNow(Row):
    """A value of a job left outside its limits, as it was signed last.

    value [SI], limits : that it is outside of, as the signer read them; low, high : as numbers [SI]
    standing : whether it was measured anew since. `CHANGED` may be within its limits or not: the
        job's own values and its plan say so (a difference of two boxes, a withdrawn value, a
        deviation from before limits were kept as numbers)
    """

    job: UUID
    step: str
    what: str
    box: int
    measure: Kind
    value: float
    limits: str
    low: float | None
    high: float | None
    why: str
    to_do: str
    signed: datetime
    signed_by: str
    until: datetime | None
    standing: Standing = Standing.STANDS


@dataclass(frozen=True, slots=True)
class PersonNow(Row):
    """A person."""

    person: UUID
    name: str
    role: PersonRole


@dataclass(frozen=True, slots=True)
class ContentNow(Row):
    """A content that a fact about a thing names, by its SHA-256."""

    subject: UUID
    digest: str


KEYS: dict[type[Row], tuple[str, ...]] = {
    SubjectNow: ("subject",),
    SiteNow: ("site",),
    StockNow: ("site", "item"),
    ConveyorNow: ("conveyor",),
    BeltNow: ("belt",),
    PieceNow: ("belt", "piece"),
    DamageNow: ("belt", "damage"),
    JointNow: ("joint",),
    DueNow: ("joint", "task"),
    JobNow: ("job",),
    DeviationNow: ("job", "step", "what", "box"),
    PersonNow: ("person",),
    ContentNow: ("subject", "digest"),
}
"""The fields that tell the rows of a kind apart; the first is the thing whose facts make it."""

ROWS_OF: dict[Stream, tuple[type[Row], ...]] = {
    Stream.SITE: (SiteNow, StockNow, ContentNow),
    Stream.CONVEYOR: (ConveyorNow, ContentNow),
    Stream.BELT: (BeltNow, PieceNow, DamageNow, ContentNow),
    Stream.JOINT: (JointNow, DueNow, ContentNow),
    Stream.JOB: (JobNow, DeviationNow, ContentNow),
    Stream.PERSON: (PersonNow,),
}
"""Which rows the facts about one thing make."""


def key_of(row: Row) -> tuple[object, ...]:
    """What tells this row apart from others of its kind."""
    return tuple(getattr(row, name) for name in KEYS[type(row)])
