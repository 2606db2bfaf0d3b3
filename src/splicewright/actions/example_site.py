"""Make a register of an invented site, with a past, so that every page has something to show.

Everything in it is invented: the names say so, and every page of the app that shows it.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import UUID, uuid4

from splicewright.errors import Fault, InputError
from splicewright.quantities import Kind, read, show

if TYPE_CHECKING:
    from splicewright.job import JointPlan, Reading
    from splicewright.store import Fact, Register, What
    from splicewright.store.present.present import ConveyorNow

DAY, WEEK = 86400.0, 7 * 86400.0
ADA, BEN, CLEO = "Ada Example", "Ben Example", "Cleo Example"
_PLATES = 12
"""Of one end of a joint without a plan."""


def open_example(register: Register, site: Path, *, now: datetime) -> None:
    """Fill an empty register from a site's folder.

    site : folder with conveyors, jobs, fasteners and history, such as examples/karst-hollow
    now : what is told lies before it
    Raises InputError: there is no such folder, it holds no conveyors, or one of its files cannot be
    used.
    """
    from splicewright.actions.conveyor.record import record_conveyor
    from splicewright.actions.fasteners import record_fasteners

    files = sorted(site.glob("conveyors/*.toml"))
    if not files:
        raise InputError(Fault("site", f"{site} holds no conveyors/*.toml"))
    began = now - timedelta(days=640)
    for file in files:
        record_conveyor(register, file, by=ADA, now=began, device="desk")
    conveyors = {
        file.stem: c
        for file in files
        for c in register.conveyors()
        if c.name in file.read_text("utf-8")
    }
    place = register.conveyors()[0].site
    for file in sorted(site.glob("fasteners/*.toml")):
        record_fasteners(
            register, place, file.read_bytes(), file.name, by=ADA, now=began, device="desk"
        )
    scenario = _Scenario(register, site, now)
    scenario.people()
    for conveyor in conveyors.values():
        scenario.belt(conveyor)
    for stem, fill in (("incline", _incline), ("flat", _flat), ("shuttle", _shuttle)):
        if stem in conveyors:
            fill(scenario, conveyors[stem])
    scenario.stock()
    scenario.send()


@dataclass
class _Scenario:
    """The invented past being told; facts are recorded together at the end."""

    register: Register
    site: Path
    now: datetime
    facts: list[Fact] = field(default_factory=list)
    belts: dict[UUID, UUID] = field(default_factory=dict)

    def tell(self, days_ago: float, by: str, *events: What, device: str = "phone") -> None:
        from splicewright.store import Fact

        at = self.now - timedelta(days=days_ago)
        self.facts.extend(Fact(uuid4(), at, by, event, device=device) for event in events)

    def send(self) -> None:
        self.register.append(*self.facts)
        self.facts.clear()

    def people(self) -> None:
        from splicewright.store.facts.plant_facts import PersonAdded, PersonRole

        for name, role in ((ADA, PersonRole.LEAD), (BEN, PersonRole.CREW), (CLEO, PersonRole.CREW)):
            self.tell(640, ADA, PersonAdded(uuid4(), name, role), device="desk")

    def belt(self, conveyor: ConveyorNow) -> None:
        from splicewright.store.facts.plant_facts import BeltPlaced

        belt = self.belts[conveyor.conveyor] = uuid4()
        length = conveyor.belt_length or 100.0
        placed = BeltPlaced(belt, conveyor.conveyor, "main belt", length, self._marking(conveyor))
        self.tell(420, ADA, placed, device="desk")
        self.meter(conveyor)

    def meter(self, conveyor: ConveyorNow) -> None:
        """What the hour meter showed."""
        from splicewright.store import Stream
        from splicewright.store.facts.joint_facts import ReadingTaken

        for days_ago, hours in ((420, 12000), (300, 13750), (180, 15400), (60, 17120), (2, 17960)):
            taken = ReadingTaken(
                Stream.CONVEYOR,
                conveyor.conveyor,
                "hour meter",
                Kind.RUN_TIME,
                hours * 3600.0,
                f"{hours} h",
            )
            self.tell(days_ago, CLEO, taken)

    def piece(
        self, conveyor: ConveyorNow, name: str, start: float, length: float, days_ago: float
    ) -> None:
        from splicewright.store.facts.plant_facts import PiecePlaced

        belt, made = self.belts[conveyor.conveyor], self.now - timedelta(days=days_ago + 90)
        marking = self._marking(conveyor)
        self.tell(days_ago, ADA, PiecePlaced(belt, uuid4(), name, start, length, marking, made))

    def joint(
        self, conveyor: ConveyorNow, label: str, place: float | None, days_ago: float
    ) -> UUID:
        """A joint that was made without a plan of ours and runs."""
        from splicewright.store.facts.joint_facts import (
            JointBuilt,
            JointPlanned,
            JointPutToWork,
            JointRetightened,
        )

        joint, belt = uuid4(), self.belts[conveyor.conveyor]
        planned = JointPlanned(
            joint, conveyor.conveyor, label, belt, place, None, "", 8 * 3600.0, 2 * WEEK
        )
        self.tell(days_ago, ADA, planned, device="desk")
        self.tell(days_ago - 0.2, BEN, JointBuilt(joint))
        self.tell(days_ago - 0.3, BEN, JointPutToWork(joint))
        self.tell(days_ago - 0.7, BEN, JointRetightened(joint))
        return joint

    def planned(
        self, conveyor: ConveyorNow, work: str, label: str, place: float | None, days_ago: float
    ) -> tuple[JointPlan, UUID, UUID] | None:
        """Plan, joint and job from a work file of the site; None where it has no such file."""
        from splicewright.actions.plan.plan import plan_joint
        from splicewright.actions.plan.record import record_plan

        file = self.site / "jobs" / f"{work}.toml"
        plants = [
            f for f in self.site.glob("conveyors/*.toml") if conveyor.name in f.read_text("utf-8")
        ]
        if not file.is_file():
            return None
        self.send()
        plan = plan_joint(plants[0], file)
        done = record_plan(
            self.register,
            plan,
            conveyor=conveyor.conveyor,
            label=label,
            by=ADA,
            place=place,
            belt=self.belts[conveyor.conveyor],
            now=self.now - timedelta(days=days_ago),
            device="desk",
        )
        return plan, done.joint, done.job

    def work_through(
        self, plan: JointPlan, job: UUID, days_ago: float, by: str, steps: int | None = None
    ) -> None:
        """Tick the first steps of a job, write down values within their limits or as planned."""
        from splicewright.job import asked_of, lines_to_tick
        from splicewright.store.facts.job_facts import HoldPointSigned, StepTicked, ValueRecorded

        pace = 0.25 / len(plan.steps)
        for number, step in enumerate(plan.steps[:steps]):
            ago = days_ago - pace * number
            lines = range(1, lines_to_tick(plan, step) + 1)
            self.tell(ago, by, *(StepTicked(job, step.key, line=line) for line in lines))
            for reading in asked_of(plan, step):
                if reading.of_pair:
                    continue
                typed = show(_middle(reading, plan), reading.kind)
                value = read(typed, reading.kind)
                self.tell(
                    ago,
                    by,
                    *(
                        ValueRecorded(job, step.key, reading.what, reading.kind, value, typed, box)
                        for box in range(1, reading.boxes + 1)
                    ),
                )
            if step.hold_point:
                self.tell(ago, by, HoldPointSigned(job, step.key, step.hold_point))
            self.tell(ago, by, StepTicked(job, step.key))

    def sign_off(self, job: UUID, days_ago: float, by: str) -> None:
        from splicewright.store.facts.job_facts import SIGN_OFFS, SignedOff

        self.send()
        seen, role = self.register.version(job), "I answer for the job"
        self.tell(days_ago, by, SignedOff(job, role, SIGN_OFFS[role], seen, closes=True))

    def inspected(
        self,
        joint: UUID,
        days_ago: float,
        *,
        bad: tuple[int, ...] = (),
        can_run: bool = True,
        next_after: float | None = None,
        note: str = "",
    ) -> None:
        from splicewright.actions.register.kept_files import kept_plan
        from splicewright.joint.inspection.verdict import PlateState
        from splicewright.joint.layout import End
        from splicewright.store.facts.joint_facts import (
            EndInspected,
            InspectionClosed,
            PlateInspected,
        )

        self.send()
        kept = kept_plan(self.register, joint)
        layout = kept[1].layout if kept is not None else None
        inspection, plates = uuid4(), layout.count if layout is not None else _PLATES
        looked = (EndInspected(joint, inspection, end, plates) for end in End)
        self.tell(days_ago, CLEO, *looked)
        states = (PlateState.WORN, PlateState.CRACKED, PlateState.LOST)
        for number, plate in enumerate(bad):
            state = states[min(number, 2)] if not can_run else PlateState.WORN
            self.tell(days_ago, CLEO, PlateInspected(joint, inspection, End.LEADING, plate, state))
        closed = InspectionClosed(joint, inspection, can_run, next_after, note)
        self.tell(days_ago - 0.01, CLEO, closed)

    def readings(self, conveyor: ConveyorNow, table: str) -> None:
        """Readings of the belt from a table of the site's history."""
        from splicewright.store import Stream
        from splicewright.store.facts.joint_facts import ReadingTaken, WearLimitSet

        belt = self.belts[conveyor.conveyor]
        limits: set[str] = set()
        for row in _rows(self.site / "history" / table):
            at = datetime.fromisoformat(row["date"]).replace(hour=9, tzinfo=UTC)
            typed = f"{row['value [mm]']} mm"
            value = read(typed, Kind.LENGTH)
            checked = "checked" if row["checked"] == "yes" else ""
            note = "; ".join(word for word in (checked, row["note"]) if word)
            taken = ReadingTaken(Stream.BELT, belt, row["place"], Kind.LENGTH, value, typed, note)
            ago = max(0.0, (self.now - at).total_seconds() / DAY)
            self.tell(ago, CLEO, taken)
            if row["limit [mm]"] and row["place"] not in limits:
                limits.add(row["place"])
                typed = f"{row['limit [mm]']} mm"
                worn = WearLimitSet(
                    Stream.BELT,
                    belt,
                    row["place"],
                    read(typed, Kind.LENGTH),
                    typed,
                    "site rule (invented)",
                )
                self.tell(ago, ADA, worn, device="desk")

    def stock(self) -> None:
        """What lies on the shelf, by the site's table of stock."""
        from splicewright.store.facts.plant_facts import StockMoved

        [site] = {c.site for c in self.register.conveyors()}
        for row in _rows(self.site / "history" / "stock-items.csv"):
            count = float(row["on shelf"])
            came = StockMoved(site, row["item"], count + 1, "counted (invented)")
            used = StockMoved(site, row["item"], -1.0, "used (invented)")
            self.tell(60, ADA, came, device="desk")
            self.tell(30, BEN, used)

    def _marking(self, conveyor: ConveyorNow) -> str:
        import tomllib

        file = self.register.content(conveyor.file or "")
        marking = tomllib.loads(file.data.decode("utf-8-sig")).get("belt", {}).get("marking", "")
        return str(marking)


