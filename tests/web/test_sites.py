"""A site that somebody is not let into is as if it did not exist, at every door.

Every route of the app and of the API is walked, with the ids of a site that the visitor is not let
into. Two things are asked of each answer: nothing in it is of that site, and it is the very answer
that ids give which nobody ever made. So a route that is added is walked too, and one with a part
in its path that is not known here fails until somebody says what belongs there.
"""

from __future__ import annotations

import html
import io
import json
import re
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

import httpx2
import pypdfium2
import pytest
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient

from splicewright.background.requests import ask_bundle, ask_import
from splicewright.errors import InputError
from splicewright.quantities import Kind
from splicewright.store import (
    Account,
    Correction,
    Fact,
    PersonRole,
    Register,
    Scope,
    Stream,
    What,
)
from splicewright.store.accounts.accounts import Change
from splicewright.store.background import TaskState
from splicewright.store.facts import joint_facts as joint_said
from splicewright.store.facts import plant_facts as plant_said
from splicewright.store.facts.facts import to_data
from splicewright.store.facts.job_facts import JobOpened, StepTicked
from splicewright.store.sites import NOT_YOURS
from splicewright.web.routes import page_routes
from web.calling import API, contract
from web.conftest import PASSWORD, START, csrf_of, sign_in
from web.two_sites import Pit, Pits, as_actor, two_sites

_PAGES = [
    (method, route.path, route) for route in page_routes() for method in sorted(route.methods or ())
]
_OPERATIONS = [
    (method.upper(), path, route)
    for path, routes in sorted(contract()["paths"].items())
    for method, route in sorted(routes.items())
]
_FREE = {
    "drawing": "profile", "ending": "xlsx", "key": "x", "kind": "joint", "name": "plan.json",
    "number": "1", "report": "report", "rest": "", "secret": "nothing",
    "passkey": "x", "step": "cut", "command": "planner",
}  # fmt: skip
"""Parts of paths that are no ids."""
_TYPED = {
    "label": "J9", "place": "12 m", "value": "8 mm", "what": "pin", "limit": "6 mm", "at": "1",
    "note": "so", "why": "so", "count": "2", "item": "bolt", "source": "site rule", "length": "1 m",
    "start": "1 m", "grade": "watch", "across": "", "how": "so", "name": "main", "station": "3 m",
    "act": "suspended", "mode": "renewed", "due": "2026-06-01", "role": "viewer", "paper": "A4",
    "table": "stock", "days": "30", "range": "range", "version": "99", "units": "metric",
    "until": "", "side": "left", "box": "1", "step": "measure", "scope": "read", "old": "x",
    "made": "", "marking": "", "new": "", "line": "", "to_do": "so", "ago": "",
}  # fmt: skip
"""What a form holds beside ids; good enough that the thing itself is looked for."""
_UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}|[0-9a-f]{64}|[0-9a-f]{12}")
_SECRET = re.compile(r'(name="(?:csrf|form)" (?:value|content)=")[^"]*')
_NEW = re.compile(r"data:image/svg\+xml[^\"]*|(?:[A-Z2-7]{4} ?){8}")
"""The secret of a second factor: another each time one is begun."""


@pytest.fixture(scope="module")
def pits(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Pits]:
    with two_sites(tmp_path_factory.mktemp("pits")) as made:
        yield made


class Walker:
    """An admin who is let into one site only: at a page, and as a program."""

    def __init__(self, pits: Pits, login: str, account: UUID) -> None:
        self.login = login
        self.page = TestClient(pits.office.app, follow_redirects=False)
        self.enter()
        # As often as it is sent out of the house: each walk signs out somewhere.
        until = pits.clock.now.replace(year=pits.clock.now.year + 1)
        label = f"walk {login} {uuid4()}"
        key = pits.accounts.make_token(account, label, {Scope.ADMIN}, until, None)
        bearer = {"Authorization": f"Bearer {key}"}
        self.program = TestClient(pits.office.app, headers=bearer, follow_redirects=False)

    def enter(self) -> None:
        self.page.cookies.clear()
        assert sign_in(self.page, self.login).status_code == 303
        self.csrf = csrf_of(self.page)

    def ask(
        self, method: str, path: str, route: APIRoute, values: dict[str, str]
    ) -> httpx2.Response:
        """Ask a page with these values where its path, query or form has names for them."""
        query = {n: values[n] for n in _names(route, "query_params") if n in values}
        if method == "GET":
            answer = self.page.get(_filled(path, values), params=query)
        else:
            fields = _names(route, "body_params")
            form = {n: values.get(n, _TYPED.get(n, "x")) for n in fields}
            # A form's own id is made by whoever sends it.
            form |= {"csrf": self.csrf, "id": str(uuid4())}
            answer = self.page.post(_filled(path, values), params=query, data=form)
        if answer.headers.get("location", "").startswith("/sign-in"):
            self.enter()
        return answer

    def call(
        self, method: str, path: str, route: dict[str, Any], values: dict[str, str]
    ) -> httpx2.Response:
        """Ask the API likewise."""
        asked = [p["name"] for p in route.get("parameters", []) if p["in"] == "query"]
        query = {n: values[n] for n in asked if n in values}
        body = None
        if method in {"POST", "PUT"}:
            body = _body(route, values)
        return self.program.request(
            method, f"{API}{_filled(path, values)}", params=query, content=body,
            headers={"content-type": "application/json"},
        )  # fmt: skip


