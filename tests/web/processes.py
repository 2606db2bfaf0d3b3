"""The real server and real workers as processes, to be killed; clients that send like phones."""

from __future__ import annotations

import contextlib
import os
import queue
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID, uuid4

import httpx2

from depth import PATIENCE, ended, next_line
from splicewright.store import Fact, PersonRole, Scope
from splicewright.store.background import BackgroundTask, BackgroundTasks
from splicewright.store.facts.plant_facts import SiteAdded, StockMoved
from splicewright.store.sql.register import SqlRegister, open_register
from store.writer import numbered

ROOT = Path(__file__).parents[2]
API = "/api/1"
_SET_CLOCK = Path(__file__).with_name("set_clock.py")
_IMPATIENT = Path(__file__).with_name("impatient.py")


def free_port() -> int:
    """A port that is free now."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        port: int = found.getsockname()[1]
        return port


def started(
    *words: str, where: str, limit: int = 0, clock: Path | None = None, busy: float = 0.0
) -> subprocess.Popen[str]:
    """A command of ours as a process.

    limit : size no file may grow beyond [byte]
    clock : file that sets its clock; see `set_clock`
    busy : how long it waits for a busy register, if not as long as people do [s]; see `impatient`
    """
    within = ["prlimit", f"--fsize={limit}"] if limit else []
    ours = ["-m", "splicewright"] if clock is None else [str(_SET_CLOCK), str(clock)]
    ours = [str(_IMPATIENT), str(busy)] if busy else ours
    return subprocess.Popen(
        [*within, sys.executable, *ours, *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={**os.environ, "SPLICEWRIGHT_REGISTER": where, "PYTHONPATH": str(ROOT / "src")},
    )


@contextlib.contextmanager
def serving(
    where: str, port: int, workers: int = 0, limit: int = 0, clock: Path | None = None,
    busy: float = 0.0,
) -> Iterator[subprocess.Popen[str]]:  # fmt: skip
    """The real server, answering; killed at the end."""
    server = started(
        "serve", "--port", str(port), "--workers", str(workers), where=where, limit=limit,
        clock=clock, busy=busy,
    )  # fmt: skip
    try:
        assert server.stdout is not None
        said = []
        for line in server.stdout:
            said.append(line)
            if line.startswith("Open http"):
                break
        _wait_for(port)
        assert server.poll() is None, "".join(said)
        yield server
    finally:
        end(server)


def set_clock(path: Path, **off: float) -> None:
    """Set the clock of a process by so much, such as `days=-400`; nobody reads half a number."""
    written = path.with_suffix(".new")
    written.write_text(str(timedelta(**off).total_seconds()))
    written.replace(path)


def _wait_for(port: int) -> None:
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until:
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1):
            return
        time.sleep(0.02)


@dataclass
class Disk:
    """A folder with little room; `real`: a file system of its own, which runs full."""

    folder: Path
    real: bool

    def fill(self, leave: int) -> None:
        """Fill it up but for so many bytes, as other things on a disk do."""
        free = os.statvfs(self.folder)
        self._other.write_bytes(bytes(max(0, free.f_bavail * free.f_frsize - leave)))

    def make_room(self) -> None:
        """Take away what filled it, under whoever writes on it."""
        self._other.unlink()

    @property
    def _other(self) -> Path:
        return self.folder / "something-else"


@contextlib.contextmanager
def small_disk(folder: Path) -> Iterator[Disk]:
    """A tmpfs of 16 MB where this user may mount one, else an ordinary folder."""
    place = folder / "disk"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=16m", "splicewright-test", str(place)]
    try:
        real = subprocess.run(mount, capture_output=True, check=False).returncode == 0
    except OSError:
        real = False
    try:
        yield Disk(place, real)
    finally:
        if real:
            subprocess.run(["umount", str(place)], check=True)


_HOLD = """
import sqlite3, sys
holder = sqlite3.connect(sys.argv[1], isolation_level=None)
holder.execute("BEGIN IMMEDIATE")
print("held", flush=True)
sys.stdin.read()
"""


@contextlib.contextmanager
def held_by_another(path: Path) -> Iterator[None]:
    """The register's file locked for writing by a process of its own."""
    holder = subprocess.Popen(
        [sys.executable, "-c", _HOLD, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    try:
        assert next_line(holder) == b"held\n"
        yield
    finally:
        holder.communicate(timeout=PATIENCE)


@contextlib.contextmanager
def working(where: str, patience: float = 1.0) -> Iterator[subprocess.Popen[str]]:
    """A worker alone; killed at the end."""
    worker = started("background", "--patience", str(patience), where=where)
    try:
        yield worker
    finally:
        end(worker)


def end(process: subprocess.Popen[str]) -> None:
    """Stop a process; whatever it started is told by its closed input."""
    process.terminate()
    try:
        process.communicate(timeout=8)
    except subprocess.TimeoutExpired:
        process.kill()
        process.communicate(timeout=PATIENCE)


def kill(process: subprocess.Popen[str]) -> None:
    """As a power cut does it."""
    process.send_signal(signal.SIGKILL)
    process.communicate(timeout=PATIENCE)
    assert process.returncode == -signal.SIGKILL


def prepare(url: str) -> tuple[UUID, str]:
    """A site, an admin and a key for all; gives site and key."""
    with open_register(url) as register:
        site = uuid4()
        at = datetime.now(UTC)
        register.append(
            Fact(uuid4(), at, "Ada Example", SiteAdded(site, "Karst Hollow (invented)"))
        )
        accounts = register.accounts(hash_memory=64)
        secret = accounts.invite("Ada Example", PersonRole.ADMIN, None)
        account = accounts.accept(secret, "ada", "three wet stones").account
        until = at + timedelta(days=1)
        return site, accounts.make_token(account, "test", {Scope.ADMIN}, until, None)


class Phones:
    """Clients that send numbered facts, each again until it is acknowledged."""

    def __init__(self, address: str, key: str, site: UUID, numbers: int, clients: int = 4) -> None:
        self.acknowledged: list[int] = []
        self.refused: list[str] = []
        self.answers: set[int] = set()
        self._address, self._key, self._site = address, key, site
        self._left: queue.SimpleQueue[int] = queue.SimpleQueue()
        for number in range(numbers):
            self._left.put(number)
        self._threads = [threading.Thread(target=self._send) for _ in range(clients)]
        for thread in self._threads:
            thread.start()

    def wait_for(self, number: int) -> None:
        """Until so many are acknowledged."""
        until = time.monotonic() + PATIENCE
        while len(self.acknowledged) < number and time.monotonic() < until:
            time.sleep(0.002)
        assert len(self.acknowledged) >= number, self.refused[:3]

    def finish(self) -> None:
        """Until all are sent."""
        ended(*self._threads)

    def _send(self) -> None:
        headers = {"Authorization": f"Bearer {self._key}"}
        with (
            httpx2.Client(base_url=self._address, headers=headers, timeout=PATIENCE) as client,
            contextlib.suppress(queue.Empty),
        ):
            while True:
                self._send_one(client, self._left.get_nowait())

    def _send_one(self, client: httpx2.Client, number: int) -> None:
        data = sent(number, self._site)
        until = time.monotonic() + PATIENCE
        while time.monotonic() < until:
            try:
                answer = client.post(f"{API}/facts", json={"facts": [data]})
            except httpx2.HTTPError:
                time.sleep(0.05)  # as a phone without a network does
                continue
            self.answers.add(answer.status_code)
            if answer.status_code == 200:
                [outcome] = answer.json()["outcomes"]
                if outcome["verdict"] in {"recorded", "already"}:
                    self.acknowledged.append(number)
                else:
                    self.refused.append(str(outcome))
                return
            assert answer.status_code == 503, answer.text
            assert int(answer.headers["retry-after"]) > 0
            time.sleep(0.05)
        self.refused.append(f"fact {number} was never acknowledged")


def sent(number: int, site: UUID) -> dict[str, object]:
    """Fact `number` as a program sends it: the account's name is put in by the server."""
    made = numbered(number, site)
    assert isinstance(made.what, StockMoved)
    what = {"site": str(site), "item": "bolt", "count": 1.0, "why": made.what.why, "job": None}
    return {
        "format": 1, "id": str(made.id), "at": made.at.isoformat(), "device": "writer",
        "kind": "stock moved", "what": what,
    }  # fmt: skip


def numbers(register: SqlRegister) -> list[int]:
    """The numbers of the facts sent, in the order of arrival."""
    whats = [s.what for s in register.facts_since(0, 100_000, ("stock moved",))]
    return [int(w.why.removeprefix("number ")) for w in whats if isinstance(w, StockMoved)]


def until_over(
    tasks: BackgroundTasks, asked: list[UUID], seconds: float = PATIENCE,
    watch: Callable[[], object] = lambda: None,
) -> list[BackgroundTask]:  # fmt: skip
    """Wait until tasks are over."""
    until = time.monotonic() + seconds
    while True:
        found = [tasks.task(id) for id in asked]
        there = [task for task in found if task is not None]
        if all(task.state.over for task in there) or time.monotonic() > until:
            return there
        watch()
        time.sleep(0.05)
