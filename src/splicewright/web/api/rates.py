"""How many requests a program may send the API in a minute, told in the headers of every answer.

The fields are those of the IETF draft "RateLimit header fields for HTTP" (revisions 8 to 10, their
form as programs that follow them write it): `RateLimit-Policy` says the rule, `RateLimit` what is
left of it and until when.
"""

from __future__ import annotations

import hashlib
import threading
import time
from collections.abc import Callable

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from splicewright.errors import Fault
from splicewright.web.app.problems import problem

QUOTA, WINDOW = 30_000, 60
"""Requests of one caller in so many seconds, at each server process: more than any that works needs
(a plant that sends 200 facts a second one by one asks 12,000), fewer than a loop gone wild."""
_MOST_CALLERS = 20_000


class Rates:
    """Counts the requests of each caller: a key, a session, or an address without either."""

    def __init__(
        self, app: ASGIApp, quota: int = QUOTA, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self.app = app
        self._quota, self._clock = quota, clock
        self._lock = threading.Lock()
        self._window = -1
        self._taken: dict[bytes, int] = {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        left, wait = self._count(_caller(scope))
        headers = {
            "RateLimit-Policy": f'"minute";q={self._quota};w={WINDOW}',
            "RateLimit": f'"minute";r={max(left, 0)};t={wait}',
        }
        if left < 0:
            say = f"more than {self._quota} requests in {WINDOW} s; send the next in {wait} s"
            refusal = problem(
                429, "Too often", [Fault("", say)], headers | {"Retry-After": str(wait)}
            )
            await refusal(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(headers)
            await send(message)

        await self.app(scope, receive, with_headers)

    def _count(self, caller: bytes) -> tuple[int, int]:
        """What is left to a caller after this request, and until when [s]."""
        now = self._clock()
        with self._lock:
            window = int(now // WINDOW)
            if window != self._window:
                self._window = window
                self._taken.clear()
            if caller not in self._taken and len(self._taken) >= _MOST_CALLERS:
                caller = b""  # all further ones of this minute share one count
            taken = self._taken[caller] = self._taken.get(caller, 0) + 1
        return self._quota - taken, WINDOW - int(now % WINDOW)


def _caller(scope: Scope) -> bytes:
    headers = Headers(scope=scope)
    secret = headers.get("authorization") or headers.get("cookie")
    if secret:
        return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).digest()[:16]
    return str((scope.get("client") or ("",))[0]).encode()
