"""The app served on a loopback port, for tests that want a real server."""

from __future__ import annotations

import contextlib
import socket
import threading
import time
from collections.abc import Iterator

import uvicorn
from starlette.types import ASGIApp

from depth import PATIENCE


@contextlib.contextmanager
def served(app: ASGIApp, at: int = 0, date: str = "") -> Iterator[str]:
    """Address of the app while it is served; at: its port, 0 for any that is free; date: of every
    answer where the clock stands still, else phones say that theirs is wrong."""
    listening = socket.socket()
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    listening.bind(("127.0.0.1", at))
    port = listening.getsockname()[1]
    config = uvicorn.Config(
        app, log_level="warning", access_log=False, lifespan="on", date_header=not date,
        headers=[("Date", date)] if date else [],
    )  # fmt: skip
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    try:
        end = time.monotonic() + PATIENCE
        while not server.started:
            if not thread.is_alive() or time.monotonic() > end:
                msg = "the server did not start"
                raise RuntimeError(msg)
            thread.join(0.01)
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join(PATIENCE)
        server.force_exit = True  # whoever was never answered
        thread.join()
        listening.close()
