"""While a register is brought up to date people are told so, and the app answers afterwards."""

from __future__ import annotations

import contextlib
import os
import socket
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

import httpx2
import icalendar
import pytest

from depth import PATIENCE, ended, next_line
from splicewright.store import BusyError, PersonRole, Scope
from splicewright.store.database.schema import DERIVATION, SHOWN_SINCE
from splicewright.store.progress import tell_nobody
from splicewright.store.sql.register import open_as_it_stands, open_register
from splicewright.web.api.routes import make_api
from splicewright.web.app.upgrading import AGAIN, AS_AT, Upgrading
from store.making import Clock, Plant


def _listening() -> tuple[socket.socket, str]:
    made = socket.socket()
    made.bind(("127.0.0.1", 0))
    made.listen(16)
    return made, f"http://127.0.0.1:{made.getsockname()[1]}"


def test_whoever_asks_is_told_how_far_it_is() -> None:
    listening, address = _listening()
    told: list[tuple[int, int, str]] = []
    with listening:
        upgrading = Upgrading(listening, lambda *said: told.append(said))
        upgrading.tell(2000, 8000, "deriving <the> present state")
        for done, share in ((2000, "25 % done"), (6000, "75 % done")):
            upgrading.tell(done, 8000, "deriving <the> present state")
            for path in ("/", "/sync", "/api/1/facts"):
                answer = httpx2.post(f"{address}{path}", json={"facts": []}, timeout=PATIENCE)
                assert answer.status_code == 503
                assert answer.headers["retry-after"] == str(AGAIN)
                assert share in answer.text and "Nothing is lost" in answer.text
                assert "deriving &lt;the&gt; present state" in answer.text
        for junk in (b"", b"\x00", b"\x16\x03\x01", b"GET / HTTP/1.1\r\n", b"a" * 200_000):
            with socket.create_connection(listening.getsockname(), timeout=PATIENCE) as raw:
                raw.sendall(junk)
        assert httpx2.get(address, timeout=PATIENCE).status_code == 503
        with _dripping(listening):
            upgrading.end()
        with socket.create_connection(listening.getsockname(), timeout=PATIENCE):
            listening.settimeout(PATIENCE)
            listening.accept()[0].close()  # the app's again
    assert told[-1] == (6000, 8000, "deriving <the> present state")


@contextlib.contextmanager
def _dripping(listening: socket.socket) -> Iterator[None]:
    """Somebody sends a letter now and then, and never ends the request."""
    over = threading.Event()

    def drip() -> None:
        there = listening.getsockname()
        with (
            socket.create_connection(there, timeout=PATIENCE) as raw,
            contextlib.suppress(OSError),
        ):
            while not over.wait(0.05):
                raw.sendall(b"a")

    thread = threading.Thread(target=drip)
    thread.start()
    time.sleep(0.3)
    yield
    over.set()
    ended(thread)


def test_without_an_upgrade_nothing_answers_in_the_apps_place() -> None:
    listening, _ = _listening()
    with listening:
        upgrading = Upgrading(listening, tell_nobody)
        upgrading.end()
        assert upgrading._thread is None


_SERVE = """
import sys, threading
from splicewright.store.sql import verifying
from splicewright.web.start import Reach, serve
count = verifying.count_anew
def counted(connection, tell):
    tell(1, 2, "counting lives")
    print("upgrading", flush=True)
    sys.stdin.readline()
    count(connection, tell)
verifying.count_anew = counted
verifying.DERIVATION += int(sys.argv[3])
serve(sys.argv[1], None, Reach(port=int(sys.argv[2])), lambda line: print(line, flush=True),
      workers=0)
"""


