"""What people see while a register is made ready: brought up to date, or a large file checked.

The app cannot open before that is done, and a phone that gets no answer looks broken. So whoever
asks meanwhile is told, in one page without scripts, and told to come back.
"""

from __future__ import annotations

import contextlib
import html
import socket
import ssl
import threading
import time
from pathlib import Path

from splicewright.store.progress import Tell

AGAIN = 10
"""A browser asks again after so long [s]."""
_LONGEST, _PATIENCE = 65_536, 2.0
"""Bytes of a request that are read, and how long one may take to send them [s]."""
_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<meta http-equiv="refresh" content="{again}"><title>Being brought up to date</title>
<style>body{{font:1.1rem/1.5 sans-serif;max-width:34rem;margin:3rem auto;padding:0 1rem}}</style>
</head><body><h1>Being brought up to date</h1>
<p>Splicewright prepares the register: {said}. <b>{share}</b></p>
<p>Nothing is lost. What a phone recorded meanwhile stays on it and is sent afterwards. This page
asks again by itself.</p></body></html>
"""


class Upgrading:
    """Answers for an app that is not open yet, from the first word of an upgrade on.

    Parameters
    ----------
    listening : where the app will listen; it is handed back by `end`
    tell : is told, too
    certificate, key : files for HTTPS, where the app does that itself
    """

    def __init__(
        self,
        listening: socket.socket,
        tell: Tell,
        certificate: Path | None = None,
        key: Path | None = None,
    ) -> None:
        self._listening, self._also = listening, tell
        self._tls = None
        if certificate is not None:
            self._tls = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
            self._tls.load_cert_chain(certificate, key)
        self._over = threading.Event()
        self._thread: threading.Thread | None = None
        self._page = b""

    def tell(self, done: int, total: int, said: str) -> None:
        """How far it is; see `Tell`."""
        self._also(done, total, said)
        share = f"{done / total:.0%} done." if total else ""
        page = _PAGE.format(again=AGAIN, said=html.escape(said), share=share).encode()
        head = (
            "HTTP/1.1 503 Service Unavailable\r\nContent-Type: text/html; charset=utf-8\r\n"
            f"Content-Length: {len(page)}\r\nRetry-After: {AGAIN}\r\nCache-Control: no-store\r\n"
            "Connection: close\r\n\r\n"
        )
        self._page = head.encode() + page
        if self._thread is None:
            self._thread = threading.Thread(target=self._answer, daemon=True)
            self._thread.start()

    def end(self) -> None:
        """The app opens: it answers from now on."""
        self._over.set()
        if self._thread is not None:
            self._thread.join()

    def _answer(self) -> None:
        self._listening.settimeout(0.1)  # to hear that it is over
        while not self._over.is_set():
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
