"""Who asks in the benchmarks of pages, and for what: every page that people read."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from splicewright.store import PersonRole, Scope
from splicewright.store.sql.register import SqlRegister

Address = Callable[[], str]


def signed_in(register: SqlRegister) -> tuple[str, str, UUID]:
    """A session's cookie, a key, and the largest site."""
    login = f"bench-{uuid4().hex[:8]}"
    accounts = register.accounts()
    secret = accounts.invite(login.title(), PersonRole.ADMIN, None)
    account = accounts.accept(secret, login, "three wet stones").account
    session = accounts.sign_in(login, "three wet stones", "127.0.0.1")
    assert session is not None
    until = datetime.now(UTC) + timedelta(days=1)
    key = accounts.make_token(account, login, {Scope.ADMIN}, until, None)
    return f"splicewright={session.token}", key, register.sites()[0].site


def pages(register: SqlRegister, site: UUID) -> dict[str, Address]:
    """The pages; each address leads to another thing every time it is asked for."""
    chance = random.Random(1)
    conveyors = [c.conveyor for c in register.conveyors()]
    joints = [
        j.joint
        for c in chance.sample(conveyors, min(40, len(conveyors)))
        for j in register.joints(c)
    ]
    facts = [s.fact.id for s in register.facts_since(register.head().seq // 2, 50)]

    def of(template: str, things: list[Any]) -> Address:
        return lambda: template.format(chance.choice(things))

    middle = register.head().seq // 2
    return {
        "today": lambda: "/",
        "due": lambda: "/due",
        "fleet": lambda: "/fleet",
        "history": lambda: "/history",
        "history, in the middle": lambda: f"/history?before={middle}",
        "an entry": of("/recorded/{}", facts),
        "conveyor": of("/conveyors/{}", conveyors),
        "history of a conveyor": of("/conveyors/{}/history", conveyors),
        "belt": of("/conveyors/{}/belt", conveyors),
        "limits of wear": of("/conveyors/{}/limits", conveyors),
        "wear and life": of("/conveyors/{}/forecast", conveyors),
        "inspection interval": of("/conveyors/{}/inspection-interval", conveyors),
        "round": of("/rounds/{}", conveyors),
        "joint": of("/joints/{}", joints),
        "inspections of a joint": of("/joints/{}/inspections", joints),
        "remaining life": of("/joints/{}/forecast", joints),
        "find": of("/find?q=J{}", list(range(1000, 1900))),
        "stock": lambda: f"/sites/{site}/stock",
        "shutdown": lambda: "/shutdown",
        "planner": lambda: "/planner",
        "people": lambda: "/people",
        "facts of a rare kind": lambda: "/api/1/facts?kind=joint+removed&limit=100",
        "facts of two kinds": lambda: "/api/1/facts?kind=site+added&kind=belt+placed&limit=100",
        "joints by the API": lambda: "/api/1/joints?limit=100",
        "due by the API": lambda: "/api/1/due",
    }