@contextlib.contextmanager
def _upgrading(
    path: Path, *, next_: bool = True
) -> Iterator[tuple[str, Callable[[], None], Callable[[], None]]]:
    """A server in the middle of an upgrade: its address, how to let it go on, and to kill it.

    next_ : it is of the next release, which derives in another way; pages are read as by this one
    """
    listening, address = _listening()
    port = listening.getsockname()[1]
    listening.close()
    words = [sys.executable, "-c", _SERVE, str(path), str(port), str(int(next_))]
    with subprocess.Popen(
        words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=dict(os.environ)
    ) as served:

        def go_on() -> None:
            assert served.stdin is not None
            served.stdin.write("go on\n")
            served.stdin.flush()
            while not next_line(served).startswith("Open "):
                pass

        try:
            assert next_line(served) == "upgrading\n"
            yield address, go_on, served.kill
        finally:
            served.terminate()
            served.wait(timeout=PATIENCE)


def _older(path: Path, derivation: int = DERIVATION) -> None:
    """A register whose present state an older release derived, in which a conveyor had a name of
    its own: whoever reads that name reads what stood before."""
    with sqlite3.connect(path) as older:
        older.execute("UPDATE register SET derivation = ?", (derivation,))
        older.execute("UPDATE conveyors SET name = 'as it stood'")
    older.close()


def test_rows_that_would_be_read_wrongly_are_not_shown(tmp_path: Path, clock: Clock) -> None:
    path = tmp_path / "register.sqlite"
    with open_register(path, clock=clock) as register:
        Plant(clock).begin(register)
    _older(path, SHOWN_SINCE - 1)
    with _upgrading(path, next_=False) as (address, go_on, _):
        page = httpx2.get(address, timeout=PATIENCE)
        assert page.status_code == 503 and "counting lives. <b>50 % done.</b>" in page.text
        with pytest.raises(BusyError, match="is being brought up to date"):
            open_as_it_stands(path)
        go_on()
        assert httpx2.get(f"{address}/sign-in", timeout=PATIENCE).status_code == 200


def test_pages_are_read_as_they_stood_while_the_state_is_derived(
    tmp_path: Path, clock: Clock
) -> None:
    path = tmp_path / "register.sqlite"
    with open_register(path, clock=clock) as register:
        Plant(clock).begin(register)
        (conveyor,) = [c.conveyor for c in register.conveyors()]
    with open_register(path) as register:
        accounts = register.accounts(hash_memory=64)
        accounts.accept(accounts.invite("Ada", PersonRole.ADMIN, None), "ada", "three wet stones")
        session = accounts.sign_in("ada", "three wet stones", "127.0.0.1")
        assert session is not None and session.token is not None
        ends = datetime.now(UTC) + timedelta(days=1)
        me = session.account.account
        key = accounts.make_token(me, "reads", {Scope.READ, Scope.RECORD}, ends, None)
        feed = accounts.make_token(me, "calendar", {Scope.CALENDAR}, ends, None)
    _older(path)
    cookies = {"splicewright": session.token}
    place = f"/conveyors/{conveyor}"

    def ask(address: str, method: str = "GET") -> httpx2.Response:
        return httpx2.request(method, address, cookies=cookies, timeout=PATIENCE)

    with _upgrading(path) as (address, go_on, _):
        until = time.monotonic() + PATIENCE
        while (page := ask(address + place)).status_code == 503:
            assert time.monotonic() < until, "no page was shown while the state was derived"
            assert "Being brought up to date" in page.text
            time.sleep(0.1)
        assert page.status_code == 200 and "as it stood" in page.text
        assert (
            "The register is being brought up to date. This is how it stood at <time" in page.text
        )
        _read_by_programs(address, key, feed)
        for method, path_ in (("POST", place), ("POST", "/sync")):
            refused = ask(address + path_, method)
            assert refused.status_code == 503 and refused.headers["retry-after"] == str(AGAIN)
            assert "nothing can be recorded yet" in refused.text
            # Asked again by itself it would be another request than the one that was refused.
            assert "go back and send it again" in refused.text and "http-equiv" not in refused.text
        go_on()
        page = ask(address + place)
        assert page.status_code == 200 and "as it stood" not in page.text
        assert "is being brought up to date" not in page.text
        read = httpx2.get(f"{address}/api/1/conveyors", headers=_bearer(key), timeout=PATIENCE)
        assert read.status_code == 200 and "as it stood" not in read.text
        assert AS_AT not in read.headers
        assert "as they stood" not in httpx2.get(f"{address}/calendar/{feed}.ics").text
    with open_register(path) as register:
        assert register.verify().faults == ()


