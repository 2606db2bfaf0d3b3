"""Passkeys: made and used in Chromium with its own virtual authenticator, and what is refused."""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any
from uuid import uuid4

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from playwright.sync_api import Browser, Page, expect

from depth import PATIENCE
from splicewright.errors import InputError
from splicewright.store import Account, PersonRole
from splicewright.store.accounts.accounts import Change, Place
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.web.routes import make_app
from web import looking
from web.conftest import PASSWORD, Clock, csrf_of, sign_in

People = dict[str, Account]
HOME = Place("https://belts.example")
FACTOR = "/me/second-factor"


@pytest.fixture
def key(browser: Browser, site: str) -> Iterator[Page]:
    """A page at a name that takes passkeys, with a virtual authenticator (WebAuthn 2, 11)."""
    context = browser.new_context(
        base_url=site.replace("127.0.0.1", "localhost"), viewport={"width": 390, "height": 844}
    )
    context.set_default_timeout(PATIENCE * 1000)
    page = context.new_page()
    cdp = context.new_cdp_session(page)
    cdp.send("WebAuthn.enable")
    options = {
        "protocol": "ctap2", "transport": "internal", "hasUserVerification": True,
        "isUserVerified": True, "automaticPresenceSimulation": True,
    }  # fmt: skip
    cdp.send("WebAuthn.addVirtualAuthenticator", {"options": options})
    yield page
    context.close()


def enter(page: Page, login: str) -> None:
    page.goto("/sign-in")
    page.fill("#login", login)
    page.fill("#password", PASSWORD)
    page.click("main button")


def test_added_and_signed_in_with_in_a_browser(
    key: Page, accounts: SqlAccounts, people: People
) -> None:
    crew = people["crew"].account
    enter(key, "crew")
    key.goto(FACTOR)
    key.fill("#name", "Yard phone")
    looking.picture(key, "passkeys-none")
    key.get_by_role("button", name="Add a passkey").click()
    expect(key.get_by_text("Recovery codes, shown this once")).to_be_visible()
    assert key.locator("main code").count() == 10
    (kept,) = accounts.passkeys(crew)
    assert (kept.name, kept.host, kept.used) == ("Yard phone", "localhost", None)
    key.goto(FACTOR)
    looking.picture(key, "passkeys-one")
    # The same authenticator makes no second one for the same account.
    key.fill("#name", "Twice")
    key.get_by_role("button", name="Add a passkey").click()
    expect(key.get_by_text("holds a passkey of yours already")).to_be_visible()
    # A new sign-in: the password opens nothing, the passkey does.
    key.context.clear_cookies()
    enter(key, "crew")
    key.wait_for_url("**/sign-in/code*")
    looking.picture(key, "sign-in-passkey")
    key.get_by_role("button", name="Sign in with a passkey").click()
    key.wait_for_url(lambda url: "/sign-in" not in url)
    (used,) = accounts.passkeys(crew)
    assert used.used is not None
    assert accounts.changes(1)[0].note == "with a passkey: Yard phone"
    # It is the only factor: its owner cannot take it away, and sees why.
    key.goto(FACTOR)
    key.get_by_role("button", name="Remove Yard phone").click()
    expect(key.get_by_text("is your last second factor")).to_be_visible()
    assert accounts.passkeys(crew)


def test_without_script_it_says_what_to_do(
    browser: Browser, site: str, accounts: SqlAccounts
) -> None:
    context = browser.new_context(
        base_url=site.replace("127.0.0.1", "localhost"), java_script_enabled=False
    )
    page = context.new_page()
    enter(page, "crew")
    page.goto(FACTOR)
    # Chromium told to run no script still hides what stands in `noscript`.
    assert "Passkeys need JavaScript, which this browser does not run" in page.content()
    page.fill("#name", "Yard phone")
    page.get_by_role("button", name="Add a passkey").click()
    expect(page.get_by_text("was not sent by the browser")).to_be_visible()
    # An address that is no name takes none, and the page says so.
    page.goto(site + "/sign-in")
    enter_at = page.url.partition("/sign-in")[0]
    assert enter_at == site
    page.fill("#login", "lead")
    page.fill("#password", PASSWORD)
    page.click("main button")
    page.goto(site + FACTOR)
    expect(page.get_by_text("Browsers make passkeys only for a name by HTTPS")).to_be_visible()
    context.close()


