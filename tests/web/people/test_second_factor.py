"""The second factor: codes by the standard, asked for at sign-in, and required of admins."""

from __future__ import annotations

import base64
import html
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from fastapi import FastAPI
from fastapi.testclient import TestClient

from splicewright.cli import main
from splicewright.errors import InputError
from splicewright.store import Account, TooOftenError
from splicewright.store.accounts.accounts import Change
from splicewright.store.accounts.second_factor import code_of, counter_at
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.sql.register import SqlRegister
from splicewright.web.routes import make_app
from splicewright.web.start import Reach
from web.calling import API
from web.conftest import PASSWORD, Clock, csrf_of, sign_in

People = dict[str, Account]
_RFC = b"12345678901234567890"
"""The secret of RFC 6238, appendix B, and RFC 4226, appendix D."""


@pytest.mark.parametrize(
    ("seconds", "counter", "code"),
    [  # RFC 6238, appendix B, the rows of SHA-1
        (59, 0x0000000000000001, "94287082"), (1111111109, 0x00000000023523EC, "07081804"),
        (1111111111, 0x00000000023523ED, "14050471"), (1234567890, 0x000000000273EF07, "89005924"),
        (2000000000, 0x0000000003F940AA, "69279037"), (20000000000, 0x0000000027BC86AA, "65353130"),
    ],
)  # fmt: skip
def test_codes_are_those_of_the_standard(seconds: int, counter: int, code: str) -> None:
    assert counter_at(datetime.fromtimestamp(seconds, UTC)) == counter
    assert code_of(_RFC, counter, 8) == code


def test_short_codes_are_those_of_the_standard_below() -> None:
    codes = [  # RFC 4226, appendix D
        "755224", "287082", "359152", "969429", "338314", "254676", "287922", "162583", "399871",
        "520489",
    ]  # fmt: skip
    assert [code_of(_RFC, n) for n in range(10)] == codes


class App:
    """What the app on somebody's phone shows."""

    def __init__(self, accounts: SqlAccounts, clock: Clock, who: Account) -> None:
        self.accounts, self.clock, self.who = accounts, clock, who
        self.secret = base64.b32decode(accounts.begin_factor(who.account))

    def code(self, off: int = 0) -> str:
        return code_of(self.secret, counter_at(self.clock()) + off)

    def set(self) -> tuple[str, ...]:
        return self.accounts.confirm_factor(self.who.account, self.code(), "here")


@pytest.fixture
def phone(accounts: SqlAccounts, clock: Clock, people: People) -> App:
    return App(accounts, clock, people["crew"])


def waiting(accounts: SqlAccounts, login: str = "crew") -> str:
    """The token of a session whose password was right."""
    session = accounts.sign_in(login, PASSWORD, "here")
    assert session is not None and session.waits and session.token
    return session.token


def test_a_password_alone_opens_nothing(accounts: SqlAccounts, clock: Clock, phone: App) -> None:
    plain = accounts.sign_in("crew", PASSWORD, "here")
    assert plain is not None and not plain.waits  # begun is not set
    phone.set()
    token = waiting(accounts)
    assert accounts.session(token) is None
    assert not accounts.pass_factor(token, "000000", "here")
    assert accounts.session(token) is None
    clock.pass_(seconds=30)
    assert accounts.pass_factor(token, phone.code(), "here")
    assert accounts.session(token) is not None
    # It waits for a while only, and a session that does not wait takes no code.
    late = waiting(accounts)
    clock.pass_(minutes=11)
    assert accounts.waiting(late) is None and not accounts.pass_factor(late, phone.code(), "here")


def test_a_code_counts_once_and_near_its_time(
    accounts: SqlAccounts, clock: Clock, phone: App
) -> None:
    phone.set()
    assert not accounts.pass_factor(waiting(accounts), phone.code(), "a")  # it was used to set it
    clock.pass_(seconds=300)
    for off, right in ((-2, False), (2, False), (-1, True), (1, True), (0, False), (1, False)):
        # RFC 6238, section 5.2: one step either way, and none that was taken or lies before it.
        assert accounts.pass_factor(waiting(accounts), phone.code(off), f"from {off}") is right, off


