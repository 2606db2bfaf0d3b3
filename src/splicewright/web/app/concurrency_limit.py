"""How many pages are worked at once.

Pages share one interpreter, and every row of the database hands it over. Forty at once take up to
half as much again of a core each, and the last of fifty visitors waits two to four times as long as
where a few are worked and the others wait their turn.
"""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING

import anyio

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

IN_PROCESS, BESIDE = 1, 3
"""Pages at once: where the database works in this process, and where it works beside it."""
LONGEST = 0.5
"""How long a page waits for its turn, and how long it keeps it: then it is worked beside the
others, so that a long answer holds up nobody for longer [s]."""
_FILES = "/static/"


class ConcurrencyLimit:
    """Lets pages wait their turn; what is recorded goes at once, and together to the disk."""

    def __init__(self, app: ASGIApp, in_process: bool) -> None:
        self._app = app
        self._places = anyio.Semaphore(IN_PROCESS if in_process else BESIDE)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request; its place is free again when the answer begins."""
        asks = scope["type"] == "http" and scope["method"] == "GET"
        if not asks or scope["path"].startswith(_FILES):
            await self._app(scope, receive, send)
            return
        held = False
        with anyio.move_on_after(LONGEST):
            await self._places.acquire()
            held = True

        def leave() -> None:
            nonlocal held
            if held:
                held = False
                self._places.release()

        async def answer(message: Message) -> None:
            leave()
            await send(message)

        timer = asyncio.get_running_loop().call_later(LONGEST, leave)
        try:
            await self._app(scope, receive, answer)
        finally:
            timer.cancel()
            leave()
