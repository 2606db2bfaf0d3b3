"""What keeps the app's pages to those they are for.

The rules are those of the OWASP cheat sheets on sessions, CSRF and headers (from memory).
"""

from __future__ import annotations

import gzip
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx2
import pytest
from fastapi import FastAPI
from fastapi.dependencies.models import Dependant
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient

from depth import PATIENCE
from splicewright.actions.plan.record import RecordedPlan
from splicewright.store import Account, PersonRole
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.sql.register import SqlRegister
from splicewright.web.app.guard import LARGEST_BODY, session_cookie
from splicewright.web.app.room import Room
from splicewright.web.app.visitor import Needs, masked, unmasked
from splicewright.web.people.sign_in import own_path
from splicewright.web.routes import PUBLIC, make_app, page_routes
from web.conftest import PASSWORD, Clock, csrf_of, sign_in
from web.serving import served
from web.test_appearance import pages

COOKIE = "splicewright"
ANSWERS = {"/decide", "/shutdown"}
"""Forms that are answered; nothing of them is recorded."""
GZIP = {"accept-encoding": "gzip"}


@pytest.fixture
def register(example_register: SqlRegister) -> SqlRegister:
    """The invented site with its past."""
    return example_register


def needed(route: APIRoute) -> list[Needs]:
    """The roles a route asks for, wherever in its dependencies."""

    def walk(dependant: Dependant) -> Iterator[Needs]:
        if isinstance(dependant.call, Needs):
            yield dependant.call
        for inner in dependant.dependencies:
            yield from walk(inner)

    return list(walk(route.dependant))


def test_every_route_asks_who_is_there_or_is_public(app: FastAPI) -> None:
    assert len(page_routes()) > 20
    assert {r.path for r in page_routes()} == app.state.paths
    for route in page_routes():
        assert bool(needed(route)) != (route.path in PUBLIC), route.path


def test_a_405_tells_every_method_of_the_address(client: TestClient) -> None:
    """RFC 9110, 10.2.1: those of all routes of that address, not of the first that matches."""
    there: dict[str, set[str]] = {}
    for route in page_routes():
        there.setdefault(route.path, set()).update(route.methods or ())
    for path, methods in there.items():
        told = client.request("DELETE", re.sub(r"\{\w+[^}]*\}", "7" * 8, path))
        if told.status_code == 405:
            allowed = set(told.headers["allow"].split(", "))
            assert methods <= allowed, path
            assert ("HEAD" in allowed) == ("GET" in allowed), path
    api = client.request("DELETE", "/api/1/facts")
    assert (api.status_code, api.headers["allow"]) == (405, "GET, HEAD, POST")
    assert client.request("PATCH", "/api/1/sites").headers["allow"] == "GET, HEAD"


def test_no_route_writes_for_viewers_but_their_own() -> None:
    for route in page_routes():
        writes = (route.methods or set()) - {"GET", "HEAD", "OPTIONS"}
        if writes and route.path not in PUBLIC:
            roles = {n.role for n in needed(route)}
            own = route.path == "/sign-out" or route.path.startswith("/me/")
            assert own or route.path in ANSWERS or PersonRole.VIEWER not in roles, route.path


def addresses(register: SqlRegister) -> list[tuple[str, str, PersonRole]]:
    """Method, address and least role of every route that is not public."""
    conveyor = register.conveyors()[0]
    ids = {"conveyor": conveyor.conveyor, "joint": register.joints(conveyor.conveyor)[0].joint,
           "drawing": "loop"}  # fmt: skip
    found = []
    for route in page_routes():
        if route.path in PUBLIC:
            continue
        path = re.sub(r"\{(\w+)\}", lambda m: str(ids.get(m[1], conveyor.conveyor)), route.path)
        order = list(PersonRole)
        role = max((n.role for n in needed(route)), key=order.index)
        found += [(method, path, role) for method in route.methods or ()]
    return found


def test_nobody_gets_in_without_signing_in(client: TestClient, register: SqlRegister) -> None:
    for method, path, _ in addresses(register):
        page = client.request(method, path, headers={"accept": "text/html"})
        assert page.status_code == 303, path
        assert page.headers["location"].startswith("/sign-in"), path
        script = client.request(method, path, headers={"accept": "application/json"})
        assert script.status_code == 401, path


