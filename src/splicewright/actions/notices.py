"""Tell people by mail what must not run, is overdue, was planned again or handed over.

Off until a mail server is named in the environment of the server, and until somebody asks for it on
their page. The mail goes through the user's own server, by the standard library.
"""

from __future__ import annotations

import logging
import os
import smtplib
import ssl
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from email.message import EmailMessage
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

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

        Raises
        ------
        OSError
            It did not take it (`smtplib.SMTPException` is one).
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

    Raises
    ------
    InputError
        It cannot be used like this; every fault with its variable.
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
    from splicewright.store import Actor

    theirs = register.said_by(
        Actor(account.account, account.name, account.role, sites=account.sites)
    )
    head = register.head().seq
    lines = notices(theirs, wish, account, now, server.site)
    if not lines:
        if head > wish.seen:
            wishes.move_on(wish, head, now)
        return False
    claimed = wishes.move_on(wish, head, now)
    if claimed is None:
        return False
    first = " ".join(lines[0].partition("\n")[0].split())
    subject = first if len(lines) == 1 else f"{len(lines)} things to know"
    shown = lines[:_MOST]
    if len(lines) > _MOST:
        shown.append(f"And {len(lines) - _MOST} more: see the app.")
    try:
        server.send(wish.address, f"Splicewright: {subject}"[:200], "\n\n".join([*shown, _FOOT]))
    except (OSError, ValueError):
        wishes.move_on(claimed, wish.seen, wish.looked)
        raise
    return True


def notices(
    register: Register, wish: MailWish, account: Account, now: datetime, site: str = ""
) -> list[str]:
    """What somebody asked to be told and was not yet, a text each; of their own acts nothing.

    Parameters
    ----------
    register : said by them, so that only their sites are told of; site : address for links
    """
    from splicewright.store.notices import NoticeKind

    found = []
    kinds = ("inspection closed", "joint suspended", "job planned again", "job handed over")
    since = wish.seen
    while page := register.facts_since(since, 1000, kinds):
        since = page[-1].seq
        for stored in page:
            told = _of_fact(register, stored.fact)
            if told is None or told[0] not in wish.kinds or stored.fact.person == account.account:
                continue
            found.append(_linked(told[1], told[2], site))
    if NoticeKind.OVERDUE in wish.kinds:
        for line in see_due(register, now, limit=5000):
            if wish.looked < line.due <= now:
                what = line.label or line.job_name
                path = f"/joints/{line.joint}" if line.joint else f"/jobs/{line.job}"
                since_when = f"overdue since {line.due:%Y-%m-%d}"
                say = f"{what} on {line.conveyor_name}: {line.task} is {since_when}"
                found.append(_linked(say, path, site))
    return found


def _linked(say: str, path: str, site: str) -> str:
    return f"{say}\n{site}{path}" if site else say


def _of_fact(register: Register, fact: Fact) -> tuple[NoticeKind, str, str] | None:
    """What a fact tells: its kind, a sentence, and the page."""
    from splicewright.store.facts.job_facts import JobHandedOver, JobPlannedAgain
    from splicewright.store.facts.joint_facts import InspectionClosed, JointSuspended
    from splicewright.store.notices import NoticeKind

    what = fact.what
    if isinstance(what, InspectionClosed | JointSuspended):
        joint = register.joint(what.joint)
        if joint is None or (isinstance(what, InspectionClosed) and what.can_run is not False):
            return None
        there = register.conveyor(joint.conveyor)
        on = f" on {there.name}" if there is not None else ""
        how = "decided at an inspection"
        if isinstance(what, JointSuspended):
            how = f"suspended{f' ({what.why})' if what.why else ''}"
        say = f"{joint.label}{on} must not run: {how} by {fact.by}"
        return NoticeKind.MUST_NOT_RUN, say, f"/joints/{what.joint}"
    if isinstance(what, JobPlannedAgain | JobHandedOver):
        job = register.job(what.job)
        name = job.name if job is not None else "A job"
        if isinstance(what, JobPlannedAgain):
            say = f"{name} was planned again by {fact.by}: {what.why}"
            return NoticeKind.PLANNED_AGAIN, say, f"/jobs/{what.job}"
        note = f": {what.note}" if what.note else ""
        say = f"{name} was handed over to {what.to} by {fact.by}{note}"
        return NoticeKind.HANDED_OVER, say, f"/jobs/{what.job}"
    return None
