"""Phones told by web push: off until asked for, told once, tried again, ended with the session.

The push service is a server of the tests; the browser that reads is written from its own side of
the standard (`background.phone`). In Chromium the service worker itself shows what comes.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from uuid import uuid4

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from background.phone import Browser, PushService
from background.test_push_message import claims
from splicewright.actions.plan.record import RecordedPlan
from splicewright.background.notices import PushSender, push_notices, push_sender
from splicewright.background.push_message import plain64, point_of, private_key
from splicewright.errors import InputError
from splicewright.store import Account, Fact, What
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.database.sealing import KeyAwayError, Seal
from splicewright.store.facts.job_facts import JobHandedOver
from splicewright.store.facts.joint_facts import DueSet, InspectionClosed, Task
from splicewright.store.notices import NoticeKind
from splicewright.store.sites import NO_SITES
from splicewright.store.sql.register import SqlRegister
from web.conftest import PASSWORD, Clock, csrf_of, enter
from web.looking import axe, fits, picture, small_targets

Enter = Callable[[str], TestClient]
OWN_NETWORK = PushSender("mailto:belts@site.example", private=True)


@pytest.fixture
def service() -> Iterator[PushService]:
    with PushService() as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield server
        server.shutdown()


@pytest.fixture
def sends(app: FastAPI) -> PushSender:
    """The app sends to phones, to those of the own network too."""
    object.__setattr__(app.state.room, "push", OWN_NETWORK)
    return OWN_NETWORK


def _ask(
    client: TestClient, service: PushService, *kinds: str, browser: Browser | None = None
) -> Browser:
    browser = browser or Browser.new()
    form: dict[str, object] = {
        "csrf": csrf_of(client), "kinds": list(kinds), "endpoint": f"{service.url}/{uuid4().hex}",
        "p256dh": plain64(browser.point), "auth": plain64(browser.shared),
    }  # fmt: skip
    answer = client.post("/me/push", data=form)
    assert answer.status_code == 303, answer.text
    return browser


def _say(register: SqlRegister, who: Account, clock: Clock, *whats: What) -> None:
    clock.pass_(minutes=1)
    for what in whats:
        register.append(Fact(uuid4(), clock(), who.name, what, who.account, "a phone"))


def test_off_until_the_server_and_somebody_asks(
    signed_in: Enter, register: SqlRegister, people: dict[str, Account], job: RecordedPlan,
    clock: Clock, service: PushService,
) -> None:  # fmt: skip
    assert push_sender({}) is None
    lead = signed_in("lead")
    assert "sends nothing to phones yet" in lead.get("/me").text
    data = {"csrf": csrf_of(lead), "kinds": "overdue"}
    assert lead.post("/me/push", data=data).status_code == 404
    assert lead.post("/me/push/key", data=data).status_code == 404
    _say(register, people["crew"], clock, InspectionClosed(job.joint, uuid4(), False, note="so"))
    assert push_notices(register, OWN_NETWORK, clock()) == 0
    assert service.got == []


def test_each_thing_is_told_once_to_that_browser_only(
    signed_in: Enter, register: SqlRegister, accounts: SqlAccounts, people: dict[str, Account],
    job: RecordedPlan, clock: Clock, service: PushService, sends: PushSender,
) -> None:  # fmt: skip
    _say(register, people["crew"], clock, JobHandedOver(job.job, "the day before"))
    lead = signed_in("lead")
    browser = _ask(lead, service, *(kind.value for kind in NoticeKind))
    assert push_notices(register, sends, clock()) == 0
    _say(register, people["lead"], clock, JobHandedOver(job.job, "nobody: said by themselves"))
    assert push_notices(register, sends, clock()) == 0
    _say(register, people["crew"], clock, InspectionClosed(job.joint, uuid4(), False, note="gap"))
    assert push_notices(register, sends, clock()) == 1
    assert push_notices(register, sends, clock()) == 0
    ((path, headers, body),) = service.got
    told = browser.message(body)
    assert told == {
        "title": "J7 on K2 incline must not run: decided at an inspection by Crew Example",
        "body": "", "path": f"/joints/{job.joint}",
    }  # fmt: skip
    # RFC 8030, 5.2 and 5.3; RFC 8291, 4; RFC 8292, 2: the key is that which the browser asked with.
    assert headers["ttl"] == "86400" and headers["urgency"] == "high"
    assert headers["content-encoding"] == "aes128gcm" and path.startswith("/push/")
    assert told["title"].encode() not in body  # two letters alone come by chance, one time in 300
    given = headers["authorization"].removeprefix("vapid ").split(", ")
    token, key = (part.partition("=")[2] for part in given)
    assert key == plain64(point_of(private_key(accounts.push.key())))
    assert lead.post("/me/push/key", data={"csrf": csrf_of(lead)}).json() == {"key": key}
    assert claims(token, key)["aud"] == service.url.removesuffix("/push")
    assert claims(token, key)["sub"] == "mailto:belts@site.example"
    # Several things are one message; more than a few are counted.
    _say(register, people["crew"], clock, *(JobHandedOver(job.job, f"Ben {n}") for n in range(8)))
    assert push_notices(register, sends, clock()) == 1
    told = browser.message(service.got[-1][2])
    assert told["title"] == "8 things to know" and told["path"] == "/"
    assert told["body"].count("\n") == 6 and told["body"].endswith("And 2 more")
    assert service.got[-1][1]["urgency"] == "normal"


def test_what_becomes_overdue(
    signed_in: Enter, register: SqlRegister, people: dict[str, Account], job: RecordedPlan,
    clock: Clock, service: PushService, sends: PushSender,
) -> None:  # fmt: skip
    browser = _ask(signed_in("crew"), service, "overdue")
    due = clock() + timedelta(days=2)
    _say(register, people["lead"], clock, DueSet(job.joint, Task.RETIGHTEN, due, "after run-in"))
    for _ in range(2):
        assert push_notices(register, sends, clock()) == 0
        clock.pass_(days=1, hours=1)
    assert push_notices(register, sends, clock()) == 1
    assert push_notices(register, sends, clock()) == 0
    assert "re-tighten is overdue since 2026-05-06" in browser.message(service.got[0][2])["title"]


def test_not_taken_is_tried_again_later(
    signed_in: Enter, register: SqlRegister, accounts: SqlAccounts, people: dict[str, Account],
    job: RecordedPlan, clock: Clock, service: PushService, sends: PushSender,
) -> None:  # fmt: skip
    """Each wait is twice the last, never shorter than the push service asks; nothing is lost."""
    browser = _ask(signed_in("lead"), service, "handed over")
    _say(register, people["crew"], clock, JobHandedOver(job.job, "Ben"))
    service.answers = [(500, {}), (500, {}), (429, {"Retry-After": "600"})]
    for n, wait in enumerate((60, 120, 600)):
        assert push_notices(register, sends, clock()) == 0 and len(service.got) == n + 1
        clock.pass_(seconds=wait - 1)
        assert push_notices(register, sends, clock()) == 0 and len(service.got) == n + 1
        clock.pass_(seconds=1)
    _say(register, people["crew"], clock, JobHandedOver(job.job, "Cleo"))
    assert push_notices(register, sends, clock()) == 1
    assert "Cleo" in browser.message(service.got[-1][2])["body"]
    assert "Ben" in browser.message(service.got[-1][2])["body"]
    assert [p.tries for p in accounts.push.due()] == [0]


@pytest.mark.parametrize("status", [404, 410])
def test_a_dead_phone_is_dropped(
    signed_in: Enter, register: SqlRegister, accounts: SqlAccounts, people: dict[str, Account],
    job: RecordedPlan, clock: Clock, service: PushService, sends: PushSender, status: int,
) -> None:  # fmt: skip
    _ask(signed_in("lead"), service, "handed over")
    _ask(signed_in("admin"), service, "handed over")
    _say(register, people["crew"], clock, JobHandedOver(job.job, "Ben"))
    service.answers = [(status, {})]
    assert push_notices(register, sends, clock()) == 1  # the other one
    clock.pass_(hours=2)  # one that is only tried again later would be due by then
    assert len(accounts.push.due()) == 1


def test_two_workers_tell_once(
    signed_in: Enter, register: SqlRegister, accounts: SqlAccounts, people: dict[str, Account],
    job: RecordedPlan, clock: Clock, service: PushService, sends: PushSender,
) -> None:  # fmt: skip
    _ask(signed_in("lead"), service, "handed over")
    _say(register, people["crew"], clock, JobHandedOver(job.job, "Ben"))
    (phone,) = accounts.push.due()
    held = accounts.push.take(phone)
    assert held is not None and accounts.push.take(phone) is None
    assert push_notices(register, sends, clock()) == 0
    # The one that held it died: after a while the next tells.
    clock.pass_(minutes=2)
    assert push_notices(register, sends, clock()) == 1
    accounts.push.notified(held, 0, clock())  # it lives after all, too late to move anything back
    assert push_notices(register, sends, clock()) == 0


def test_it_ends_with_the_session(
    signed_in: Enter, register: SqlRegister, accounts: SqlAccounts, people: dict[str, Account],
    job: RecordedPlan, clock: Clock, service: PushService, sends: PushSender,
) -> None:  # fmt: skip
    def waits() -> list[str]:
        _say(register, people["admin"], clock, JobHandedOver(job.job, f"at {clock():%d %H:%M}"))
        push_notices(register, sends, clock())
        names = {a.account: a.login for a in accounts.accounts()}
        return sorted(names[p.account] for p in accounts.push.due())

    clients = {role: signed_in(role) for role in ("viewer", "crew", "lead")}
    for client in clients.values():
        _ask(client, service, "handed over")
    assert waits() == ["crew", "lead", "viewer"]
    clients["crew"].post("/sign-out", data={"csrf": csrf_of(clients["crew"])})
    assert waits() == ["lead", "viewer"]
    accounts.close_account(people["viewer"].account, None)
    assert waits() == ["lead"]
    accounts.change_password(people["lead"].account, PASSWORD, "four dry stones", "testclient")
    assert waits() == []
    again = signed_in("admin")
    _ask(again, service, "overdue")
    clock.pass_(days=14, minutes=1)
    assert waits() == []  # not opened for so long: the session is over, and this with it
    # Nothing ticked: nothing any more.
    crew = signed_in("crew")
    _ask(crew, service, "overdue")
    _ask(crew, service)
    assert waits() == []


def test_of_other_sites_nothing_is_told(
    signed_in: Enter, register: SqlRegister, accounts: SqlAccounts, people: dict[str, Account],
    job: RecordedPlan, clock: Clock, service: PushService, sends: PushSender,
) -> None:  # fmt: skip
    lead = signed_in("lead")
    _ask(lead, service, "must not run", "overdue", "handed over")
    accounts.let_into(people["lead"].account, NO_SITES, None)
    _say(register, people["crew"], clock, JobHandedOver(job.job, "Ben"))
    assert push_notices(register, sends, clock()) == 0 and service.got == []


def test_a_phone_handed_on_tells_its_new_owner_only(
    signed_in: Enter, accounts: SqlAccounts, service: PushService, sends: PushSender
) -> None:
    """A browser has one place at its push service: who asks last is told there."""
    form = {"endpoint": f"{service.url}/one", "kinds": "overdue"}
    for role in ("crew", "lead"):
        client, browser = signed_in(role), Browser.new()
        keys = {"p256dh": plain64(browser.point), "auth": plain64(browser.shared)}
        client.post("/me/push", data=form | keys | {"csrf": csrf_of(client)})
    (only,) = accounts.push.due()
    assert accounts.account(only.account).login == "lead"  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("endpoint", "message"),
    [
        ("https://10.0.0.7/push", "an address of the own network"),
        ("https://127.0.0.1/push", "an address of the own network"),
        ("https://169.254.169.254/push", "which no hook may call"),
    ],
)
def test_no_call_into_the_own_network_unless_allowed(
    register: SqlRegister, accounts: SqlAccounts, people: dict[str, Account], job: RecordedPlan,
    clock: Clock, signed_in: Enter, app: FastAPI, endpoint: str, message: str,
    caplog: pytest.LogCaptureFixture,
) -> None:  # fmt: skip
    """Whoever has an account names the address: it is looked at before each call."""
    public = PushSender("mailto:belts@site.example")
    object.__setattr__(app.state.room, "push", public)
    client, browser = signed_in("lead"), Browser.new()
    form: dict[str, object] = {
        "csrf": csrf_of(client), "kinds": "handed over", "endpoint": endpoint,
        "p256dh": plain64(browser.point), "auth": plain64(browser.shared),
    }  # fmt: skip
    assert client.post("/me/push", data=form).status_code == 303
    _say(register, people["crew"], clock, JobHandedOver(job.job, "Ben"))
    assert push_notices(register, public, clock()) == 0
    assert message in caplog.text
    plain = client.post("/me/push", data=form | {"endpoint": "http://push.example.org/p"})
    assert plain.status_code == 422 and "is not encrypted" in plain.text


@pytest.mark.parametrize(
    "wrong",
    [{"p256dh": plain64(b"\4" + bytes(64))}, {"p256dh": "?"}, {"auth": "AAAA"}, {"auth": "é"},
     {"kinds": "gossip"}, {"endpoint": ""}],
)  # fmt: skip
def test_what_is_no_phone_is_refused(
    signed_in: Enter, accounts: SqlAccounts, sends: PushSender, wrong: dict[str, str]
) -> None:
    client, browser = signed_in("crew"), Browser.new()
    form = {
        "csrf": csrf_of(client), "kinds": "overdue", "endpoint": "https://push.example.org/p",
        "p256dh": plain64(browser.point), "auth": plain64(browser.shared),
    }  # fmt: skip
    assert client.post("/me/push", data=form | wrong).status_code == 422
    assert accounts.push.due() == ()


def test_the_key_is_sealed(
    register: SqlRegister, accounts: SqlAccounts, people: dict[str, Account], tmp_path: Path
) -> None:
    """Whoever has a copy of the database sends nothing in this server's name."""
    secret = accounts.push.key()
    assert accounts.push.key() == secret
    register.back_up(tmp_path / "copy.sqlite")
    assert secret not in (tmp_path / "copy.sqlite").read_bytes()
    assert accounts.new_key() == 1 and accounts.push.key() == secret
    # Its file is gone for good: a new key is made, unless the file is missed for more than this.
    accounts.key_place.unlink()
    other = accounts.push.key()
    assert other != secret and accounts.push.key() == other
    # The same by `people new-key`: what nothing opens holds up no other secret.
    accounts.key_place.unlink()
    assert accounts.new_key() == 0
    other = accounts.push.key()
    accounts.begin_factor(people["crew"].account)
    # Another key in the place of the right one opens nothing, and seals nothing more.
    ours = accounts.key_place.read_bytes()
    Seal(tmp_path / "another-key").add_key()
    accounts.key_place.write_bytes((tmp_path / "another-key").read_bytes())
    with pytest.raises(KeyAwayError):
        accounts.push.key()
    accounts.key_place.unlink()
    with pytest.raises(KeyAwayError):
        accounts.push.key()
    accounts.key_place.write_bytes(ours)
    assert accounts.push.key() == other


