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
from concurrent.futures import ProcessPoolExecutor
from datetime import UTC, datetime, timedelta
from itertools import islice
from multiprocessing import get_context
from pathlib import Path
from uuid import UUID, uuid4

from benchmarks.timing import report
from splicewright.actions.belt.map import belt_map
from splicewright.joint.inspection.verdict import PlateState
from splicewright.joint.layout import End
from splicewright.store import Fact, Register
from splicewright.store.facts.joint_facts import (
    InspectionClosed,
    JointBuilt,
    JointPlanned,
    JointPutToWork,
    PlateInspected,
)
from splicewright.store.facts.kinds import What
from splicewright.store.facts.plant_facts import BeltPlaced, ConveyorRecorded, SiteAdded, StockMoved
from splicewright.store.sql.register import open_register

START = datetime(2016, 1, 4, 6, 0, tzinfo=UTC)
PER_JOINT, PER_CONVEYOR, CLIENTS, PROCESSES = 50, 20, 50, 2
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
            closed = InspectionClosed(joint, inspection, True, 30 * DAY, not_seen="trailing end")
            yield _fact(then, closed)


def _p95(runs: int, work: Callable[[], object]) -> float:
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return sorted(times)[int(0.95 * runs)]


def _p95_crowd(path: Path, what: str, conveyors: list[UUID]) -> float:
    """95th percentile of one answer while CLIENTS ask without pause, over PROCESSES servers."""
    with ProcessPoolExecutor(PROCESSES, get_context("spawn")) as pool:
        asked = [
            pool.submit(_ask, path, what, conveyors, CLIENTS // PROCESSES) for _ in range(PROCESSES)
        ]
        times = sorted(t for answer in asked for t in answer.result())
    return times[int(0.95 * len(times))]


def _ask(path: Path, what: str, conveyors: list[UUID], clients: int) -> list[float]:
    """One serving process: many threads on one register."""
    chance, times = random.Random(), list[float]()
    with open_register(path, check=False) as register:
        work = _work(what, register, conveyors, chance)
        work()

        def ask() -> None:
            for _ in range(8):
                start = time.perf_counter()
                work()
                times.append(time.perf_counter() - start)

        threads = [threading.Thread(target=ask) for _ in range(clients)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    return times


def _work(
    what: str, register: Register, conveyors: list[UUID], chance: random.Random
) -> Callable[[], object]:
    now = START + timedelta(days=3650)
    if what == "conveyor page":
        return lambda: _page(register, chance.choice(conveyors), now)
    return lambda: register.due(now, limit=200)


def _bare(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("CREATE TABLE facts (seq INTEGER PRIMARY KEY, id TEXT UNIQUE, body TEXT)")
    return connection


def _page(register: Register, conveyor: UUID, now: datetime) -> None:
    """What a conveyor page asks for."""
    register.conveyor(conveyor)
    joints = register.joints(conveyor)
    register.due(now, conveyor=conveyor)
    belt_map(register, conveyor, now, joints)
    register.jobs(conveyor, open_only=True)


def main(events: int = 50_000) -> None:
    """Fill a register, measure, print."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path, bare = folder / "register.sqlite", _bare(folder / "bare.sqlite")
        with open_register(path) as register:
            site, conveyors, ids = uuid4(), list[UUID](), list[UUID]()
            _fill(register, bare, _facts(events, site, conveyors), ids)
            print(
                f"{register.head().seq} facts, {events // PER_JOINT} joints, {len(conveyors)} "
                f"conveyors, {path.stat().st_size / 1e6:.0f} MB"
            )
            _measure_writes(register, bare, site)
            _measure_pages(register, path, bare, conveyors, ids)
        _measure_opening(path, bare)
        bare.close()


def _fill(
    register: Register, bare: sqlite3.Connection, facts: Iterator[Fact], ids: list[UUID]
) -> None:
    ours = plain = 0.0
    while some := list(islice(facts, 5000)):
        start = time.perf_counter()
        register.append(*some)
        ours += time.perf_counter() - start
        start = time.perf_counter()
        bare.execute("BEGIN IMMEDIATE")
        rows = [(str(fact.id), fact.to_json()) for fact in some]
        bare.executemany("INSERT INTO facts (id, body) VALUES (?, ?)", rows)
        bare.execute("COMMIT")
        plain += time.perf_counter() - start
        ids += [fact.id for fact in some[::50]]
    report("filling", ours, "bare sqlite3, same bytes", plain)


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
    what = f"one durable write ({1 / writing:.0f}/s, aim 200/s)"
    report(what, writing, "bare sqlite3, same bytes", plain)


def _measure_pages(
    register: Register,
    path: Path,
    bare: sqlite3.Connection,
    conveyors: list[UUID],
    ids: list[UUID],
) -> None:
    chance = random.Random(1)

    def look_up() -> None:
        key = (str(chance.choice(ids)),)
        bare.execute("SELECT body FROM facts WHERE id = ?", key).fetchone()

    look, reference = "bare look-up by key, p95", _p95(300, look_up)
    for what in ("conveyor page", "due list of 200"):
        alone = _p95(200, _work(what, register, conveyors, chance))
        report(f"{what}, p95", alone, look, reference)
        crowd = _p95_crowd(path, what, conveyors)
        report(f"{what}, {CLIENTS} clients, p95 (aim 100 ms)", crowd, look, reference)


def _measure_opening(path: Path, bare: sqlite3.Connection) -> None:
    start = time.perf_counter()
    open_register(path).close()
    opening = time.perf_counter() - start
    start = time.perf_counter()
    bare.execute("PRAGMA quick_check").fetchall()
    plain = time.perf_counter() - start
    report("opening, with the check of the file", opening, "bare quick_check, same facts", plain)


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:2]))
