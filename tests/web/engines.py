"""Browsers other than Chromium, driven by the standards they speak.

Firefox ESR by WebDriver BiDi, which it speaks itself (Debian has no geckodriver); WebKit by
WebDriver, with Debian's webkit2gtk-driver. A page of theirs is told what to do as Playwright's is:
of that only what stories need, `web.working.Screen`. Clicks and keys are the browser's own, at the
place where the element is seen.

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
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path
from typing import Any, Protocol

import httpx2
from starlette.types import ASGIApp

from depth import PATIENCE
from web.processes import free_port
from web.serving import served

_MINI_BROWSER = "/usr/lib/*/webkit2gtk-4.*/MiniBrowser"
PHONE, DESK = (390, 844), (1280, 800)
"""Sizes of a page [pixel]."""
_FIND = r"""const find = (selector) => {
  const [, css, words] = /^(.*?)(?::has-text\("(.*)"\))?$/.exec(selector);
  return [...document.querySelectorAll(css)].find((e) => e.getClientRects().length &&
    e.checkVisibility({ visibilityProperty: true }) &&
    e.textContent.replace(/\s+/g, " ").includes(words ?? ""));
};"""
_POINT = """async (selector) => {
  const found = find(selector);
  if (!found || found.disabled) return null;
  found.scrollIntoView({ block: "center", inline: "center", behavior: "instant" });
  const middle = () => {
    const { x, y, width, height } = found.getClientRects()[0] ?? {};
    return { x: Math.floor(x + width / 2), y: Math.floor(y + height / 2) };
  };
  const before = middle();
  await new Promise((later) => setTimeout(later, 30));
  const { x, y } = middle();
  if (before.x !== x || before.y !== y) return null;
  const hit = document.elementFromPoint(x, y);
  return found.contains(hit) || hit?.closest("label")?.control === found ? { x, y } : null;
}"""
"""Where an element is hit: once it stands still, with nothing over it."""
_CHOOSE = """(selector, wanted) => {
  const found = find(selector);
  const option = [...found.options].find((o) => o.value === wanted || o.label === wanted);
  found.value = option.value;
  for (const name of ["input", "change"]) found.dispatchEvent(new Event(name, { bubbles: true }));
  return true;
}"""
_KEYS = {"Enter": "\ue007"}


class NotDoneError(Exception):
    """A browser said that it could not, as while a page gives way to the next."""


class _Wire(Protocol):
    """What a browser is told."""

    def goto(self, address: str) -> None:
        """Open an address and wait until it is loaded."""

    def reload(self) -> None:
        """The same page anew."""

    def run(self, script: str) -> Any:
        """What an expression gives in the page, once it is settled."""

    def act(self, actions: list[dict[str, Any]]) -> None:
        """Actions of mouse or keys, as WebDriver writes them."""

    def size(self, width: int, height: int) -> None:
        """Of what is seen of the page."""

    def picture(self) -> bytes:
        """What is seen, as PNG."""


class _Signal:
    """The app at an address of its own, for one device.

    Without signal nothing listens there, which the browser is not told of: to it there is still a
    network, as there is where one is reached that leads nowhere. That there is one again it tells
    its page as it would by itself.
    """

    def __init__(self, app: ASGIApp, wire: _Wire) -> None:
        self._app, self._wire, self._port = app, wire, free_port()
        self._served = ExitStack()
        self._served.enter_context(served(app, self._port))
        self.address = f"http://127.0.0.1:{self._port}"

    def set_offline(self, offline: bool, /) -> None:
        """The signal goes, or is there again."""
        self._served.close()
        if not offline:
            self._served.enter_context(served(self._app, self._port))
            self._wire.run("dispatchEvent(new Event('online'))")

    def close(self) -> None:
        self._served.close()


class Engine:
    """A page of a browser; see `web.working.Screen`."""

    def __init__(self, wire: _Wire, app: ASGIApp, size: tuple[int, int]) -> None:
        self._wire, self.context = wire, _Signal(app, wire)
        wire.size(*size)

    def close(self) -> None:
        """Nothing is served to it any more."""
        self.context.close()

    def goto(self, url: str, /) -> None:
        self._wire.goto(f"{self.context.address}{url}")

    def reload(self) -> None:
        self._wire.reload()

    def evaluate(self, expression: str, /) -> Any:
        return self._wire.run(
            f"(async () => {{ const told = ({expression}); "
            "return typeof told === 'function' ? told() : told; })()"
        )

    def click(self, selector: str, /) -> None:
        """At the place where it is seen."""
        place = self._until(_POINT, selector)
        self._wire.act([{
            "type": "pointer", "id": "mouse", "parameters": {"pointerType": "mouse"},
            "actions": [
                {"type": "pointerMove", "duration": 0, "origin": "viewport", **place},
                {"type": "pointerDown", "button": 0}, {"type": "pointerUp", "button": 0},
            ],
        }])  # fmt: skip

    def check(self, selector: str, /) -> None:
        self.wait_for_selector(selector)
        end = time.monotonic() + PATIENCE
        while not self._told("selector => find(selector).checked", selector):
            assert time.monotonic() < end, f"{selector} was hit, and never checked"
            self.click(selector)  # as a person who looks: once more where it went beside it

    def fill(self, selector: str, value: str, /) -> None:
        """Typed over what stands there."""
        self.click(selector)
        self._told("selector => { find(selector).select(); return true; }", selector)
        self._type(value)

    def press(self, selector: str, key: str, /) -> None:
        self._told("selector => { find(selector).focus(); return true; }", selector)
        self._type(_KEYS[key])

    def select_option(self, selector: str, value: str, /) -> None:
        """Chosen without the browser's own list, which no driver opens."""
        self.wait_for_selector(selector)
        self._told(_CHOOSE, selector, value)

    def is_visible(self, selector: str, /) -> bool:
        return bool(self._told("selector => Boolean(find(selector))", selector))

    def wait_for_selector(self, selector: str, /) -> None:
        self._until("selector => Boolean(find(selector))", selector)

    def wait_for_timeout(self, timeout: float, /) -> None:
        time.sleep(timeout / 1000)

    def picture(self, place: Path) -> None:
        """What is seen of the page now."""
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(self._wire.picture())

    def _type(self, keys: str) -> None:
        strokes = [{"type": way, "value": k} for k in keys for way in ("keyDown", "keyUp")]
        self._wire.act([{"type": "key", "id": "keys", "actions": strokes}])

    def _told(self, function: str, *given: str) -> Any:
        said = ", ".join(json.dumps(one) for one in given)
        return self._wire.run(f"(() => {{ {_FIND} return ({function})({said}); }})()")

    def _until(self, function: str, selector: str) -> Any:
        """What a function gives of a selector, once it gives something."""
        end, why = time.monotonic() + PATIENCE, ""
        while time.monotonic() < end:
            try:
                if found := self._told(function, selector):
                    return found
            except NotDoneError as error:
                why = str(error)
            time.sleep(0.05)
        msg = f"{selector} was never there to be seen or hit {why}"
        raise AssertionError(msg)


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
    """Firefox, with a line to it."""

    def __init__(self, line: _Socket) -> None:
        self._line, self._number = line, 0
        self.ask("session.new", {"capabilities": {}})

    def ask(self, method: str, params: dict[str, Any]) -> Any:
        self._number += 1
        self._line.send(json.dumps({"id": self._number, "method": method, "params": params}))
        while True:
            told = json.loads(self._line.receive())
            if told.get("id") == self._number:
                if told["type"] != "success":
                    raise NotDoneError(told)
                return told["result"]


