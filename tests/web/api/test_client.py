"""The client in examples/: made from the description, and used against a served app."""

from __future__ import annotations

import importlib.util
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest

from splicewright.store import Account, Scope
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.sql.register import SqlRegister
from web.calling import Office, contract
from web.conftest import Clock
from web.serving import served

ROOT = Path(__file__).parents[3]
CLIENT = ROOT / "examples" / "client" / "splicewright_client.py"


def loaded(path: Path) -> Any:
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def office(
    register: SqlRegister, accounts: SqlAccounts, clock: Clock, tmp_path: Path
) -> Iterator[Office]:
    made = Office(register, accounts, clock, tmp_path / "register.sqlite")
    yield made
    made.queue.close()


def test_the_client_is_current() -> None:
    made = loaded(ROOT / "tools" / "api_client.py").client_text(contract())
    assert CLIENT.read_text("utf-8") == made, "run: make docs"
    assert max(map(len, made.splitlines())) <= 100


def test_the_client_has_every_operation() -> None:
    client = loaded(CLIENT).Client("http://nowhere.invalid", "")
    parts = [p for name, p in vars(client).items() if not name.startswith("_")]
    methods = [n for part in parts for n in dir(part) if not n.startswith("_")]
    assert len(methods) == sum(len(routes) for routes in contract()["paths"].values())


def test_the_client_reads_writes_and_is_refused(
    office: Office, people: dict[str, Account], register: SqlRegister
) -> None:
    module = loaded(CLIENT)
    key = office.key(people["admin"], Scope.ADMIN)
    with served(office.app) as address:
        api = module.Client(address, key)
        names = {c["name"] for c in api.pages(api.register.conveyors, limit=1)}
        assert names == {c.name for c in register.conveyors()}
        joints = list(api.pages(api.register.joints, key="joints", limit=1))
        assert len(joints) == len(register.joints())
        conveyor = register.conveyors()[0]
        file = api.planning.file(conveyor.conveyor)
        assert isinstance(file.body, bytes)
        known = api.request(
            "GET", f"/conveyors/{conveyor.conveyor}/file", headers={"If-None-Match": file.etag}
        )
        assert (known.status, known.body) == (304, None)
        with pytest.raises(module.ApiError, match="412") as changed:
            api.planning.put_file(conveyor.conveyor, {"toml": "x"}, if_match='"another"')
        assert changed.value.problem["faults"][0]["field"] == "If-Match"
        belt, id = uuid4(), str(uuid4())
        fact = {
            "format": 1, "id": id, "at": "2026-05-04T05:00:00Z", "device": "client",
            "kind": "belt placed",
            "what": {"belt": str(belt), "conveyor": str(conveyor.conveyor), "name": "main",
                     "length": 120.0},
        }  # fmt: skip
        told = api.facts.record({"facts": [fact]})
        assert told.body["outcomes"][0]["verdict"] == "recorded", told.body
        assert told.headers["ratelimit"]
        with pytest.raises(module.ApiError, match="404"):
            api.register.joint(uuid4())
        with pytest.raises(module.ApiError, match="401"):
            module.Client(address, "sw_nothing").register.sites()


def test_the_client_waits_as_it_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    module = loaded(CLIENT)
    slept: list[int] = []
    monkeypatch.setattr(module.time, "sleep", slept.append)
    answers = [(503, {"Retry-After": "5"}), (429, {"Retry-After": "7"}), (200, {})]

    async def app(scope: Any, receive: Any, send: Any) -> None:
        if scope["type"] == "lifespan":
            while (await receive())["type"] != "lifespan.shutdown":
                await send({"type": "lifespan.startup.complete"})
            await send({"type": "lifespan.shutdown.complete"})
            return
        status, told = answers.pop(0)
        headers = [(k.lower().encode(), v.encode()) for k, v in told.items()]
        headers.append((b"content-type", b"application/json"))
        await send({"type": "http.response.start", "status": status, "headers": headers})
        await send({"type": "http.response.body", "body": json.dumps([1]).encode()})

    with served(app) as address:
        assert module.Client(address, "x").register.sites().body == [1]
    assert slept == [5, 7]