@pytest.mark.parametrize(
    ("environment", "variable"),
    [
        ({"SPLICEWRIGHT_PUSH_CONTACT": "belts@site.example"}, "SPLICEWRIGHT_PUSH_CONTACT"),
        ({"SPLICEWRIGHT_PUSH_CONTACT": "https://"}, "SPLICEWRIGHT_PUSH_CONTACT"),
        (
            {"SPLICEWRIGHT_PUSH_CONTACT": "mailto:b@site.example",
             "SPLICEWRIGHT_PUSH_PRIVATE": "true"},
            "SPLICEWRIGHT_PUSH_PRIVATE",
        ),
    ],
)  # fmt: skip
def test_a_sender_that_cannot_be_used(environment: dict[str, str], variable: str) -> None:
    with pytest.raises(InputError) as refused:
        push_sender(environment)
    assert variable in {fault.key for fault in refused.value.faults}
    good = {"SPLICEWRIGHT_PUSH_CONTACT": "https://site.example/it"}
    assert push_sender(good) == PushSender("https://site.example/it")


# A push service cannot be had without a network: the browser's asking is played, with keys made by
# the browser itself; all else is the page's and the service worker's own.
_PLAYED = """(endpoint) => {
  const text = (buffer) => btoa(String.fromCharCode(...new Uint8Array(buffer)))
    .replace(/\\+/g, "-").replace(/\\//g, "_").replace(/=+$/, "");
  let there = null;
  Object.defineProperty(Notification, "permission", { get: () => "granted" });
  PushManager.prototype.getSubscription = async () => there;
  PushManager.prototype.subscribe = async function (options) {
    const pair = await crypto.subtle.generateKey(
      { name: "ECDH", namedCurve: "P-256" }, true, ["deriveBits"]);
    const p256dh = text(await crypto.subtle.exportKey("raw", pair.publicKey));
    const auth = text(crypto.getRandomValues(new Uint8Array(16)));
    there = { options: { applicationServerKey: options.applicationServerKey.buffer },
      toJSON: () => ({ endpoint, keys: { p256dh, auth } }),
      unsubscribe: async () => { there = null; return true; } };
    return there;
  };
}"""


