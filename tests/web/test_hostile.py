"""Hostile input against every form and every route: never a 500, never run, never shown raw."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
import socket
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from urllib.parse import quote
from uuid import UUID, uuid4

import pytest
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient
from python_calamine import CalamineWorkbook

from depth import PATIENCE, sized
from planned import SITE, planned
from splicewright.actions.conveyor.record import record_conveyor
from splicewright.actions.plan.record import record_plan
from splicewright.actions.register.export import export_table
from splicewright.background.requests import ask_import
from splicewright.errors import InputError
from splicewright.store import Fact, PersonRole, Scope
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.background import TaskState
from splicewright.store.facts.joint_facts import JointBuilt, JointPlanned
from splicewright.store.sql.register import open_register
from splicewright.web.routes import PAGES
from web.calling import API, Office, contract
from web.conftest import PASSWORD, Clock, csrf_of, sign_in
from web.hostile import ALL, BODIES, FORMULAS, IMAGES, TABLES, TEXTS
from web.serving import served

_PAGES = [
    (method, route.path, route)
    for page in PAGES
    for route in page.router.routes
    if isinstance(route, APIRoute)
    for method in sorted(route.methods or ())
]
_OPERATIONS = [
    (method.upper(), path, told)
    for path, routes in sorted(contract()["paths"].items())
    for method, told in sorted(routes.items())
]
_THERE = {1, 3, 8, 21}
_FORBIDDEN = {"iframe", "object", "embed", "base", "math", "template", "video", "noscript"}
_LEADS = {"href", "src", "action", "formaction", "hx-get", "hx-post", "srcdoc", "data"}
_DATA = {"type": "application/json", "id": "job-data"}
_JSON = {"content-type": "application/json"}
_WORKED_OUT = "513221317"
"""What 73317331 * 7 comes to, should a template be worked out."""


class _Live(HTMLParser):
    """Finds what hostile text would do to a page if it were not escaped."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.ended = ""
        self.notes = 0
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = dict(attrs)
        # What stands in a step of a job waits in a template, right behind the step's summary and
        # what is read of it without scripts.
        of_a_step = not attrs and (tag, self.ended) in {
            ("template", "summary"), ("noscript", "summary"), ("template", "noscript"),
        }  # fmt: skip
        self.ended = ""
        # A job's page has one note for browsers without scripts, and its data, which never runs.
        self.notes += tag == "noscript" and not attrs and not of_a_step
        a_note = tag == "noscript" and self.notes == 1
        the_camera = tag == "video" and said.get("id") == "scan-view" and "src" not in said
        if (tag in _FORBIDDEN and not (of_a_step or a_note or the_camera)) or "http-equiv" in said:
            self.found.append(tag)
        ours = (said.get("src") or "").startswith("/static/")
        if tag == "script" and not ours and said != _DATA:
            self.found.append(f"script {said}")
        for name, value in attrs:
            leads = (value or "").strip().lower()
            if name.startswith(("on", "hx-on")) or (
                name in _LEADS
                and leads.startswith(("javascript:", "data:text", "//", "http:", "https:", "\\"))
            ):
                self.found.append(f"{tag} {name}={value}")

    def handle_endtag(self, tag: str) -> None:
        self.ended = tag


class Besieged:
    """One app for all tests of this module, an admin at a page, and a key for all of the API."""

    def __init__(self, office: Office, accounts: SqlAccounts, admin: UUID) -> None:
        self.office, self.admin = office, admin
        until = office.clock.now + timedelta(days=9)
        self.key = accounts.make_token(admin, "hostile", {Scope.ADMIN}, until, None)
        # Packing each answer only to unpack it again is tried elsewhere, and takes long.
        plain = {"Accept-Encoding": "identity"}
        self.page = TestClient(office.app, headers=plain, follow_redirects=False).__enter__()
        assert sign_in(self.page, "ada").status_code == 303
        self.csrf = csrf_of(self.page)
        bearer = {"Authorization": f"Bearer {self.key}"}
        self.program = TestClient(office.app, headers=plain | bearer).__enter__()
        register = office.register
        self.site = str(register.sites()[0].site)
        self.conveyor = str(register.conveyors()[0].conveyor)
        secret = accounts.invite("Eve Example", PersonRole.CREW, None)
        self.known = {
            "site": self.site,
            "conveyor": self.conveyor,
            "joint": str(register.joints()[0].joint),
            "job": str(register.jobs()[0].job),
            "account": str(accounts.accept(secret, "eve", PASSWORD).account),
            "task": str(ask_import(office.background, "stock", "a.csv", b"a", by="Ada").task),
            "token": str(uuid4()),
        }