class _FirefoxPage:
    """A window of Firefox that shares nothing with its others."""

    def __init__(self, firefox: _Firefox) -> None:
        self._firefox = firefox
        own = firefox.ask("browser.createUserContext", {})
        self._page = firefox.ask("browsingContext.create", {"type": "window", **own})["context"]

    def goto(self, address: str) -> None:
        self._ask("browsingContext.navigate", url=address, wait="complete")

    def reload(self) -> None:
        self._ask("browsingContext.reload", wait="complete")

    def run(self, script: str) -> Any:
        told = self._firefox.ask("script.evaluate", {
            "expression": f"(async () => JSON.stringify((await ({script})) ?? null))()",
            "target": {"context": self._page}, "awaitPromise": True,
        })  # fmt: skip
        if told["type"] != "success":
            raise NotDoneError(told)
        return json.loads(told["result"]["value"])

    def act(self, actions: list[dict[str, Any]]) -> None:
        self._ask("input.performActions", actions=actions)

    def size(self, width: int, height: int) -> None:
        self._ask("browsingContext.setViewport", viewport={"width": width, "height": height})

    def picture(self) -> bytes:
        told = self._ask("browsingContext.captureScreenshot", origin="document")
        return base64.b64decode(told["data"])

    def _ask(self, method: str, **params: Any) -> Any:
        return self._firefox.ask(method, {"context": self._page, **params})


