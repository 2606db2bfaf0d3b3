"""How the API answers programs: pages, marks, conditions, rates; by the RFCs named at each test."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from uuid import uuid4

import anyio.to_thread
import pytest
from anyio.from_thread import start_blocking_portal
from fastapi.testclient import TestClient
from starlette.types import Message, Receive, Send
from starlette.types import Scope as Asked

from planned import SITE
from splicewright.background.requests import ask_import
from splicewright.store import Account, Fact, Scope
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.facts.job_facts import JobOpened
from splicewright.store.facts.plant_facts import BeltPlaced
from splicewright.store.sql.register import SqlRegister
from splicewright.web.api.conditions import has
from splicewright.web.api.rates import QUOTA, WINDOW, Rates
from web.calling import API, Office, calling, contract, fits_problem
from web.conftest import START, Clock

_LINK = re.compile(r'<(?P<next>[^>]+)>; rel="next"')


@pytest.fixture
def office(
    register: SqlRegister, accounts: SqlAccounts, clock: Clock, tmp_path: Path
) -> Iterator[Office]:
    made = Office(register, accounts, clock, tmp_path / "register.sqlite")
    yield made
    made.queue.close()


@pytest.fixture
def program(office: Office, people: dict[str, Account]) -> Iterator[TestClient]:
    with calling(office.app, office.key(people["admin"], Scope.ADMIN)) as client:
        yield client


def walked(program: TestClient, path: str, limit: int) -> list[object]:
    """A list read page by page, as RFC 8288 has it: as long as there is a next."""
    found: list[object] = []
    there = f"{path}{'&' if '?' in path else '?'}limit={limit}"
    for _ in range(50):
        answer = program.get(there)
        assert answer.status_code == 200, answer.text
        assert len(answer.json()) <= limit
        found += answer.json()
        link = _LINK.fullmatch(answer.headers.get("link", ""))
        if link is None:
            return found
        there = link["next"]
    raise AssertionError(path)


def test_every_list_is_read_a_page_at_a_time(
    office: Office, program: TestClient, register: SqlRegister, clock: Clock
) -> None:
    conveyor = register.conveyors()[0]
    for number in range(5):
        belt = uuid4()
        register.append(
            Fact(uuid4(), clock(), "Ada", BeltPlaced(belt, conveyor.conveyor, "b", 9.0))
        )
        if number % 2:
            clock.pass_(minutes=1)  # some are of the same moment
        opened = JobOpened(uuid4(), conveyor.conveyor, f"job {number}", None)
        register.append(Fact(uuid4(), clock(), "Ada", opened))
        account = next(a.account for a in office.accounts.accounts() if a.login == "admin")
        ask_import(office.background, "stock", "a.csv", b"a,b\n", by="Ada", account=account)
        hook = {"label": f"{number}", "url": "https://receiver.example.org/"}
        assert program.post(f"{API}/hooks", json=hook).status_code == 201
    lists = [
        "sites", "conveyors", "jobs", "people", "due?days=3000", "background", "hooks",
        f"conveyors/{conveyor.conveyor}/belts", f"conveyors/{conveyor.conveyor}/versions",
        f"jobs?conveyor={conveyor.conveyor}&open_only=true", f"readings?about={conveyor.conveyor}",
    ]  # fmt: skip
    for path in lists:
        whole = program.get(f"{API}/{path}").json()
        for limit in (1, 2, 3):
            assert walked(program, f"{API}/{path}", limit) == whole, path
    assert len(program.get(f"{API}/jobs").json()) == 5
    gone = program.get(f"{API}/conveyors?after={uuid4()}")
    assert gone.status_code == 422 and fits_problem(gone.json())
    assert program.get(f"{API}/jobs?after=x").status_code == 422


def test_no_list_is_without_pages() -> None:
    """The class of it: whatever gives a list takes `limit` and a place to go on from."""
    for path, routes in contract()["paths"].items():
        told = routes.get("get", {})
        answer = told.get("responses", {}).get("200", {}).get("content", {})
        schema = answer.get("application/json", {}).get("schema", {})
        if schema.get("type") == "array":
            names = {p["name"] for p in told["parameters"]}
            assert {"limit", "after"} <= names, path


def test_a_list_goes_to_a_thread_for_who_asks_for_what_and_to_be_checked(
    program: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once each: every further time is a wait for the interpreter under load."""
    went: list[object] = []
    goes = anyio.to_thread.run_sync

    async def counted(work: Any, *given: Any, **how: Any) -> Any:
        went.append(work)
        return await goes(work, *given, **how)

    monkeypatch.setattr(anyio.to_thread, "run_sync", counted)
    assert program.get(f"{API}/due").status_code == 200
    assert len(went) == 3