def _bearer(key: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {key}"}


def _read_by_programs(address: str, key: str, feed: str) -> None:
    """Every list that a program reads is answered, dated; what is not there says so, and is no
    404: a program would take its task or its hook for lost."""
    api = f"{address}/api/1"
    every = (r.path for r in make_api().state.every_route if "GET" in (r.methods or ()))
    paths = [path for path in every if "{" not in path]
    assert {"/conveyors", "/facts", "/due", "/hooks", "/background"} <= set(paths)
    for path in (*paths, "/background/1", "/hooks/1", f"/incoming/{uuid4()}"):
        read = httpx2.get(f"{api}{path}", headers=_bearer(key), timeout=PATIENCE)
        if path.startswith(("/background", "/hooks", "/incoming")):
            assert read.status_code == 503 and read.headers["retry-after"] == str(AGAIN)
            assert read.headers["content-type"] == "application/problem+json"
            continue
        asked = read.json()["faults"] if read.status_code == 422 else []
        assert read.status_code == 200 or asked, path
        at = datetime.fromisoformat(read.headers[AS_AT])
        assert timedelta() <= datetime.now(UTC) - at < timedelta(hours=1)
    read = httpx2.get(f"{api}/conveyors", headers=_bearer(key), timeout=PATIENCE)
    assert "as it stood" in read.text
    sent = httpx2.post(f"{api}/facts", json={"facts": []}, headers=_bearer(key), timeout=PATIENCE)
    assert sent.status_code == 503 and sent.json()["status"] == 503
    assert "nothing can be recorded yet" in sent.json()["detail"]
    calendar = httpx2.get(f"{address}/calendar/{feed}.ics", timeout=PATIENCE)
    assert calendar.status_code == 200 and AS_AT in calendar.headers
    event: Any
    (event,) = icalendar.Calendar.from_ical(calendar.content).walk("VEVENT")
    assert str(event["summary"]).startswith("Due dates as they stood at 20")
    assert event["dtstart"].dt == datetime.now(UTC).date()
    unknown = httpx2.get(f"{address}/calendar/nobody.ics", timeout=PATIENCE)
    assert unknown.status_code == 404


def test_killed_it_leaves_nobody_at_its_port_and_begins_again(tmp_path: Path, clock: Clock) -> None:
    path = tmp_path / "register.sqlite"
    with open_register(path, clock=clock) as register:
        Plant(clock).begin(register)
    _older(path)
    until = time.monotonic() + PATIENCE
    with _upgrading(path) as (address, _, kill):
        while httpx2.get(f"{address}/sign-in", timeout=PATIENCE).status_code == 503:
            assert time.monotonic() < until, "no page was shown while the state was derived"
            time.sleep(0.1)
        kill()
        with pytest.raises(httpx2.ConnectError):
            while time.monotonic() < until:
                with contextlib.suppress(httpx2.ReadError, httpx2.RemoteProtocolError):
                    httpx2.get(f"{address}/sign-in", timeout=PATIENCE)
                time.sleep(0.1)
    with open_register(path) as register:
        assert [c.name for c in register.conveyors()] == ["as it stood"]
    with _upgrading(path) as (_, go_on, _):
        go_on()
    with sqlite3.connect(path) as upgraded:
        assert upgraded.execute("SELECT name FROM conveyors").fetchall() == [("K2",)]
    upgraded.close()