def _names(route: APIRoute, kind: str) -> list[str]:
    waiting, found = [route.dependant], []
    while waiting:
        one = waiting.pop()
        found += [p.alias for p in getattr(one, kind)]
        waiting += one.dependencies
    return found


def _filled(path: str, values: dict[str, str]) -> str:
    return re.sub(r"\{(\w+)[^}]*\}", lambda m: (values | _FREE)[m[1]], path)


def _body(route: dict[str, Any], values: dict[str, str]) -> str:
    """A JSON body that names the values where its schema has fields for them."""
    schema = route.get("requestBody", {}).get("content", {}).get("application/json", {})
    name = schema.get("schema", {}).get("$ref", "").rsplit("/", 1)[-1]
    fields = contract()["components"]["schemas"].get(name, {}).get("properties", {})
    rest: dict[str, Any] = {
        "toml": "x = 1", "inspection": "x = 1", "readings": "x", "lives": "x", "days": 30,
        "table": "stock", "name": "a.csv", "content": "YQ==", "units": "metric", "paper": "A4",
        "jobs": [values["job"]], "facts": _facts(values), "seen": {values["joint"]: 0},
        "id": str(uuid4()),
    }  # fmt: skip
    return json.dumps({f: rest[f] if f in rest else values.get(f) for f in fields} or {})


def _facts(values: dict[str, str]) -> list[dict[str, Any]]:
    ids = {k: UUID(v) for k, v in values.items() if len(v) == 36}
    whats = (
        joint_said.JointBuilt(ids["joint"]),
        joint_said.JointPlanned(ids["joint"], ids["conveyor"], "J1"),
        plant_said.StockMoved(ids["site"], "bolt", 1.0),
        plant_said.BeltPlaced(ids["belt"], ids["conveyor"], "belt", 240.0),
    )
    made = [to_data(Fact(uuid4(), START, "x", what)) for what in whats]
    return [{k: v for k, v in fact.items() if k not in {"by", "person"}} for fact in made]


def nobody() -> dict[str, str]:
    """Ids that nobody made, by the names of routes."""
    return {name: str(uuid4()) for name in _KNOWN} | {"digest": uuid4().hex * 2}


_KNOWN = (
    "site", "conveyor", "belt", "piece", "damage", "joint", "job", "inspection", "fact", "digest",
    "task", "errand", "token", "invitation", "account", "about", "id", "base", "hook",
    "measuring",
)  # fmt: skip


def text_of(answer: httpx2.Response) -> str:
    """All that can be read in an answer: pages of a PDF, and what lies in a packed file."""
    data, kind = answer.content, answer.headers.get("content-type", "")
    if kind.startswith("application/pdf"):
        pages = pypdfium2.PdfDocument(data)
        return "\n".join(page.get_textpage().get_text_bounded() for page in pages)
    if data[:2] == b"PK":
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return "\n".join(archive.read(n).decode("utf-8", "replace") for n in archive.namelist())
    return data.decode("utf-8", "replace")


def alike(answer: httpx2.Response) -> tuple[int, str, str]:
    """An answer without what differs from one request to the next: ids and secrets of forms."""
    text = _NEW.sub("", _UUID.sub("ID", _SECRET.sub(r"\1", text_of(answer))))
    where = _UUID.sub("ID", answer.headers.get("location", ""))
    return answer.status_code, where, text


@pytest.fixture(scope="module")
def walker(pits: Pits) -> Walker:
    """The admin of the north."""
    assert pits.north.admin is not None
    return Walker(pits, "northpit-admin", pits.north.admin.account)


