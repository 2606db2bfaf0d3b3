"""A served app over a register of the invented site, people who sign in, and browsers."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import httpx2
import pytest
from anyio.from_thread import start_blocking_portal
from fastapi import FastAPI
from fastapi.testclient import TestClient
from playwright.sync_api import Browser, Page, expect, sync_playwright

from depth import PATIENCE, PICTURES
from planned import SITE, planned
from splicewright.actions.conveyor.record import record_conveyor
from splicewright.actions.example_site import open_example
from splicewright.actions.people.sign_in import sign_in as enter_by_password
from splicewright.actions.plan.record import RecordedPlan, record_plan
from splicewright.store import Account, PersonRole
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.sql.register import SqlRegister, open_register
from splicewright.web.app.room import Room
from splicewright.web.app.unbroken import MARK
from web import looking
from web.apps import Visit, app_over
from web.between import Between
from web.serving import served

PASSWORD = "three wet stones"
COOKIE = "splicewright"
"""Of a session, where the app is served without HTTPS."""
expect.set_options(timeout=PATIENCE * 1000)
START = datetime(2026, 5, 4, 6, 0, tzinfo=UTC)


class Clock:
    """A clock that stands still until it is moved."""

    def __init__(self) -> None:
        self.now = START

    def __call__(self) -> datetime:
        return self.now

    def pass_(self, **how_long: float) -> None:
        self.now += timedelta(**how_long)


@dataclass
class People:
    """Accounts of the tests, one for each role; all have the same password."""

    accounts: SqlAccounts

    def add(self, role: PersonRole, name: str = "") -> Account:
        """A new account; its login is its name in small letters, or its role's name."""
        secret = self.accounts.invite(name or f"{role.value.title()} Example", role, None)
        login = name.split(maxsplit=1)[0].lower() if name else role.value
        return self.accounts.accept(secret, login, PASSWORD)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture(scope="session")
def bare_site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A register with the conveyors of the invented site, to copy from."""
    path = tmp_path_factory.mktemp("bare") / "register.sqlite"
    with open_register(path, clock=Clock()) as opened:
        for file in sorted((SITE / "conveyors").glob("*.toml")):
            record_conveyor(opened, file, by="Ada Example", now=START)
    return path


@pytest.fixture(scope="session")
def example_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A register of the invented site with its past, to copy from."""
    path = tmp_path_factory.mktemp("example") / "register.sqlite"
    with open_register(path, clock=Clock()) as opened:
        open_example(opened, SITE, now=START)
    return path


@dataclass(frozen=True)
class Begun:
    """A register with the conveyors of the invented site and what tests begin with, to copy from.

    job : a planned joint and its job; people : one account for each role; sessions : a session of
    each, by the role's name; empty where none is asked for
    """

    path: Path
    job: RecordedPlan | None
    people: dict[str, Account]
    sessions: dict[str, str]


@pytest.fixture(scope="session")
def begin(
    bare_site: Path, tmp_path_factory: pytest.TempPathFactory
) -> Callable[[bool, bool], Begun]:
    """Gives a register with or without job and people, made once: most tests begin with both."""

    @cache
    def begun_with(job: bool, people: bool) -> Begun:
        path = tmp_path_factory.mktemp("begun") / "register.sqlite"
        shutil.copy(bare_site, path)
        clock = Clock()
        with open_register(path, clock=clock, check=False) as opened:
            there = _plan_j7(opened, clock) if job else None
            everybody = _everybody(_quick(opened)) if people else {}
            return Begun(path, there, everybody, {r: _session(opened, r) for r in everybody})

    return begun_with


@pytest.fixture
def begun(request: pytest.FixtureRequest, begin: Callable[[bool, bool], Begun]) -> Begun:
    """What this test begins with."""
    return begin("job" in request.fixturenames, "people" in request.fixturenames)


@pytest.fixture
def register(tmp_path: Path, clock: Clock, begun: Begun) -> Iterator[SqlRegister]:
    """A register with the conveyors of the invented site."""
    shutil.copy(begun.path, tmp_path / "register.sqlite")
    with open_register(tmp_path / "register.sqlite", clock=clock, check=False) as opened:
        yield opened


@pytest.fixture
def example_register(tmp_path: Path, clock: Clock, example_file: Path) -> Iterator[SqlRegister]:
    """A register of the invented site with its past; a module's `register` may return it."""
    shutil.copy(example_file, tmp_path / "example.sqlite")
    with open_register(tmp_path / "example.sqlite", clock=clock, check=False) as opened:
        yield opened


@pytest.fixture
def job(register: SqlRegister, clock: Clock, begun: Begun) -> RecordedPlan:
    """A planned joint of the invented site, and the job to make it."""
    if begun.job is not None and register.job(begun.job.job) is not None:
        return begun.job
    return _plan_j7(register, clock)  # the module has a register of its own


def _plan_j7(register: SqlRegister, clock: Clock) -> RecordedPlan:
    plan = planned("incline", "incline-worn-joint")
    (conveyor,) = (c.conveyor for c in register.conveyors() if c.name == plan.conveyor.name)
    return record_plan(
        register, plan, conveyor=conveyor, label="J7", by="Lead Example", now=clock()
    )


@pytest.fixture
def accounts(register: SqlRegister) -> SqlAccounts:
    """Its accounts."""
    return _quick(register)


def _quick(register: SqlRegister) -> SqlAccounts:
    """Accounts whose passwords are hashed with little memory, for speed."""
    return register.accounts(hash_memory=64)