def test_what_is_known_is_not_sent_again(program: TestClient, register: SqlRegister) -> None:
    """RFC 9110, 13.1.2: If-None-Match by weak comparison; 15.4.5: no body, and the ETag."""
    first = program.get(f"{API}/conveyors")
    mark = first.headers["etag"]
    for sent in (mark, f'"other", {mark}', f"W/{mark}", "*"):
        again = program.get(f"{API}/conveyors", headers={"If-None-Match": sent})
        assert (again.status_code, again.content) == (304, b"")
        assert again.headers["etag"] == mark
    other = program.get(f"{API}/conveyors", headers={"If-None-Match": '"other"'})
    assert other.status_code == 200 and other.json() == first.json()
    conveyor = register.conveyors()[0]
    what = BeltPlaced(uuid4(), conveyor.conveyor, "b", 9.0)
    where = f"{API}/conveyors/{conveyor.conveyor}/belts"
    before = program.get(where).headers["etag"]
    register.append(Fact(uuid4(), START, "Ada", what))
    after = program.get(where, headers={"If-None-Match": before})
    assert after.status_code == 200 and after.headers["etag"] != before
    assert "etag" not in program.get(f"{API}/conveyors/{uuid4()}").headers
    headed = program.head(f"{API}/conveyors", headers={"If-None-Match": mark})
    assert headed.status_code == 304


def test_nothing_is_replaced_that_was_not_seen(program: TestClient, register: SqlRegister) -> None:
    """RFC 9110, 13.1.1: If-Match by strong comparison, 412 where it fails."""
    text = (SITE / "conveyors" / "flat.toml").read_text("utf-8")
    conveyor = next(c for c in register.conveyors() if f'"{c.name}"' in text)
    where = f"{API}/conveyors/{conveyor.conveyor}/file"
    mark = program.get(where).headers["etag"]
    changed = {"toml": text + "\n# seen\n"}
    for wrong in ('"other"', f"W/{mark}"):
        answer = program.put(where, json=changed, headers={"If-Match": wrong})
        assert answer.status_code == 412 and fits_problem(answer.json())
        assert answer.json()["faults"][0]["field"] == "If-Match"
    assert program.put(where, json=changed, headers={"If-Match": mark}).status_code == 200
    late = program.put(where, json={"toml": text}, headers={"If-Match": mark})
    assert late.status_code == 412
    assert program.put(where, json={"toml": text}).status_code == 200
    site = conveyor.site
    name = next(s.name for s in register.sites() if s.site == site)
    mapping = f'site = "{name}"\n[[value]]\ntopic = "t"\nconveyor = "{conveyor.name}"\nunit = "h"\n'
    there = f"{API}/incoming/{site}/mapping"
    assert program.get(there).status_code == 404
    nothing = program.put(there, json={"file": mapping}, headers={"If-Match": "*"})
    assert nothing.status_code == 412
    assert program.put(there, json={"file": mapping}).status_code == 200
    seen = program.get(there)
    assert seen.text == mapping
    newer = {"file": mapping + "# 2\n"}
    asked = {"If-Match": seen.headers["etag"]}
    assert program.put(there, json=newer, headers=asked).status_code == 200
    assert program.put(there, json={"file": mapping}, headers=asked).status_code == 412


