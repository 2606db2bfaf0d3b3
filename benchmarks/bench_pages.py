"""Every page that people read, at size: what one costs of a core, and its queries.

    python -m benchmarks.bench_pages                     50,000 facts, 1,000 joints
    python -m benchmarks.bench_pages 1000000 FILE        a million; keeps the register in FILE
    python -m benchmarks.bench_pages 1000000 FILE joint  profiles one page

Processor time of this process, one visitor after another, so that other work on the machine does
not count. 50 people who look at each page for a second ask for 50 pages a second: one process
answers them as long as a page takes less than 20 ms of a core.

Aim at full size: 12 ms of a core, which keeps p95 of those 50 under 150 ms (a queue with one
server, service of one length and 0.6 of its time used waits 9 ms on average and seldom ten pages).
Reference in the same run: the page that says who is signed in, which asks the register for nothing.
"""

from __future__ import annotations

import asyncio
import cProfile
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

from benchmarks.bench_web import _fill, _people
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
Address = Callable[[], str]


def main(events: int = 50_000, keep: str = "", only: str = "") -> None:
    """Fill a register, ask for each page, print."""
    with tempfile.TemporaryDirectory() as name:
        path = Path(keep) if keep else Path(name) / "register.sqlite"
        _fill(path, events)
        cookie, _, site = _people(path)
        with open_register(path, check=False) as register:
            background = Background(register.tasks(), Queue(path))
            room = Room(register, register.accounts(), _now, secure=False, background=background)
            app = make_app(room)
            asker = _Asker(app, register, cookie)
            pages = {n: a for n, a in _pages(register, str(site)).items() if only in {n, ""}}
            print(f"{'page':<28} {'of a core':>10} {'changed':>9} {'queries':>8} {'ratio':>7}")
            nothing = asker.measure(lambda: REFERENCE)[0]
            for page, address in pages.items():
                each, first, queries = asker.measure(address, bool(only))
                ratio = each / nothing
                print(f"{page:<28} {1e3 * each:7.1f} ms {1e3 * first:6.0f} ms {queries:8.0f} "
                      f"{ratio:7.1f}", flush=True)  # fmt: skip
    print(f"load average {os.getloadavg()[0]:.1f}")


def _now() -> datetime:
    return datetime.now(UTC)


def _pages(register: SqlRegister, site: str) -> dict[str, Address]:
    chance = random.Random(1)
    conveyors = [c.conveyor for c in register.conveyors()]
    joints = [j.joint for c in chance.sample(conveyors, 40) for j in register.joints(c)]
    facts = [s.fact.id for s in register.facts_since(register.head().seq // 2, 50)]

    def of(template: str, things: list[Any]) -> Address:
        return lambda: template.format(chance.choice(things))

    middle = register.head().seq // 2
    return {
        "today": lambda: "/",
        "due": lambda: "/due",
        "fleet": lambda: "/fleet",
        "history": lambda: "/history",
        "history, in the middle": lambda: f"/history?before={middle}",
        "an entry": of("/recorded/{}", facts),
        "conveyor": of("/conveyors/{}", conveyors),
        "history of a conveyor": of("/conveyors/{}/history", conveyors),
        "belt": of("/conveyors/{}/belt", conveyors),
        "limits of wear": of("/conveyors/{}/limits", conveyors),
        "wear and life": of("/conveyors/{}/forecast", conveyors),
        "inspection interval": of("/conveyors/{}/inspection-interval", conveyors),
        "round": of("/rounds/{}", conveyors),
        "joint": of("/joints/{}", joints),
        "inspections of a joint": of("/joints/{}/inspections", joints),
        "remaining life": of("/joints/{}/forecast", joints),
        "find": of("/find?q=J{}", list(range(1000, 1900))),
        "stock": lambda: f"/sites/{site}/stock",
        "shutdown": lambda: "/shutdown",
        "planner": lambda: "/planner",
        "people": lambda: "/people",
        "facts of a rare kind": lambda: "/api/1/facts?kind=joint+removed&limit=100",
        "facts of two kinds": lambda: "/api/1/facts?kind=site+added&kind=belt+placed&limit=100",
        "joints by the API": lambda: "/api/1/joints?limit=100",
        "due by the API": lambda: "/api/1/due",
    }


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
    main(int(sys.argv[1]) if sys.argv[1:] else 50_000, *sys.argv[2:4])