def test_a_role_below_is_told_so(
    signed_in: Callable[[str], TestClient], register: SqlRegister
) -> None:
    for role in (PersonRole.VIEWER, PersonRole.CREW, PersonRole.LEAD):
        client = signed_in(role.value)
        csrf = csrf_of(client)
        for method, path, least in addresses(register):
            if role.reaches(least):
                continue
            answer = client.request(method, path, headers={"X-CSRF": csrf, "accept": "text/html"})
            assert answer.status_code == 403, (role, path)
            assert method != "GET" or "This is for" in answer.text, path


def test_every_change_needs_the_secret_of_this_session(
    signed_in: Callable[[str], TestClient], register: SqlRegister
) -> None:
    admin, other = signed_in("admin"), signed_in("lead")
    before = register.head()
    for method, path, _ in addresses(register):
        if method in {"GET", "HEAD"}:
            continue
        for headers in ({}, {"X-CSRF": "x"}, {"X-CSRF": csrf_of(other)}):
            assert admin.request(method, path, headers=headers).status_code == 403, path
        refused = admin.request(method, path, data={"csrf": csrf_of(other)})
        assert refused.status_code == 403, path
    assert register.head() == before


def test_other_sites_cannot_send_forms(signed_in: Callable[[str], TestClient]) -> None:
    client = signed_in("admin")
    csrf = csrf_of(client)
    for headers in (
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "https://evil.example"},
        {"origin": "null"},
    ):
        answer = client.post("/me/units", data={"csrf": csrf, "units": "inch"}, headers=headers)
        assert answer.status_code == 403
    own = {"origin": "http://testserver"}
    answer = client.post("/me/units", data={"csrf": csrf, "units": "inch"}, headers=own)
    assert answer.status_code == 303


def test_signing_in_needs_its_own_form(client: TestClient, people: dict[str, Account]) -> None:
    data = {"login": "admin", "password": PASSWORD, "form": "guessed", "next": "/"}
    assert client.post("/sign-in", data=data).status_code == 403
    client.get("/sign-in")
    assert client.post("/sign-in", data=data).status_code == 403


def test_masks_differ_and_hold() -> None:
    secret = b"0123456789abcdef0123456789abcdef"
    first, second = masked(secret), masked(secret)
    assert first != second
    assert unmasked(first) == unmasked(second) == secret
    for text in ("", "é", "!", "QQ==", "x" * 7):
        assert unmasked(text) != secret


def test_a_new_session_at_every_sign_in_and_after_an_hour(
    client: TestClient, people: dict[str, Account], clock: Clock
) -> None:
    client.cookies.set(COOKIE, "planted", domain="testserver.local")
    sign_in(client, "crew")
    first = client.cookies[COOKIE]
    assert first != "planted"
    client.get("/")
    assert client.cookies[COOKIE] == first
    clock.pass_(hours=1, seconds=1)
    assert client.get("/").status_code == 200
    second = client.cookies[COOKIE]
    assert second != first
    clock.pass_(minutes=2)
    client.get("/")
    clock.pass_(minutes=2)
    with_old = {"cookie": f"{COOKIE}={first}", "accept": "text/html"}
    client.cookies.clear()
    assert client.get("/", headers=with_old).status_code == 303


def test_forms_loaded_before_a_rotation_can_still_be_sent(
    signed_in: Callable[[str], TestClient], clock: Clock
) -> None:
    client = signed_in("viewer")
    csrf = csrf_of(client)
    clock.pass_(hours=3)
    answer = client.post("/me/units", data={"csrf": csrf, "units": "inch"})
    assert answer.status_code == 303


def test_cookies_are_out_of_reach_of_scripts(
    app: FastAPI, client: TestClient, people: dict[str, Account]
) -> None:
    for header in sign_in(client, "crew").headers.get_list("set-cookie"):
        assert "HttpOnly" in header
        assert "samesite=lax" in header.lower()
    room: Room = app.state.room
    secure = Room(room.register, room.accounts, room.now, secure=True)
    cookie = session_cookie(secure, "token")
    assert cookie.startswith("__Host-splicewright=token; Path=/; ")
    assert cookie.endswith("HttpOnly; SameSite=Lax; Secure")


