"""The calendar of due dates: read by two parsers that know nothing of each other (icalendar, which
writes it, and vobject), and opened by its own key only."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any
from urllib.parse import urlsplit
from uuid import uuid4

import icalendar
import pytest
import vobject
from fastapi.testclient import TestClient

from splicewright.store import Account, Fact, PersonRole, Scope
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.facts.joint_facts import DueSet, JointRetightened, Task
from splicewright.store.sql.register import SqlRegister
from web.conftest import Clock, csrf_of, sign_in

Days = dict[str, tuple[date, int, str, str]]
"""By UID: day, sequence, title, text."""


def by_icalendar(data: bytes) -> Days:
    found: Days = {}
    for event in icalendar.Calendar.from_ical(data).walk("VEVENT"):
        said: Any = event
        title, text = str(said["summary"]), str(said["description"])
        found[str(said["uid"])] = (said["dtstart"].dt, int(said["sequence"]), title, text)
    return found


def by_vobject(data: bytes) -> Days:
    made = vobject.readOne(data.decode())
    return {
        e.uid.value: (
            e.dtstart.value, int(e.sequence.value), e.summary.value, e.description.value
        )
        for e in made.contents.get("vevent", [])
    }  # fmt: skip


@pytest.fixture
def register(example_register: SqlRegister) -> SqlRegister:
    """The invented site with its past."""
    return example_register


def key_for(accounts: SqlAccounts, who: Account, clock: Clock, *scopes: Scope) -> str:
    until = clock.now + timedelta(days=30)
    return accounts.make_token(who.account, f"k {uuid4()}", scopes, until, None)


def test_both_parsers_read_what_is_due(
    client: TestClient, people: dict[str, Account], accounts: SqlAccounts, clock: Clock,
    register: SqlRegister,
) -> None:  # fmt: skip
    key = key_for(accounts, people["viewer"], clock, Scope.CALENDAR)
    answer = client.get(f"/calendar/{key}.ics")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    found = by_icalendar(answer.content)
    assert found == by_vobject(answer.content)
    due = register.due(clock.now + timedelta(days=366), limit=1000)
    assert due
    for item in due:
        day, sequence, title, text = found[f"{item.joint}-{item.task.name.lower()}@splicewright"]
        assert day == item.due.date()
        assert sequence == register.version(item.joint)
        assert item.task.value in title
        assert item.label in title
        assert "does not permit the joint to run" in text
    late = [i for i in due if i.due.date() < clock.now.date()]
    if late:
        assert found["overdue-all@splicewright"][0] == clock.now.date()
    # RFC 5545 3.1: lines end with CR LF and hold at most 75 octets.
    lines = answer.content.split(b"\r\n")
    assert max(map(len, lines)) <= 75
    assert b"\n" not in answer.content.replace(b"\r\n", b"")


def test_a_calendar_that_is_not_whole_says_so(
    client: TestClient, people: dict[str, Account], accounts: SqlAccounts, clock: Clock,
    register: SqlRegister, monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    key = key_for(accounts, people["viewer"], clock, Scope.CALENDAR)
    due = register.due(clock.now + timedelta(days=366), limit=1000)
    for most, whole in ((len(due), True), (len(due) - 1, False)):
        monkeypatch.setattr("splicewright.actions.fleet.calendar.MOST", most)
        found = by_icalendar(client.get(f"/calendar/{key}.ics").content)
        assert ("more-all@splicewright" not in found) is whole
    day, _, title, text = found["more-all@splicewright"]
    assert day == clock.now.date() and title.startswith("Not whole")
    assert "does not permit the joint to run" in text


def test_a_change_keeps_the_uid_and_raises_the_sequence(
    client: TestClient, people: dict[str, Account], accounts: SqlAccounts, clock: Clock,
    register: SqlRegister,
) -> None:  # fmt: skip
    path = f"/calendar/{key_for(accounts, people['viewer'], clock, Scope.CALENDAR)}.ics"
    joint = register.due(clock.now + timedelta(days=366), limit=1)[0].joint
    uid = f"{joint}-retighten@splicewright"

    def say(what: DueSet | JointRetightened) -> Days:
        register.append(Fact(uuid4(), clock.now, "Ada Example", what))
        data = client.get(path).content
        assert by_icalendar(data) == by_vobject(data)
        return by_icalendar(data)

    day = clock.now + timedelta(days=9)
    first = say(DueSet(joint, Task.RETIGHTEN, day, "so"))[uid]
    second = say(DueSet(joint, Task.RETIGHTEN, day + timedelta(days=2), "later"))[uid]
    assert second[0] - first[0] == timedelta(days=2)
    assert second[1] > first[1]
    assert uid not in say(JointRetightened(joint))


def test_what_did_not_change_is_not_sent_again(
    client: TestClient, people: dict[str, Account], accounts: SqlAccounts, clock: Clock
) -> None:
    path = f"/calendar/{key_for(accounts, people['viewer'], clock, Scope.CALENDAR)}.ics"
    mark = client.get(path).headers["etag"]
    clock.pass_(hours=3)
    again = client.get(path, headers={"If-None-Match": f'"other", W/{mark}'})
    assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", mark)
    assert client.get(path, headers={"If-None-Match": '"other"'}).status_code == 200


def test_no_other_key_opens_it_and_it_opens_nothing_else(
    client: TestClient, people: dict[str, Account], accounts: SqlAccounts, clock: Clock
) -> None:
    calendar = key_for(accounts, people["admin"], clock, Scope.CALENDAR)
    for scope in set(Scope) - {Scope.CALENDAR}:
        other = key_for(accounts, people["admin"], clock, scope)
        assert client.get(f"/calendar/{other}.ics").status_code == 404
    for path in ("/sites", "/due", "/facts"):
        answer = client.get(f"/api/1{path}", headers={"Authorization": f"Bearer {calendar}"})
        assert answer.status_code == 403, path
    assert client.get("/due", headers={"Authorization": f"Bearer {calendar}"}).status_code != 200
    for wrong in ("nothing", calendar[:-1], "%00", "é"):
        assert client.get(f"/calendar/{wrong}.ics").status_code == 404
    assert client.get(f"/calendar/{calendar}.ics?site={uuid4()}").status_code == 404
    clock.pass_(days=31)
    assert client.get(f"/calendar/{calendar}.ics").status_code == 404


def test_people_make_and_end_their_own_address(
    client: TestClient, people: dict[str, Account], register: SqlRegister
) -> None:
    site = register.sites()[0].site
    assert sign_in(client, "viewer").status_code == 303
    said = client.post("/me/calendar", data={"csrf": csrf_of(client), "of": f"site:{site}"})
    [address] = re.findall(r'value="(http[^"]*/calendar/[^"]*)"', said.text)
    place = urlsplit(address)
    assert place.query == f"site={site}"
    outside = TestClient(client.app)
    feed = outside.get(f"{place.path}?{place.query}")
    assert feed.status_code == 200
    assert "x-wr-calname" in feed.text.lower()
    assert place.path.rsplit("/", 1)[-1] not in client.get("/me/calendar").text  # shown once
    wrong = client.post("/me/calendar", data={"csrf": csrf_of(client), "of": "conveyor:x"})
    assert wrong.status_code == 422
    [token] = re.findall(r"/me/calendar/([0-9a-f-]{36})/end", said.text)
    other = TestClient(client.app, follow_redirects=False)
    sign_in(other, "crew")
    ended = other.post(f"/me/calendar/{token}/end", data={"csrf": csrf_of(other)})
    assert ended.status_code == 404
    assert outside.get(place.path).status_code == 200
    client.post(f"/me/calendar/{token}/end", data={"csrf": csrf_of(client)})
    assert outside.get(place.path).status_code == 404


def test_a_key_shows_its_account_and_role_no_more() -> None:
    # A calendar is for everybody who reads: the least role is enough.
    from splicewright.store.accounts.accounts import SCOPE_ROLES

    assert SCOPE_ROLES[Scope.CALENDAR] is PersonRole.VIEWER
