"""What people asked to be told: what must not run, is overdue, was planned again or handed over.

Mail is off until a mail server is named in the environment of the server, and until somebody asks
for it on their page. It goes through the user's own server, by the standard library. Phones are
told by `background.notices`.
"""

from __future__ import annotations

import logging
import os
import smtplib
import ssl
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from email.message import EmailMessage
from typing import TYPE_CHECKING, Protocol
from urllib.parse import urlsplit
from uuid import UUID

from splicewright.actions.fleet.due import see_due
from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.store import Account, Fact, Register
    from splicewright.store.notices import MailWish, MailWishes, NoticeKind
    from splicewright.store.sql.register import SqlRegister

_LOG = logging.getLogger(__name__)
SERVER, USER = "SPLICEWRIGHT_MAIL_SERVER", "SPLICEWRIGHT_MAIL_USER"
PASSWORD, SENDER = "SPLICEWRIGHT_MAIL_PASSWORD", "SPLICEWRIGHT_MAIL_FROM"
ADDRESS = "SPLICEWRIGHT_ADDRESS"
_PORTS = {"smtp": 25, "starttls": 587, "smtps": 465}
_PATIENCE = 20.0
"""Longest wait for the mail server [s]."""
_MOST = 40
"""Lines of one mail; the rest is counted."""
_LOOP = frozenset({"localhost", "127.0.0.1", "::1"})
_FOOT = (
    "Sent because you asked for it on your page (Me). A mail may be late or lost: the app says "
    "what is true now. Local law, site rules and the maker's instructions take precedence."
)


@dataclass(frozen=True, slots=True)
class MailServer:
    """The user\'s own mail server.

    way : "smtp" in the clear, "starttls", or "smtps" encrypted from the start
    user, password : "" where it asks for none
    sender : From; site : address of the app for links, "" for none
    """

    way: str
    host: str
    port: int
    user: str
    password: str
    sender: str
    site: str

    def send(self, to: str, subject: str, text: str) -> None:
        """Send one mail.

        Raises OSError: it did not take it (`smtplib.SMTPException` is one).
        """
        mail = EmailMessage()
        mail["From"], mail["To"], mail["Subject"] = self.sender, to, subject
        mail["Auto-Submitted"] = "auto-generated"  # RFC 3834: nobody answers it by a machine
        mail.set_content(text)
        safe = ssl.create_default_context()
        if self.way == "smtps":
            with smtplib.SMTP_SSL(self.host, self.port, timeout=_PATIENCE, context=safe) as server:
                self._hand_over(server, mail)
            return
        with smtplib.SMTP(self.host, self.port, timeout=_PATIENCE) as server:
            if self.way == "starttls":
                server.starttls(context=safe)
            self._hand_over(server, mail)

    def _hand_over(self, server: smtplib.SMTP, mail: EmailMessage) -> None:
        if self.user:
            server.login(self.user, self.password)
        server.send_message(mail)


def mail_server(environment: Mapping[str, str] = os.environ) -> MailServer | None:
    """The mail server that the environment names; None where it names none: then none is sent.

    Raises InputError: it cannot be used like this; every fault with its variable.
    """
    where = environment.get(SERVER, "")
    if not where:
        return None
    faults, split = [], urlsplit(where)
    try:
        port = split.port or _PORTS.get(split.scheme, 0)
    except ValueError:
        port = 0
    if split.scheme not in _PORTS or not split.hostname or not port or split.username:
        say = f'"{where[:60]}" cannot be used; accepted is like starttls://mail.example.org:587'
        faults.append(Fault(SERVER, f"{say}, smtps:// or smtp://"))
    sender = environment.get(SENDER, "")
    if "@" not in sender:
        faults.append(Fault(SENDER, "is no mail address; it stands as sender in every mail"))
    user = environment.get(USER, "")
    if user and split.scheme == "smtp" and split.hostname not in _LOOP:
        say = "would cross the network in the clear; use starttls:// or smtps://"
        faults.append(Fault(PASSWORD, say))
    if faults:
        raise InputError(*faults)
    site = environment.get(ADDRESS, "").rstrip("/")
    return MailServer(
        split.scheme, split.hostname or "", port, user, environment.get(PASSWORD, ""), sender, site
    )


def send_notices(register: SqlRegister, server: MailServer, now: datetime) -> int:
    """Send everybody what they asked for and was not told yet; how many mails went.

    What the mail server does not take is sent the next time. One mail a person, whatever happened.
    """
    sent, wishes = 0, register.mail_wishes()
    accounts = {a.account: a for a in register.accounts().accounts() if a.closed is None}
    for wish in wishes.all():
        account = accounts.get(wish.account)
        if account is None:
            continue
        try:
            sent += _send(register, wishes, wish, account, server, now)
        except (OSError, ValueError) as error:  # of one address; the others are told
            _LOG.warning("no mail to %s: %s", account.login, error)
    return sent