@pytest.fixture(scope="module")
def other(pits: Pits) -> Walker:
    """The admin of all sites, who sees what there is to see."""
    return Walker(pits, "everywhere", pits.everywhere.account)


def test_every_page_with_ids_of_the_other_site(pits: Pits, walker: Walker) -> None:
    south, before = pits.south, _about(pits, pits.south)
    for method, path, route in _PAGES:
        values = south.named()
        answer = walker.ask(method, path, route, values)
        said = text_of(answer)
        assert answer.status_code < 500, (method, path)
        strange = south.marks - set(values.values())
        assert not [m for m in strange if m in said], (method, path)
        mine = walker.ask(method, path, route, nobody())
        assert alike(answer) == alike(mine), (method, path)
    assert _about(pits, south) == before


def test_every_route_of_the_api_with_ids_of_the_other_site(pits: Pits, walker: Walker) -> None:
    south, before = pits.south, _about(pits, pits.south)
    for method, path, route in _OPERATIONS:
        values = south.named()
        answer = walker.call(method, path, route, values)
        assert answer.status_code < 500, (method, path)
        strange = south.marks - set(values.values())
        assert not [m for m in strange if m in text_of(answer)], (method, path)
        if (method, path) not in {("POST", "/facts"), ("POST", "/background/fleet"),
                                  ("POST", "/background/bundle"), ("POST", "/background/import"),
                                  ("GET", "/background")}:  # fmt: skip
            mine = walker.call(method, path, route, nobody())
            assert alike(answer) == alike(mine), (method, path)
    assert _about(pits, south) == before


def test_lists_hold_nothing_of_the_other_site(pits: Pits, walker: Walker, other: Walker) -> None:
    """Asked for nothing in particular, as one opens them; who is let into all finds it there."""
    shown = set()
    for method, path, _ in _PAGES:
        if method != "GET" or "{" in path.replace("{rest:path}", "").replace("{ending}", ""):
            continue
        for ending in ("xlsx", "pdf", "svg") if "{ending}" in path else ("",):
            place = path.replace("{ending}", ending)
            answer = walker.page.get(_filled(place, {}), follow_redirects=True)
            assert not [m for m in pits.south.marks if m in text_of(answer)], place
            if any(m in text_of(other.page.get(_filled(place, {}))) for m in pits.south.marks):
                shown.add(place)
    for method, path, _ in _OPERATIONS:
        if method == "GET" and "{" not in path:
            query = {"about": str(pits.north.joint), "days": "300"}
            answer = walker.program.get(f"{API}{path}", params=query)
            assert answer.status_code == 200, path
            assert not [m for m in pits.south.marks if m in answer.text], path
            if any(m in other.program.get(f"{API}{path}", params=query).text
                   for m in pits.south.marks):  # fmt: skip
                shown.add(API + path)
    assert {
        "/", "/due", "/fleet", "/fleet.xlsx", "/jobs", "/history", "/people", "/people/log",
        "/tokens", "/background", "/labels", "/stock", "/shutdown",
        *(f"{API}/{p}" for p in ("sites", "conveyors", "joints", "jobs", "people", "due", "facts",
                                 "background")),
    } <= shown  # fmt: skip


def test_one_is_at_home_in_ones_own_site(pits: Pits, walker: Walker) -> None:
    """The walk is worth something: with ids of the own site the same requests find things."""
    values = pits.north.named()
    found = {p for m, p, r in _PAGES if m == "GET"
             and walker.ask(m, p, r, values).status_code in {200, 302, 303}}  # fmt: skip
    assert {
        "/conveyors/{conveyor}", "/conveyors/{conveyor}/file", "/joints/{joint}", "/jobs/{job}",
        "/jobs/{job}/state", "/photographs/{digest}", "/background/{task}",
        "/background/{task}/result", "/sites/{site}/stock", "/sites/{site}/fasteners",
        "/conveyors/{conveyor}/history", "/joints/{joint}/label", "/joints/{joint}/inspections",
    } <= found  # fmt: skip
    called = {p for m, p, t in _OPERATIONS if m == "GET"
              and walker.call(m, p, t, values).status_code == 200}  # fmt: skip
    assert called == {p for m, p, _ in _OPERATIONS if m == "GET"}


def test_search_counts_and_names_only_ones_own(walker: Walker, pits: Pits) -> None:
    for asked in ("pit", "flat", "southpit", "J1"):
        page = walker.page.get("/", params={"q": asked}).text
        own = page.replace(f'value="{asked}"', "")
        assert str(pits.south.conveyor) not in page
        assert "Southpit" not in own


