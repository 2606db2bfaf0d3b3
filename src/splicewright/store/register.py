"""The register as the rest of Splicewright sees it: facts in, facts and present state out.

Facts are appended and never changed. Everything else is derived from them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Protocol
from uuid import UUID

from splicewright.history.life.counts import LifeCount
from splicewright.store.authority import Actor
from splicewright.store.facts.facts import Fact, Stored
from splicewright.store.facts.joint_facts import Task
from splicewright.store.present.present import (
    BeltNow,
    ConveyorNow,
    DamageNow,
    DeviationNow,
    DueNow,
    JobNow,
    JointNow,
    PersonNow,
    PieceNow,
    SiteNow,
    State,
    StockNow,
    is_plateless,
)
from splicewright.store.progress import Tell, tell_nobody
from splicewright.store.sites import Sites

LARGEST_CONTENT = 20_000_000
"""Bytes of one kept content."""
MEDIA_TYPES = (
    "application/json",
    "application/toml",
    "image/jpeg",
    "image/png",
    "image/webp",
)
"""What may be kept: plans, conveyor files, photographs."""


@dataclass(frozen=True, slots=True)
class Receipt:
    """The register has this fact for good: its place in the order; `again` if it already had."""

    id: UUID
    seq: int
    received: datetime
    again: bool


@dataclass(frozen=True, slots=True)
class Head:
    """The end of the chain: how many facts there are, and the hash of the last."""

    seq: int
    hash: bytes

    def __str__(self) -> str:
        return f"{self.seq}:{self.hash.hex()}"


@dataclass(frozen=True, slots=True)
class Content:
    """A kept plan, file or photograph."""

    digest: str
    media_type: str
    data: bytes


@dataclass(frozen=True, slots=True)
class DueItem:
    """A line of the due list, with the names a person reads."""

    joint: UUID
    label: str
    state: State
    conveyor: UUID
    conveyor_name: str
    site: UUID
    task: Task
    due: datetime
    why: str
    construction: str

    @property
    def plateless(self) -> bool:
        """See `JointNow.plateless`."""
        return is_plateless(self.construction)


@dataclass(frozen=True, slots=True)
class LeftItem:
    """A value that a lead left outside its limits until a day, with the names a person reads.

    joint, label, state : of the job's joint; None and "" for a job without one
    """

    deviation: DeviationNow
    job_name: str
    joint: UUID | None
    label: str
    state: State | None
    conveyor: UUID
    conveyor_name: str
    site: UUID


@dataclass(frozen=True, slots=True)
class Pressing:
    """What presses in a fleet.

    joints : those unfit or standing, those due first and those that run longest, each up to a
        number; duties : all that is due at them; conveyors : they are on
    unfit : joints in a belt found unfit to run; the other numbers are of further ones
    late, soon : overdue or standing; due before the stop
    """

    joints: tuple[JointNow, ...]
    duties: tuple[DueNow, ...]
    conveyors: tuple[ConveyorNow, ...]
    unfit: int
    late: int
    soon: int


@dataclass(frozen=True, slots=True)
class Verified:
    """What a check of the whole register found.

    faults : one sentence each, naming the fact's number; empty when all is well
    """

    head: Head
    contents: int
    faults: tuple[str, ...]


class Register(Protocol):
    """All that can be done with a register. Errors: see `store.refusals` and `InputError`."""

    def said_by(self, actor: Actor) -> Register:
        """The same register for this actor: what they may not say is refused.

        Of sites they are not let into (`Actor.sites`) nothing is read: it is as if there were none.
        """

    @property
    def in_process(self) -> bool:
        """Whether the database works in this process, not in its own beside it."""

    @property
    def sites_seen(self) -> Sites:
        """The sites whose things are read here; None for all."""

    def append(self, *facts: Fact, seen: Mapping[UUID, int] | None = None) -> tuple[Receipt, ...]:
        """Record facts, all or none; when this returns they are safe on the disk.

        A fact sent again gives its first receipt. Facts of one call may stand in any order.

        Parameters
        ----------
        facts : what to record
        seen : versions of things the writer looked at; a thing that others have changed since
            is a conflict. Facts of this very call that are recorded already are no such change

        Raises
        ------
        InputError
            A fact holds what it must not, or names what the register does not know.
        NotAllowedError
            The actor may not say it (`store.authority`).
        ConflictError
            A known id with other content, or a thing changed since it was seen.
        BusyError, FullError
            Nothing was recorded, or it is not known whether it was; sending again is harmless.
        """

    def keep(self, data: bytes, media_type: str) -> str:
        """Keep a plan, file or photograph and give its digest; keeping it again is harmless.

        Raises
        ------
        InputError
            Too large, or of a type that is not kept.
        """

    def at_one_moment(self) -> AbstractContextManager[None]:
        """Everything read inside, in this thread, is as of one moment; nothing may be written.

        A page of many reads is then whole, and costs one transaction instead of one for each.
        """

    def content(self, digest: str) -> Content:
        """A kept content.

        Raises
        ------
        InputError
            There is none.
        DamagedError
            It is not what its digest says.
        """

    def has_content(self, digest: str) -> bool:
        """Whether it is kept."""

    def head(self) -> Head:
        """The end of the chain; written down elsewhere it proves later that nothing changed."""

    def version(self, subject: UUID) -> int:
        """Number of the last fact about a thing; 0 when the register does not know it."""

    def changes_of(self, subjects: Collection[UUID]) -> Mapping[UUID, tuple[int, datetime]]:
        """Number and arrival of the last fact about each of some things that are known."""

    def fact(self, id: UUID) -> Stored | None:
        """The fact of that id, with its latest correction; None when there is none."""

    def known(self, ids: Iterable[UUID]) -> frozenset[UUID]:
        """Those of the ids that are ids of recorded facts."""

    def facts_since(
        self, seq: int, limit: int = 1000, kinds: Collection[str] = ()
    ) -> tuple[Stored, ...]:
        """Facts after number `seq` as recorded, of some kinds or all, in the order of arrival."""

    def since(self, head: Head, most: int) -> tuple[tuple[str, UUID], ...] | None:
        """Kind and subject of every fact after a head that was read earlier, of all sites.

        None where there are more than `most`, or the chain does not hold that head: another
        register, or a backup of before.
        """

    def facts_about(self, subject: UUID, since: int = 0) -> tuple[Stored, ...]:
        """Facts about one thing after number `since`, in the order of arrival, corrections applied.

        The corrections themselves are among them.
        """

    def facts_of_things(
        self, subjects: Collection[UUID], kinds: Collection[str], *, sound: bool = True
    ) -> tuple[Stored, ...]:
        """Facts of some kinds about some things, in the order of arrival, corrections applied.

        Reads nothing of any other thing: what is asked of one conveyor costs what that one holds.

        Parameters
        ----------
        sound : False leaves out plates that were said to be sound and not corrected since: they
            are most of what a register holds
        """

    def newest_about(
        self, subjects: Collection[UUID], limit: int
    ) -> tuple[int, tuple[Stored, ...]]:
        """How many facts there are about some things, and the newest, the last to arrive first.

        Corrections are applied: what corrects a fact arrived after it.
        """

    def sites(self) -> tuple[SiteNow, ...]:
        """All sites, by name."""

    def site(self, site: UUID) -> SiteNow | None:
        """One site."""

    def conveyors(self, site: UUID | None = None) -> tuple[ConveyorNow, ...]:
        """All conveyors, or those of a site, by name."""

    def conveyor(self, conveyor: UUID) -> ConveyorNow | None:
        """One conveyor."""

    def belt(self, belt: UUID) -> BeltNow | None:
        """One belt."""

    def belts(self, conveyor: UUID) -> tuple[BeltNow, ...]:
        """Belts placed on a conveyor, the newest first."""

    def belts_ever(self, conveyor: UUID) -> frozenset[UUID]:
        """Belts that lie on a conveyor or once lay there, wherever they are now."""

    def lies_at(self, conveyor: UUID) -> frozenset[UUID]:
        """Belts, joints and jobs of a conveyor, those that are over too."""

    def pieces(self, belt: UUID) -> tuple[PieceNow, ...]:
        """Pieces of a belt, removed ones too, by their start."""

    def damage(self, belt: UUID) -> tuple[DamageNow, ...]:
        """Damage of a belt, mended too, by its place."""

    def joint(self, joint: UUID) -> JointNow | None:
        """One joint."""

    def joints(
        self,
        conveyor: UUID | None = None,
        states: Collection[State] = (),
        *,
        label: str = "",
        like: Collection[str] = (),
        after: tuple[str, UUID] | None = None,
        limit: int = 500,
    ) -> tuple[JointNow, ...]:
        """Joints by label; of a conveyor, in some states, with one label, a page at a time.

        like : parts of the label, all of them in it, in capitals or not

        after : label and id of the last joint of the page before
        """

    def barred(
        self, *, site: UUID | None = None, conveyor: UUID | None = None, limit: int = 200
    ) -> tuple[JointNow, ...]:
        """Joints in the belt that must not run, or are suspended, by label."""

    def jobs(
        self,
        conveyor: UUID | None = None,
        *,
        site: UUID | None = None,
        open_only: bool = False,
        limit: int = 500,
        after: tuple[datetime, UUID] | None = None,
    ) -> tuple[JobNow, ...]:
        """Jobs, of a conveyor, of a site or all, the newest first.

        after : when the last job of the page before was opened, and its id
        """

    def job(self, job: UUID) -> JobNow | None:
        """One job."""

    def people(self) -> tuple[PersonNow, ...]:
        """All people, by name."""

    def stock(self, site: UUID) -> tuple[StockNow, ...]:
        """What lies in a site's store, by item."""

    def due(
        self,
        before: datetime,
        *,
        site: UUID | None = None,
        conveyor: UUID | None = None,
        joint: UUID | None = None,
        limit: int = 200,
    ) -> tuple[DueItem, ...]:
        """What is due before a moment, the longest due first."""

    def pressing(self, today: datetime, until: datetime, most: int) -> Pressing:
        """The joints that press most, and how many press.

        today : what was due before it is overdue
        until : the next stop
        most : joints of each reason
        """

    def running_not_due(
        self, begun: datetime, before: datetime, until: datetime, kind: str | None = None
    ) -> int:
        """How many joints put to work from `begun` on and before `before` run, with nothing due
        before `until` and not found unfit to run; of one kind, or of all."""

    def open_damage(self, limit: int = 100_000) -> tuple[tuple[DamageNow, ConveyorNow], ...]:
        """Damage of any belt that was not mended, with the conveyor; the gravest first."""

    def life_counts(self, site: UUID | None = None) -> tuple[LifeCount, ...]:
        """Lives of joints that are alike, counted: of a site, or of all that are seen.

        They are of the same moment as everything else that is read (`store.present.life`).
        """

    def left_outside(
        self,
        before: datetime,
        *,
        site: UUID | None = None,
        conveyor: UUID | None = None,
        joint: UUID | None = None,
        limit: int = 100_000,
    ) -> tuple[LeftItem, ...]:
        """Values left outside their limits until a day before a moment, the earliest day first.

        Those of removed joints, and those known to be put right, are left out; of a deviation
        that is `CHANGED` the job's values and plan must say whether it still stands.
        """

    def verify(self, anchor: Head | None = None, tell: Tell = tell_nobody) -> Verified:
        """Check the chain, the kept contents and the present state.

        tell : is called every few thousand facts
        anchor : a head written down earlier; without one, a chain cut off at its end together
            with its head, or worked anew from some fact on, cannot be told from a true one
        """

    def verify_part(self, since: Head, most: int, tell: Tell = tell_nobody) -> Verified:
        """Check the chain and its facts, so many behind a head that was checked before.

        For registers that take long to check: part after part, each from where the last one ended
        (`head` of what it gives). Contents and present state are left to `verify`.
        """

    def dump(self) -> Iterator[str]:
        """The whole register as JSON lines."""

    def load(self, lines: Iterable[str]) -> Head:
        """Fill an empty register from a dump; all or nothing.

        Raises
        ------
        InputError
            Not a whole dump, its chain does not hold, or the register is not empty.
        """

    def back_up(self, to: Path) -> Head:
        """Write a whole copy to a new file that only its owner can read; work may go on.

        Raises
        ------
        OutputError
            The file exists or cannot be written.
        """

    def rebuild(self, tell: Tell = tell_nobody) -> None:
        """Derive the present state anew from all facts; nothing is recorded meanwhile.

        tell : is called every few thousand facts
        """

    def close(self) -> None:
        """Let go of the database."""
