"""A page waits its turn, is not held up for long, and leaves its place however it ends."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from concurrent.futures import ThreadPoolExecutor

import anyio
import pytest
from starlette.types import Message, Receive, Scope, Send

from depth import PATIENCE
from splicewright.web.app.concurrency_limit import BESIDE, IN_PROCESS, ConcurrencyLimit


def _run(crowd: Callable[[], Awaitable[None]]) -> None:
    """In a thread of its own: where a browser was started before, this one has a loop already."""
    with ThreadPoolExecutor(1) as other:
        other.submit(anyio.run, crowd).result()


class _App:
    """Answers when it is let; counts what is worked at the same time."""

    def __init__(self) -> None:
        self.now, self.most, self.go = 0, 0, anyio.Event()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        self.now += 1
        self.most = max(self.most, self.now)
        try:
            await self.go.wait()
            if scope["path"] == "/fails":
                raise ValueError
        finally:
            self.now -= 1
        await send({"type": "http.response.start", "status": 200, "headers": []})


async def _receive() -> Message:
    return {"type": "http.disconnect"}


async def _send(message: Message) -> None:
    assert message["status"] == 200


def _asked(path: str = "/", method: str = "GET") -> Scope:
    return {"type": "http", "method": method, "path": path}


def _worked_at_once(app: _App, in_process: bool, *asked: Scope) -> int:
    """How many of these are worked before any of them is answered."""
    limit, worked = ConcurrencyLimit(app, in_process=in_process), 0

    async def crowd() -> None:
        nonlocal worked
        async with anyio.create_task_group() as group:
            for scope in asked:
                group.start_soon(limit, scope, _receive, _send)
            await anyio.wait_all_tasks_blocked()
            worked = app.now
            app.go.set()

    _run(crowd)
    return worked


@pytest.mark.parametrize("in_process", [True, False])
def test_few_are_worked_at_once(in_process: bool) -> None:
    app, most = _App(), IN_PROCESS if in_process else BESIDE
    assert _worked_at_once(app, in_process, *[_asked()] * 20) == most
    assert app.most == most


def test_what_is_recorded_goes_at_once() -> None:
    assert _worked_at_once(_App(), True, *[_asked(method="POST")] * 5) == 5


def test_files_of_the_app_wait_for_no_page() -> None:
    paths = ("/", "/static/splicewright.css", "/static/icon.svg")
    assert _worked_at_once(_App(), True, *map(_asked, paths)) == 3


def test_a_page_that_takes_long_gives_up_its_place() -> None:
    """Else each page that comes while it is worked would wait as long as it may."""
    app = _App()
    limit = ConcurrencyLimit(app, in_process=True)

    async def crowd() -> None:
        async with anyio.create_task_group() as group:
            group.start_soon(limit, _asked("/long"), _receive, _send)
            await anyio.wait_all_tasks_blocked()
            with anyio.fail_after(PATIENCE):
                while limit._places.value < IN_PROCESS:
                    await anyio.sleep(0.01)
            group.start_soon(limit, _asked(), _receive, _send)
            await anyio.wait_all_tasks_blocked()
            assert app.now == 2
            app.go.set()
        assert limit._places.value == IN_PROCESS

    _run(crowd)


def test_a_page_that_takes_long_holds_nobody_up_for_ever() -> None:
    app = _App()
    limit = ConcurrencyLimit(app, in_process=True)

    async def crowd() -> None:
        async with anyio.create_task_group() as group:
            for _ in range(4):
                group.start_soon(limit, _asked(), _receive, _send)
            with anyio.fail_after(PATIENCE):
                while app.now < 4:
                    await anyio.sleep(0.01)
            app.go.set()

    _run(crowd)


def test_a_page_that_fails_leaves_its_place() -> None:
    app = _App()
    limit = ConcurrencyLimit(app, in_process=True)
    app.go.set()

    async def one_after_another() -> None:
        for _ in range(3 * IN_PROCESS):
            with pytest.raises(ValueError):
                await limit(_asked("/fails"), _receive, _send)
        assert limit._places.value == IN_PROCESS
        await limit(_asked(), _receive, _send)
        assert limit._places.value == IN_PROCESS

    _run(one_after_another)