@pytest.fixture(scope="module")
def besieged(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Besieged]:
    path, clock = tmp_path_factory.mktemp("siege") / "register.sqlite", Clock()
    with open_register(path, clock=clock) as register:
        file = SITE / "conveyors" / "flat.toml"
        there = record_conveyor(register, file, by="Ada Example", now=clock()).conveyor
        plan = planned("flat", "flat-torn-belt")
        record_plan(register, plan, conveyor=there, label="J1", by="Ada Example", now=clock())
        accounts = register.accounts(hash_memory=64)
        secret = accounts.invite("Ada Example", PersonRole.ADMIN, None)
        admin = accounts.accept(secret, "ada", PASSWORD).account
        office = Office(register, accounts, clock, path)
        made = Besieged(office, accounts, admin)
        yield made
        made.page.__exit__()
        made.program.__exit__()
        office.queue.close()


@lru_cache(maxsize=200)
def _live(page: str) -> list[str]:
    """What is live in a page; many a refusal is the same page."""
    return _Live(page).found


def harmless(answer: Any, what: object) -> None:
    """No fault of ours, nothing live in a page, nothing new in the headers."""
    assert answer.status_code < 500, (answer.status_code, what)
    assert "x-injected" not in answer.headers, what
    kind = answer.headers.get("content-type", "")
    if kind.startswith("text/html"):
        assert "script-src 'self'" in answer.headers["content-security-policy"]
        assert _live(answer.text) == [], what
        assert _WORKED_OUT not in answer.text, what
    if kind.startswith("application/problem+json"):
        assert answer.json()["faults"], what
    assert answer.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize(("method", "path", "route"), _PAGES, ids=lambda part: str(part)[:40])
def test_every_page(method: str, path: str, route: APIRoute, besieged: Besieged) -> None:
    fields = [p.alias for p in _all_of(route, "body_params")]
    asked = [p.alias for p in _all_of(route, "query_params")]
    texts = TEXTS[_step(path, alone=not (fields or asked))]
    for number, some in enumerate(_dealt(texts, len(fields) or len(asked) or 1)):
        place = _place(path, some[0], number, besieged)
        values = dict(zip(asked, some, strict=False))
        query = "&".join(f"{name}={_quoted(text)}" for name, text in values.items())
        url = f"{place}?{query}" if query else place
        if method == "GET":
            answer = besieged.page.get(url)
        else:
            form = {"form": some[0]} | dict(zip(fields, some, strict=False))
            form |= {"csrf": besieged.csrf} | ({"id": str(uuid4())} if number % 2 else {})
            answer = besieged.page.post(url, data=form)
        if path == "/sign-out" or answer.headers.get("location") == "/sign-in":
            sign_in(besieged.page, "ada")
            besieged.csrf = csrf_of(besieged.page)
        harmless(answer, (method, path, [text[:60] for text in some]))


def _step(path: str, *, alone: bool) -> slice:
    """Which texts a path gets: all in fields, every fifth in a place alone.

    In the quick run a sixth of these, others for every path.
    """
    step = sized(30, deep=5) if alone else sized(6, deep=1)
    return slice(sum(path.encode()) % step, None, step)


def _dealt(texts: list[str], each: int) -> list[list[str]]:
    """All texts, `each` at a time, the last hand filled up from the first."""
    filled = [*texts, *texts[: -len(texts) % each]]
    return [filled[start : start + each] for start in range(0, len(filled), each)]


def _all_of(route: APIRoute, name: str) -> list[Any]:
    waiting, found = [route.dependant], []
    while waiting:
        one = waiting.pop()
        found += getattr(one, name)
        waiting += one.dependencies
    return found


def _place(path: str, text: str, number: int, besieged: Besieged) -> str:
    """The path with hostile text in its places, a few times with things that are there."""

    def fill(match: re.Match[str]) -> str:
        name = match.group(1)
        if number in _THERE and name in besieged.known:
            return besieged.known[name]
        return quote(text[:300], safe="") or "x"

    return re.sub(r"\{([^}:]+)[^}]*\}", fill, path)