def test_recovery_codes_work_once_and_are_kept_as_hashes(
    accounts: SqlAccounts, register: SqlRegister, phone: App
) -> None:
    codes = phone.set()
    assert len(codes) == len(set(codes)) == 10
    with register._engine.connect() as connection:
        raw: Any = connection.connection.dbapi_connection
        dump = "\n".join(raw.iterdump())
    assert not [c for c in codes if c in dump or c.replace("-", "") in dump]
    typed = codes[3].replace("-", " ").upper()
    assert accounts.pass_factor(waiting(accounts), typed, "here")
    assert not accounts.pass_factor(waiting(accounts), codes[3], "here")
    assert accounts.recovery_codes_left(phone.who.account) == 9
    assert accounts.changes(2)[1].note == "with a recovery code" or (
        accounts.changes(1)[0].note == "with a recovery code"
    )


def test_tries_are_counted_as_those_of_passwords(
    accounts: SqlAccounts, clock: Clock, phone: App
) -> None:
    phone.set()
    clock.pass_(seconds=60)
    token = waiting(accounts)
    for _ in range(5):
        assert not accounts.pass_factor(token, "000000", "here")
    with pytest.raises(TooOftenError):
        accounts.pass_factor(token, phone.code(), "here")
    clock.pass_(minutes=16)
    assert accounts.pass_factor(waiting(accounts), phone.code(), "here")


def test_with_the_key_away_the_page_says_so_and_takes_a_recovery_code(
    app: FastAPI, accounts: SqlAccounts, phone: App
) -> None:
    codes = phone.set()
    place = accounts.key_place
    place.rename(place.with_suffix(".away"))
    with TestClient(app, follow_redirects=False) as page:
        there = sign_in(page, "crew").headers["location"]
        form = re.search(r'name="form" value="([^"]+)"', page.get(there).text)
        assert form is not None
        sent = {"form": form[1], "next": "/jobs", "code": "000000"}
        told = page.post("/sign-in/code", data=sent)
        assert told.status_code == 422 and "puts back the copy of its file" in told.text
        assert place.name not in told.text  # whoever has but a password learns no path
        done = page.post("/sign-in/code", data=sent | {"code": codes[0]})
        assert (done.status_code, done.headers["location"]) == (303, "/jobs")


def test_it_is_cleared_by_an_admin_and_recorded(
    accounts: SqlAccounts, clock: Clock, people: People, phone: App
) -> None:
    phone.set()
    clock.pass_(seconds=60)
    token = waiting(accounts)
    assert accounts.pass_factor(token, phone.code(), "here")
    with pytest.raises(InputError, match="is set already"):
        accounts.begin_factor(phone.who.account)
    accounts.clear_factor(phone.who.account, people["admin"].account)
    assert accounts.session(token) is None
    line = accounts.changes(1)[0]
    assert (line.change, line.by_name) == (Change.FACTOR_CLEARED, "Admin Example")
    assert accounts.recovery_codes_left(phone.who.account) == 0
    session = accounts.sign_in("crew", PASSWORD, "here")
    assert session is not None and not session.waits


