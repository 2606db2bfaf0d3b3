"""A register of an invented site, kept from the beginning, to take forecasts from."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID, uuid4

from splicewright.quantities import Kind, read
from splicewright.store import Fact, Stream, What
from splicewright.store.facts.joint_facts import (
    InspectionClosed,
    JointBuilt,
    JointPlanned,
    JointPutToWork,
    JointRemoved,
    Mode,
    ReadingTaken,
)
from splicewright.store.facts.plant_facts import ConveyorRecorded, SiteAdded
from splicewright.store.sql.register import SqlRegister, open_register

BEGIN = datetime(2024, 1, 1, 0, 0, tzinfo=UTC)
NOW = datetime(2026, 1, 1, 0, 0, tzinfo=UTC)


def day(number: float) -> datetime:
    """So many days after the beginning."""
    return BEGIN + timedelta(days=number)


@dataclass
class Recorded:
    """A register whose clock is moved to each fact's moment, as if it had been kept all along."""

    folder: Path
    moment: datetime = BEGIN
    site: UUID = field(default_factory=uuid4)

    def __post_init__(self) -> None:
        self.path = self.folder / "register.sqlite"
        self.register: SqlRegister = open_register(self.path, clock=lambda: self.moment)
        self.say(0, SiteAdded(self.site, "Karst Hollow (invented)"))

    def say(self, when: float, *whats: What) -> None:
        """Record facts on a day; the register's clock stands at the latest day so far."""
        at = day(when)
        self.moment = max(self.moment, at)
        self.register.append(*(Fact(uuid4(), at, "Ada Example", what) for what in whats))

    def conveyor(self, name: str, when: float = 0, *, speed: float = 2.0) -> UUID:
        """A conveyor of 240 m of belt."""
        conveyor = uuid4()
        self.say(when, ConveyorRecorded(conveyor, self.site, name, None, 240.0, speed))
        return conveyor

    def reading(
        self, when: float, conveyor: UUID, what: str, kind: Kind, typed: str, note: str = "",
        *, of: Stream = Stream.CONVEYOR,
    ) -> None:  # fmt: skip
        """A reading, as it was typed."""
        self.say(when, ReadingTaken(of, conveyor, what, kind, read(typed, kind), typed, note))

    def meter(self, conveyor: UUID, *readings: tuple[float, str], note: str = "") -> None:
        """Readings of the hour meter (or of the belt scale, by unit)."""
        for when, typed in readings:
            kind = Kind.RUN_TIME if typed.endswith("h") else Kind.TONNAGE
            self.reading(when, conveyor, "meter", kind, typed, note)

    def joint(
        self,
        conveyor: UUID,
        label: str,
        start: float,
        *,
        looks: tuple[tuple[float, bool], ...] = (),
        removed: float | None = None,
        mode: Mode = Mode.OTHER,
        kind: str = "",
    ) -> UUID:
        """A joint put to work on a day, looked at (fit or not), and perhaps removed."""
        joint = uuid4()
        planned = JointPlanned(joint, conveyor, label, construction=kind)
        self.say(start, planned, JointBuilt(joint), JointPutToWork(joint))
        for when, fit in looks:
            self.say(
                when,
                InspectionClosed(
                    joint, uuid4(), fit, note="looked again", not_seen="under the belt"
                ),
            )
        if removed is not None:
            self.say(removed, JointRemoved(joint, mode))
        return joint