def _send(
    register: SqlRegister,
    wishes: MailWishes,
    wish: MailWish,
    account: Account,
    server: MailServer,
    now: datetime,
) -> bool:
    head = register.head().seq
    pending = notices(as_themselves(register, account), wish, account.account, now)
    if not pending:
        if head > wish.seen:
            wishes.move_on(wish, head, now)
        return False
    claimed = wishes.move_on(wish, head, now)
    if claimed is None:
        return False
    shown = [notice.linked(server.site) for notice in pending[:_MOST]]
    if len(pending) > _MOST:
        shown.append(f"And {len(pending) - _MOST} more: see the app.")
    try:
        text = "\n\n".join([*shown, _FOOT])
        server.send(wish.address, f"Splicewright: {headline(pending)}"[:200], text)
    except (OSError, ValueError):
        wishes.move_on(claimed, wish.seen, wish.looked)
        raise
    return True


def as_themselves(register: SqlRegister, account: Account) -> Register:
    """The register as somebody sees it: they are told of their sites only."""
    from splicewright.store import Actor

    who = Actor(account.account, account.name, account.role, sites=account.sites)
    return register.said_by(who)


@dataclass(frozen=True, slots=True)
class Notice:
    """One thing to be told: a sentence, and the page that shows it."""

    kind: NoticeKind
    say: str
    path: str

    def linked(self, site: str) -> str:
        """The sentence, and the address of its page where the app's own is known."""
        return f"{self.say}\n{site}{self.path}" if site else self.say


class Wish(Protocol):
    """What somebody wants to be told, and how far they were; by mail or on a phone."""

    @property
    def kinds(self) -> Collection[str]:
        """Of `NoticeKind`."""

    @property
    def seen(self) -> int:
        """The last fact that was told or passed over."""

    @property
    def looked(self) -> datetime:
        """When what is due was looked at."""


def headline(pending: list[Notice]) -> str:
    """One thing by its sentence, several by their number."""
    if len(pending) > 1:
        return f"{len(pending)} things to know"
    return " ".join(pending[0].say.split())


def notices(register: Register, wish: Wish, account: UUID, now: datetime) -> list[Notice]:
    """What somebody asked to be told and was not yet; of their own acts nothing.

    register : said by them, so that only their sites are told of
    """
    from splicewright.store.notices import NoticeKind

    pending = []
    kinds = ("inspection closed", "joint suspended", "job planned again", "job handed over")
    since = wish.seen
    while page := register.facts_since(since, 1000, kinds):
        since = page[-1].seq
        for stored in page:
            notice = _of_fact(register, stored.fact)
            mine = stored.fact.person == account
            if notice is not None and notice.kind in wish.kinds and not mine:
                pending.append(notice)
    if NoticeKind.OVERDUE in wish.kinds:
        for line in see_due(register, now, limit=5000):
            if wish.looked < line.due <= now:
                subject = line.label or line.job_name
                path = f"/joints/{line.joint}" if line.joint else f"/jobs/{line.job}"
                since_when = f"overdue since {line.due:%Y-%m-%d}"
                say = f"{subject} on {line.conveyor_name}: {line.task} is {since_when}"
                pending.append(Notice(NoticeKind.OVERDUE, say, path))
    return pending


def _of_fact(register: Register, fact: Fact) -> Notice | None:
    """What a fact tells."""
    from splicewright.store.facts.job_facts import JobHandedOver, JobPlannedAgain
    from splicewright.store.facts.joint_facts import InspectionClosed, JointSuspended
    from splicewright.store.notices import NoticeKind

    event = fact.what
    if isinstance(event, InspectionClosed | JointSuspended):
        joint = register.joint(event.joint)
        if joint is None or (isinstance(event, InspectionClosed) and event.can_run is not False):
            return None
        there = register.conveyor(joint.conveyor)
        on = f" on {there.name}" if there is not None else ""
        how = "decided at an inspection"
        if isinstance(event, JointSuspended):
            how = f"suspended{f' ({event.why})' if event.why else ''}"
        say = f"{joint.label}{on} must not run: {how} by {fact.by}"
        return Notice(NoticeKind.MUST_NOT_RUN, say, f"/joints/{event.joint}")
    if isinstance(event, JobPlannedAgain | JobHandedOver):
        job = register.job(event.job)
        name, path = (job.name if job is not None else "A job"), f"/jobs/{event.job}"
        if isinstance(event, JobPlannedAgain):
            say = f"{name} was planned again by {fact.by}: {event.why}"
            return Notice(NoticeKind.PLANNED_AGAIN, say, path)
        note = f": {event.note}" if event.note else ""
        say = f"{name} was handed over to {event.to} by {fact.by}{note}"
        return Notice(NoticeKind.HANDED_OVER, say, path)
    return None
