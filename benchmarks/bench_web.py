"""The served app at size: conveyor page, due list, writes over HTTP.

    python -m benchmarks.bench_web                     50,000 facts, 1,000 joints
    python -m benchmarks.bench_web 1000000             1,000,000 facts, 20,000 joints
    python -m benchmarks.bench_web 1000000 FILE        keeps the register in FILE for the next run

The real server in two processes over one SQLite file; 50 clients that keep their connection. Each
page is asked for twice: by clients that look at a page for about a second before they ask for the
next, and without any pause (more than any crew does). References in the same run: the same
answers and the same writes straight from the register, in one process without HTTP.

Aims at full size: p95 under 100 ms, more than 200 durable writes a second.
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
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from functools import partial
from itertools import islice
from pathlib import Path
from uuid import UUID, uuid4

from benchmarks.bench_register import CLIENTS, PER_JOINT, PROCESSES, START, _facts, _page
from benchmarks.timing import report
from splicewright.store import Fact, PersonRole, Scope
from splicewright.store.facts.plant_facts import StockMoved
from splicewright.store.sql.register import SqlRegister, open_register

WRITERS = 16
AN_OUTBOX = 5
"""Facts that a phone sends at once when signal is back: ticks, readings, a signature."""
SECONDS = 8.0
"""Each page is asked for so long."""
PAUSE = 1.0
"""What a person takes to look at a page, half as long to half as long again [s]: people who all
took the same time would come in step."""


def main(events: int = 50_000, keep: str = "") -> None:
    """Fill a register, serve it, measure, print."""
    with tempfile.TemporaryDirectory() as name:
        path = Path(keep) if keep else Path(name) / "register.sqlite"
        conveyors = _fill(path, events)
        cookie, key, site = _people(path)
        print(f"load average {os.getloadavg()[0]:.1f} at the start")
        with _serving(path) as (ports, servers):
            _measure_pages(path, ports, servers, conveyors, cookie)
            _measure_writes(path, ports, servers, key, site)
        print(f"load average {os.getloadavg()[0]:.1f} at the end (this benchmark included)")


def _fill(path: Path, events: int) -> list[UUID]:
    if not path.is_file():
        facts = _facts(events, uuid4(), list[UUID]())
        with open_register(path) as register:
            while some := list(islice(facts, 5000)):
                register.append(*some)
    with open_register(path, check=False) as register:
        conveyors = [c.conveyor for c in register.conveyors()]
        print(
            f"{register.head().seq} facts, {register.head().seq // PER_JOINT} joints, "
            f"{len(conveyors)} conveyors, {path.stat().st_size / 1e6:.0f} MB"
        )
    return conveyors


def _people(path: Path) -> tuple[str, str, UUID]:
    """A session's cookie, a key, and the site."""
    login = f"bench-{uuid4().hex[:8]}"
    with open_register(path, check=False) as register:
        accounts = register.accounts()
        secret = accounts.invite(login.title(), PersonRole.ADMIN, None)
        account = accounts.accept(secret, login, "three wet stones").account
        session = accounts.sign_in(login, "three wet stones", "127.0.0.1")
        assert session is not None
        until = datetime.now(UTC) + timedelta(days=1)
        key = accounts.make_token(account, login, {Scope.ADMIN}, until, None)
        return f"splicewright={session.token}", key, register.sites()[0].site


@contextlib.contextmanager
def _serving(path: Path) -> Iterator[tuple[list[int], list[int]]]:
    """The real server in several processes; their ports and their process ids."""
    words = [sys.executable, "-m", "splicewright", "serve", "--port", "0", "--workers", "0"]
    environment = {**os.environ, "SPLICEWRIGHT_REGISTER": str(path)}
    servers = [
        subprocess.Popen(words, stdout=subprocess.PIPE, text=True, env=environment)
        for _ in range(PROCESSES)
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


def _measure_pages(
    path: Path, ports: list[int], servers: list[int], conveyors: list[UUID], cookie: str
) -> None:
    chance = random.Random(1)
    now = START + timedelta(days=3650)
    heads = f"Host: localhost\r\nCookie: {cookie}\r\nAccept-Encoding: gzip\r\n"
    pages: dict[str, tuple[Callable[[], str], Callable[[SqlRegister], object]]] = {
        "conveyor page": (
            lambda: f"/conveyors/{chance.choice(conveyors)}",
            lambda register: _page(register, chance.choice(conveyors), now),
        ),
        "due list": (lambda: "/due", lambda register: register.due(now, limit=200)),
    }
    for what, (address, work) in pages.items():
        with open_register(path, check=False) as register:
            straight = _p95([_timed(partial(work, register)) for _ in range(100)])
        asking = partial(_get_one, address, heads)
        _measure_page(what, ports, servers, asking, straight)


def _measure_page(
    what: str, ports: list[int], servers: list[int], request: Callable[[], bytes], straight: float
) -> None:
    for pause, told in ((PAUSE, f"looking {PAUSE:.0f} s at each"), (0.0, "without pause")):
        before = _cpu(servers)
        times, answered, all_ = asyncio.run(_crowd(ports, CLIENTS, request, pause))
        cpu = (_cpu(servers) - before) / all_
        head = f"{what}, {CLIENTS} clients, {told}, p95"
        report(head, _p95(times), "its queries alone, p95", straight)
        print(
            f"{'':<44} {answered / SECONDS:9.0f} pages/s, median {1e3 * _median(times):.1f} ms, "
            f"{1e3 * cpu:.1f} ms of a core each"
        )


def _measure_writes(path: Path, ports: list[int], servers: list[int], key: str, site: UUID) -> None:
    def stock_moved() -> Fact:
        return Fact(uuid4(), START, "Bench", StockMoved(site, "bolt", 1.0), device="bench")

    with open_register(path, check=False) as register:
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


def _get_one(address: Callable[[], str], heads: str) -> bytes:
    return f"GET {address()} HTTP/1.1\r\n{heads}\r\n".encode()


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
    main(int(sys.argv[1]) if sys.argv[1:] else 50_000, *sys.argv[2:3])
