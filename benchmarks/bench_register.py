"""The register at size: conveyor page, due list, durable writes.

    python -m benchmarks.bench_register            50,000 facts, 1,000 joints
    python -m benchmarks.bench_register 1000000    1,000,000 facts, 20,000 joints

References in the same run: bare sqlite3 with the same pragmas, writing the same bytes and looking
up one row by its key. Aims at full size: page and due list p95 under 100 ms with 50 clients on two
cores, more than 200 durable writes a second.
"""

from __future__ import annotations

import random
import sqlite3
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID, uuid4

from benchmarks.timing import report
from splicewright.store import Fact, Register
from splicewright.store.belt_map import belt_map
from splicewright.store.joint_facts import (
    End,
    InspectionClosed,
    JointBuilt,
    JointPlanned,
    JointPutToWork,
    PlateInspected,
    PlateState,
)
from splicewright.store.kinds import What
from splicewright.store.plant_facts import BeltPlaced, ConveyorRecorded, SiteAdded, StockMoved
from splicewright.store.sql import open_register

START = datetime(2016, 1, 4, 6, 0, tzinfo=UTC)
PER_JOINT, PER_CONVEYOR, CLIENTS = 50, 20, 50
DAY = 86400.0


def _fact(at: datetime, what: What) -> Fact:
    return Fact(uuid4(), at, "Ada Example", what, device="phone 1")


def _facts(events: int, site: UUID, conveyors: list[UUID]) -> Iterator[Fact]:
    """Ten years of a site: a few thousand joints, each planned, built, run and inspected."""
    yield _fact(START, SiteAdded(site, "Karst Hollow (invented)"))
    for number in range(events // PER_JOINT):
        at = START + timedelta(hours=4 * number)
        if number % PER_CONVEYOR == 0:
            conveyor, belt = uuid4(), uuid4()
            conveyors.append(conveyor)
            name = f"K{len(conveyors)}"
            yield _fact(at, ConveyorRecorded(conveyor, site, name, None, 240.0, 2.0))
            yield _fact(at, BeltPlaced(belt, conveyor, "belt", 240.0))
        joint = uuid4()
        place = 240.0 * (number % PER_CONVEYOR) / PER_CONVEYOR
        yield _fact(
            at, JointPlanned(joint, conveyor, f"J{number}", belt, place, None, "", DAY, DAY)
        )
        yield _fact(at, JointBuilt(joint))
        yield _fact(at, JointPutToWork(joint))
        for done in range(1, 3):
            inspection, then = uuid4(), at + timedelta(days=30 * done)
            for plate in range(1, (PER_JOINT - 6) // 2 + 1):
                state = PlateState.OK if plate != 7 else PlateState.WORN
                yield _fact(then, PlateInspected(joint, inspection, End.LEADING, plate, state))
            yield _fact(then, InspectionClosed(joint, inspection, True, 30 * DAY))


def _p95(runs: int, work: Callable[[], object]) -> float:
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return sorted(times)[int(0.95 * runs)]


def _p95_crowd(runs: int, work: Callable[[], object]) -> float:
    """95th percentile of one answer while CLIENTS ask without pause."""
    times: list[float] = []

    def ask() -> None:
        for _ in range(runs):
            start = time.perf_counter()
            work()
            times.append(time.perf_counter() - start)

    threads = [threading.Thread(target=ask) for _ in range(CLIENTS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return sorted(times)[int(0.95 * len(times))]


def _bare(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("CREATE TABLE facts (seq INTEGER PRIMARY KEY, id TEXT UNIQUE, body TEXT)")
    return connection


def _page(register: Register, conveyor: UUID, now: datetime) -> None:
    """What a conveyor page asks for."""
    register.conveyor(conveyor)
    register.joints(conveyor)
    register.due(now, conveyor=conveyor)
    belt_map(register, conveyor, now)
    register.jobs(conveyor, open_only=True)


def main(events: int = 50_000) -> None:
    """Fill a register, measure, print."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with open_register(folder / "register.sqlite") as register:
            _measure(register, _bare(folder / "bare.sqlite"), events, folder)


def _measure(register: Register, bare: sqlite3.Connection, events: int, folder: Path) -> None:
    site, conveyors = uuid4(), list[UUID]()
    facts = list(_facts(events, site, conveyors))
    start = time.perf_counter()
    for first in range(0, len(facts), 5000):
        register.append(*facts[first : first + 5000])
    filling = time.perf_counter() - start
    start = time.perf_counter()
    rows = [(str(fact.id), fact.to_json()) for fact in facts]
    for first in range(0, len(rows), 5000):
        bare.execute("BEGIN IMMEDIATE")
        bare.executemany("INSERT INTO facts (id, body) VALUES (?, ?)", rows[first : first + 5000])
        bare.execute("COMMIT")
    plain = time.perf_counter() - start
    joints = events // PER_JOINT
    size = (folder / "register.sqlite").stat().st_size / 1e6
    print(f"{len(facts)} facts, {joints} joints, {len(conveyors)} conveyors, {size:.0f} MB")
    report("filling, per 1000 facts", 1e3 * filling / len(facts), "bare sqlite3, same bytes",
           1e3 * plain / len(facts))  # fmt: skip
    _measure_writes(register, bare, site)
    _measure_pages(register, bare, conveyors, rows)
    del facts, rows
    start = time.perf_counter()
    open_register(folder / "register.sqlite").close()
    opening = time.perf_counter() - start
    start = time.perf_counter()
    bare.execute("PRAGMA quick_check").fetchall()
    report("opening, with the check of the file", opening, "bare quick_check, half the bytes",
           time.perf_counter() - start)  # fmt: skip


def _measure_writes(register: Register, bare: sqlite3.Connection, site: UUID) -> None:
    runs = 300
    one = [_fact(START, StockMoved(site, "bolt", 1.0)) for _ in range(2 * runs)]
    start = time.perf_counter()
    for fact in one[:runs]:
        register.append(fact)
    writing = (time.perf_counter() - start) / runs
    start = time.perf_counter()
    for fact in one[runs:]:
        bare.execute("BEGIN IMMEDIATE")
        bare.execute("INSERT INTO facts (id, body) VALUES (?, ?)", (str(fact.id), fact.to_json()))
        bare.execute("COMMIT")
    plain = (time.perf_counter() - start) / runs
    report(f"one durable write ({1 / writing:.0f}/s, aim 200/s)", writing, "bare sqlite3, same bytes",
           plain)  # fmt: skip


def _measure_pages(
    register: Register, bare: sqlite3.Connection, conveyors: list[UUID], rows: list[tuple[str, str]]
) -> None:
    chance, now = random.Random(1), START + timedelta(days=3650)

    def look_up() -> None:
        key = chance.choice(rows)[0]
        bare.execute("SELECT body FROM facts WHERE id = ?", (key,)).fetchone()

    def page() -> None:
        _page(register, chance.choice(conveyors), now)

    def due() -> None:
        register.due(now, limit=200)

    reference = _p95(300, look_up)
    for what, work in (("conveyor page", page), ("due list of 200", due)):
        report(f"{what}, p95", _p95(200, work), "bare look-up by key, p95", reference)
        report(f"{what}, {CLIENTS} clients, p95 (aim 100 ms)", _p95_crowd(4, work),
               "bare look-up by key, p95", reference)  # fmt: skip


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:2]))
