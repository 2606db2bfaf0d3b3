"""Hostile input against every form and every route: never a 500, never run, never shown raw."""

from __future__ import annotations

import csv
import hashlib
import io
import re
import socket
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import pytest
from fastapi.routing import APIRoute
from python_calamine import CalamineWorkbook

from depth import PATIENCE, sized
from splicewright.actions.register.export import export_table
from splicewright.background.requests import ask_import
from splicewright.errors import InputError
from splicewright.store import Fact
from splicewright.store.background import TaskState
from splicewright.store.facts.joint_facts import JointBuilt, JointPlanned
from web.calling import API
from web.conftest import csrf_of, sign_in
from web.hostile import ALL, BODIES, FORMULAS, IMAGES, TABLES, TEXTS
from web.serving import served
from web.siege import (
    JSON,
    OPERATIONS,
    ROUTES,
    Besieged,
    all_of,
    as_json,
    fields_of,
    harmless,
    in_utf8,
    place_of,
    quoted,
    right_values,
    siege,
)  # fmt: skip


@pytest.fixture(scope="module")
def besieged(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Besieged]:
    with siege(tmp_path_factory.mktemp("siege") / "register.sqlite") as made:
        yield made


@pytest.mark.parametrize(("method", "path", "route"), ROUTES, ids=lambda part: str(part)[:40])
def test_every_page(method: str, path: str, route: APIRoute, besieged: Besieged) -> None:
    fields = [p.alias for p in all_of(route, "body_params")]
    asked = [p.alias for p in all_of(route, "query_params")]
    texts = TEXTS[_step(path, alone=not (fields or asked))]
    for number, some in enumerate(_dealt(texts, len(fields) or len(asked) or 1)):
        place = place_of(path, some[0], number, besieged)
        values = dict(zip(asked, some, strict=False))
        query = "&".join(f"{name}={quoted(text)}" for name, text in values.items())
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


@pytest.mark.parametrize(("method", "path", "route"), OPERATIONS, ids=lambda part: str(part)[:40])
def test_every_api_route(method: str, path: str, route: dict[str, Any], besieged: Besieged) -> None:
    asked = [p["name"] for p in route.get("parameters", []) if p["in"] == "query"]
    schema = route.get("requestBody", {}).get("content", {}).get("application/json", {})
    fields = fields_of(schema.get("schema", {}))
    right = right_values(besieged)

    def send(number: int, values: dict[str, str], body: dict[str, Any]) -> None:
        first = next(iter(values.values()), "x")
        query = "&".join(f"{name}={quoted(text)}" for name, text in values.items() if name in asked)
        url = f"{API}{place_of(path, in_utf8(first), number, besieged)}"
        url = f"{url}?{query}" if query else url
        raw = as_json(body) if fields else None
        answer = besieged.program.request(method, url, content=raw, headers=JSON)
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
        answer = besieged.program.post(f"{API}/facts", content=raw, headers=JSON)
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
    ("toml", "message"),
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
def test_files_that_are_none(toml: str, message: str, besieged: Besieged) -> None:
    for path, body in (
        ("conveyors", {"toml": toml}),
        ("plan", {"conveyor": besieged.conveyor, "work": toml}),
        ("assess", {"inspection": toml}),
    ):
        answer = besieged.program.post(f"{API}/{path}", json=body)
        assert answer.status_code == 422
        assert message in str(answer.json()["faults"])


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
