"""A fleet of any size: the page Fleet, a new fact, a large site's forecast, and memory.

    python -m benchmarks.bench_fleet                     100,000 joints on 100 sites
    python -m benchmarks.bench_fleet 5000000 5000        5,000,000 joints on 5,000 sites
    python -m benchmarks.bench_fleet 5000000 5000 FILE   keeps the register in FILE

The rows of the present state are simulated and written as they are, not fact by fact; the counts
are made of them as an upgrade makes them. References in the same run: the fit of all lives one by
one, and the same question for somebody let into three sites.

Aims: page under 1 s, a new fact under 50 ms, memory under 500 MB.
"""

from __future__ import annotations

import resource
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import uuid4

import numpy as np

from benchmarks.timing import report
from splicewright.actions.fleet.due import see_due
from splicewright.actions.fleet.fleet import see_fleet
from splicewright.history.life.counts import Fate, records_of
from splicewright.history.life.lives import gather, lives_of
from splicewright.history.life.weibull import fit_weibull
from splicewright.store import Actor, Fact, PersonRole, Register
from splicewright.store.facts.joint_facts import JointPutToWork, JointRemoved, Mode
from splicewright.store.facts.plant_facts import SiteAdded
from splicewright.store.sql.life_counts import count_anew
from splicewright.store.sql.register import SqlRegister, open_register

NOW = datetime(2026, 11, 28, 6, tzinfo=UTC)
PER_CONVEYOR, YEARS, AT_ONCE = 20, 15.0, 20_000
YEAR = 365.25 * 86_400.0
KINDS = ("hinged", "hinged", "hinged", "riveted hinge", "vulcanised step")
MODES = [m.value for m in Mode if m not in {Mode.RENEWED, Mode.BELT_CHANGED}]


def _micro(seconds: float) -> int:
    return int((NOW.timestamp() - seconds) * 1e6)


def _named(number: int) -> str:
    """An identity that grows with the number: rows then go to the end of each index, not all over
    it, which takes most of an hour for millions."""
    return f"{number:08x}{uuid4().hex[8:]}"


