"""Rows of a table as facts: joints, readings and stock of years before the register.

The id of a fact is made from what its row says (not from the line it stands on), so that
importing a table again, or a longer one, records nothing twice.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Literal
from uuid import UUID, uuid5

from splicewright.errors import Fault, InputError
from splicewright.files.spreadsheets import Table, looks_like_formula, plain
from splicewright.quantities import Kind, read
from splicewright.store.facts.facts import Fact, canonical
from splicewright.store.facts.joint_facts import (
    JointBuilt,
    JointPlanned,
    JointPutToWork,
    JointRemoved,
    Mode,
    ReadingTaken,
)
from splicewright.store.facts.kinds import Stream, What
from splicewright.store.facts.plant_facts import StockMoved
from splicewright.store.present.present import ConveyorNow, JointNow, SiteNow
from splicewright.store.register import Register

TableKind = Literal["joints", "readings", "stock"]
_FROM_TABLE = UUID("5f1d3ad2-6e0c-5c6f-9c55-0f6a4b7f2c11")

COLUMNS: dict[TableKind, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "joints": (
        ("site", "conveyor", "label", "built"),
        ("place", "put to work", "removed", "mode", "note", "state"),
    ),
    "readings": (("site", "conveyor", "what", "measure", "value", "when"), ("label", "note")),
    "stock": (("site", "item", "count", "when"), ("why",)),
}
"""Columns of each table: those that must be there, and those that may.