@pytest.mark.parametrize(("method", "path", "told"), _OPERATIONS, ids=lambda part: str(part)[:40])
def test_every_api_route(method: str, path: str, told: dict[str, Any], besieged: Besieged) -> None:
    asked = [p["name"] for p in told.get("parameters", []) if p["in"] == "query"]
    schema = told.get("requestBody", {}).get("content", {}).get("application/json", {})
    fields = _fields(schema.get("schema", {}))
    right = _right(besieged)

    def send(number: int, values: dict[str, str], body: dict[str, Any]) -> None:
        first = next(iter(values.values()), "x")
        query = "&".join(
            f"{name}={_quoted(text)}" for name, text in values.items() if name in asked
        )
        url = f"{API}{_place(path, _utf8(first), number, besieged)}"
        url = f"{url}?{query}" if query else url
        raw = as_json(body) if fields else None
        answer = besieged.program.request(method, url, content=raw, headers=_JSON)
        harmless(answer, (method, path, {name: text[:60] for name, text in values.items()}))

    names = [*asked, *fields] or ["path"]
    step = _step(path, alone=not (asked or fields))
    for number, some in enumerate(_dealt(ALL[step], len(names))):
        values = dict(zip(names, some, strict=True))
        send(number, values, values)
    # One value among others that are right gets deeper; a dozen of each: some of them work hard.
    for number, text in enumerate(ALL[:: len(ALL) // 12]):
        if fields:
            hit = fields[number % len(fields)]
            send(number, {hit: text}, {n: text if n == hit else right.get(n) for n in fields})


def as_json(body: object) -> bytes:
    """In ASCII: JSON can carry half characters that no client library sends."""
    return json.dumps(body).encode("ascii")


def _quoted(text: str) -> str:
    return quote(_utf8(text)[:800], safe="")  # no client makes a longer address


def _utf8(text: str) -> str:
    return text.encode("utf-8", "surrogatepass").decode("utf-8", "replace")


def _fields(schema: dict[str, Any]) -> list[str]:
    name = schema.get("$ref", "").rsplit("/", 1)[-1]
    if not name:
        return []
    told = contract()["components"]["schemas"][name]
    return list(told.get("properties", {}))


def _right(besieged: Besieged) -> dict[str, Any]:
    history = SITE / "history"
    return {
        "toml": (SITE / "conveyors" / "flat.toml").read_text("utf-8"),
        "conveyor": besieged.conveyor, "work": None, "fasteners": [], "joint": None,
        "inspection": (SITE / "inspections" / "typed-in.toml").read_text("utf-8"),
        "readings": (history / "incline-wear.csv").read_text("utf-8"), "today": "2026-11-01",
        "limit": "", "new": "", "gauge": "", "confidence": 0.9, "cause": "", "by": "", "next": "",
        "shape": 2.0, "lives": "good,failed\n10 h,10 h\n", "facts": [], "seen": {},
        "id": str(uuid4()), "table": "stock", "name": "a.csv", "content": "YQ==", "jobs": [],
        "units": "metric", "paper": "A4", "days": 5, "site": None,
    }  # fmt: skip


def test_hostile_facts(besieged: Besieged) -> None:
    """In every text of a fact; what is recorded is shown escaped and breaks no chain."""
    facts = []
    for text in ALL:
        base = {"format": 1, "id": str(uuid4()), "at": "2026-05-04T06:00:00+00:00", "device": text}
        planned = {"joint": str(uuid4()), "conveyor": besieged.conveyor, "label": text[:120]}
        moved = {"site": besieged.site, "item": text[:120], "count": 1.0, "why": text[:4000]}
        facts += [
            base | {"kind": "joint planned", "what": planned},
            base | {"id": str(uuid4()), "kind": "stock moved", "what": moved, "device": ""},
            base | {"id": text, "kind": text, "what": text},
            {text[:50]: text},
        ]
    for start in range(0, len(facts), 100):
        raw = as_json({"facts": facts[start : start + 100]})
        answer = besieged.program.post(f"{API}/facts", content=raw, headers=_JSON)
        harmless(answer, start)
        assert answer.status_code == 200
        verdicts = {o["verdict"] for o in answer.json()["outcomes"]}
        assert verdicts <= {"recorded", "refused"}
    assert len(besieged.office.register.joints()) > 100
    assert besieged.office.register.verify().faults == ()
    for path in ("/", "/background", "/tokens", f"/conveyors/{besieged.conveyor}"):
        harmless(besieged.page.get(path), path)
    for path in ("joints", f"sites/{besieged.site}/stock", "facts"):
        harmless(besieged.program.get(f"{API}/{path}"), path)


@pytest.mark.parametrize(
    "path", ["facts", "plan", "assess", "wear", "life", "when", "choose", "background/import"]
)
def test_bodies_that_are_none(path: str, besieged: Besieged) -> None:
    for body in BODIES:
        for kind in ("application/json", "text/plain", "application/x-www-form-urlencoded", ""):
            headers = {"content-type": kind} if kind else {}
            answer = besieged.program.post(f"{API}/{path}", content=body, headers=headers)
            harmless(answer, (path, body[:40], kind))
            assert answer.status_code in {400, 413, 422} or b'"facts":[{' in body


@pytest.mark.parametrize(
    ("toml", "said"),
    [
        ("a=" + "[" * 5000, "nested deeper"),
        ("a=" + "[{a=" * 3000, "nested deeper"),
        ("a=" + "9" * 5001, "number that is too long"),
        ("a." * 300 + "b=1", "a"),
        ("[" * 5000, "not valid TOML"),
        ("\x00", "not valid TOML"),
    ],
    ids=range(6),
)
def test_files_that_are_none(toml: str, said: str, besieged: Besieged) -> None:
    for path, body in (
        ("conveyors", {"toml": toml}),
        ("plan", {"conveyor": besieged.conveyor, "work": toml}),
        ("assess", {"inspection": toml}),
    ):
        answer = besieged.program.post(f"{API}/{path}", json=body)
        assert answer.status_code == 422
        assert said in str(answer.json()["faults"])


@pytest.mark.parametrize("name", sorted(TABLES))
def test_tables_that_are_none(name: str, besieged: Besieged) -> None:
    office, made = besieged.office, TABLES[name]
    content = made() if callable(made) else made
    for table in ("joints", "readings", "stock"):
        try:
            asked = ask_import(office.background, table, name, content, by="Ada Example")
        except InputError:
            continue
        office.worker.work(asked.task)
        done = office.background.tasks.task(asked.task)
        assert done is not None
        assert done.state in {TaskState.DONE, TaskState.FAILED}
        assert "should not" not in done.failure, done.failure
        assert done.state is TaskState.FAILED or done.answer["rows"] == 0
        harmless(besieged.page.get(f"/background/{asked.task}"), name)


@pytest.mark.parametrize("name", sorted(IMAGES))
def test_images_that_are_none(name: str, besieged: Besieged) -> None:
    data = IMAGES[name]
    digest = hashlib.sha256(data).hexdigest()
    path = f"{API}/contents/{digest}"
    for kind in ("image/jpeg", "image/png", "image/webp", "image/svg+xml", "text/html", ""):
        headers = {"content-type": kind} if kind else {}
        harmless(besieged.program.put(path, content=data, headers=headers), (name, kind))
    kept = besieged.program.get(path)
    if kept.status_code == 200:  # it begins as an image does: it is then never anything else
        assert kept.headers["content-type"] in {"image/jpeg", "image/png"}
        assert kept.headers["x-content-type-options"] == "nosniff"
        assert "sandbox" in kept.headers["content-security-policy"]


def test_what_no_client_library_sends(besieged: Besieged) -> None:
    """Raw bytes to the real server: it answers with a refusal, or hangs up, and lives on."""
    lines = [
        b"GET /../../../../etc/passwd HTTP/1.1\r\nHost: localhost\r\n\r\n",
        b"GET /static/../../../../etc/passwd HTTP/1.1\r\nHost: localhost\r\n\r\n",
        b"GET /static/%2e%2e/%2e%2e/app.py HTTP/1.1\r\nHost: localhost\r\n\r\n",
        b"GET /static/..%5c..%5capp.py HTTP/1.1\r\nHost: localhost\r\n\r\n",
        b"GET /static/\x00 HTTP/1.1\r\nHost: localhost\r\n\r\n",
        b"GET /%00 HTTP/1.1\r\nHost: localhost\r\n\r\n",
        b"GET /%ff%fe HTTP/1.1\r\nHost: localhost\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: localhost\r\nCookie: splicewright=\xff\xfe\x80\r\n\r\n",
        b"GET /sign-in?next=%0d%0aX-Injected:%20yes HTTP/1.1\r\nHost: localhost\r\n\r\n",
        b"GET /?q=%ff HTTP/1.1\r\nHost: localhost\r\n\r\n",
        b"GET " + b"/a" * 40_000 + b" HTTP/1.1\r\nHost: localhost\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: localhost\r\nX: " + b"a" * 100_000 + b"\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: localhost\r\nX-A: a\r\n b: c\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
        b"GET / HTTP/9.9\r\n\r\n",
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
        b"POST /sign-in HTTP/1.1\r\nHost: localhost\r\nContent-Length: -1\r\n\r\n",
        b"POST /sign-in HTTP/1.1\r\nHost: localhost\r\nContent-Length: 9999999999999\r\n\r\n",
        b"POST /sign-in HTTP/1.1\r\nHost: localhost\r\nContent-Length: 1\r\n"
        b"Transfer-Encoding: chunked\r\n\r\n0\r\n\r\nGET /tokens HTTP/1.1\r\n\r\n",
        b"POST /sign-in HTTP/1.1\r\nHost: localhost\r\nContent-Type: multipart/form-data\r\n"
        b"Content-Length: 5\r\n\r\nhello",
        b"POST /sign-in HTTP/1.1\r\nHost: localhost\r\nContent-Type: multipart/form-data; "
        b"boundary=x\r\nContent-Length: 9\r\n\r\n--x\r\n\r\nab",
        b"DELETE / HTTP/1.1\r\nHost: localhost\r\n\r\n",
        b"TRACE / HTTP/1.1\r\nHost: localhost\r\n\r\n",
        b"CONNECT evil.example:80 HTTP/1.1\r\nHost: localhost\r\n\r\n",
        b"OPTIONS * HTTP/1.1\r\nHost: localhost\r\n\r\n",
        b"GET /api/1/sites HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer \xff\xfe\r\n\r\n",
        b"GET /api/1/sites HTTP/1.1\r\nHost: localhost\r\nAuthorization: Basic x\r\n\r\n",
    ]
    with served(besieged.office.app) as address:
        host, _, port = address.removeprefix("http://").partition(":")
        for line in lines:
            with socket.create_connection((host, int(port)), timeout=PATIENCE) as raw:
                raw.sendall(line)
                raw.shutdown(socket.SHUT_WR)
                said = b""
                while piece := raw.recv(65536):
                    said += piece
            assert b" 500 " not in said.split(b"\r\n", 1)[0], line[:80]
            assert b"root:" not in said and b"\nX-Injected" not in said, line[:80]
            assert b"make_app" not in said, line[:80]


def test_formulas_are_harmless_in_exports(besieged: Besieged, tmp_path: Path) -> None:
    register = besieged.office.register
    conveyor = UUID(besieged.conveyor)
    at = datetime(2026, 5, 4, 6, 0, tzinfo=UTC)
    for text in [t for t in FORMULAS if "\r" not in t]:
        joint = uuid4()
        planned = Fact(uuid4(), at, "Ada Example", JointPlanned(joint, conveyor, text))
        register.append(planned, Fact(uuid4(), at, "Ada Example", JointBuilt(joint)))
    export_table(register, "joints", tmp_path / "joints.csv")
    export_table(register, "joints", tmp_path / "joints.xlsx")
    text = (tmp_path / "joints.csv").read_text("utf-8-sig")
    rows = list(csv.reader(io.StringIO(text, newline="")))
    sheet = CalamineWorkbook.from_path(str(tmp_path / "joints.xlsx")).get_sheet_by_index(0)
    for found in (rows, sheet.to_python()):
        labels = [str(row[2]) for row in found[1:]]
        assert len(labels) >= len(FORMULAS) - 1
        assert any(label.startswith("'=") for label in labels)
        risky = [x for x in labels if x.startswith(("=", "+", "-", "@", "\t", "\r"))]
        assert all(re.fullmatch(r"[+-]?[\d.]+(?:e[+-]?\d+)?(?: \w+)?", x) for x in risky), risky