def test_a_calendar_holds_only_the_sites_of_its_person(pits: Pits) -> None:
    assert pits.north.admin is not None
    door = TestClient(pits.office.app)
    until = pits.clock.now + timedelta(days=30)
    north, every = (
        "/calendar/"
        + pits.accounts.make_token(who.account, f"k {n}", {Scope.CALENDAR}, until, None)
        for n, who in enumerate((pits.north.admin, pits.everywhere))
    )
    for query in ("", f"?site={pits.north.site}", f"?conveyor={pits.north.conveyor}"):
        answer = door.get(north + query)
        assert answer.status_code == 200
        assert not [m for m in pits.south.marks if m in answer.text.replace("\r\n ", "")], query
    for query in (f"?site={pits.south.site}", f"?conveyor={pits.south.conveyor}"):
        assert door.get(north + query).status_code == 404
        said = door.get(every + query).text.replace("\r\n ", "")
        assert [m for m in pits.south.marks if m in said], query


def _about(pits: Pits, pit: Pit) -> tuple[int, ...]:
    """How often each thing of a site was spoken of, and what its people are."""
    things = (pit.site, pit.conveyor, pit.belt, pit.joint, pit.job)
    people = (pits.accounts.account(a.account) for a in (pit.admin, pit.crew) if a is not None)
    return (
        *(pits.register.version(t) for t in things), *(hash(p) for p in people),
        sum(t.works(pits.clock()) for t in pits.accounts.tokens() if t.token == pit.token),
        sum(i.id == pit.invitation for i in pits.accounts.invitations()),
    )  # fmt: skip


def test_what_is_recorded_of_the_other_site_is_refused_at_every_door(pits: Pits) -> None:
    """The table: each door, with a thing of the own site and with its namesake."""
    assert pits.north.admin is not None
    who = pits.north.admin
    register = pits.register.said_by(as_actor(who))
    walker = Walker(pits, who.login, who.account)
    for pit, taken in ((pits.north, True), (pits.south, False)):
        for what in (
            joint_said.JointSeen(pit.joint, 3.0),
            joint_said.ReadingTaken(Stream.BELT, pit.belt, "cover", Kind.LENGTH, 0.008, "8 mm"),
            StepTicked(pit.job, "isolate"),
            plant_said.StockMoved(pit.site, "bolt", 1.0),
            plant_said.ConveyorRecorded(pit.conveyor, pit.site, "flat belt"),
        ):
            for door in ("page", "sync", "session", "key"):
                said = _sent_by(door, walker, register, who, what)
                if door == "sync" and isinstance(what, plant_said.ConveyorRecorded):
                    continue  # no phone records one, of whatever site
                if taken:
                    assert said == "", (door, what, said)
                else:
                    assert said.startswith(("the register knows no ", "cannot be used as an id")), (
                        door, what, said,
                    )  # fmt: skip


def _sent_by(door: str, walker: Walker, register: Register, who: Account, what: What) -> str:
    fact = Fact(uuid4(), START, who.name, what, who.account, "a device")
    if door == "page":
        try:
            register.append(fact)
        except InputError as error:
            return error.faults[0].sentence
        return ""
    if door == "sync":
        body = {"account": str(who.account), "facts": [to_data(fact)]}
        headers = {"Sec-Fetch-Site": "same-origin", "Accept": "application/json"}
        answer = walker.page.post("/sync", json=body, headers=headers)
    elif door == "session":
        headers = {"X-CSRF": walker.csrf}
        answer = walker.page.post(f"{API}/facts", json={"facts": [to_data(fact)]}, headers=headers)
    else:
        answer = walker.program.post(f"{API}/facts", json={"facts": [to_data(fact)]})
    (outcome,) = answer.json()["outcomes"]
    return outcome["faults"][0]["sentence"] if outcome["faults"] else ""


