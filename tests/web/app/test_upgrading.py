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
from collections.abc import Iterator
from pathlib import Path

import httpx2

from depth import PATIENCE, ended, next_line
from splicewright.store.progress import tell_nobody
from splicewright.store.sql.register import open_register
from splicewright.web.app.upgrading import AGAIN, Upgrading
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
        for done, share in ((2000, "25% done"), (6000, "75% done")):
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
serve(sys.argv[1], None, Reach(port=int(sys.argv[2])), lambda line: print(line, flush=True),
      workers=0)
"""


def test_the_server_tells_it_and_then_serves(tmp_path: Path, clock: Clock) -> None:
    path = tmp_path / "register.sqlite"
    with open_register(path, clock=clock) as register:
        Plant(clock).begin(register)
    with sqlite3.connect(path) as older:
        older.execute("UPDATE register SET derivation = 4")
    older.close()
    listening, address = _listening()
    port = listening.getsockname()[1]
    listening.close()
    words = [sys.executable, "-c", _SERVE, str(path), str(port)]
    with subprocess.Popen(
        words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=dict(os.environ)
    ) as served:
        try:
            assert served.stdin is not None and served.stdout is not None
            assert next_line(served) == "upgrading\n"
            page = httpx2.get(address, timeout=PATIENCE)
            assert page.status_code == 503 and "counting lives. <b>50% done.</b>" in page.text
            served.stdin.write("go on\n")
            served.stdin.flush()
            while not next_line(served).startswith("Open "):
                pass
            assert httpx2.get(f"{address}/sign-in", timeout=PATIENCE).status_code == 200
        finally:
            served.terminate()
            served.wait(timeout=PATIENCE)
