"""Every page that people read, at size: what one costs of a core, and its queries.

    python -m benchmarks.bench_pages                     50,000 facts, 1,000 joints
    python -m benchmarks.bench_pages 1000000 FILE        a million; keeps the register in FILE
    python -m benchmarks.bench_pages 1000000 FILE joint  profiles one page
    python -m benchmarks.bench_pages 10000000 URL "" 25  ten million of 25 sites in PostgreSQL

Processor time of this process, one visitor after another, so that other work on the machine does
not count. From it p95 of 50 people is worked out (`p95_of`): each looks at a page for about a
second, one process with a core of its own answers, and a fact is recorded every second. `bench_web`
measures the same, which needs a quiet machine.

Aim at full size: p95 under 150 ms.
Reference in the same run: the page that says who is signed in, which asks the register for nothing.
"""

from __future__ import annotations

import asyncio
import cProfile
import heapq
import math
import os
import pstats
import random
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import nullcontext
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import uuid4

import anyio.to_thread
from sqlalchemy import event

from benchmarks.large_register import filled
from benchmarks.visitors import Address, pages, signed_in
from splicewright.background.queue import Queue
from splicewright.background.requests import Background
from splicewright.store import CONSOLE, Fact
from splicewright.store.facts.plant_facts import StockMoved
from splicewright.store.sql.register import SqlRegister, open_register
from splicewright.web.app.room import Room
from splicewright.web.routes import make_app

if TYPE_CHECKING:
    from fastapi import FastAPI

RUNS = 20
REFERENCE = "/me"


def main(events: int = 50_000, keep: str = "", only: str = "", sites: int = 1) -> None:
    """Fill a register, ask for each page, print."""
    with tempfile.TemporaryDirectory() as name:
        where = keep or str(Path(name) / "register.sqlite")
        filled(where, events, sites)
        with open_register(where, check=False) as register:
            cookie, _, site = signed_in(register)
            background = Background(register.tasks(), Queue(where))
            room = Room(register, register.accounts(), _now, secure=False, background=background)
            app = make_app(room)
            asker = _Asker(app, register, cookie)
            asked = {n: a for n, a in pages(register, site).items() if only in {n, ""}}
            print(
                f"{'page':<28} {'of a core':>10} {'changed':>9} {'queries':>8} {'ratio':>7} "
                f"{'p95 of 50':>10}"
            )
            nothing = asker.measure(lambda: REFERENCE)[0]
            for page, address in asked.items():
                each, first, queries = asker.measure(address, bool(only))
                ratio = each / nothing
                print(f"{page:<28} {1e3 * each:7.1f} ms {1e3 * first:6.0f} ms {queries:8.0f} "
                      f"{ratio:7.1f} {1e3 * p95_of(each, first):7.0f} ms", flush=True)  # fmt: skip
    print(f"load average {os.getloadavg()[0]:.1f}")


def p95_of(each: float, first: float, people: int = 50, seconds: float = 600.0) -> float:
    """How long all but one in twenty wait at most for a page [s], by following each of them.

    Parameters
    ----------
    each, first : of a core for a page, and for the first one after a fact, of which one comes every
        second [s]
    """
    chance = random.Random(1)
    asking = [chance.random() for _ in range(people)]
    heapq.heapify(asking)
    free, next_fact, waited = 0.0, 1.0, list[float]()
    while (asked := heapq.heappop(asking)) < seconds:
        begun = max(asked, free)
        free = begun + (first if begun >= next_fact else each)
        next_fact = max(next_fact, math.floor(begun) + 1.0)
        waited.append(free - asked)
        heapq.heappush(asking, free + chance.uniform(0.5, 1.5))
    return sorted(waited)[int(0.95 * len(waited))]


def _now() -> datetime:
    return datetime.now(UTC)


async def _in_this_thread(work: Callable[..., Any], *given: Any, **_: Any) -> Any:
    return work(*given)


class _Asker:
    """Asks an app for pages within this process, as whoever the cookie is of."""

    def __init__(self, app: FastAPI, register: SqlRegister, cookie: str) -> None:
        self._app, self._register, self._cookie = app, register, cookie
        self.queries = 0
        event.listen(register._engine, "before_cursor_execute", self._count)

    def _count(self, *_: object) -> None:
        self.queries += 1

    def measure(self, address: Address, profiled: bool = False) -> tuple[float, float, int]:
        """Processor time of one page, of the first after a new fact, and queries of one.

        Between two a fact is recorded, as in a register that is in use: what is kept until the
        register changes is made anew.
        """
        asyncio.run(self._ask(address()))  # what is only done once: templates, routes, queries
        profile = cProfile.Profile() if profiled else None
        if profiled:
            vars(anyio.to_thread)["run_sync"] = _in_this_thread  # a profile is of one thread
        after, each, queries = list[float](), list[float](), 0
        for _ in range(RUNS):
            for times in (after, each):
                if times is after:
                    self._record()
                self.queries, begun = 0, time.process_time()
                with profile or nullcontext():
                    asyncio.run(self._ask(address()))
                times.append(time.process_time() - begun)
                queries = self.queries if times is after else queries
        if profile is not None:
            pstats.Stats(profile).sort_stats("cumulative").print_stats(60)
        return sorted(each)[RUNS // 2], sorted(after)[RUNS // 2], queries

    def _record(self) -> None:
        site = self._register.sites()[0].site
        moved = StockMoved(site, "bolt", 1.0)
        fact = Fact(uuid4(), _now(), "Bench", moved, device="bench")
        self._register.said_by(CONSOLE).append(fact)

    async def _ask(self, address: str) -> None:
        path, _, query = address.partition("?")
        heads = {"host": "localhost", "cookie": self._cookie, "accept": "text/html"}
        scope = {
            "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "GET",
            "scheme": "http", "path": path, "raw_path": path.encode(), "root_path": "",
            "query_string": query.encode(), "client": ("127.0.0.1", 1), "state": {},
            "server": ("localhost", 80),
            "headers": [(k.encode(), v.encode()) for k, v in heads.items()],
        }  # fmt: skip
        status = [0]

        async def receive() -> dict[str, Any]:
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message: Any) -> None:
            status[0] = message.get("status", status[0])

        await self._app(scope, receive, send)
        if status[0] != 200:
            msg = f"{address}: {status[0]}"
            raise RuntimeError(msg)


if __name__ == "__main__":
    given = sys.argv[1:]
    events, keep, only, sites = [*given, *("50000", "", "", "1")[len(given) :]]
    main(int(events), keep, only, int(sites))
