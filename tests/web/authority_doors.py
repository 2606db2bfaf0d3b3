"""A register with a job under way, and every door through which a fact may come to it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

from fastapi import FastAPI
from fastapi.testclient import TestClient

from splicewright.errors import InputError
from splicewright.store import Account, Actor, Correction, Fact, Scope, What
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.facts.facts import to_data
from splicewright.store.sql.register import SqlRegister
from web.calling import API
from web.conftest import Clock, csrf_of, take_session

Sends = Callable[[Account, What], tuple[str, ...]]
"""Gives the sentences of a refusal; none when it was recorded."""


@dataclass
class Doors:
    """The doors of one app; each takes a fact as somebody, and gives the refusal or nothing.

    page : what pages do: they append to the register of who is signed in; ready : sessions that
    wait for those who sign in, by login
    sync : a phone's outbox; session : the API with a session's cookie; key : with a token
    """

    app: FastAPI
    register: SqlRegister
    accounts: SqlAccounts
    clock: Clock
    people: dict[str, Account]
    ready: dict[str, str] = field(default_factory=dict)
    _clients: dict[str, TestClient] = field(default_factory=dict)
    _secrets: dict[str, str] = field(default_factory=dict)
    _keys: dict[tuple[str, frozenset[Scope]], str] = field(default_factory=dict)

    def fact(self, what: What, who: Account, **other: Any) -> Fact:
        """The fact as they say it now."""
        at = other.pop("at", self.clock())
        return Fact(uuid4(), at, who.name, what, who.account, "a device")

    def console(self, what: What) -> UUID:
        """Record it as whoever has the register's file in hand; its id."""
        fact = Fact(uuid4(), self.clock(), "Console Example", what, device="desk")
        self.register.append(fact)
        return fact.id

    def page(self, who: Account, what: What) -> tuple[str, ...]:
        """As a page of theirs."""
        theirs = self.register.said_by(Actor(who.account, who.name, who.role, sites=who.sites))
        try:
            theirs.append(self.fact(what, who))
        except InputError as error:
            return tuple(f.sentence for f in error.faults)
        return ()

    def sync(self, who: Account, what: What, **other: Any) -> tuple[str, ...]:
        """As their phone."""
        fact = to_data(self.fact(what, who, **other))
        body = {"account": str(who.account), "facts": [fact]}
        headers = {"Sec-Fetch-Site": "same-origin", "Accept": "application/json"}
        answer = self._client(who).post("/sync", json=body, headers=headers)
        if answer.status_code != 200:
            return (answer.text,)
        (outcome,) = answer.json()["outcomes"]
        return tuple(f["sentence"] for f in outcome["faults"])

    def session(self, who: Account, what: What, **other: Any) -> tuple[str, ...]:
        """As the API is called by a script of theirs, with the session's cookie."""
        client = self._client(who)
        if who.login not in self._secrets:
            self._secrets[who.login] = csrf_of(client)  # one for the whole session
        headers = {"X-CSRF": self._secrets[who.login]}
        return self._post(client, self.fact(what, who, **other), headers)

    def key(self, who: Account, what: What, *scopes: Scope, **other: Any) -> tuple[str, ...]:
        """As a program with a token of theirs: of all scopes that they may have, or some."""
        from splicewright.store.accounts.accounts import SCOPE_ROLES

        wanted = scopes or tuple(s for s in Scope if who.role.reaches(SCOPE_ROLES[s]))
        named = (who.login, frozenset(wanted))
        if named not in self._keys:
            until = self.clock() + timedelta(days=30)
            label = f"key {len(self._keys)}"
            self._keys[named] = self.accounts.make_token(who.account, label, wanted, until, None)
        headers = {"Authorization": f"Bearer {self._keys[named]}"}
        return self._post(self._open(""), self.fact(what, who, **other), headers)

    def all_of(self, *, signed: bool = False) -> dict[str, Sends]:
        """Every door; a signature cannot come by a token."""
        found: dict[str, Sends] = {"page": self.page, "sync": self.sync, "session": self.session}
        return found if signed else found | {"key": self.key}

    def correct(self, fact: UUID, instead: What | None = None) -> Correction:
        """A correction of a recorded fact."""
        stored = self.register.fact(fact)
        assert stored is not None
        said = stored.fact
        return Correction(said.stream, said.subject, fact, instead, "it was a slip")

    def _post(self, client: TestClient, fact: Fact, headers: dict[str, str]) -> tuple[str, ...]:
        answer = client.post(f"{API}/facts", json={"facts": [to_data(fact)]}, headers=headers)
        if answer.status_code != 200:
            return tuple(f["sentence"] for f in answer.json()["faults"])
        (outcome,) = answer.json()["outcomes"]
        return tuple(f["sentence"] for f in outcome["faults"])

    def _client(self, who: Account) -> TestClient:
        client = self._open(who.login)
        if not client.cookies:
            take_session(client, who.login, self.ready)
        return client

    def _open(self, name: str) -> TestClient:
        if name not in self._clients:
            self._clients[name] = TestClient(self.app, follow_redirects=False)
        return self._clients[name]

    def close(self) -> None:
        for client in self._clients.values():
            client.close()


@contextmanager
def opened(
    app: FastAPI, register: SqlRegister, accounts: SqlAccounts, clock: Clock,
    people: dict[str, Account], ready: dict[str, str],
) -> Iterator[Doors]:  # fmt: skip
    """The doors of an app."""
    doors = Doors(app, register, accounts, clock, people, ready)
    yield doors
    doors.close()