class Key:
    """A security key in Python: what an authenticator and a browser send (WebAuthn, level 2, 6)."""

    def __init__(self) -> None:
        from cryptography.hazmat.primitives.asymmetric import ec

        self.private = ec.generate_private_key(ec.SECP256R1())
        self.id, self.count = uuid4().bytes, 0

    def _data(self, host: str, credential: bytes = b"") -> bytes:
        from hashlib import sha256

        flags = 0x41 if credential else 0x01  # user present; attested data included
        return sha256(host.encode()).digest() + bytes([flags]) + self.count.to_bytes(4) + credential

    def _sent(self, kind: str, options: dict[str, Any], origin: str) -> bytes:
        said = {"type": kind, "challenge": options["challenge"], "origin": origin}
        return json.dumps(said).encode()

    def create(self, options: str, origin: str = HOME.origin) -> str:
        """The answer to a challenge to make a passkey."""
        import cbor2

        told = json.loads(options)
        numbers = self.private.public_key().public_numbers()
        cose = cbor2.dumps(
            {1: 2, 3: -7, -1: 1, -2: numbers.x.to_bytes(32), -3: numbers.y.to_bytes(32)}
        )
        inner = bytes(16) + len(self.id).to_bytes(2) + self.id + cose
        attested = cbor2.dumps(
            {"fmt": "none", "attStmt": {}, "authData": self._data(told["rp"]["id"], inner)}
        )
        client = self._sent("webauthn.create", told, origin)
        return self._answer({"clientDataJSON": client, "attestationObject": attested})

    def signed(self, options: str, origin: str = HOME.origin, *, grow: int = 1) -> str:
        """The answer to a challenge to sign in."""
        from hashlib import sha256

        from cryptography.hazmat.primitives import hashes
        from cryptography.hazmat.primitives.asymmetric import ec

        told = json.loads(options)
        self.count += grow
        data, client = self._data(told["rpId"]), self._sent("webauthn.get", told, origin)
        signature = self.private.sign(data + sha256(client).digest(), ec.ECDSA(hashes.SHA256()))
        return self._answer(
            {"clientDataJSON": client, "authenticatorData": data, "signature": signature}
        )

    def _answer(self, parts: dict[str, bytes]) -> str:
        response = {k: _text(v) for k, v in parts.items()}
        return json.dumps({"id": _text(self.id), "rawId": _text(self.id), "type": "public-key",
                           "response": response})  # fmt: skip