`state` is written for the reader and not read: it follows from the days.
"""


@dataclass(frozen=True, slots=True)
class Refused:
    """A row that cannot be imported: its line, and every reason."""

    line: int
    faults: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class Prepared:
    """A table made ready: facts by line, and the rows refused."""

    facts: tuple[tuple[int, tuple[Fact, ...]], ...]
    refused: tuple[Refused, ...]


class _Row:
    """One row by column, collecting faults."""

    def __init__(self, cells: Mapping[str, str]) -> None:
        self._cells = cells
        self.faults: list[Fault] = []

    def text(self, column: str, *, must: bool = True) -> str:
        """The text of a cell; a formula is a fault."""
        cell = self._cells.get(column, "")
        if looks_like_formula(cell):
            self.faults.append(
                Fault(column, f"{cell[:40]!r} is a formula; accepted is the value itself")
            )
            return ""
        if not cell and must:
            self.faults.append(Fault(column, "is empty; it must be given"))
        return plain(cell)

    def moment(self, column: str, *, must: bool = True) -> datetime | None:
        """The day or moment of a cell."""
        cell = self.text(column, must=must)
        if not cell:
            return None
        try:
            moment = datetime.fromisoformat(cell)
        except ValueError:
            say = f"{cell[:40]!r} is no day; accepted is 2026-05-04 or 2026-05-04T06:00+02:00"
            self.faults.append(Fault(column, say))
            return None
        # A day without a clock time is taken at noon UTC, which is that day almost everywhere.
        if moment.tzinfo is None:
            bare = len(cell) <= len("2026-05-04")
            moment = (moment + timedelta(hours=12) if bare else moment).replace(tzinfo=UTC)
        return moment

    def number(self, column: str, kind: Kind, *, must: bool = True) -> float | None:
        """The number with its unit of a cell [SI]."""
        cell = self.text(column, must=must)
        if not cell:
            return None
        try:
            return read(cell, kind, column)
        except InputError as error:
            self.faults += error.faults
            return None


class Importing:
    """Turns rows into facts against what a register knows."""

    def __init__(
        self, register: Register, by: str, device: str, now: datetime, person: UUID | None = None
    ) -> None:
        self._register = register
        self._by, self._device, self._now, self._person = by, device, now, person
        self._sites = {site.name: site for site in register.sites()}
        self._conveyors = {(c.site, c.name): c for c in register.conveyors()}
        self._same: Counter[str] = Counter()

    def prepare(self, kind: TableKind, table: Table) -> Prepared:
        """Make facts of all rows that can be used, and say why of the others.

        Raises InputError: a column is missing, or is none of this table.
        """
        must, may = COLUMNS[kind]
        faults = [
            Fault(c, "is missing; the table must have this column")
            for c in must
            if c not in table.header
        ]
        accepted = ", ".join((*must, *may))
        faults += [
            Fault(c, f"is no column of {kind}; accepted are {accepted}")
            for c in table.header
            if c not in must + may
        ]
        if faults:
            raise InputError(*faults)
        work = {"joints": self._joint, "readings": self._reading, "stock": self._stock}[kind]
        facts, refused = [], []
        for line, cells in table.rows:
            row_facts, wrong = self._one(work, table.header, cells)
            if wrong:
                refused.append(Refused(line, tuple(wrong)))
            else:
                facts.append((line, row_facts))
        return Prepared(tuple(facts), tuple(refused))

    def _one(
        self,
        work: Callable[[_Row], list[tuple[datetime, What]]],
        header: tuple[str, ...],
        cells: tuple[str, ...],
    ) -> tuple[tuple[Fact, ...], list[Fault]]:
        if len(cells) > len(header) and any(cells[len(header) :]):
            return (), [Fault("", f"has {len(cells)} cells and the table {len(header)} columns")]
        row = _Row(dict(zip(header, cells, strict=False)))
        says = work(row)
        if row.faults:
            return (), row.faults
        facts = []
        for at, event in says:
            if at > self._now + timedelta(days=1):
                return (), [Fault("", f"{at.date()} lies in the future")]
            try:
                facts.append(self._fact(at, event))
            except InputError as error:
                return (), [Fault(f.key.removeprefix("what."), f.sentence) for f in error.faults]
        return tuple(facts), []

    def _fact(self, at: datetime, event: What) -> Fact:
        """A fact whose id is made from its content; equal rows of one table are counted apart."""
        body, checked = canonical(Fact(_FROM_TABLE, at, self._by, event, device=self._device))
        parsed = json.loads(body)
        key = json.dumps([parsed["at"], parsed["kind"], parsed["what"]], sort_keys=True)
        self._same[key] += 1
        id_ = uuid5(_FROM_TABLE, f"{key}{self._same[key]}")
        return Fact(id_, checked.at, self._by, checked.what, self._person, self._device)

    def _site(self, row: _Row) -> SiteNow | None:
        name = row.text("site")
        if name and name not in self._sites:
            row.faults.append(Fault("site", f"the register knows no site {name[:80]!r}"))
        return self._sites.get(name)

    def _conveyor(self, row: _Row) -> ConveyorNow | None:
        site, name = self._site(row), row.text("conveyor")
        if site is None or not name:
            return None
        match = self._conveyors.get((site.site, name))
        if match is None:
            say = f"the register knows no conveyor {name[:80]!r} at {site.name!r}"
            row.faults.append(Fault("conveyor", say))
        return match

    def _joint(self, row: _Row) -> list[tuple[datetime, What]]:
        conveyor, label = self._conveyor(row), row.text("label")
        place = row.number("place", Kind.DISTANCE, must=False)
        built, removed = row.moment("built"), row.moment("removed", must=False)
        began = row.moment("put to work", must=False) or built
        mode_said, note = row.text("mode", must=False), row.text("note", must=False)
        mode = next((m for m in Mode if m.value == mode_said), None)
        if mode_said and mode is None:
            say = f"{mode_said[:40]!r} is not known; accepted is one of {', '.join(Mode)}"
            row.faults.append(Fault("mode", say))
        if mode_said and removed is None:
            row.faults.append(Fault("removed", "is empty, and a mode of removal is given"))
        if built and began and began < built:
            row.faults.append(Fault("put to work", "is before the joint was built"))
        if began and removed and removed < began:
            row.faults.append(Fault("removed", "is before the joint was put to work"))
        if row.faults or conveyor is None or built is None or began is None:
            return []
        # The same label on the same conveyor, built at the same moment, is the same joint.
        joint = uuid5(_FROM_TABLE, f"{conveyor.conveyor} {label} {built.astimezone(UTC)}")
        says: list[tuple[datetime, What]] = [
            (built, JointPlanned(joint, conveyor.conveyor, label, None, place)),
            (built, JointBuilt(joint)),
            (began, JointPutToWork(joint)),
        ]
        if removed is not None:
            says.append((removed, JointRemoved(joint, mode or Mode.OTHER, note)))
        return says

    def _reading(self, row: _Row) -> list[tuple[datetime, What]]:
        conveyor, label = self._conveyor(row), row.text("label", must=False)
        name, measure_said, typed = row.text("what"), row.text("measure"), row.text("value")
        when, note = row.moment("when"), row.text("note", must=False)
        measure = next((k for k in Kind if k.value == measure_said), None)
        if measure_said and measure is None:
            say = f"{measure_said[:40]!r} is not known; accepted is one of {', '.join(Kind)}"
            row.faults.append(Fault("measure", say))
        value = row.number("value", measure) if measure is not None and typed else None
        joint = self._joint_called(row, conveyor, label, when) if label and conveyor else None
        if row.faults or conveyor is None or measure is None or value is None or when is None:
            return []
        of, about = (Stream.JOINT, joint.joint) if joint else (Stream.CONVEYOR, conveyor.conveyor)
        return [(when, ReadingTaken(of, about, name, measure, value, typed, note))]

    def _joint_called(
        self, row: _Row, conveyor: ConveyorNow, label: str, when: datetime | None
    ) -> JointNow | None:
        """The joint of that label that was in the belt at that moment."""
        named = self._register.joints(conveyor.conveyor, label=label)
        there = [
            j
            for j in named
            if when is None
            or ((j.built is None or j.built <= when) and (j.removed is None or when <= j.removed))
        ]
        if len(there) == 1:
            return there[0]
        if not named:
            say = f"the register knows no joint {label[:80]!r} on {conveyor.name!r}"
        elif not there:
            say = f"no joint {label[:80]!r} was in the belt at that time"
        else:
            say = f"{len(there)} joints {label[:80]!r} were in the belt at that time"
        row.faults.append(Fault("label", say))
        return None

    def _stock(self, row: _Row) -> list[tuple[datetime, What]]:
        site, item = self._site(row), row.text("item")
        count, when = row.number("count", Kind.COUNT), row.moment("when")
        why = row.text("why", must=False)
        if row.faults or site is None or count is None or when is None:
            return []
        return [(when, StockMoved(site.site, item, count, why))]