def _rows(joints: int, sites: int) -> Iterator[tuple[str, list[tuple[object, ...]]]]:
    """Tables and rows: Weibull lives begun over 15 years, of three kinds; a third of those that run
    have a task."""
    rng = np.random.default_rng(1)
    names = [_named(n) for n in range(sites)]
    yield "sites", [(s, f"Site {n} (invented)", "") for n, s in enumerate(names)]
    yield "subjects", [(s, "site", 1) for s in names]
    conveyors: list[str] = []
    for first in range(0, joints, AT_ONCE):
        number = min(AT_ONCE, joints - first)
        start = rng.uniform(0.01, YEARS, number) * YEAR
        lived = 9 * YEAR * rng.weibull(1.9, number)
        mode, due = rng.integers(0, len(MODES), number), rng.uniform(-20, 300, number)
        made: list[tuple[object, ...]] = []
        plants: list[tuple[object, ...]] = []
        dues: list[tuple[object, ...]] = []
        for n in range(number):
            if (first + n) % PER_CONVEYOR == 0:
                conveyors.append(_named(len(conveyors)))
                site = names[(first + n) // PER_CONVEYOR % sites]
                plants.append((conveyors[-1], site, f"K{len(conveyors)}", None, 1, 240.0, 2.0))
            joint, begun, gone = _named(first + n), _micro(start[n]), lived[n] < start[n]
            end = _micro(start[n] - lived[n]) if gone else None
            state = "removed" if gone else "running"
            made.append(
                (joint, conveyors[-1], None, f"J{first + n}", None, state, None, "", None, None,
                 begun, begun, begun, None, end, MODES[mode[n]] if gone else None,
                 None, None, None, None, None, KINDS[n % len(KINDS)])
            )  # fmt: skip
            if not gone and n % 3 == 0:
                at = _micro(-86_400.0 * due[n])
                dues.append((joint, conveyors[-1], "inspect", at, "after the interval"))
        yield "subjects", [(row[0], "conveyor", 1) for row in plants]
        yield "conveyors", plants
        yield "subjects", [(row[0], "joint", 1) for row in made]
        yield "joints", made
        yield "due", dues


def _fill(path: Path, joints: int, sites: int) -> None:
    open_register(path).close()
    bare = sqlite3.connect(path)
    bare.execute("PRAGMA synchronous = OFF")
    bare.execute("PRAGMA journal_mode = OFF")
    made = "SELECT name, sql FROM sqlite_master WHERE type = 'index' AND sql IS NOT NULL"
    indexes = bare.execute(made).fetchall()
    for name, _ in indexes:
        bare.execute(f"DROP INDEX {name}")
    for table, rows in _rows(joints, sites):
        if rows:
            marks = ",".join("?" * len(rows[0]))
            bare.executemany(f"INSERT INTO {table} VALUES ({marks})", rows)
    for _, made in indexes:
        bare.execute(made)
    bare.commit()
    bare.execute("PRAGMA journal_mode = WAL")
    bare.execute("ANALYZE")
    bare.close()
    with open_register(path, check=False) as register, register._writer.begin() as connection:
        begun = time.perf_counter()
        count_anew(connection)
        print(f"counted anew in {time.perf_counter() - begun:.1f} s")


def _best(
    runs: int, work: Callable[[], object], clock: Callable[[], float] = time.perf_counter
) -> float:
    times = []
    for _ in range(runs):
        begun = clock()
        work()
        times.append(clock() - begun)
    return sorted(times)[runs // 2]


def _seen_by(register: SqlRegister, sites: int) -> Register:
    some = frozenset(s.site for s in register.sites()[-sites:])
    return register.said_by(Actor(uuid4(), "Ada", PersonRole.LEAD, sites=some))


def _measure(register: SqlRegister) -> None:
    counts = register.life_counts()
    print(
        f"{sum(c.count for c in counts)} lives in {len(counts)} rows; {len(register.sites())} sites"
    )
    whole = _best(3, lambda: see_fleet(register, NOW))
    few = _seen_by(register, 3)
    report("fleet (aim 1 s)", whole, "fleet of three sites", _best(3, lambda: see_fleet(few, NOW)))
    alone = _best(3, lambda: see_fleet(register, NOW), time.process_time)
    print(f"fleet, time of the processor alone: {1e3 * alone:.0f} ms")
    far = NOW + timedelta(days=30)
    report(
        "due list", _best(5, lambda: see_due(register, far)),
        "due list of three sites", _best(5, lambda: see_due(few, far)),
    )  # fmt: skip
    report(
        "joints that must not run", _best(5, register.barred),
        "those of three sites", _best(5, few.barred),
    )  # fmt: skip
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"memory of this process at most: {memory:.0f} MB (aim 500)")
    _measure_fit(register)
    joints = [j.joint for j in register.joints(limit=600) if j.state == "running"]
    left = iter(joints)

    def change() -> None:
        register.append(Fact(uuid4(), NOW, "Ada", JointRemoved(next(left), Mode.PIN_WORN)))

    def same() -> None:
        register.append(Fact(uuid4(), NOW, "Ada", JointPutToWork(joints[-1], "checked")))

    def site() -> None:
        register.append(Fact(uuid4(), NOW, "Ada", SiteAdded(uuid4(), "Another (invented)")))

    report("a fact that ends a life (aim 50 ms)", _best(50, change), "one that does not",
           _best(50, same))  # fmt: skip
    report("a fact that ends a life", _best(50, change), "one of no joint", _best(50, site))


def _measure_fit(register: SqlRegister) -> None:
    """The law of the counts against that of every life by itself."""
    counts = register.life_counts()
    records = records_of(counts, NOW)
    alike = gather([r.life for r in records], [r.count for r in records])
    good, failed = [], []
    with register._engine.connect() as connection:
        query = "SELECT put_to_work, removed FROM joints"
        for begun, removed in connection.exec_driver_sql(query):
            good.append(((removed or NOW.timestamp() * 1e6) - begun) / 1e6)
            failed.append(removed is not None)
    ages = np.array(good)
    each = lives_of(ages, np.where(failed, ages, np.inf))
    report("fit of the counts", _best(3, lambda: fit_weibull(alike)),
           "fit of all lives", _best(1, lambda: fit_weibull(each)))  # fmt: skip
    one, many = fit_weibull(each).law, fit_weibull(alike).law
    print(
        f"shape {many.shape / one.shape - 1:+.1e}, scale {many.scale / one.scale - 1:+.1e} beside "
        f"the fit of all {sum(c.count for c in counts if c.fate is not Fate.STANDING)} lives"
    )


def main(joints: int = 100_000, sites: int = 100, keep: str = "") -> None:
    """Fill a register, measure, print."""
    with tempfile.TemporaryDirectory() as name:
        path = Path(keep) if keep else Path(name) / "register.sqlite"
        if not path.is_file():
            _fill(path, joints, sites)
        print(f"{path.stat().st_size / 1e6:.0f} MB")
        with open_register(path, check=False) as register:
            _measure(register)


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3]), *sys.argv[3:4])  # type: ignore[arg-type]