def test_the_switch_on_the_page(
    phone: Page, accounts: SqlAccounts, people: dict[str, Account], register: SqlRegister,
    job: RecordedPlan, clock: Clock, service: PushService, sends: PushSender,
) -> None:  # fmt: skip
    phone.add_init_script(f"({_PLAYED})({service.url!r} + '/chromium')")
    phone.context.grant_permissions(["notifications"])
    enter(phone, "crew")
    phone.goto("/me")
    place = phone.locator("#push")
    assert place.get_by_label("a joint must not run").is_checked() is False
    place.get_by_label("a joint must not run").check()
    place.get_by_role("button", name="Set").click()
    expect(place.locator(".note")).to_contain_text("This phone is told what happens from now on")
    assert place.get_by_label("a joint must not run").is_checked()
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    picture(phone, "me-push-phone")
    (asked,) = accounts.push.due()
    assert asked.kinds == {"must not run"} and len(asked.public_key) == 65
    _say(register, people["lead"], clock, InspectionClosed(job.joint, uuid4(), False, note="gap"))
    assert push_notices(register, sends, clock()) == 1
    # What the service worker does with such a message, once the browser has opened it.
    (worker,) = phone.context.service_workers
    told = '{"title":"J7 must not run","body":"by Lead","path":"/joints/1"}'
    assert worker.evaluate(_SHOWN, told) == ["J7 must not run", "by Lead", "/joints/1"]
    assert worker.evaluate(_SHOWN, "?") == ["There is something to know", "", "/"]
    site = phone.evaluate("location.origin")
    assert worker.evaluate(_TAPPED, "/joints/1") == f"{site}/joints/1"
    assert worker.evaluate(_TAPPED, "https://elsewhere.example/") == "/"
    # Off again: the browser gives up its place, the server forgets it.
    place.get_by_label("a joint must not run").uncheck()
    place.get_by_role("button", name="Set").click()
    expect(place.locator(".note")).to_contain_text("This phone is told nothing")
    assert accounts.push.due() == ()


