"""What every answer carries: headers that keep pages to themselves, and a rotated session."""

from __future__ import annotations

import contextlib
import re

from starlette.datastructures import MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from splicewright.errors import Fault
from splicewright.web.app.problems import problem
from splicewright.web.app.room import Room
from splicewright.web.app.visitor import cookie_name

LARGEST_BODY = 25_000_000
"""Bytes of one request: the largest kept content, and the form round it."""
MARK = "X-Splicewright"
"""On every answer of ours: what comes without it was answered by somebody between, such as a
network that asks people to sign in, and is neither kept nor believed."""
POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "worker-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
    )
)
HEADERS = {
    MARK: "1",
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    # Not "no-referrer": browsers then send forms with the origin "null".
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=()",
}
_FILES, _OF_FILES = "/static/", "default-src 'none'; frame-ancestors 'none'"
"""Static files need nothing where one is opened by itself."""
_OF_DOCUMENTS = ("Referrer-Policy", "Cross-Origin-Opener-Policy", "Permissions-Policy")
"""Mean nothing for styles and scripts, and are left out of them: a phone is sent five at first."""
_NO_DOCUMENT = ("text/css", "text/javascript")
FORGET = "X-Forget"
"""Tells the service worker of a phone that was signed out from elsewhere to delete its copies."""
_HOST = re.compile(r"(?P<name>[a-z0-9._-]+|\[[0-9a-f:.]+\])(:[0-9]{1,5})?")
_KEEP = 60 * 24 * 3600


def session_cookie(room: Room, token: str, lasts: int = _KEEP) -> str:
    """The header that hands a device its session."""
    secure = "; Secure" if room.secure else ""
    return f"{cookie_name(room)}={token}; Path=/; Max-Age={lasts}; HttpOnly; SameSite=Lax{secure}"


class Guard:
    """Refuses requests that other sites send, and sets the headers of every answer."""

    def __init__(self, app: ASGIApp, room: Room) -> None:
        self.app = app
        self.room = room

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        state = scope.setdefault("state", {})

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                plain = headers.get("content-type", "").startswith(_NO_DOCUMENT)
                if scope["path"].startswith(_FILES):
                    plain = True
                    headers.setdefault("Content-Security-Policy", _OF_FILES)
                for name, value in HEADERS.items():
                    if not (plain and name in _OF_DOCUMENTS):
                        headers.setdefault(name, value)
                if self.room.secure:
                    headers["Strict-Transport-Security"] = "max-age=31536000"
                headers.setdefault("Cache-Control", "no-store")
                if state.get("forget"):
                    headers[FORGET] = "copies"
                if state.get("new_token"):
                    headers.append("Set-Cookie", session_cookie(self.room, state["new_token"]))
            await send(message)

        host = _host(scope)
        if not host or (self.room.hosts and host not in self.room.hosts):
            refusal = PlainTextResponse("This name does not lead here.\n", 421)
            await refusal(scope, receive, guarded)
            return
        if _from_elsewhere(scope):
            refusal = PlainTextResponse("Requests from other sites are refused.\n", 403)
            await refusal(scope, receive, guarded)
            return
        await self.app(scope, receive, guarded)


def _host(scope: Scope) -> str:
    """The name that was asked for, without its port; empty when it is no name.

    `localhost:1@elsewhere.example` would be one, and links made of it would lead elsewhere.
    """
    hosts = [value for name, value in scope["headers"] if name == b"host"]
    match = _HOST.fullmatch(hosts[0].decode("latin-1").lower()) if len(hosts) == 1 else None
    return match["name"] if match is not None else ""


def _from_elsewhere(scope: Scope) -> bool:
    """Whether another site's page sends a request that changes something."""
    if scope["method"] in {"GET", "HEAD", "OPTIONS"}:
        return False
    headers = {k: v.decode("latin-1") for k, v in scope["headers"]}
    site = headers.get(b"sec-fetch-site")
    if site is not None:
        return site not in {"same-origin", "none"}
    origin = headers.get(b"origin")
    return origin is not None and origin.partition("://")[2] != headers.get(b"host", "")


class _TooLargeError(Exception):
    pass


class SizeLimit:
    """Refuses bodies larger than anything that is kept, told or not told beforehand."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        length = dict(scope["headers"]).get(b"content-length", b"0")
        say = f"the request is too large; accepted is up to {LARGEST_BODY // 1_000_000} MB"
        refusal: ASGIApp = PlainTextResponse(f"{say}.\n", 413)
        if scope["path"].startswith("/api/"):
            refusal = problem(413, "Too large", [Fault("", say)])
        if not length.isdigit() or int(length) > LARGEST_BODY:
            await refusal(scope, receive, send)
            return
        taken, begun, large = 0, False, False

        async def counted() -> Message:
            nonlocal taken, large
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > LARGEST_BODY:
                large = True
                raise _TooLargeError
            return message

        async def noted(message: Message) -> None:
            nonlocal begun
            if large and not begun:
                return  # what the page makes of the cut-off body is not its answer
            begun = True
            await send(message)

        with contextlib.suppress(_TooLargeError):
            await self.app(scope, counted, noted)
        if large and not begun:
            await refusal(scope, receive, send)
