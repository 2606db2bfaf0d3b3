"""What stands between a phone and the register, for tests: proxies, portals, lost answers.

It stands before the app itself, not in the browser: Chromium's own interception was seen to let
the requests of a page with a service worker pass now and then.
"""

from __future__ import annotations

import json
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from typing import Any

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from splicewright.web.app.guard import MARK

Facts = list[dict[str, Any]]
Ask = Callable[[Facts], Awaitable[list[dict[str, Any]]]]
"""Sends facts on to the register; gives its outcomes."""
Answer = Callable[[Facts, Ask], Awaitable[tuple[int, str] | None]]
"""Status and body that the phone gets; None when the register itself is to answer."""
CUT = (0, "")
"""The line is cut before the answer has arrived."""


def outcomes(each_fact: list[dict[str, Any]]) -> tuple[int, str]:
    """An answer as the register gives it."""
    return 200, json.dumps({"outcomes": each_fact})


@dataclass
class Between:
    """The app, with somebody before it who may answer what phones send.

    answer : who answers; nobody when None
    sizes : how many facts each request had that somebody might have answered
    broken : what is asked for under a path with this in it does not come; nothing when empty
    portal : status, type and body of what answers everything, as a network does that asks people to
        sign in; None while it lets pass
    """

    app: ASGIApp
    answer: Answer | None = None
    sizes: list[int] = field(default_factory=list)
    broken: str = ""
    portal: tuple[int, str, str] | None = None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if self.portal is not None and scope["type"] == "http":
            status, kind, said = self.portal
            headers = [(b"content-type", kind.encode()), (b"content-length", b"%d" % len(said))]
            await send({"type": "http.response.start", "status": status, "headers": headers})
            await send({"type": "http.response.body", "body": said.encode()})
            return
        if self.broken and scope["type"] == "http" and self.broken in scope["path"]:
            await _say(send, 503, "")
            return
        if self.answer is None or scope["type"] != "http" or scope["path"] != "/sync":
            await self.app(scope, receive, send)
            return
        body = b""
        more = True
        while more:
            message = await receive()
            body += message.get("body", b"")
            more = message.get("more_body", False)
        sent = json.loads(body)
        if not sent["facts"]:  # the phone only says who it is
            await self.app(scope, _reading(body), send)
            return
        self.sizes.append(len(sent["facts"]))

        async def ask(facts: Facts) -> list[dict[str, Any]]:
            told = await self._asked(scope, json.dumps(sent | {"facts": facts}).encode())
            found: list[dict[str, Any]] = json.loads(told)["outcomes"]
            return found

        answered = await self.answer(sent["facts"], ask)
        if answered is None:
            await self.app(scope, _reading(body), send)
        else:
            await _say(send, *answered)

    async def _asked(self, scope: Scope, body: bytes) -> bytes:
        told = b""

        async def hear(message: Message) -> None:
            nonlocal told
            told += message.get("body", b"")

        plain = {b"accept-encoding", b"content-length"}
        headers = [(k, v) for k, v in scope["headers"] if k not in plain]
        headers.append((b"content-length", str(len(body)).encode()))
        await self.app(dict(scope) | {"headers": headers}, _reading(body), hear)
        return told


def _reading(body: bytes) -> Receive:
    left: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def receive() -> Message:
        return left.pop() if left else {"type": "http.disconnect"}

    return receive


async def _say(send: Send, status: int, body: str) -> None:
    data = body.encode()
    cut = (status, body) == CUT
    headers = [
        (b"content-type", b"application/json"),
        (MARK.lower().encode(), b"1"),  # it speaks for the register
        (b"content-length", str(1000 if cut else len(data)).encode()),
    ]
    await send({"type": "http.response.start", "status": status or 200, "headers": headers})
    # Less than was promised: the server closes the line.
    await send({"type": "http.response.body", "body": data, "more_body": cut})
