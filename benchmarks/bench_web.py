"""The served app at size: every page while fifty people ask, and writes over HTTP.

    python -m benchmarks.bench_web                      50,000 facts, 1,000 joints
    python -m benchmarks.bench_web 1000000 WHERE        a million; keeps the register in WHERE
    python -m benchmarks.bench_web 1000000 WHERE joint  one page
    python -m benchmarks.bench_web 10000000 WHERE "" 25 ten million of 25 sites
    python -m benchmarks.bench_web 10000000 URL "" 25 2 pages by two servers

The real server, in one process or as many as are named; WHERE is a file or a PostgreSQL URL. Each
page is asked for by 50 clients that keep their connection and look at it for about a second before
they ask for the next, while somebody records a fact every second: an inspection plate by plate,
closed, and a movement of stock. `all at once` is all pages mixed. Then facts are recorded over HTTP
by one server, and two.

Aims at full size: p95 under 150 ms for every page, more than 200 durable writes a second. What a
page takes of a core is robust against other work on the machine, p95 is not: 50 pages a second need
a page that takes well under 20 ms. Memory is the most that the server held (aim 400 MB).
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import random
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from functools import partial
from itertools import cycle
from pathlib import Path
from uuid import UUID, uuid4

from benchmarks.large_register import START, filled
from benchmarks.timing import report
from benchmarks.visitors import pages, signed_in
from splicewright.joint.inspection.verdict import PlateState
from splicewright.joint.layout import End
from splicewright.store import Fact, State
from splicewright.store.facts.joint_facts import InspectionClosed, PlateInspected
from splicewright.store.facts.kinds import What
from splicewright.store.facts.plant_facts import StockMoved
from splicewright.store.sql.register import open_register

CLIENTS = 50
WRITERS = 16
AN_OUTBOX = 5
"""Facts that a phone sends at once when signal is back: ticks, readings, a signature."""
SECONDS = 8.0
"""Each page is asked for so long."""
PAUSE = 1.0
"""What a person takes to look at a page, half as long to half as long again [s]: people who all
took the same time would come in step."""


def main(
    events: int = 50_000, keep: str = "", only: str = "", sites: int = 1, served: int = 1
) -> None:
    """Fill a register, serve it, measure, print."""
    with tempfile.TemporaryDirectory() as name:
        where = keep or str(Path(name) / "register.sqlite")
        filled(where, events, sites)
        with open_register(where, check=False) as register:
            cookie, key, site = signed_in(register)
            asked = pages(register, site)
            print(
                f"{register.head().seq} facts, {len(register.conveyors())} conveyors, "
                f"{len(register.sites())} sites, {register._engine.dialect.name}"
            )
        every = list(asked.values())
        asked["all at once"] = lambda: random.choice(every)()  # noqa: PLW0108 -- chosen each time
        print(f"load average {os.getloadavg()[0]:.1f} at the start")
        with _serving(where, served) as (ports, servers):
            for page, address in asked.items():
                if only in {page, ""}:
                    _measure_page(where, page, ports, servers, _get(address, cookie), site)
            print(f"the server held at most {_memory(servers[0]):.0f} MB")
        if not only:
            with _serving(where, 2) as (ports, servers):
                _measure_writes(where, ports, servers, key, site)
        print(f"load average {os.getloadavg()[0]:.1f} at the end (this benchmark included)")


@contextlib.contextmanager
def _serving(where: str, number: int) -> Iterator[tuple[list[int], list[int]]]:
    """The real server in some processes; their ports and their process ids."""
    words = [sys.executable, "-m", "splicewright", "serve", "--port", "0", "--workers", "0"]
    environment = {**os.environ, "SPLICEWRIGHT_REGISTER": where}
    servers = [
        subprocess.Popen(words, stdout=subprocess.PIPE, text=True, env=environment)
        for _ in range(number)
    ]
    try:
        ports = []
        for server in servers:
            assert server.stdout is not None
            line = next(line for line in server.stdout if line.startswith("Open http"))
            ports.append(int(line.split()[1].rpartition(":")[2]))
        time.sleep(1.0)
        yield ports, [server.pid for server in servers]
    finally:
        for server in servers:
            server.terminate()
        for server in servers:
            server.wait()


def _measure_page(
    where: str, page: str, ports: list[int], servers: list[int], asking: Callable[[], bytes],
    site: UUID,
) -> None:  # fmt: skip
    with _recording(where, site):
        before = _cpu(servers)
        times, _, all_ = asyncio.run(_crowd(ports, CLIENTS, asking, PAUSE))
        cpu = (_cpu(servers) - before) / all_
    print(
        f"{page:<28} p95 {1e3 * _p95(times):6.0f} ms, median {1e3 * _median(times):6.0f} ms, "
        f"{1e3 * cpu:6.1f} ms of a core each, {len(times)} pages",
        flush=True,
    )


@contextlib.contextmanager
def _recording(where: str, site: UUID) -> Iterator[None]:
    """Somebody records a fact every second, as registers in use do: mostly plates looked at."""
    over = threading.Event()

    def record() -> None:
        with open_register(where, check=False) as register:
            joint = register.joints(states=[State.RUNNING], limit=1)[0].joint
            inspection = uuid4()
            says: list[What] = [
                *(PlateInspected(joint, inspection, End.LEADING, n, PlateState.OK)
                  for n in range(1, 19)),
                InspectionClosed(joint, inspection, True, not_seen="trailing end"),
                StockMoved(site, "bolt", 1.0),
            ]  # fmt: skip
            for what in cycle(says):
                if over.wait(1.0):
                    return
                register.append(Fact(uuid4(), datetime.now(UTC), "Bench", what, device="bench"))

    clerk = threading.Thread(target=record)
    clerk.start()
    try:
        yield
    finally:
        over.set()
        clerk.join()


def _measure_writes(where: str, ports: list[int], servers: list[int], key: str, site: UUID) -> None:
    def stock_moved() -> Fact:
        return Fact(uuid4(), START, "Bench", StockMoved(site, "bolt", 1.0), device="bench")

    with open_register(where, check=False) as register:
        facts = [stock_moved() for _ in range(300)]
        straight = sum(_timed(partial(register.append, fact)) for fact in facts) / len(facts)

    def post(count: int) -> bytes:
        what = {"site": str(site), "item": "bolt", "count": 1.0}
        sent = [{"format": 1, "id": str(uuid4()), "at": START.isoformat(), "kind": "stock moved",
                 "what": what} for _ in range(count)]  # fmt: skip
        body = json.dumps({"facts": sent}).encode()
        head = (
            f"POST /api/1/facts HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {key}\r\n"
            f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n"
        )
        return head.encode() + body

    for used in (1, len(ports)):
        for count in (1, AN_OUTBOX):
            before = _cpu(servers[:used])
            asked = partial(post, count)
            times, answered, all_ = asyncio.run(_crowd(ports[:used], WRITERS, asked, 0.0))
            cpu = (_cpu(servers[:used]) - before) / all_
            rate = count * answered / SECONDS
            what = f"a fact kept, {count} in a request, {used} served ({rate:.0f}/s, aim 200/s)"
            report(what, 1 / rate, "one straight into the register", straight)
            print(
                f"{'':<44} {WRITERS} clients, p95 {1e3 * _p95(times):.1f} ms, "
                f"{1e3 * cpu:.1f} ms of a core each request"
            )


def _get(address: Callable[[], str], cookie: str) -> Callable[[], bytes]:
    heads = f"Host: localhost\r\nCookie: {cookie}\r\nAccept-Encoding: gzip\r\n"

    def ask() -> bytes:
        return f"GET {address()} HTTP/1.1\r\n{heads}\r\n".encode()

    return ask


def _memory(process: int) -> float:
    """The most memory that a process has held [MB]."""
    told = Path(f"/proc/{process}/status").read_text()
    return int(told.partition("VmHWM:")[2].split()[0]) / 1024


def _cpu(processes: list[int]) -> float:
    """What these processes have used of the cores [s]: other work does not count."""
    ticks = 0
    for process in processes:
        fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
        ticks += int(fields[11]) + int(fields[12])
    return ticks / os.sysconf("SC_CLK_TCK")


async def _crowd(
    ports: list[int], clients: int, request: Callable[[], bytes], pause: float
) -> tuple[list[float], int, int]:
    """Clients that ask for `SECONDS`, after a second to warm up: times, how many, how many in all.

    A client is a bare connection: measuring must not take the cores from the server.
    """
    times: list[float] = []
    begun, all_ = time.perf_counter(), 0

    async def client(number: int) -> None:
        nonlocal all_
        reader, writer = await asyncio.open_connection("127.0.0.1", ports[number % len(ports)])
        chance = random.Random(number)
        await asyncio.sleep(pause * chance.random())
        while (start := time.perf_counter()) < begun + 1.0 + SECONDS:
            writer.write(request())
            await _answer(reader)
            all_ += 1
            if start > begun + 1.0:
                times.append(time.perf_counter() - start)
            await asyncio.sleep(pause * chance.uniform(0.5, 1.5))
        writer.close()

    await asyncio.gather(*(client(number) for number in range(clients)))
    return times, len(times), all_


async def _answer(reader: asyncio.StreamReader) -> None:
    head = await reader.readuntil(b"\r\n\r\n")
    if not head.startswith(b"HTTP/1.1 200"):
        msg = head.decode("latin-1")
        raise RuntimeError(msg)
    fields = dict(line.lower().split(b": ", 1) for line in head.split(b"\r\n")[1:] if b": " in line)
    if b"content-length" in fields:
        await reader.readexactly(int(fields[b"content-length"]))
        return
    while size := int(await reader.readline(), 16):
        await reader.readexactly(size + 2)
    await reader.readline()


def _timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _p95(times: list[float]) -> float:
    return sorted(times)[int(0.95 * len(times))]


def _median(times: list[float]) -> float:
    return sorted(times)[len(times) // 2]


if __name__ == "__main__":
    given = sys.argv[1:]
    events, keep, only, sites, served = [*given, *("50000", "", "", "1", "1")[len(given) :]]
    main(int(events), keep, only, int(sites), int(served))