def _middle(reading: Reading, plan: JointPlan) -> float:
    """A value as a crew would find it: within the limits, as planned, or likely [SI]."""
    value = _within(reading, plan)
    # As a calliper reads: nobody writes down micrometres.
    return round(value, 4) if reading.kind is Kind.LENGTH else value


def _within(reading: Reading, plan: JointPlan) -> float:
    from splicewright.job import likely

    low, high = reading.low, reading.high
    if low is not None or high is not None:
        least = low or 0.0
        return least + 0.4 * ((high or 2 * least) - least)
    planned = [value for _, value, kind in reading.limit.numbers if kind is reading.kind]
    if planned:
        return planned[0]
    low, high = likely(reading, plan.conveyor.belt.width.value)
    if low is None and high is not None and high < plan.conveyor.belt.width.value:
        return high / 8  # a small thing, such as a bow: near what it should be
    return ((low or 0.0) + (high if high is not None else (low or 0.0) + 1.0)) / 2


def _rows(file: Path) -> list[dict[str, str]]:
    """Rows of a table; none where there is no such file."""
    if not file.is_file():
        return []
    lines = [line for line in file.read_text("utf-8").splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


def _incline(scenario: _Scenario, conveyor: ConveyorNow) -> None:
    """A long belt of three pieces: a joint that failed, its successor, one worn, one planned."""
    from splicewright.store.facts.joint_facts import (
        DueSet,
        JointBuilt,
        JointPutToWork,
        JointRemoved,
        JointRetightened,
        JointSeen,
        Mode,
        Task,
    )
    from splicewright.store.facts.plant_facts import DamageFound, DamageMended, Grade

    length = conveyor.belt_length or 100.0
    belt = scenario.belts[conveyor.conveyor]
    scenario.piece(conveyor, "first roll", 0.0, 0.55 * length, 420)
    scenario.piece(conveyor, "second roll", 0.55 * length, 0.4 * length, 420)
    scenario.piece(conveyor, "insert piece", 0.95 * length, 0.05 * length, 150)
    first = scenario.joint(conveyor, "K2-1", 0.0, 420)
    scenario.inspected(first, 400)
    scenario.inspected(first, 180, note="pin worn to half its limit")
    gone = JointRemoved(first, Mode.PIN_WORN, "pin through at the left edge")
    scenario.tell(151, BEN, gone)
    worn = scenario.joint(conveyor, "K2-2", 0.55 * length, 420)
    scenario.inspected(worn, 200)
    scenario.inspected(worn, 12, bad=(1, 2), next_after=WEEK, note="edge plates worn, watched")
    renew = scenario.now + timedelta(days=21)
    scenario.tell(12, ADA, DueSet(worn, Task.RENEW, renew, "edge plates worn"), device="desk")
    scenario.joint(conveyor, "K2-3", 0.95 * length, 150)
    planned = scenario.planned(conveyor, "incline-worn-joint", "K2-4", 0.0, 152)
    if planned is not None:
        plan, joint, job = planned
        scenario.work_through(plan, job, 151, BEN)
        scenario.sign_off(job, 150.5, ADA)
        scenario.tell(150.6, BEN, JointBuilt(joint))
        scenario.tell(150.5, BEN, JointPutToWork(joint))
        scenario.tell(150.1, BEN, JointRetightened(joint))
        scenario.inspected(joint, 20, next_after=2 * WEEK)
        scenario.tell(3.0 / 24 / 60, CLEO, JointSeen(joint, 0.25 * length))
    scenario.planned(conveyor, "incline-vulcanised", "K2-5", 0.55 * length, 5)
    cut = uuid4()
    scenario.tell(90, CLEO, DamageFound(belt, cut, 0.3 * length, 0.4, Grade.REPAIR, 0.2, "cut"))
    scenario.tell(80, BEN, DamageMended(belt, cut, "patched cold"))
    edge = DamageFound(belt, uuid4(), 0.72 * length, 1.5, Grade.WATCH, -0.48, "edge frayed")
    scenario.tell(33, CLEO, edge)
    scenario.readings(conveyor, "incline-wear.csv")


def _flat(scenario: _Scenario, conveyor: ConveyorNow) -> None:
    """A torn belt that stands: one joint must not run, a piece is to be inserted."""
    from splicewright.store.facts.joint_facts import JointSuspended
    from splicewright.store.facts.plant_facts import DamageFound, Grade

    length = conveyor.belt_length or 100.0
    belt = scenario.belts[conveyor.conveyor]
    scenario.piece(conveyor, "only roll", 0.0, length, 420)
    joint = scenario.joint(conveyor, "K1-1", 0.1 * length, 300)
    scenario.inspected(joint, 100)
    scenario.inspected(joint, 1.5, bad=(4, 5, 6), can_run=False, note="plates pulled out")
    scenario.tell(1.4, ADA, JointSuspended(joint, "plates pulled out; belt stands"))
    torn = DamageFound(belt, uuid4(), 0.62 * length, 2.8, Grade.STOP, 0.0, "torn across")
    scenario.tell(1.5, CLEO, torn)
    planned = scenario.planned(conveyor, "flat-torn-belt", "K1-2", 0.62 * length, 1.2)
    if planned is not None:
        plan, _, job = planned
        scenario.work_through(plan, job, 0.3, BEN, steps=5)


def _shuttle(scenario: _Scenario, conveyor: ConveyorNow) -> None:
    """A new belt, closed with one joint that is built and not yet run."""
    from splicewright.store.facts.joint_facts import JointBuilt

    scenario.piece(conveyor, "new roll", 0.0, conveyor.belt_length or 100.0, 4)
    planned = scenario.planned(conveyor, "shuttle-new-belt", "K5-1", 0.0, 4)
    if planned is not None:
        plan, joint, job = planned
        scenario.work_through(plan, job, 2.0, CLEO, steps=len(plan.steps) - 3)
        scenario.tell(1.7, CLEO, JointBuilt(joint))