@pytest.fixture
def people(accounts: SqlAccounts, begun: Begun) -> dict[str, Account]:
    """One account for each role, by the role's name."""
    there = {account.account for account in accounts.accounts()}
    if begun.people and all(account.account in there for account in begun.people.values()):
        return dict(begun.people)
    return _everybody(accounts)  # the module has a register of its own


def _session(register: SqlRegister, login: str) -> str:
    """The token of a new session, as the form of signing in begins it."""
    session = enter_by_password(
        register, _quick(register), login, PASSWORD, address="testclient", now=START
    )
    assert session is not None and session.token is not None
    return session.token


def _everybody(accounts: SqlAccounts) -> dict[str, Account]:
    made = People(accounts)
    return {role.value: made.add(role) for role in PersonRole}


@pytest.fixture(scope="session", autouse=True)
def one_loop() -> Iterator[None]:
    """One event loop for all clients that are not opened: else each request starts a thread with a
    loop of its own, and a thread for the route, which takes longer than the answer."""
    with start_blocking_portal() as portal, pytest.MonkeyPatch.context() as patched:
        patched.setattr(TestClient, "portal", portal)
        yield


@pytest.fixture(scope="session", autouse=True)
def words_are_compared() -> Iterator[None]:
    """What tests read of a page is without the marks that hold numbers and units together: those
    have tests of their own (app/test_unbroken.py, and `looking.broken` on every page)."""
    whole = vars(httpx2.Response)["text"]

    def words(answer: httpx2.Response) -> str:
        return str(whole.fget(answer)).replace(f"<{MARK}>", "").replace(f"</{MARK}>", "")

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(httpx2.Response, "text", property(words))
        yield


@pytest.fixture
def app(register: SqlRegister, accounts: SqlAccounts, clock: Clock) -> Iterator[FastAPI]:
    """The app over it, for loopback."""
    visit = Visit()
    room = Room(
        register, accounts, clock, secure=False, invented=True, hooks=register.hooks(),
        incoming=register.incoming(), mail=register.mail_wishes(),
    )  # fmt: skip
    yield app_over(room, visit)
    del visit


@pytest.fixture
def client(app: FastAPI) -> Iterator[TestClient]:
    """Somebody who is not signed in."""
    with TestClient(app, follow_redirects=False) as opened:
        yield opened


def sign_in(client: httpx2.Client, login: str, password: str = PASSWORD) -> httpx2.Response:
    """Sign in through the form."""
    form = client.get("/sign-in").text.partition('name="form" value="')[2].partition('"')[0]
    data = {"login": login, "password": password, "form": form, "next": "/"}
    return client.post("/sign-in", data=data)


def csrf_of(client: httpx2.Client) -> str:
    """What forms of this session send; told on every page, here on a short one."""
    return client.get("/me").text.partition('name="csrf" content="')[2].partition('"')[0]


def ready_sessions(accounts: SqlAccounts, begun: Begun) -> dict[str, str]:
    """Sessions that this test's register began with; none where the module has its own."""
    return {r: token for r, token in begun.sessions.items() if accounts.session(token)}


def take_session(client: TestClient, login: str, ready: dict[str, str]) -> None:
    """Sign in: with a session that is there already, else through the form."""
    if login in ready:
        client.cookies.set(COOKIE, ready.pop(login))
        return
    assert sign_in(client, login).status_code == 303


@pytest.fixture
def signed_in(
    app: FastAPI, accounts: SqlAccounts, people: dict[str, Account], begun: Begun
) -> Iterator[Callable[[str], TestClient]]:
    """Gives a client signed in as somebody of this role; each has a session of its own."""
    opened: list[TestClient] = []
    ready = ready_sessions(accounts, begun)

    def enter(role: str) -> TestClient:
        client = TestClient(app, follow_redirects=False)
        opened.append(client)
        take_session(client, role, ready)
        return client

    yield enter
    for client in opened:
        client.close()


@pytest.fixture
def between(app: FastAPI) -> Between:
    """Whoever stands between phones and the app; lets everything pass until it is told."""
    return Between(app)


@pytest.fixture
def site(between: Between, people: dict[str, Account]) -> Iterator[str]:
    """Address of the app, really served, with people to sign in."""
    with served(between) as address:
        yield address


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's chromium."""
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(
            executable_path=looking.chromium(), args=["--no-sandbox"]
        )
        yield started
        started.close()


def _page(browser: Browser, site: str, **how: object) -> Iterator[Page]:
    context = browser.new_context(base_url=site, **how)  # type: ignore[arg-type]
    context.set_default_timeout(PATIENCE * 1000)
    page = context.new_page()
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("console", lambda line: errors.append(line.text) if line.type == "error" else None)
    yield page
    context.close()
    refused = [e for e in errors if "Content Security Policy" in e or "Error:" in e]
    assert not refused, refused


@pytest.fixture
def phone(browser: Browser, site: str) -> Iterator[Page]:
    """A phone: small, touched; with all its dots where somebody looks at the picture."""
    yield from _page(
        browser, site, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True,
        device_scale_factor=2 if PICTURES else 1,
    )  # fmt: skip


@pytest.fixture
def desk(browser: Browser, site: str) -> Iterator[Page]:
    """A desk."""
    yield from _page(browser, site, viewport={"width": 1280, "height": 800})


def enter(page: Page, login: str) -> None:
    """Sign in, without the form's page: what people see of it has its own tests."""
    asked = page.context.request
    form = asked.get("/sign-in").text().partition('name="form" value="')[2].partition('"')[0]
    data: dict[str, str | float | bool] = {
        "login": login, "password": PASSWORD, "form": form, "next": "/",
    }  # fmt: skip
    answer = asked.post("/sign-in", form=data, max_redirects=0)
    assert answer.status == 303, answer.text()