def test_who_signs_in_again_on_the_phone_is_told_on(
    phone: Page, accounts: SqlAccounts, people: dict[str, Account], service: PushService,
    sends: PushSender,
) -> None:  # fmt: skip
    """Unasked, by the same account on the same phone; nobody else is."""
    phone.add_init_script(f"({_PLAYED})({service.url!r} + '/chromium')")
    phone.context.grant_permissions(["notifications"])
    place = phone.locator("#push")

    def out_and_in(login: str) -> None:
        phone.context.clear_cookies()
        for session in accounts.push.due():
            accounts.sign_out_everywhere(session.account, None)
        assert accounts.push.due() == ()
        enter(phone, login)
        phone.goto("/")

    enter(phone, "crew")
    phone.goto("/me")
    place.get_by_label("a job was planned again").check()
    place.get_by_role("button", name="Set").click()
    expect(place.locator(".note")).to_contain_text("This phone is told what happens from now on")
    out_and_in("lead")
    assert accounts.push.due() == ()
    out_and_in("crew")
    phone.wait_for_selector("html[data-told=again]", state="attached")
    (asked,) = accounts.push.due()
    assert asked.account == people["crew"].account and asked.kinds == {"planned again"}
    # Told already: nothing is asked again.
    phone.goto("/")
    assert phone.locator("[data-told]").count() == 0
    # Wished no more: nor after the next sign-in.
    phone.goto("/me")
    place.get_by_label("a job was planned again").uncheck()
    place.get_by_role("button", name="Set").click()
    expect(place.locator(".note")).to_contain_text("This phone is told nothing")
    out_and_in("crew")
    assert phone.evaluate("localStorage.getItem('push wish')") is None
    assert accounts.push.due() == ()


# Events of a script count for less than a browser's own; what hangs on that is put in by hand.
_SHOWN = """(data) => {
  let shown = null;
  self.registration.showNotification = async (title, { body, data }) => {
    shown = [title, body, data];
  };
  const told = Object.assign(new PushEvent("push", { data }), { waitUntil: () => {} });
  self.dispatchEvent(told);
  return shown;
}"""
_TAPPED = """(data) => {
  let opened = null;
  self.clients.openWindow = async (address) => { opened = address; };
  const notification = { close: () => {}, data };
  const waitUntil = () => {};
  const tapped = new Event("notificationclick");
  self.dispatchEvent(Object.assign(tapped, { notification, waitUntil }));
  return opened;
}"""


def test_a_phone_that_does_not_let_itself_be_told(
    phone: Page, people: dict[str, Account], accounts: SqlAccounts, sends: PushSender
) -> None:
    phone.add_init_script("delete window.PushManager")
    enter(phone, "crew")
    phone.goto("/me")
    place = phone.locator("#push")
    place.get_by_label("a joint must not run").check()
    place.get_by_role("button", name="Set").click()
    expect(place.get_by_role("status")).to_contain_text("This browser cannot be told anything")
    assert accounts.push.due() == ()