def test_no_fact_reaches_across(pits: Pits) -> None:
    """By a name, by a correction, by a conveyor moved here, by the content of the other."""
    north, south = pits.north, pits.south
    assert north.admin is not None
    who = north.admin
    register = pits.register.said_by(as_actor(who))
    theirs = pits.register.facts_about(south.joint)[0].fact
    own = Fact(uuid4(), START, who.name, joint_said.JointPlanned(uuid4(), north.conveyor, "J5"),
               who.account)  # fmt: skip
    register.append(own)
    assert isinstance(own.what, joint_said.JointPlanned)
    moved = replace(own.what, conveyor=south.conveyor)
    hidden = "the register "
    for what, said in (
        (JobOpened(uuid4(), south.conveyor, "job"), hidden + "knows no conveyor"),
        (JobOpened(uuid4(), north.conveyor, "job", south.joint), hidden + "knows no joint"),
        (plant_said.ConveyorRecorded(uuid4(), south.site, "new"), hidden + "knows no site"),
        (plant_said.ConveyorRecorded(south.conveyor, north.site, "mine"), "cannot be used as an"),
        (plant_said.SiteAdded(south.site, "mine"), "cannot be used as an"),
        (plant_said.SiteAdded(uuid4(), "Westpit"), "a site is added by somebody who"),
        (Correction(Stream.JOINT, south.joint, theirs.id, None, "no"), hidden + "knows no joint"),
        (Correction(Stream.JOINT, north.joint, theirs.id, None, "no"), hidden + "has no fact"),
        (Correction(Stream.JOINT, own.subject, own.id, moved, "no"), hidden + "knows no conveyor"),
        (joint_said.PhotoAdded(Stream.JOINT, north.joint, south.photo), "the content"),
    ):
        fact = Fact(uuid4(), START, who.name, what, who.account)
        with pytest.raises(InputError) as refused:
            register.append(fact, seen={south.joint: 0, south.conveyor: 0})
        assert refused.value.faults[0].sentence.startswith(said), what
    # What one kept oneself can be named, though nothing names it yet.
    mine = register.keep(b"my own", "image/jpeg")
    assert register.has_content(mine)
    own_photo = joint_said.PhotoAdded(Stream.JOINT, north.joint, mine)
    register.append(Fact(uuid4(), START, who.name, own_photo, who.account))


def test_a_token_may_open_fewer_sites_than_its_account(pits: Pits) -> None:
    until = pits.clock.now.replace(year=pits.clock.now.year + 1)
    here = frozenset({pits.north.site})
    key = pits.accounts.make_token(
        pits.everywhere.account, "north only", {Scope.ADMIN}, until, None, sites=here
    )
    headers = {"Authorization": f"Bearer {key}"}
    with TestClient(pits.office.app, headers=headers) as program:
        sites = program.get(f"{API}/sites").json()
        assert [s["site"] for s in sites] == [str(pits.north.site)]
        assert program.get(f"{API}/joints/{pits.south.joint}").status_code == 404
        assert program.get(f"{API}/joints/{pits.north.joint}").status_code == 200
        assert not [m for m in pits.south.marks if m in program.get(f"{API}/facts").text]
    assert pits.north.admin is not None
    with pytest.raises(InputError, match="more than Northpit admin is let into"):
        pits.accounts.make_token(
            pits.north.admin.account, "too far", {Scope.READ}, until, None,
            sites=frozenset({pits.south.site}),
        )  # fmt: skip


def test_sites_are_given_and_taken_back_by_an_admin(pits: Pits, other: Walker) -> None:
    """On the page: recorded, at once, and the phone forgets."""
    secret = pits.accounts.invite("Mo Ving", PersonRole.LEAD, None, sites=frozenset())
    mo = pits.accounts.accept(secret, "moving", PASSWORD)
    assert mo.sites == frozenset()
    lead = Walker(pits, "everywhere", pits.everywhere.account)
    lead.login, lead.page = "moving", TestClient(pits.office.app, follow_redirects=False)
    lead.enter()
    assert "Northpit" not in lead.page.get("/").text
    given = {"csrf": other.csrf, "site": [str(pits.north.site), str(pits.south.site)]}
    there = f"/people/{mo.account}/sites"
    assert other.page.post(there, data=given).status_code == 303
    assert {"Northpit", "Southpit"} <= set(re.findall("Northpit|Southpit", lead.page.get("/").text))
    taken = {"csrf": other.csrf, "site": [str(pits.north.site)]}
    assert other.page.post(there, data=taken).status_code == 303
    # Signed out everywhere, and told to delete its copies (`X-Forget`).
    gone = lead.page.get("/")
    assert (gone.status_code, gone.headers.get("X-Forget")) == (303, "copies")
    lead.enter()
    assert "Southpit" not in lead.page.get("/").text
    assert "Northpit" in lead.page.get("/").text
    none = other.page.post(there, data={"csrf": other.csrf})
    assert none.status_code == 422
    assert "accepted are one or more sites, or all sites" in none.text
    lines = [c for c in pits.accounts.changes() if c.account == mo.account]
    sites = [c for c in lines if c.change is Change.SITES]
    assert [(c.by_name, c.note) for c in sites[:2]] == [
        ("Eve Rywhere", "from Northpit (invented), Southpit (invented) to Northpit (invented)"),
        ("Eve Rywhere", "from no site to Northpit (invented), Southpit (invented)"),
    ]


