"""What people are told by mail: off until asked for, each thing once, only of their own sites.

The mail server is a stand-in that speaks as much SMTP (RFC 5321) as a client needs: it takes what
`smtplib` sends and keeps it, or refuses it.
"""

from __future__ import annotations

import socketserver
import threading
from collections.abc import Callable, Iterator
from datetime import timedelta
from email import message_from_bytes, policy
from email.message import EmailMessage
from uuid import uuid4

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from splicewright.actions.notices import MailServer, mail_server, send_notices
from splicewright.actions.plan.record import RecordedPlan
from splicewright.errors import InputError
from splicewright.store import Account, Fact
from splicewright.store.facts.job_facts import JobHandedOver
from splicewright.store.facts.joint_facts import DueSet, InspectionClosed, JointSuspended, Task
from splicewright.store.facts.kinds import What
from splicewright.store.notices import NoticeKind
from splicewright.store.sites import NO_SITES
from splicewright.store.sql.register import SqlRegister
from web.conftest import Clock, csrf_of, enter
from web.looking import axe, fits, picture, small_targets

Enter = Callable[..., TestClient]


class Post(socketserver.ThreadingTCPServer):
    """A mail server on this machine; `refuses` makes it take nothing."""

    daemon_threads = allow_reuse_address = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), _Talk)
        self.mails: list[tuple[list[str], EmailMessage]] = []
        self.refuses = False


class _Talk(socketserver.StreamRequestHandler):
    server: Post

    def handle(self) -> None:
        to: list[str] = []
        self._say(b"220 stand-in")
        while line := self.rfile.readline():
            word = line[:4].upper()
            if word in {b"EHLO", b"HELO"}:
                self._say(b"250 stand-in")
            elif word == b"RCPT":
                to.append(line.decode().partition("<")[2].partition(">")[0])
                self._say(b"550 not here" if self.server.refuses else b"250 ok")
            elif word == b"DATA":
                self._say(b"354 go on")
                raw = b""
                while (part := self.rfile.readline()) != b".\r\n":
                    raw += part.removeprefix(b".")
                mail = message_from_bytes(raw, policy=policy.default)
                assert isinstance(mail, EmailMessage)
                self.server.mails.append((to, mail))
                to = []
                self._say(b"250 kept")
            elif word == b"QUIT":
                self._say(b"221 bye")
                return
            else:
                self._say(b"250 ok")

    def _say(self, words: bytes) -> None:
        self.wfile.write(words + b"\r\n")


@pytest.fixture
def post() -> Iterator[Post]:
    with Post() as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield server
        server.shutdown()


@pytest.fixture
def server(post: Post) -> MailServer:
    found = mail_server(
        {
            "SPLICEWRIGHT_MAIL_SERVER": f"smtp://127.0.0.1:{post.server_address[1]}",
            "SPLICEWRIGHT_MAIL_FROM": "belts@site.example",
            "SPLICEWRIGHT_ADDRESS": "https://belts.example.org/",
        }
    )
    assert found is not None
    return found


def _wish(client: TestClient, *kinds: str, address: str = "lead@site.example") -> int:
    form = {"csrf": csrf_of(client), "address": address, "kinds": list(kinds)}
    return client.post("/me/mail", data=form).status_code


def _say(register: SqlRegister, who: Account, clock: Clock, *whats: What) -> None:
    clock.pass_(minutes=1)
    for what in whats:
        register.append(Fact(uuid4(), clock(), who.name, what, who.account, "a phone"))


def test_off_until_asked_for(
    register: SqlRegister, people: dict[str, Account], job: RecordedPlan, clock: Clock,
    server: MailServer, post: Post,
) -> None:  # fmt: skip
    assert mail_server({}) is None
    closed = InspectionClosed(job.joint, uuid4(), False, note="cracked")
    _say(register, people["crew"], clock, closed)
    assert send_notices(register, server, clock()) == 0
    assert post.mails == []


