"""An app under siege: hostile input to its pages and its API, and what an answer may be."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from functools import lru_cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from urllib.parse import quote
from uuid import UUID, uuid4

from fastapi.routing import APIRoute
from fastapi.testclient import TestClient

from planned import SITE, planned
from splicewright.actions.conveyor.record import record_conveyor
from splicewright.actions.plan.record import record_plan
from splicewright.background.requests import ask_import
from splicewright.store import PersonRole, Scope
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.sql.register import open_register
from splicewright.web.routes import PAGES
from web.calling import Office, contract
from web.conftest import PASSWORD, Clock, csrf_of, sign_in

ROUTES = [
    (method, route.path, route)
    for page in PAGES
    for route in page.router.routes
    if isinstance(route, APIRoute)
    for method in sorted(route.methods or ())
]
OPERATIONS = [
    (method.upper(), path, told)
    for path, routes in sorted(contract()["paths"].items())
    for method, told in sorted(routes.items())
]
_THERE = {1, 3, 8, 21}
_FORBIDDEN = {"iframe", "object", "embed", "base", "math", "template", "video", "noscript"}
_CAMERA = {"id", "class", "muted", "playsinline", "hidden", "aria-label"}
"""All that the picture of the phone's own camera has: a film from elsewhere has a source."""
_LEADS = {"href", "src", "action", "formaction", "hx-get", "hx-post", "srcdoc", "data"}
_DATA = [{"type": "application/json", "id": id} for id in ("job-data", "measure-data")]
"""What pages hand to their own scripts; a browser runs none of it."""
JSON = {"content-type": "application/json"}
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
        the_camera = tag == "video" and set(said) <= _CAMERA
        if (tag in _FORBIDDEN and not (of_a_step or a_note or the_camera)) or "http-equiv" in said:
            self.found.append(tag)
        ours = (said.get("src") or "").startswith("/static/")
        if tag == "script" and not ours and said not in _DATA:
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


@contextmanager
def siege(path: Path) -> Iterator[Besieged]:
    """An app over a new register at a place: a conveyor, a joint with its job, an admin."""
    clock = Clock()
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


def all_of(route: APIRoute, name: str) -> list[Any]:
    waiting, found = [route.dependant], []
    while waiting:
        one = waiting.pop()
        found += getattr(one, name)
        waiting += one.dependencies
    return found


def place_of(path: str, text: str, number: int, besieged: Besieged) -> str:
    """The path with hostile text in its places, a few times with things that are there."""

    def fill(match: re.Match[str]) -> str:
        name = match.group(1)
        if number in _THERE and name in besieged.known:
            return besieged.known[name]
        return quote(text[:300], safe="") or "x"

    return re.sub(r"\{([^}:]+)[^}]*\}", fill, path)


def as_json(body: object) -> bytes:
    """In ASCII: JSON can carry half characters that no client library sends."""
    return json.dumps(body).encode("ascii")


def quoted(text: str) -> str:
    return quote(in_utf8(text)[:800], safe="")  # no client makes a longer address


def in_utf8(text: str) -> str:
    return text.encode("utf-8", "surrogatepass").decode("utf-8", "replace")


def fields_of(schema: dict[str, Any]) -> list[str]:
    name = schema.get("$ref", "").rsplit("/", 1)[-1]
    if not name:
        return []
    told = contract()["components"]["schemas"][name]
    return list(told.get("properties", {}))


def right_values(besieged: Besieged) -> dict[str, Any]:
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