def test_set_up_and_signed_in_at_the_pages(
    app: FastAPI, people: People, clock: Clock, accounts: SqlAccounts
) -> None:
    with TestClient(app, follow_redirects=False) as page:
        assert sign_in(page, "crew").status_code == 303
        csrf = {"csrf": csrf_of(page)}
        shown = page.post("/me/second-factor/begin", data=csrf).text
        text = re.search(r'name="secret" value="([A-Z2-7]{32})"', shown)
        assert text is not None and 'src="data:image/svg+xml' in shown
        secret = base64.b32decode(text[1])
        wrong = csrf | {"code": "000000", "secret": text[1]}
        refused = page.post("/me/second-factor/confirm", data=wrong)
        assert refused.status_code == 422 and text[1] in refused.text
        assert '<a href="#code">Code</a>: is not the code' in refused.text  # by its label
        right = csrf | {"code": code_of(secret, counter_at(clock()))}
        codes = re.findall(r"<code>([0-9a-f-]{19})</code>",
                           page.post("/me/second-factor/confirm", data=right).text)  # fmt: skip
        assert len(codes) == 10
        assert "10 recovery codes are left" in page.get("/me/second-factor").text
    clock.pass_(seconds=60)
    with TestClient(app, follow_redirects=False) as page:
        answer = sign_in(page, "crew")
        there = answer.headers["location"]
        assert there.startswith("/sign-in/code")
        # Until then no page, no phone and no API opens.
        assert page.get("/").headers["location"].startswith("/sign-in")
        assert page.get(f"{API}/sites").status_code == 401
        from_page = {"Sec-Fetch-Site": "same-origin", "Accept": "application/json"}
        sync = page.post("/sync", json={"account": str(people["crew"].account), "facts": []},
                         headers=from_page)  # fmt: skip
        assert sync.status_code == 401
        form = re.search(r'name="form" value="([^"]+)"', page.get(there).text)
        assert form is not None
        sent = {"form": form[1], "next": "/jobs", "code": "12"}
        wrong_code = page.post("/sign-in/code", data=sent)
        assert wrong_code.status_code == 422
        assert '<a href="#code">Code</a>: is not right' in wrong_code.text
        assert page.post("/sign-in/code", data=sent | {"form": "x"}).status_code == 403
        sent["code"] = code_of(secret, counter_at(clock()))
        done = page.post("/sign-in/code", data=sent)
        assert (done.status_code, done.headers["location"]) == (303, "/jobs")
        assert page.get("/jobs").status_code == 200
        assert page.get("/sign-in/code").headers["location"] == "/sign-in"
    with TestClient(app, follow_redirects=False) as page:
        sign_in(page, "admin")
        csrf = {"csrf": csrf_of(page)}
        crew = people["crew"].account
        assert f"/people/{crew}/second-factor/clear" in page.get("/people").text
        assert page.post(f"/people/{crew}/second-factor/clear", data=csrf).status_code == 303
        assert not accounts.has_factor(crew)


@pytest.fixture
def reached(app: FastAPI) -> Iterator[FastAPI]:
    """The same app, as other machines reach it."""
    yield make_app(replace(app.state.room, beyond=True))


def test_admins_beyond_one_machine_need_it(
    reached: FastAPI, app: FastAPI, people: People, clock: Clock, accounts: SqlAccounts
) -> None:
    with TestClient(reached, follow_redirects=False) as page:
        assert sign_in(page, "admin").status_code == 303
        for path in ("/", "/people", "/jobs", "/history"):
            assert page.get(path).headers.get("location") == "/me/second-factor", path
        for path, method in (
            ("/sync", "POST"),
            (f"{API}/sites", "GET"),
            ("/people/invite", "POST"),
        ):
            answer = page.request(method, path, headers={"Sec-Fetch-Site": "same-origin"})
            assert answer.status_code == 403, path
        setting = page.get("/me/second-factor").text
        assert "admins sign in with a second factor" in html.unescape(setting)
        csrf = re.search(r'name="csrf" value="([^"]+)"', setting)
        assert csrf is not None
        shown = page.post("/me/second-factor/begin", data={"csrf": csrf[1]}).text
        text = re.search(r'name="secret" value="([A-Z2-7]{32})"', shown)
        assert text is not None
        code = code_of(base64.b32decode(text[1]), counter_at(clock()))
        page.post("/me/second-factor/confirm", data={"csrf": csrf[1], "code": code})
        assert page.get("/people").status_code == 200
    with TestClient(reached, follow_redirects=False) as page:
        sign_in(page, "lead")  # others may, and need not
        assert page.get("/people").status_code == 200
    accounts.clear_factor(people["admin"].account, None)
    with TestClient(app, follow_redirects=False) as page:
        sign_in(page, "admin")  # on one machine a password is enough
        assert page.get("/people").status_code == 200


def test_what_reaches_beyond_one_machine() -> None:
    assert not Reach().beyond and not Reach(host="::1").beyond
    assert Reach(host="0.0.0.0").beyond and Reach(behind_proxy=True).beyond
    assert Reach(address="https://belts.example.org").beyond


def test_it_is_cleared_at_the_console(accounts: SqlAccounts, phone: App, tmp_path: Path) -> None:
    phone.set()
    words = ["register", "people", "clear-factor", "crew", "--register"]
    run = CliRunner().invoke(main, [*words, str(tmp_path / "register.sqlite")])
    assert run.output == "crew: second factor cleared.\n"
    assert not accounts.has_factor(phone.who.account)
    run = CliRunner().invoke(main, [*words, str(tmp_path / "register.sqlite")])
    assert run.output == "crew: had no second factor.\n"