def test_signing_in_is_slowed_down(client: TestClient, people: dict[str, Account]) -> None:
    for _ in range(5):
        assert sign_in(client, "crew", "not the password").status_code == 422
    slowed = sign_in(client, "crew")
    assert slowed.status_code == 429
    assert 800 <= int(slowed.headers["retry-after"]) <= 901
    assert "Too many tries to sign in; try again in" in slowed.text


def test_a_closed_account_is_out_at_once(
    signed_in: Callable[[str], TestClient], accounts: SqlAccounts, people: dict[str, Account]
) -> None:
    client = signed_in("crew")
    accounts.close_account(people["crew"].account, None)
    assert client.get("/", headers={"accept": "text/html"}).status_code == 303


def test_every_answer_keeps_to_itself(
    signed_in: Callable[[str], TestClient], register: SqlRegister
) -> None:
    client = signed_in("admin")
    for path in (*pages(register).values(), "/static/splicewright.css", "/manifest.webmanifest"):
        headers = client.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        # A static file opened by itself needs no script either.
        assert ("script-src 'self'" in policy) == (not path.startswith("/static/"))
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        assert headers["x-content-type-options"] == "nosniff"
        if not path.endswith(".css"):  # what concerns documents only
            assert headers["referrer-policy"] == "same-origin"
            assert headers["cross-origin-opener-policy"] == "same-origin"
        if not path.startswith(("/static", "/manifest")):
            assert headers["cache-control"] == "no-store"
    assert "strict-transport-security" not in client.get("/").headers


def test_pages_have_no_script_or_style_in_them(
    signed_in: Callable[[str], TestClient], register: SqlRegister
) -> None:
    client = signed_in("admin")
    for name, path in pages(register).items():
        text = client.get(path).text
        assert not re.search(r"<script(?![^>]*\bsrc=)", text), name
        assert "<style" not in text, name
        assert not re.search(r"\s(style|on\w+)=\"", text), name
        assert not re.search(r"(src|href)=\"(https?:)?//", text), name


def test_nothing_outside_the_static_folder_is_served(site: str) -> None:
    with httpx2.Client(base_url=site) as client:
        assert client.get("/static/splicewright.css").status_code == 200
        for path in (
            "/static/../app.py",
            "/static/%2e%2e/app.py",
            "/static/..%2fapp.py",
            "/static/%2e%2e%2f%2e%2e%2fversion.py",
            "/static//etc/passwd",
            "/static/....//app.py",
        ):
            answer = client.get(httpx2.URL(site + path))
            assert answer.status_code == 404, path
            assert "import" not in answer.text


def test_no_path_leads_elsewhere() -> None:
    assert own_path("/due?ahead=week") == "/due?ahead=week"
    for path in ("//evil.example", "https://evil.example", "/\\evil.example", "javascript:x", "",
                 "/\tx", "/é"):  # fmt: skip
        assert own_path(path) == "/"


def test_only_known_names_lead_here(app: FastAPI) -> None:
    room: Room = app.state.room
    named = make_app(
        Room(room.register, room.accounts, room.now, False, hosts=frozenset({"localhost", "[::1]"}))
    )
    with TestClient(named) as client:
        for host in ("localhost", "localhost:8750", "[::1]:8750", "LOCALHOST"):
            assert client.get("/sign-in", headers={"host": host}).status_code == 200, host
        for host in (
            "evil.example",
            "localhost.evil.example:8750",
            "127.0.0.1",
            "",
            "localhost:1@evil.example",
            "localhost@evil.example",
            "localhost/evil",
        ):
            assert client.get("/sign-in", headers={"host": host}).status_code == 421, host
    with TestClient(app) as client:  # no name at all, whatever names are let in (RFC 9110, 4.2.4)
        for host in ("localhost:1@evil.example", "evil.example?", "a b", "localhost:x"):
            assert client.get("/sign-in", headers={"host": host}).status_code == 421, host


