"""Pages of long work and of tokens: what people see, may and may not; once in a browser."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from uuid import uuid4

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from splicewright.store import Account, Scope
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.background import TaskState
from splicewright.store.sql.register import SqlRegister
from web.calling import API, Office, calling
from web.conftest import Clock, csrf_of, enter
from web.looking import axe, fits, picture, small_targets

SITE_NAME = "Karst Hollow quarry (invented)"
JOINTS = (
    "site,conveyor,label,built,removed,mode\n"
    f"{SITE_NAME},K2 incline,J1,2026-01-05,2026-03-01,pin worn\n"
    f"{SITE_NAME},K2 incline,J2,2026-01-06,,\n"
    f"{SITE_NAME},K9 <b>nowhere</b>,J3,2026-01-07,,\n"
).encode()


@pytest.fixture
def office(
    register: SqlRegister, accounts: SqlAccounts, clock: Clock, tmp_path: Path
) -> Iterator[Office]:
    made = Office(register, accounts, clock, tmp_path / "register.sqlite")
    yield made
    made.queue.close()


@pytest.fixture
def app(office: Office) -> FastAPI:
    """The app with a desk, in place of the one without."""
    return office.app


def upload(client: TestClient, data: bytes = JOINTS, **other: str) -> str:
    """Upload a table; where it leads."""
    form = {"csrf": csrf_of(client), "id": str(uuid4()), "table": "joints"} | other
    answer = client.post("/background/import", data=form, files={"file": ("j.csv", data)})
    assert answer.status_code == 303, answer.text
    return answer.headers["location"]


def test_a_table_from_upload_to_record(
    office: Office, signed_in: Callable[[str], TestClient]
) -> None:
    client = signed_in("crew")
    place = upload(client)
    assert 'hx-trigger="every 1s"' in client.get(place).text
    office.work()
    looked = client.get(place).text
    assert "2 rows can be used, 1 cannot" in looked
    assert "K9 &lt;b&gt;nowhere" in looked and "<b>nowhere" not in looked
    assert 'hx-trigger="every' not in looked
    assert len(office.register.joints()) == 0
    id = re.search(r'name="id" value="([^"]+)"', looked)
    assert id is not None
    form = {"csrf": csrf_of(client), "id": id.group(1)}
    first = client.post(f"{place}/apply", data=form)
    again = client.post(f"{place}/apply", data=form)  # a double click
    assert first.headers["location"] == again.headers["location"]
    office.work()
    assert "7 facts recorded" in client.get(first.headers["location"]).text
    assert len(office.register.joints()) == 2
    refused = client.get(f"{place}/result")
    assert refused.headers["content-disposition"] == 'attachment; filename="refused-rows.csv"'
    assert client.get("/background").text.count("j.csv") == 2


def test_what_is_refused_on_the_spot(signed_in: Callable[[str], TestClient]) -> None:
    client = signed_in("crew")
    form = {"csrf": csrf_of(client), "id": str(uuid4()), "table": "joints"}
    for files, said in (
        ({"file": ("j.exe", b"MZ")}, "accepted is a file with the ending"),
        ({"file": ("j.csv", b"")}, "accepted is more than 0"),
        ({}, "is not chosen"),
    ):
        answer = client.post("/background/import", data=form, files=files)
        assert answer.status_code == 422
        assert said in answer.text
    for path, data, said in (
        ("bundle", {}, "names 0 jobs"),
        ("fleet", {"days": "0"}, "1 day to 3653 days"),
        ("fleet", {"days": "5", "site": "nowhere"}, "is none of the sites"),
    ):
        answer = client.post(f"/background/{path}", data=form | data)
        assert answer.status_code == 422
        assert said in answer.text


def test_cancel_and_fail(office: Office, signed_in: Callable[[str], TestClient]) -> None:
    client = signed_in("crew")
    place = upload(client)
    client.post(f"{place}/cancel", data={"csrf": csrf_of(client)})
    assert "cancelled" in client.get(place).text
    wrong = upload(client, b"a,b\n1,2\n")
    office.work()
    page = client.get(wrong).text
    assert "failed" in page and "the table must have this column" in page
    assert client.get(f"{wrong}/result").status_code == 404


def test_whose_tasks_one_sees(office: Office, signed_in: Callable[[str], TestClient]) -> None:
    place = upload(signed_in("lead"))
    crew = signed_in("crew")
    assert crew.get(place).status_code == 404
    assert "j.csv" not in crew.get("/background").text
    assert crew.post(f"{place}/cancel", data={"csrf": csrf_of(crew)}).status_code == 404
    assert signed_in("admin").get(place).status_code == 200
    assert signed_in("viewer").get("/background").status_code == 403
    found = office.background.tasks.latest()[0]
    assert found.state is TaskState.WAITING


def test_tokens_are_made_shown_once_and_revoked(
    office: Office, people: dict[str, Account], signed_in: Callable[[str], TestClient]
) -> None:
    client = signed_in("admin")
    form = {"csrf": csrf_of(client), "label": "<i>scale</i>", "scope": ["read", "record"],
            "account": str(people["crew"].account), "days": "30"}  # fmt: skip
    made = client.post("/tokens", data=form)
    key = re.search(r"<code>(sw_[^<]+)</code>", made.text)
    assert key is not None
    assert "&lt;i&gt;scale" in made.text and "<i>scale" not in made.text
    assert key.group(1) not in client.get("/tokens").text
    opened = office.accounts.key(key.group(1))
    assert opened is not None
    assert opened.token.scopes == {Scope.READ, Scope.RECORD}
    for wrong, said in (
        (form, "is the name of a key that works"),
        (form | {"label": "b", "scope": "admin"}, "more than Crew Example may"),
        (form | {"label": "b", "days": "0"}, "1 to 731 days"),
        (form | {"label": "b", "scope": []}, "accepted are one or more"),
        (form | {"label": "b", "account": str(uuid4())}, "there is no account"),
    ):
        refused = client.post("/tokens", data=wrong)
        assert refused.status_code == 422
        assert said in refused.text
    client.post(f"/tokens/{opened.token.token}/revoke", data={"csrf": csrf_of(client)})
    assert office.accounts.key(key.group(1)) is None
    assert "revoked" in client.get("/tokens").text
    assert signed_in("lead").get("/tokens").status_code == 403


def test_a_table_in_a_browser(office: Office, phone: Page, tmp_path: Path) -> None:
    table = tmp_path / "joints of 2026.csv"
    table.write_bytes(JOINTS)
    enter(phone, "crew")
    phone.goto("/background")
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    picture(phone, "tasks-phone")
    phone.get_by_label("Table, .csv or .xlsx").set_input_files(table)
    phone.get_by_role("button", name="Check the table").click()
    expect(phone.locator("#now")).to_contain_text("waiting")
    office.work()
    expect(phone.locator("#now")).to_contain_text("2 rows can be used, 1 cannot")
    axe(phone)
    fits(phone)
    picture(phone, "task-looked-phone")
    phone.get_by_role("button", name="Record 7 facts").click()
    expect(phone.locator("h1")).to_have_text("Import joints: joints of 2026.csv")
    office.work()
    expect(phone.locator("#now")).to_contain_text("7 facts recorded")


def test_tokens_in_a_browser(desk: Page) -> None:
    enter(desk, "admin")
    desk.goto("/tokens")
    desk.get_by_label("What it is for").fill("weighbridge")
    desk.get_by_role("button", name="Make the token").click()
    expect(desk.get_by_role("status")).to_contain_text("sw_")
    axe(desk)
    fits(desk)
    assert not small_targets(desk)
    picture(desk, "tokens-desk")
    desk.goto("/background")
    axe(desk)
    picture(desk, "tasks-desk")


def test_former_addresses_lead_on(
    office: Office, signed_in: Callable[[str], TestClient], people: dict[str, Account]
) -> None:
    client = signed_in("crew")
    place = upload(client)
    task = place.rpartition("/")[2]
    for old, new in (
        ("/errands", "/background"),
        (f"/errands/{task}", place),
        (f"/errands/{task}/result?as=csv", f"{place}/result?as=csv"),
    ):
        answer = client.get(old)
        assert (answer.status_code, answer.headers["location"]) == (308, new)
    with calling(office.app, office.key(people["admin"], Scope.ADMIN)) as program:
        answer = program.get(f"{API}/errands?limit=3")
        assert (answer.status_code, answer.headers["location"]) == (
            308,
            f"{API}/background?limit=3",
        )
        answer = program.post(f"{API}/errands/{task}/cancel")
        assert answer.headers["location"] == f"{API}/background/{task}/cancel"
        [found] = program.get(f"{API}/background").json()
        assert found["task"] == found["errand"] == task
        assert found["created"] == found["made"] and found["step"] == found["said"]
    with calling(office.app) as stranger:
        assert stranger.get(f"{API}/errands").status_code == 401