def test_each_thing_is_told_once(
    signed_in: Enter, register: SqlRegister, people: dict[str, Account], job: RecordedPlan,
    clock: Clock, server: MailServer, post: Post,
) -> None:  # fmt: skip
    """Not what was before the wish, not one's own acts, and what the server refused again."""
    lead, crew = people["lead"], people["crew"]
    _say(register, crew, clock, JobHandedOver(job.job, "the day before"))
    assert _wish(signed_in("lead"), *(kind.value for kind in NoticeKind)) == 303
    assert send_notices(register, server, clock()) == 0
    handed = JobHandedOver(job.job, "Ben, night shift", "pins in the box")
    _say(register, crew, clock, InspectionClosed(job.joint, uuid4(), False, note="cracked"), handed)
    _say(register, lead, clock, JobHandedOver(job.job, "nobody: said by the lead"))
    post.refuses = True
    assert send_notices(register, server, clock()) == 0
    post.refuses = False
    assert send_notices(register, server, clock()) == 1
    assert send_notices(register, server, clock()) == 0
    ((to, mail),) = post.mails
    assert to == ["lead@site.example"]
    assert mail["From"] == "belts@site.example"
    assert mail["Auto-Submitted"] == "auto-generated"
    text = mail.get_content()
    assert "J7 on K2 incline must not run" in text
    assert f"https://belts.example.org/joints/{job.joint}" in text
    assert "handed over to Ben, night shift by Crew Example: pins in the box" in text
    assert "the day before" not in text and "said by the lead" not in text
    # One thing alone is the subject.
    _say(register, crew, clock, JointSuspended(job.joint, "belt stands"))
    assert send_notices(register, server, clock()) == 1
    assert "J7 on K2 incline must not run: suspended" in str(post.mails[-1][1]["Subject"])
    # Nothing ticked: nothing any more.
    assert _wish(signed_in("lead")) == 303
    _say(register, crew, clock, JobHandedOver(job.job, "Cleo"))
    assert send_notices(register, server, clock()) == 0


def test_what_becomes_overdue(
    signed_in: Enter, register: SqlRegister, people: dict[str, Account], job: RecordedPlan,
    clock: Clock, server: MailServer, post: Post,
) -> None:  # fmt: skip
    _wish(signed_in("crew"), "overdue", address="crew@site.example")
    due = clock() + timedelta(days=2)
    _say(register, people["lead"], clock, DueSet(job.joint, Task.RETIGHTEN, due, "after run-in"))
    assert send_notices(register, server, clock()) == 0
    clock.pass_(days=2, hours=1)
    assert send_notices(register, server, clock()) == 1
    assert "re-tighten is overdue since 2026-05-06" in post.mails[0][1].get_content()
    assert send_notices(register, server, clock()) == 0


def test_of_other_sites_nothing_is_told(
    signed_in: Enter, register: SqlRegister, people: dict[str, Account], job: RecordedPlan,
    clock: Clock, server: MailServer, post: Post,
) -> None:  # fmt: skip
    _wish(signed_in("lead"), "must not run", "overdue", "handed over")
    register.accounts().let_into(people["lead"].account, NO_SITES, None)
    _say(register, people["crew"], clock, JobHandedOver(job.job, "Ben"))
    _say(register, people["crew"], clock, InspectionClosed(job.joint, uuid4(), False, note="so"))
    assert send_notices(register, server, clock()) == 0
    # Whose account is closed is told nothing either.
    _wish(signed_in("crew"), "handed over", address="crew@site.example")
    register.accounts().close_account(people["crew"].account, None)
    _say(register, people["admin"], clock, JobHandedOver(job.job, "Ben"))
    assert send_notices(register, server, clock()) == 0
    assert post.mails == []


@pytest.mark.parametrize(
    ("environment", "variable"),
    [
        ({"SPLICEWRIGHT_MAIL_SERVER": "mail.example.org"}, "SPLICEWRIGHT_MAIL_SERVER"),
        ({"SPLICEWRIGHT_MAIL_SERVER": "smtps://mail.example.org:x"}, "SPLICEWRIGHT_MAIL_SERVER"),
        ({"SPLICEWRIGHT_MAIL_SERVER": "smtps://mail.example.org"}, "SPLICEWRIGHT_MAIL_FROM"),
        (
            {"SPLICEWRIGHT_MAIL_SERVER": "smtp://mail.example.org", "SPLICEWRIGHT_MAIL_USER": "b",
             "SPLICEWRIGHT_MAIL_FROM": "b@example.org"},
            "SPLICEWRIGHT_MAIL_PASSWORD",
        ),
    ],
)  # fmt: skip
def test_a_server_that_cannot_be_used(environment: dict[str, str], variable: str) -> None:
    with pytest.raises(InputError) as refused:
        mail_server(environment)
    assert variable in {fault.key for fault in refused.value.faults}


def test_the_page(phone: Page, register: SqlRegister, people: dict[str, Account]) -> None:
    enter(phone, "crew")
    phone.goto("/me")
    expect(phone.locator("#mail")).to_contain_text("This server sends no mail yet")
    phone.get_by_label("a joint must not run").check()
    phone.get_by_label("Mail address").fill("crew@nowhere")
    phone.locator("#mail button").click()
    expect(phone.locator("main .faults")).to_contain_text("is no mail address")
    phone.get_by_label("a joint must not run").check()
    phone.get_by_label("Mail address").fill("crew@site.example")
    phone.locator("#mail button").click()
    expect(phone.locator("#mail .note").first).to_contain_text("You are told what happens")
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    picture(phone, "me-mail-phone")
    wish = register.mail_wishes().of(people["crew"].account)
    assert wish is not None and wish.kinds == {NoticeKind.MUST_NOT_RUN}