class _WebKitPage:
    """The one page of a WebKit."""

    def __init__(self, driver: httpx2.Client, browser: str) -> None:
        options = {"binary": browser, "args": ["--automation"]}
        wanted = {"alwaysMatch": {"webkitgtk:browserOptions": options}}
        self._driver, self._at = driver, ""
        made = self._ask("/session", {"capabilities": wanted})
        self._at = f"/session/{made['sessionId']}"
        limits = {"script": int(PATIENCE * 1000), "pageLoad": int(PATIENCE * 1000)}
        self._ask("/timeouts", limits)

    def goto(self, address: str) -> None:
        self._ask("/url", {"url": address})

    def reload(self) -> None:
        self._ask("/refresh", {})

    def run(self, script: str) -> Any:
        body = (
            f"const tell = arguments[0]; (async () => ({script}))()"
            ".then((found) => tell([found ?? null]), (error) => tell(String(error)))"
        )
        told = self._ask("/execute/async", {"script": body, "args": []})
        if not isinstance(told, list):
            raise NotDoneError(told)
        return told[0]

    def act(self, actions: list[dict[str, Any]]) -> None:
        self._ask("/actions", {"actions": actions})

    def size(self, width: int, height: int) -> None:
        self._ask("/window/rect", {"width": width, "height": height})

    def picture(self) -> bytes:
        told = self._driver.get(f"{self._at}/screenshot").json()
        return base64.b64decode(told["value"])

    def _ask(self, path: str, body: dict[str, Any]) -> Any:
        answer = self._driver.post(f"{self._at}{path}", json=body)
        told = answer.json()["value"]
        if answer.status_code != 200:
            raise NotDoneError(told)
        return told

    def close(self) -> None:
        self._driver.delete(self._at)


Open = Callable[[tuple[int, int]], Engine]
"""Opens a page of this size, on a device of its own."""


@contextmanager
def firefox(app: ASGIApp, folder: Path) -> Iterator[Open]:
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
        browser = _Firefox(line)
        with ExitStack() as over:

            def opened(size: tuple[int, int]) -> Engine:
                return over.enter_context(closing(Engine(_FirefoxPage(browser), app, size)))

            yield opened
        line.close()
    finally:
        process.terminate()
        process.wait(timeout=PATIENCE)


@contextmanager
def webkit(app: ASGIApp, folder: Path) -> Iterator[Open]:
    """WebKit in the small browser that comes with its library: one for each page."""
    folder.mkdir()
    with ExitStack() as over:

        def opened(size: tuple[int, int]) -> Engine:
            wire = over.enter_context(_one_webkit(folder / str(len(list(folder.iterdir())))))
            return over.enter_context(closing(Engine(wire, app, size)))

        yield opened


@contextmanager
def _one_webkit(folder: Path) -> Iterator[_WebKitPage]:
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
            page = _WebKitPage(client, str(browser))
            yield page
            page.close()
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