@pytest.mark.parametrize(
    ("sent", "weak", "there"),
    [('"a"', True, True), ('W/"a"', True, True), ('W/"a"', False, False), ('"b", "a"', False, True),
     ("*", False, True), ("a", True, False), ("", True, False)],
)  # fmt: skip
def test_marks_are_compared_as_the_rfc_says(sent: str, weak: bool, there: bool) -> None:
    """RFC 9110, 8.8.3.2, its table of examples among them."""
    assert has(sent, '"a"', weak=weak) is there


async def _answer(scope: Asked, receive: Receive, send: Send) -> None:
    await send({"type": "http.response.start", "status": 200, "headers": []})
    await send({"type": "http.response.body", "body": b"{}"})


def asked(rates: Rates, key: str) -> tuple[int, dict[str, str]]:
    """Status and headers of one request with this key."""
    told: list[Message] = []

    async def send(message: Message) -> None:
        told.append(message)

    async def receive() -> Message:
        return {"type": "http.request", "body": b""}

    headers = [(b"authorization", key.encode())] if key else []
    scope = {"type": "http", "method": "GET", "path": "/", "headers": headers, "client": ("a", 1)}
    with start_blocking_portal() as portal:  # a browser of this process has its loop here
        portal.call(rates, scope, receive, send)
    return told[0]["status"], {k.decode(): v.decode() for k, v in told[0]["headers"]}


def test_rates_are_told_and_kept_for_each_caller_alone() -> None:
    """The names and keys of the IETF draft, from memory; Retry-After by RFC 9110, 10.2.3."""
    now = [WINDOW * 10.0 + 15]
    rates = Rates(_answer, quota=3, clock=lambda: now[0])
    for left in (2, 1, 0):
        status, headers = asked(rates, "one")
        assert status == 200
        assert headers["ratelimit-policy"] == f'"minute";q=3;w={WINDOW}'
        assert headers["ratelimit"] == f'"minute";r={left};t={WINDOW - 15}'
    status, headers = asked(rates, "one")
    assert status == 429
    assert headers["retry-after"] == str(WINDOW - 15)
    assert asked(rates, "two")[0] == 200
    assert asked(rates, "")[0] == 200
    now[0] += WINDOW - 15
    assert asked(rates, "one")[0] == 200


def test_every_answer_tells_the_rate(program: TestClient) -> None:
    for path in ("sites", f"sites/{uuid4()}"):
        headers = program.get(f"{API}/{path}").headers
        assert headers["ratelimit-policy"] == f'"minute";q={QUOTA};w={WINDOW}'
        assert re.fullmatch(r'"minute";r=\d+;t=\d+', headers["ratelimit"])


def test_the_methods_of_every_address_are_told() -> None:
    """RFC 9110, 15.5.6: a 405 names them all; asked of every address of the description."""
    from splicewright.web.api.routes import make_api

    client = TestClient(make_api())
    for path, routes in contract()["paths"].items():
        address = re.sub(r"\{[^}]*\}", str(uuid4()), path)
        answer = client.request("TRACE", address)
        assert answer.status_code == 405, path
        allowed = {m.strip() for m in answer.headers["allow"].split(",")}
        own = {method.upper() for method in routes}
        assert own <= allowed and allowed - own <= _also(path, contract()["paths"]), path


def _also(path: str, paths: dict[str, dict[str, object]]) -> set[str]:
    """What other addresses of the description match too, and HEAD beside GET."""
    found = {"HEAD"}
    for other, routes in paths.items():
        pattern = re.sub(r"\{[^}]*\}", "[^/]+", other)
        if re.fullmatch(pattern, re.sub(r"\{[^}]*\}", str(uuid4()), path)):
            found |= {method.upper() for method in routes}
    return found