def test_large_bodies_are_refused_before_they_are_read(
    signed_in: Callable[[str], TestClient],
) -> None:
    client = signed_in("admin")
    told = {"content-length": str(LARGEST_BODY + 1)}
    assert client.post("/me/units", headers=told, content=b"x").status_code == 413
    assert client.post("/me/units", headers={"content-length": "x"}).status_code == 413

    def endless() -> Iterator[bytes]:
        for _ in range(LARGEST_BODY // 1_000_000 + 2):
            yield b"x" * 1_000_000

    form = {"content-type": "application/x-www-form-urlencoded"}
    assert client.post("/me/units", headers=form, content=endless()).status_code == 413


def test_an_unforeseen_error_tells_nothing_of_the_inside(
    app: FastAPI, people: dict[str, Account], monkeypatch: pytest.MonkeyPatch
) -> None:
    with TestClient(app, raise_server_exceptions=False) as client:
        sign_in(client, "viewer")

        def broken(*_: object) -> None:
            msg = "the inside"
            raise RuntimeError(msg)

        monkeypatch.setattr(SqlRegister, "due", broken)
        answer = client.get("/due")
    assert answer.status_code == 500
    assert "Something went wrong" in answer.text
    assert "the inside" not in answer.text
    assert "default-src 'none'" in answer.headers["content-security-policy"]


def test_an_unforeseen_error_of_the_api_is_told_by_the_api_alone(
    app: FastAPI, people: dict[str, Account], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The app around it failed a second time over the page that it would have made of it."""

    def broken(*_: object) -> None:
        msg = "the inside"
        raise ZeroDivisionError(msg)

    with TestClient(app) as client:
        sign_in(client, "viewer")
        monkeypatch.setattr(SqlRegister, "sites", broken)
        with pytest.raises(ZeroDivisionError):  # what the server logs
            client.get("/api/1/sites", headers={"X-CSRF": "none"})
    with TestClient(app, raise_server_exceptions=False) as client:
        sign_in(client, "viewer")
        answer = client.get("/api/1/sites")
    assert answer.status_code == 500
    assert answer.headers["content-type"] == "application/problem+json"
    assert "the inside" not in answer.text


def test_the_first_view_is_light(site: str, register: SqlRegister) -> None:
    """All that a phone loads for a conveyor's page, as it goes over the wire."""
    with httpx2.Client(base_url=site, timeout=PATIENCE, headers=GZIP) as client:
        sign_in(client, "crew")
        page = pages(register)["conveyor"]
        text = client.get(page).text
        parts = re.findall(r'(?:src|href)="(/(?:static|conveyors|manifest)[^"]*)"', text)
        parts = [p for p in parts if "/static/" in p or ".svg" in p or "manifest" in p]
        assert any("htmx" in p for p in parts)
        assert any("belt-map" in p for p in parts)
        sizes = {}
        for path in dict.fromkeys((page, *parts)):
            with client.stream("GET", path.replace("&amp;", "&")) as answer:
                assert answer.status_code == 200, path
                sizes[path] = sum(len(chunk) for chunk in answer.iter_raw())
                if answer.headers.get("content-encoding") == "gzip":
                    assert sizes[path] > len(gzip.compress(b""))
    assert sum(sizes.values()) < 200_000, sizes


def test_pages_of_the_day_are_light(
    site: str, register: SqlRegister, job: RecordedPlan, people: object
) -> None:
    """Page, styles and scripts of a first view, under 80 kB each, as a browser takes them."""
    headers = {"accept-encoding": "gzip, deflate, br"}
    with httpx2.Client(base_url=site, timeout=PATIENCE, headers=headers) as client:
        sign_in(client, "crew")
        for page in ("/", f"/jobs/{job.job}", f"/joints/{job.joint}/inspect"):
            parts = re.findall(r'(?:src|href)="(/static/[^"]*)"', client.get(page).text)
            parts = [p for p in parts if "icon-192" not in p]  # for the home screen only
            sizes = {}
            for path in dict.fromkeys((page, *parts)):
                with client.stream("GET", path) as answer:
                    assert answer.status_code == 200, path
                    head = sum(len(k) + len(v) + 4 for k, v in answer.headers.items())
                    sizes[path] = head + sum(len(chunk) for chunk in answer.iter_raw())
            assert sum(sizes.values()) < 80_000, sizes


def test_the_served_app_says_nothing_of_its_server(app: FastAPI, tmp_path: Path) -> None:
    with served(app) as address, httpx2.Client(base_url=address) as client:
        assert "access-control-allow-origin" not in client.get("/sign-in").headers
