"""Conditions of the API: an ETag on what is read, 304 where it is known, 412 where it changed.

By RFC 9110, sections 8.8.3 and 13. A mark is of the bytes before compression, so that it can be
compared byte for byte in `If-Match`.
"""

from __future__ import annotations

import hashlib
from typing import Annotated

from fastapi import Header
from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from splicewright.web.app.problems import ChangedError

LARGEST = 4_000_000
"""Bytes of an answer that is marked; a larger one is sent on as it comes."""


class Marks:
    """Marks what GET answers, and answers 304 to whoever has it."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] != "http" or scope["method"] != "GET":
            await self.app(scope, receive, send)
            return
        known = Headers(scope=scope).get("if-none-match", "")
        begun: list[Message] = []
        held = bytearray()

        async def marked(message: Message) -> None:
            if message["type"] == "http.response.start" and message["status"] == 200:
                begun.append(message)
                return
            if not begun:
                await send(message)
                return
            held.extend(message.get("body", b""))
            more = message.get("more_body", False)
            if more and len(held) <= LARGEST:
                return
            start = begun.pop()
            headers = MutableHeaders(scope=start)
            if not more and "etag" not in headers:
                headers["ETag"] = mark_of(bytes(held))
            body = bytes(held)
            held.clear()
            if known and "etag" in headers and has(known, headers["etag"], weak=True):
                start["status"], body = 304, b""
                for name in ("content-length", "content-type"):
                    del headers[name]
            await send(start)
            await send({"type": "http.response.body", "body": body, "more_body": more})

        await self.app(scope, receive, marked)


IfMatch = Annotated[
    str | None,
    Header(max_length=2000, description="Replace only what has this ETag; else 412."),
]


def refuse_changed(sent: str | None, mark: str | None) -> None:
    """Refuse to replace what the sender did not see.

    Parameters
    ----------
    sent : the header `If-Match`; None asks nothing
    mark : of what is there now; None where there is nothing

    Raises
    ------
    ChangedError
        They differ.
    """
    if sent is not None and (mark is None or not has(sent, mark, weak=False)):
        raise ChangedError


def mark_of(data: bytes) -> str:
    """The ETag of an answer."""
    return f'"{hashlib.sha256(data).hexdigest()[:32]}"'


def has(sent: str, mark: str, *, weak: bool) -> bool:
    """Whether a list of ETags, as a condition holds it, has this one.

    weak : whether a mark that says "much the same" counts: for reading, never for writing
    """
    if sent.strip() == "*":
        return True
    parts = (part.strip() for part in sent.split(","))
    return mark in ((p.removeprefix("W/") if weak else p) for p in parts)
