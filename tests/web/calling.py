"""Programs that call the API in the tests: a background that works at once, keys, and clients."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from functools import cache
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from fastapi.testclient import TestClient

from splicewright.background.queue import Queue
from splicewright.background.requests import Background
from splicewright.background.worker import Worker
from splicewright.store import Account, Scope
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.sql.register import SqlRegister
from splicewright.web.api.routes import make_api
from splicewright.web.app.room import Room
from web.apps import Visit, app_over
from web.conftest import Clock

API = "/api/1"


@cache
def contract() -> dict[str, Any]:
    """The API's own description, made once: it takes a second."""
    return make_api().openapi()


class Office(Visit):
    """An app with a background, and a worker that does all that waits when it is told to."""

    def __init__(self, register: SqlRegister, accounts: SqlAccounts, clock: Clock, url: Path | str):
        self.register, self.accounts, self.clock = register, accounts, clock
        self.queue = Queue(url)
        self.worker = Worker(register, self.queue, clock=clock)
        self.background = Background(self.worker.tasks, self.queue)
        self.room = Room(
            register, accounts, clock, secure=False, invented=True, background=self.background,
            hooks=register.hooks(), incoming=register.incoming(),
        )  # fmt: skip
        self.app: FastAPI = app_over(self.room, self)

    def work(self) -> None:
        """Do all that waits."""
        for task in self.worker.tasks.unattended():
            self.worker.work(task)

    def key(self, account: Account, *scopes: Scope) -> str:
        """A new key of an account."""
        label = f"key {len(self.accounts.tokens())}"
        until = self.clock.now + timedelta(days=30)
        return self.accounts.make_token(account.account, label, set(scopes), until, None)


@contextmanager
def calling(app: FastAPI, key: str = "") -> Iterator[TestClient]:
    """A program with a key, or without one."""
    headers = {"Authorization": f"Bearer {key}"} if key else {}
    with TestClient(app, headers=headers, follow_redirects=False) as client:
        yield client


def fits_problem(body: Any) -> bool:
    """Whether an answer is a problem document."""
    return set(body) == {"type", "title", "status", "detail", "faults"} and all(
        set(f) == {"field", "sentence", "accepted", "file", "line"} for f in body["faults"]
    )
