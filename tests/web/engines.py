"""Browsers other than Chromium, driven by the standards they speak.

Firefox ESR by WebDriver BiDi, which it speaks itself (Debian has no geckodriver); WebKit by
WebDriver, with Debian's webkit2gtk-driver. Only what the story of a job without signal needs.

References
----------
W3C WebDriver; W3C WebDriver BiDi; RFC 6455 (The WebSocket Protocol), text frames only.
"""

from __future__ import annotations

import base64
import json
import os
import shutil
import socket
import struct
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Protocol

import httpx2

from depth import PATIENCE
from web.processes import free_port

_MINI_BROWSER = "/usr/lib/*/webkit2gtk-4.*/MiniBrowser"


class Engine(Protocol):
    """A browser with one page."""

    def goto(self, address: str) -> None:
        """Open an address and wait until it is loaded."""

    def run(self, script: str) -> Any:
        """What an expression gives in the page, once it is settled."""


def until(engine: Engine, true: str) -> None:
    """Wait until an expression is true."""
    end = time.monotonic() + PATIENCE
    while not engine.run(true):
        assert time.monotonic() < end, f"never came true: {true}"
        time.sleep(0.1)


class _Socket:
    """A WebSocket of a browser on this machine."""

    def __init__(self, port: int, path: str) -> None:
        self._line = socket.create_connection(("127.0.0.1", port), timeout=PATIENCE)
        key = base64.b64encode(os.urandom(16)).decode()
        self._line.sendall(
            f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nUpgrade: websocket\r\n"
            f"Connection: Upgrade\r\nSec-WebSocket-Key: {key}\r\nSec-WebSocket-Version: 13\r\n\r\n"
            .encode()
        )  # fmt: skip
        head = b""
        while not head.endswith(b"\r\n\r\n"):
            head += self._line.recv(1)
        assert b" 101 " in head, head

    def send(self, text: str) -> None:
        """One text frame, masked as a client's are."""
        data, mask = text.encode(), os.urandom(4)
        length = (
            bytes([0x80 | len(data)])
            if len(data) < 126
            else b"\xfe" + struct.pack("!H", len(data))
            if len(data) < 65_536
            else b"\xff" + struct.pack("!Q", len(data))
        )
        masked = bytes(b ^ mask[i % 4] for i, b in enumerate(data))
        self._line.sendall(b"\x81" + length + mask + masked)

    def receive(self) -> str:
        """The next message, put together of its frames."""
        whole = b""
        while True:
            first, second = self._read(2)
            length = second & 0x7F
            if length == 126:
                (length,) = struct.unpack("!H", self._read(2))
            elif length == 127:
                (length,) = struct.unpack("!Q", self._read(8))
            data = self._read(length)
            if first & 0x0F in {0, 1}:  # text, or what follows of it
                whole += data
                if first & 0x80:
                    return whole.decode()

    def _read(self, count: int) -> bytes:
        found = b""
        while len(found) < count:
            more = self._line.recv(count - len(found))
            assert more, "the browser has closed the line"
            found += more
        return found

    def close(self) -> None:
        self._line.close()


class _Firefox:
    def __init__(self, line: _Socket) -> None:
        self._line, self._number = line, 0
        self._ask("session.new", {"capabilities": {}})
        tree = self._ask("browsingContext.getTree", {})
        self._page = tree["contexts"][0]["context"]

    def goto(self, address: str) -> None:
        params = {"context": self._page, "url": address, "wait": "complete"}
        self._ask("browsingContext.navigate", params)

    def run(self, script: str) -> Any:
        wrapped = f"(async () => JSON.stringify((await ({script})) ?? null))()"
        told = self._ask("script.evaluate", {
            "expression": wrapped, "target": {"context": self._page}, "awaitPromise": True,
        })  # fmt: skip
        assert told["type"] == "success", told
        return json.loads(told["result"]["value"])

    def _ask(self, method: str, params: dict[str, Any]) -> Any:
        self._number += 1
        self._line.send(json.dumps({"id": self._number, "method": method, "params": params}))
        while True:
            told = json.loads(self._line.receive())
            if told.get("id") == self._number:
                assert told["type"] == "success", told
                return told["result"]


class _WebKit:
    def __init__(self, driver: httpx2.Client, browser: str) -> None:
        options = {"binary": browser, "args": ["--automation"]}
        wanted = {"alwaysMatch": {"webkitgtk:browserOptions": options}}
        self._driver = driver
        made = self._ask("/session", {"capabilities": wanted})
        self._at = f"/session/{made['sessionId']}"
        limits = {"script": int(PATIENCE * 1000), "pageLoad": int(PATIENCE * 1000)}
        self._ask(f"{self._at}/timeouts", limits)

    def goto(self, address: str) -> None:
        self._ask(f"{self._at}/url", {"url": address})

    def run(self, script: str) -> Any:
        body = (
            f"const tell = arguments[0]; (async () => ({script}))()"
            ".then((found) => tell([found ?? null]), (error) => tell(String(error)))"
        )
        told = self._ask(f"{self._at}/execute/async", {"script": body, "args": []})
        assert isinstance(told, list), told
        return told[0]

    def _ask(self, path: str, body: dict[str, Any]) -> Any:
        answer = self._driver.post(path, json=body)
        told = answer.json()["value"]
        assert answer.status_code == 200, told
        return told

    def close(self) -> None:
        self._driver.delete(self._at)


@contextmanager
def firefox(folder: Path) -> Iterator[Engine]:
    """Firefox ESR with a profile of its own."""
    found = shutil.which("firefox-esr")
    assert found, "the deep tests need Firefox: `apt-get install firefox-esr`"
    folder.mkdir()
    port = free_port()
    process = subprocess.Popen(
        [found, "--headless", "--no-remote", "--profile", str(folder),
         f"--remote-debugging-port={port}"],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        env={**os.environ, "HOME": str(folder)},
    )  # fmt: skip
    try:
        _wait_for(port, process)
        line = _Socket(port, "/session")
        yield _Firefox(line)
        line.close()
    finally:
        process.terminate()
        process.wait(timeout=PATIENCE)


@contextmanager
def webkit(folder: Path) -> Iterator[Engine]:
    """WebKit in the small browser that comes with its library."""
    driver = shutil.which("WebKitWebDriver")
    assert driver, "the deep tests need WebKit: `apt-get install webkit2gtk-driver`"
    browser = next(Path("/").glob(_MINI_BROWSER.removeprefix("/")), None)
    assert browser is not None, "webkit2gtk-driver came without its MiniBrowser"
    folder.mkdir()
    port = free_port()
    screen = ["xvfb-run", "--auto-servernum"] if not os.environ.get("DISPLAY") else []
    process = subprocess.Popen(
        [*screen, driver, f"--port={port}"],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
        env={**os.environ, "HOME": str(folder), "XDG_DATA_HOME": str(folder / "data"),
             "XDG_CACHE_HOME": str(folder / "cache"), "WEBKIT_DISABLE_COMPOSITING_MODE": "1"},
    )  # fmt: skip
    try:
        _wait_for(port, process)
        with httpx2.Client(base_url=f"http://127.0.0.1:{port}", timeout=PATIENCE) as client:
            engine = _WebKit(client, str(browser))
            yield engine
            engine.close()
    finally:
        os.killpg(process.pid, 15)
        process.wait(timeout=PATIENCE)


def _wait_for(port: int, process: subprocess.Popen[bytes]) -> None:
    end = time.monotonic() + PATIENCE
    while True:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
        except OSError:
            assert process.poll() is None and time.monotonic() < end, "the browser did not start"
            time.sleep(0.1)
        else:
            return
