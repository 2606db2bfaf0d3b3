"""Facts and registers for the tests; all names are invented."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

from splicewright.store import Fact, Register, What
from splicewright.store.facts.job_facts import SIGN_OFFS, SignedOff
from splicewright.store.facts.joint_facts import JointPlanned
from splicewright.store.facts.plant_facts import BeltPlaced, ConveyorRecorded, SiteAdded

DAY, HOUR = 86400.0, 3600.0
START = datetime(2026, 5, 4, 6, 0, tzinfo=UTC)


@dataclass
class Clock:
    """A clock that stands still until it is moved."""

    now: datetime = START

    def __call__(self) -> datetime:
        return self.now

    def pass_(self, seconds: float) -> None:
        self.now += timedelta(seconds=seconds)


def signed_off(job: UUID, seen: int, *, closes: bool = False) -> SignedOff:
    """A signature under what the page asks to sign."""
    role = "I built it"
    return SignedOff(job, role, SIGN_OFFS[role], seen, closes)


@dataclass
class Plant:
    """One site, one conveyor, one belt of 240 m."""

    clock: Clock
    site: UUID = field(default_factory=uuid4)
    conveyor: UUID = field(default_factory=uuid4)
    belt: UUID = field(default_factory=uuid4)

    def fact(self, what: What, by: str = "Ada Example", device: str = "phone 1") -> Fact:
        return Fact(uuid4(), self.clock(), by, what, device=device)

    def begin(self, register: Register) -> None:
        register.append(
            self.fact(SiteAdded(self.site, "Karst Hollow (invented)")),
            self.fact(ConveyorRecorded(self.conveyor, self.site, "K2", None, 240.0, 2.0)),
            self.fact(BeltPlaced(self.belt, self.conveyor, "main belt", 240.0, "EP 500/3 5+2")),
        )

    def joint(
        self, register: Register, label: str = "J1", place: float | None = 60.0, kind: str = ""
    ) -> UUID:
        joint = uuid4()
        planned = JointPlanned(
            joint, self.conveyor, label, self.belt, place, None, "", 8 * HOUR, 7 * DAY, kind
        )
        register.append(self.fact(planned))
        return joint


@dataclass(frozen=True)
class Server:
    """A real PostgreSQL server; `crash` stops it at once, without a word, and starts it again."""

    url: str
    crash: Callable[[], None]
