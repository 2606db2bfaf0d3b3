"""What people see while a register is made ready: brought up to date, or a large file checked.

The app cannot open before that is done, and a phone that gets no answer looks broken. So whoever
asks meanwhile is told, in one page without scripts, and told to come back. While the present state
is derived anew, which is what takes long, a process beside this one shows pages as they stood.
"""

from __future__ import annotations

import contextlib
import html
import socket
import ssl
import subprocess
import threading
import time
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from starlette.datastructures import MutableHeaders
from starlette.responses import HTMLResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from splicewright.errors import Fault
from splicewright.quantities import percent
from splicewright.store.progress import Tell
from splicewright.web.app.problems import problem

AGAIN = 10
"""A browser asks again after so long [s]."""
READY = "ready"
"""The line by which the process beside says that it answers."""
_LONGEST, _PATIENCE = 65_536, 2.0
"""Bytes of a request that are read, and how long one may take to send them [s]."""
_LAST = 6.0
"""So long the process beside may take to end what it answers [s]."""
_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
{refresh}<title>Being brought up to date</title>
<style>body{{font:1.1rem/1.5 sans-serif;max-width:34rem;margin:3rem auto;padding:0 1rem}}</style>
</head><body><h1>Being brought up to date</h1>
<p>Splicewright prepares the register: {step}. <b>{share}</b></p>
<p>{then}</p></body></html>
"""
_REFRESH = f'<meta http-equiv="refresh" content="{AGAIN}">'
_WAIT = (
    "Nothing is lost. What a phone recorded meanwhile stays on it and is sent afterwards. This "
    "page asks again by itself."
)
_SEND_AGAIN = (
    "What was sent was not recorded. A phone keeps it and sends it by itself; on a page, go back "
    "and send it again in a few minutes."
)


_HEADERS = {"Retry-After": str(AGAIN), "Cache-Control": "no-store"}


AS_AT = "Register-As-At"
"""The header of an answer to a program: the moment [RFC 3339] at which it stood so."""
_API, _CALENDAR = "/api/", "/calendar/"
_AWAY = tuple(f"/api/1/{part}" for part in ("background", "errands", "hooks", "incoming"))
"""What the process beside does not hold: it would seem not to be there."""


class AsItStood:
    """A register that is brought up to date: it is read as it stood, and nothing is sent.

    Pages and calendars say so themselves; what a program gets says it in a header.
    """

    def __init__(self, app: ASGIApp, at: datetime) -> None:
        self.app, self._at = app, at

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        path = scope["path"]
        if scope["method"] in {"GET", "HEAD"} and not path.startswith(_AWAY):

            async def dated(message: Message) -> None:
                if message["type"] == "http.response.start":
                    MutableHeaders(scope=message)[AS_AT] = self._at.isoformat(timespec="seconds")
                await send(message)

            program = path.startswith((_API, _CALENDAR))
            await self.app(scope, receive, dated if program else send)
            return
        sentence = "it can be read meanwhile, and nothing can be recorded yet"
        if path.startswith(_API):
            fault = Fault("", f"the register is being brought up to date: {sentence}")
            refused: Response = problem(503, "Not now", [fault], _HEADERS)
        else:
            page = _PAGE.format(step=sentence, share="", refresh="", then=_SEND_AGAIN)
            refused = HTMLResponse(page, 503, _HEADERS)
        await refused(scope, receive, send)


class Upgrading:
    """Answers for an app that is not open yet, from the first word of an upgrade on.

    Parameters
    ----------
    listening : where the app will listen; it is handed back by `end`
    tell : is told, too
    certificate, key : files for HTTPS, where the app does that itself
    beside : begins a process that shows pages as they stood, says `READY` once it does, and ends
        when its standard input is closed; None where there is none
    """

    def __init__(
        self,
        listening: socket.socket,
        tell: Tell,
        certificate: Path | None = None,
        key: Path | None = None,
        beside: Callable[[], subprocess.Popen[str]] | None = None,
    ) -> None:
        self._listening, self._also = listening, tell
        self._begin = beside
        self._beside: subprocess.Popen[str] | None = None
        self._shown = threading.Event()
        self._tls = None
        if certificate is not None:
            self._tls = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
            self._tls.load_cert_chain(certificate, key)
        self._over = threading.Event()
        self._thread: threading.Thread | None = None
        self._page = b""

    def tell(self, done: int, total: int, step: str) -> None:
        """How far it is; see `Tell`."""
        self._also(done, total, step)
        share = f"{percent(done / total)} done." if total else ""
        page = _PAGE.format(
            step=html.escape(step), share=share, refresh=_REFRESH, then=_WAIT
        ).encode()
        head = (
            "HTTP/1.1 503 Service Unavailable\r\nContent-Type: text/html; charset=utf-8\r\n"
            f"Content-Length: {len(page)}\r\nRetry-After: {AGAIN}\r\nCache-Control: no-store\r\n"
            "Connection: close\r\n\r\n"
        )
        self._page = head.encode() + page
        if self._thread is None:
            self._thread = threading.Thread(target=self._answer, daemon=True)
            self._thread.start()
        if total and self._begin is not None:  # it counts facts: the tables are those of today
            begin, self._begin = self._begin, None
            self._beside = begin()
            threading.Thread(target=self._listen_to, args=(self._beside,), daemon=True).start()

    def end(self) -> None:
        """The app opens: it answers from now on."""
        self._over.set()
        if self._thread is not None:
            self._thread.join()
        if self._beside is not None:
            _end(self._beside)

    def _listen_to(self, beside: subprocess.Popen[str]) -> None:
        assert beside.stdout is not None
        if beside.stdout.readline().strip() == READY:
            self._shown.set()

    def _is_shown(self) -> bool:
        """Whether the process beside answers; where it ended, this one does again."""
        return self._shown.is_set() and self._beside is not None and self._beside.poll() is None

    def _answer(self) -> None:
        self._listening.settimeout(0.1)  # to hear that it is over
        while not self._over.is_set():
            if self._is_shown():
                self._over.wait(0.1)
                continue
            with contextlib.suppress(OSError):  # nobody came, or hung up and needs no answer
                self._one()
        self._listening.settimeout(None)

    def _one(self) -> None:
        visitor, _ = self._listening.accept()
        with visitor:
            visitor.settimeout(_PATIENCE)
            if self._tls is None:
                self._say(visitor)
                return
            with self._tls.wrap_socket(visitor, server_side=True) as hidden:
                self._say(hidden)

    def _say(self, visitor: socket.socket) -> None:
        asked, until = b"", time.monotonic() + _PATIENCE
        while b"\r\n\r\n" not in asked and len(asked) < _LONGEST:
            # In all, not byte by byte: whoever drips keeps neither others nor the app waiting.
            visitor.settimeout(max(0.01, until - time.monotonic()))
            piece = visitor.recv(4096)
            if not piece:
                return
            asked += piece
        visitor.sendall(self._page)


def _end(beside: subprocess.Popen[str]) -> None:
    assert beside.stdin is not None
    with contextlib.suppress(OSError):  # it ended by itself
        beside.stdin.close()
    try:
        beside.wait(timeout=_LAST)
    except subprocess.TimeoutExpired:
        beside.kill()
        beside.wait()