def _text(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def added(accounts: SqlAccounts, who: Account, name: str = "Key") -> Key:
    key = Key()
    accounts.add_passkey(
        who.account, name, key.create(accounts.begin_passkey(who.account, HOME)), HOME
    )
    return key


def waiting(accounts: SqlAccounts, login: str) -> str:
    session = accounts.sign_in(login, PASSWORD, "here")
    assert session is not None and session.waits and session.token
    return session.token


def asked(accounts: SqlAccounts, token: str, place: Place = HOME) -> str:
    options = accounts.ask_passkey(token, place)
    assert options is not None
    return options


@pytest.mark.parametrize(
    "wrong",
    [
        lambda o: Key().create(o, "https://elsewhere.example"),  # a page elsewhere asked for it
        lambda o: Key().create(json.dumps(json.loads(o) | {"challenge": _text(bytes(32))})),
        lambda o: Key().create(json.dumps(json.loads(o) | {"rp": {"id": "elsewhere.example"}})),
        lambda _: "", lambda _: "{}", lambda _: "[]", lambda _: "null", lambda _: "[" * 9000,
        lambda _: json.dumps({"response": {"clientDataJSON": "AAAA"}}),
        lambda o: json.dumps(json.loads(Key().create(o)) | {"id": "other"}),
        lambda o: Key().create(o).replace("public-key", "private-key"),
        lambda o: "x" * 30_000,
    ],
)  # fmt: skip
def test_what_was_not_made_for_this_challenge_is_refused(
    accounts: SqlAccounts, people: People, wrong: Callable[[str], str]
) -> None:
    crew = people["crew"].account
    with pytest.raises(InputError, match="was not made by this page for this challenge"):
        accounts.add_passkey(crew, "Key", wrong(accounts.begin_passkey(crew, HOME)), HOME)
    assert not accounts.has_factor(crew)


def test_a_signature_counts_once_and_for_its_owner_alone(
    accounts: SqlAccounts, people: People, clock: Clock
) -> None:
    key, other = added(accounts, people["crew"]), added(accounts, people["lead"])
    token = waiting(accounts, "crew")
    assert accounts.session(token) is None

    def refused(sent: str, place: Place = HOME) -> bool:
        clock.pass_(minutes=0)
        return not accounts.pass_passkey(token, sent, place, str(uuid4()))

    assert refused(other.signed(asked(accounts, token)))  # somebody else's key
    assert refused(key.signed(asked(accounts, token), "https://elsewhere.example"))
    assert refused(key.signed(json.dumps({"challenge": _text(bytes(32)), "rpId": HOME.host})))
    lead = waiting(accounts, "lead")
    assert refused(key.signed(asked(accounts, lead)))  # somebody else's challenge
    late = key.signed(asked(accounts, token))
    clock.pass_(minutes=11)
    token = waiting(accounts, "crew")
    assert refused(late)
    sent = key.signed(asked(accounts, token))
    assert accounts.pass_passkey(token, sent, HOME, "here")
    assert accounts.session(token) is not None
    token = waiting(accounts, "crew")
    assert refused(sent)  # the same again
    # WebAuthn, level 2, 7.2, step 21: a count that does not grow is a copy of the key.
    assert refused(key.signed(asked(accounts, token), grow=0))
    assert accounts.pass_passkey(token, key.signed(asked(accounts, token)), HOME, "here")
    # A challenge to sign in with adds no passkey, nor the other way round.
    token = waiting(accounts, "crew")
    adding = accounts.begin_passkey(people["crew"].account, HOME)
    assert refused(key.signed(json.dumps(json.loads(adding) | {"rpId": HOME.host})))


def test_names_number_and_the_last_one(accounts: SqlAccounts, people: People) -> None:
    crew, lead = people["crew"].account, people["lead"].account
    added(accounts, people["crew"], "One")
    with pytest.raises(InputError, match='"one" is the name of a passkey you have'):
        added(accounts, people["crew"], "one")
    for n in range(9):
        added(accounts, people["crew"], f"More {n}")
    with pytest.raises(InputError, match="10 passkeys are set already"):
        accounts.begin_passkey(crew, HOME)
    first, *more = accounts.passkeys(crew)
    with pytest.raises(InputError, match="no such passkey of yours"):
        accounts.remove_passkey(lead, first.passkey)
    for passkey in more:
        accounts.remove_passkey(crew, passkey.passkey)
    with pytest.raises(InputError, match="is your last second factor"):
        accounts.remove_passkey(crew, first.passkey)
    assert accounts.has_factor(crew) and accounts.recovery_codes_left(crew) == 10
    accounts.clear_factor(crew, people["admin"].account)
    assert not accounts.has_factor(crew) and not accounts.passkeys(crew)
    assert accounts.changes(1)[0].change is Change.FACTOR_CLEARED


@pytest.mark.parametrize(
    ("origin", "takes"),
    [  # WebAuthn, level 2, 5.1.3 (secure contexts) and HTML's "registrable domain": no addresses
        ("https://belts.example", True), ("https://belts.example:8443", True),
        ("http://localhost:8750", True), ("http://belts.example", False),
        ("http://127.0.0.1:8750", False), ("https://192.0.2.7", False), ("https://[::1]", False),
    ],
)  # fmt: skip
def test_where_passkeys_are_made(
    accounts: SqlAccounts, people: People, origin: str, takes: bool
) -> None:
    place = Place(origin)
    assert place.takes_passkeys is takes
    if not takes:
        with pytest.raises(InputError, match="cannot be made for"):
            accounts.begin_passkey(people["crew"].account, place)


@pytest.mark.parametrize("role", list(PersonRole))
@pytest.mark.parametrize("beyond", [False, True])
@pytest.mark.parametrize("factor", ["none", "passkey"])
def test_who_needs_one(
    app: FastAPI, accounts: SqlAccounts, people: People, role: PersonRole, beyond: bool, factor: str
) -> None:
    """Every role, on one machine and beyond it, with and without a passkey."""
    who = people[role.value]
    key = added(accounts, who) if factor == "passkey" else None
    served = make_app(replace(app.state.room, beyond=True, secure=True)) if beyond else app
    base = HOME.origin if beyond else "http://testserver"
    with TestClient(served, base_url=base, follow_redirects=False) as page:
        assert sign_in(page, role.value).status_code == 303
        first = page.get("/").headers.get("location", "")
        if key is not None:
            assert first.startswith("/sign-in")
            form = re.search(r'name="form" value="([^"]+)"', page.get("/sign-in/code").text)
            assert form is not None
            if not beyond:  # it was made for another name
                said = page.post("/sign-in/code/passkey/options", data={"form": form[1]})
                assert said.status_code == 422 and "No passkey of yours" in said.json()["refusal"]
                return
            options = page.post("/sign-in/code/passkey/options", data={"form": form[1]}).text
            sent = {"form": form[1], "next": "/me", "passkey": key.signed(options)}
            assert page.post("/sign-in/code/passkey", data=sent).headers["location"] == "/me"
            assert page.get("/").status_code == 200
        elif beyond and role is PersonRole.ADMIN:
            assert first == FACTOR
            csrf = re.search(r'name="csrf" value="([^"]+)"', page.get(FACTOR).text)
            assert csrf is not None
            options = page.post(f"{FACTOR}/passkeys/options", data={"csrf": csrf[1]}).text
            sent = {"csrf": csrf[1], "name": "Key", "passkey": Key().create(options)}
            assert "Recovery codes" in page.post(f"{FACTOR}/passkeys", data=sent).text
            assert page.get("/people").status_code == 200
        else:
            assert page.get("/").status_code == 200


def test_forms_of_other_pages_are_refused(app: FastAPI, people: People) -> None:
    assert people
    with TestClient(app, follow_redirects=False) as page:
        sign_in(page, "crew")
        assert csrf_of(page)
        for path in (f"{FACTOR}/passkeys/options", f"{FACTOR}/passkeys",
                     f"{FACTOR}/passkeys/{uuid4()}/remove", "/sign-in/code/passkey",
                     "/sign-in/code/passkey/options"):  # fmt: skip
            assert page.post(path, data={"csrf": "x", "form": "x"}).status_code == 403, path
