"""Two sites of like names, each with everything a site can have, and people let into one or both.

Conveyor, joint, job and belt are called the same at both; what is at one says so by its word.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from uuid import UUID, uuid4

from planned import SITE, planned
from splicewright.actions.conveyor.record import record_conveyor
from splicewright.actions.incoming import keep_mapping
from splicewright.actions.people.sign_in import make_known
from splicewright.actions.plan.record import record_plan
from splicewright.background.requests import ask_import
from splicewright.quantities import Kind
from splicewright.store import Account, Actor, Fact, PersonRole, Scope, Stream, What
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.facts import joint_facts as joint_said
from splicewright.store.facts import plant_facts as plant_said
from splicewright.store.facts.job_facts import JobHandedOver
from splicewright.store.facts.joint_facts import Task
from splicewright.store.facts.photo_facts import ToMeasure
from splicewright.store.sql.register import SqlRegister, open_register
from web.calling import Office
from web.conftest import PASSWORD, START, Clock

WORDS = ("Northpit", "Southpit")
LABEL = "J1"


@dataclass
class Pit:
    """One site.

    word : stands in all that is its own; secrets : that stand on no page of the other site
    """

    word: str
    site: UUID
    conveyor: UUID
    belt: UUID = field(default_factory=uuid4)
    piece: UUID = field(default_factory=uuid4)
    damage: UUID = field(default_factory=uuid4)
    joint: UUID = field(default_factory=uuid4)
    job: UUID = field(default_factory=uuid4)
    inspection: UUID = field(default_factory=uuid4)
    limit: UUID = field(default_factory=uuid4)
    measuring: UUID = field(default_factory=uuid4)
    photo: str = ""
    plan: str = ""
    task: UUID = field(default_factory=uuid4)
    token: UUID = field(default_factory=uuid4)
    invitation: UUID = field(default_factory=uuid4)
    hook: UUID = field(default_factory=uuid4)
    admin: Account | None = None
    crew: Account | None = None

    @property
    def marks(self) -> set[str]:
        """What nobody finds who is not let in."""
        assert self.admin is not None and self.crew is not None
        ids = (
            self.site, self.conveyor, self.belt, self.piece, self.damage, self.joint, self.job,
            self.inspection, self.limit, self.task, self.token, self.invitation, self.hook,
            self.measuring, self.admin.account, self.crew.account,
        )  # fmt: skip
        return {self.word, self.word.lower(), self.photo, *map(str, ids)}

    def named(self) -> dict[str, str]:
        """Values by the names that routes, forms and bodies give them."""
        assert self.crew is not None
        return {
            "site": str(self.site), "conveyor": str(self.conveyor), "belt": str(self.belt),
            "piece": str(self.piece), "damage": str(self.damage), "joint": str(self.joint),
            "job": str(self.job), "inspection": str(self.inspection), "fact": str(self.limit),
            "digest": self.photo, "task": str(self.task), "errand": str(self.task),
            "token": str(self.token), "invitation": str(self.invitation),
            "account": str(self.crew.account), "about": str(self.joint), "id": str(self.joint),
            "base": str(self.job), "hook": str(self.hook), "measuring": str(self.measuring),
        }  # fmt: skip


@dataclass
class Pits:
    """Both sites and the app over them; `everywhere` is let into all sites."""

    office: Office
    register: SqlRegister
    accounts: SqlAccounts
    clock: Clock
    north: Pit
    south: Pit
    everywhere: Account


@contextmanager
def two_sites(folder: Path) -> Iterator[Pits]:
    """Make them in a folder."""
    clock, path = Clock(), folder / "register.sqlite"
    with open_register(path, clock=clock) as register:
        accounts = register.accounts(hash_memory=64)
        office = Office(register, accounts, clock, path)
        clock.now = START - timedelta(days=900)
        secret = accounts.invite("Eve Rywhere", PersonRole.ADMIN, None)
        everywhere = accounts.accept(secret, "everywhere", PASSWORD)
        north, south = (_pit(register, office, clock, folder, word) for word in WORDS)
        clock.now = START
        office.work()
        yield Pits(office, register, accounts, clock, north, south, everywhere)
        office.queue.close()


def _pit(register: SqlRegister, office: Office, clock: Clock, folder: Path, word: str) -> Pit:
    text = (SITE / "conveyors" / "flat.toml").read_text("utf-8")
    assert "Karst Hollow quarry (invented)" in text
    file = folder / f"{word}.toml"
    file.write_text(text.replace("Karst Hollow quarry (invented)", f"{word} (invented)"), "utf-8")
    made = record_conveyor(register, file, by=word, now=clock())
    pit = Pit(word, made.site, made.conveyor)
    _tell(register, pit)
    plan = record_plan(
        register, planned("flat", "flat-torn-belt"), conveyor=pit.conveyor, label="J2", by=word,
        now=START - timedelta(days=2),
    )  # fmt: skip
    pit.job = plan.job
    there = register.joint(plan.joint)
    assert there is not None and there.plan is not None
    pit.plan = there.plan
    pit.photo = register.keep(f"a photograph of {word}".encode(), "image/jpeg")
    wanted = ToMeasure(pit.measuring, "plates", "leading", 0.2)
    _say(register, word, 1, joint_said.PhotoAdded(Stream.JOB, pit.job, pit.photo, word),
         joint_said.PhotoAdded(Stream.JOINT, pit.joint, pit.photo, word, measure=wanted),
         JobHandedOver(pit.job, word))  # fmt: skip
    _people(office, pit)
    return pit


def _tell(register: SqlRegister, pit: Pit) -> None:
    """What happened there."""
    word, joint, belt = pit.word, pit.joint, pit.belt
    due = START + timedelta(days=3)
    _say(register, word, 800,
         plant_said.BeltPlaced(belt, pit.conveyor, f"belt {word}", 240.0),
         plant_said.PiecePlaced(belt, pit.piece, word, 1.0, 5.0),
         joint_said.JointPlanned(joint, pit.conveyor, LABEL, belt, 12.0),
         joint_said.JointBuilt(joint), joint_said.JointPutToWork(joint),
         plant_said.StockMoved(pit.site, f"bolt {word}", 40.0, word))  # fmt: skip
    for day, value in ((700.0, 0.009), (300.0, 0.008), (30.0, 0.0075)):
        typed = f"{value * 1000:g} mm"
        length = Kind.LENGTH
        read = joint_said.ReadingTaken(Stream.JOINT, joint, "pin", length, value, typed, word)
        _say(register, word, day, read)
    limit = joint_said.WearLimitSet(Stream.JOINT, joint, "pin", 0.006, "6 mm", word, 0.010)
    register.append(Fact(pit.limit, START - timedelta(days=400), word, limit))
    _say(register, word, 5,
         plant_said.DamageFound(belt, pit.damage, 40.0, 0.3, plant_said.Grade.WATCH, None, word),
         joint_said.JointDescribed(joint, 22, True),
         joint_said.InspectionClosed(joint, pit.inspection, note=word),
         joint_said.DueSet(joint, Task.RENEW, due, word),
         plant_said.FastenersRecorded(pit.site, f"range {word}", None))  # fmt: skip


def _people(office: Office, pit: Pit) -> None:
    """Who is let into this site only, what they left behind."""
    accounts, here = office.accounts, frozenset({pit.site})
    for role in (PersonRole.ADMIN, PersonRole.CREW):
        secret = accounts.invite(f"{pit.word} {role.value}", role, None, sites=here)
        made = accounts.accept(secret, f"{pit.word}-{role.value}".lower(), PASSWORD)
        setattr(pit, role.value, made)
        make_known(office.register, made, by=None, now=office.clock())
    assert pit.admin is not None and pit.crew is not None
    who = pit.admin
    accounts.invite(f"{pit.word} newcomer", PersonRole.CREW, who.account, sites=here)
    pit.invitation = next(i for i in accounts.invitations() if pit.word in i.name).id
    until = office.clock() + timedelta(days=700)
    accounts.make_token(who.account, f"key {pit.word}", {Scope.READ}, until, None)
    pit.token = next(t for t in accounts.tokens() if pit.word in t.label).token
    asking = office.room.seen_by(as_actor(who)).background
    assert asking is not None
    # Rows that are refused come back as a file.
    table = f"site,item,count,when\n{pit.word},bolt,x,2026-01-01\n".encode()
    name = f"{pit.word}.csv"
    hooks = office.register.hooks()
    made_hook, _ = hooks.make(as_actor(who), f"hook {pit.word}", "https://a.example.org/", since=0)
    pit.hook = made_hook.hook
    incoming = office.register.incoming()
    mapping = (
        f'site = "{pit.word} (invented)"\n[[value]]\ntopic = "{pit.word}/hours"\n'
        f'conveyor = "{pit.conveyor}"\nunit = "h"\n'
    )
    keep_mapping(office.register.said_by(as_actor(who)), incoming, as_actor(who),
                 mapping.encode(), "m.toml")  # fmt: skip
    incoming.note_fault(pit.site, f"{pit.word}/tonnes", "is wrong")
    incoming.note_recorded(pit.site, f"{pit.word}/hours", office.clock(), "1 h")
    pit.task = ask_import(asking, "stock", name, table, by=pit.word, account=who.account).task


def as_actor(who: Account) -> Actor:
    """As whom somebody reads and records at a page."""
    return Actor(who.account, who.name, who.role, sites=who.sites)


def _say(register: SqlRegister, word: str, day: float, *whats: What) -> None:
    at = START - timedelta(days=day)
    register.append(*(Fact(uuid4(), at, f"{word} hand", what, device=word) for what in whats))