def test_nobody_gives_what_they_do_not_have(pits: Pits, walker: Walker) -> None:
    assert pits.north.crew is not None and pits.south.crew is not None
    there = f"/people/{pits.north.crew.account}/sites"
    walker.enter()
    for more in ({"site": [str(pits.south.site)]}, {"all_sites": "true"}):
        refused = walker.page.post(there, data={"csrf": walker.csrf} | more)
        assert refused.status_code == 422
        assert html.escape(NOT_YOURS) in refused.text
        form = {"csrf": walker.csrf, "name": "Fay Example", "role": "crew"} | more
        assert walker.page.post("/people/invite", data=form).status_code == 422
    # A person let into more sites than the admin is not theirs to change.
    secret = pits.accounts.invite(
        "Both Ways", PersonRole.CREW, None, sites=frozenset({pits.north.site, pits.south.site})
    )
    both = pits.accounts.accept(secret, "bothways", PASSWORD)
    for act in ("close", "password", "sign-out"):
        answer = walker.page.post(f"/people/{both.account}/{act}", data={"csrf": walker.csrf})
        assert answer.status_code == 403, act
    mine = {"csrf": walker.csrf, "site": [str(pits.north.site)]}
    assert walker.page.post(f"/people/{both.account}/sites", data=mine).status_code == 403
    # A link ends when whoever made it loses the site.
    maker = pits.accounts.accept(
        pits.accounts.invite(
            "Ma Ker", PersonRole.ADMIN, None, sites=frozenset({pits.north.site})
        ), "maker", PASSWORD,
    )  # fmt: skip
    link = pits.accounts.invite(
        "Ne Wer", PersonRole.CREW, maker.account, sites=frozenset({pits.north.site})
    )
    assert pits.accounts.invitation(link) is not None
    pits.accounts.let_into(maker.account, frozenset({pits.south.site}), None)
    assert pits.accounts.invitation(link) is None


def test_a_task_reads_only_the_sites_of_who_asked_as_they_are_then_and_now(pits: Pits) -> None:
    secret = pits.accounts.invite(
        "Ta Sker", PersonRole.LEAD, None, sites=frozenset({pits.north.site, pits.south.site})
    )
    who = pits.accounts.accept(secret, "tasker", PASSWORD)
    asking = pits.office.room.seen_by(as_actor(who)).background
    assert asking is not None
    jobs = [pits.north.job, pits.south.job]
    before = ask_import(asking, "stock", "a.csv", b"a", by=who.name, account=who.account)
    pits.office.work()
    waiting = ask_bundle(asking, jobs, by=who.name, account=who.account)
    pits.accounts.let_into(who.account, frozenset({pits.north.site}), None)
    pits.office.work()
    tasks = pits.office.background.tasks
    done = tasks.task(waiting.task)
    assert done is not None and done.state is TaskState.DONE
    assert (len(done.answer["packs"]), len(done.answer["left_out"])) == (1, 1)
    # What came of it while they were let into both is not shown to them any more.
    walker = Walker(pits, "tasker", pits.everywhere.account)
    for task in (before, waiting):
        assert walker.page.get(f"/background/{task.task}").status_code == 404
    assert "Southpit" not in walker.page.get("/background").text


def test_a_member_of_no_site_sees_an_empty_house(pits: Pits) -> None:
    secret = pits.accounts.invite("No Where", PersonRole.CREW, None, sites=frozenset())
    nowhere = pits.accounts.accept(secret, "nowhere", PASSWORD)
    walker = Walker(pits, "nowhere", pits.everywhere.account)
    assert nowhere.sites == frozenset()
    marks = {pits.north.word, pits.south.word, str(pits.north.joint), str(pits.south.joint)}
    for path in ("/", "/due", "/fleet", "/jobs", "/history", "/stock", "/labels", "/background"):
        answer = walker.page.get(path, follow_redirects=True)
        # The fleet of no site cannot be forecast, and says so.
        assert answer.status_code == (422 if path == "/fleet" else 200), path
        assert not [m for m in marks if m in answer.text], path
