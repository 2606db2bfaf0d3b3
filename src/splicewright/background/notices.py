"""Telling phones by web push (RFC 8030) what their people asked to be told.

Off until the environment of the server names who keeps it, and until somebody turns it on on a
phone. The message is encrypted for that browser; its push service carries it. A phone is told of
nothing that its person could not read: what it is told is asked of the register under their name,
at that moment. A phone is a place in the order of facts and a moment, so nothing is queued that
could be lost: what its push service does not take is put together anew at the next try.
"""

from __future__ import annotations

import json
import logging
import os
import time
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from splicewright.actions.notices import Notice, as_themselves, headline, notices
from splicewright.background.calling_out import Answer, post
from splicewright.background.push_message import (
    authorization,
    encrypted,
    from_plain64,
    private_key,
    public_key,
)
from splicewright.errors import Fault, InputError
from splicewright.store.hooks import split_url
from splicewright.store.notices import NoticeKind, kind_faults

if TYPE_CHECKING:
    from splicewright.store import Account, Accounts
    from splicewright.store.accounts.push_phones import PushPhone, PushPhones
    from splicewright.store.sql.register import SqlRegister

_LOG = logging.getLogger(__name__)
CONTACT, PRIVATE = "SPLICEWRIGHT_PUSH_CONTACT", "SPLICEWRIGHT_PUSH_PRIVATE"
_KEPT = 24 * 3600
"""So long a push service keeps a message for a phone without signal [s]."""
_TURN = 20.0
"""So long a worker is at it before it looks at other things again [s]; one call may take longer."""
_LINES, _LETTERS = 6, 600
"""Of one message; the rest is in the app."""
_GONE = {404, 410}
"""Answers that say: this phone is told no more (RFC 8030, 7.3)."""
Send = Callable[..., Answer]


@dataclass(frozen=True, slots=True)
class PushSender:
    """Who sends to phones.

    contact : of who keeps this server, `mailto:` or `https:`; push services turn to them
    private : whether push services of the own network may be called
    """

    contact: str
    private: bool = False


def push_sender(environment: Mapping[str, str] = os.environ) -> PushSender | None:
    """Who sends, as the environment names them; None where it names nobody: then nothing is sent.

    Raises
    ------
    InputError
        It cannot be used like this; every fault with its variable.
    """
    contact = environment.get(CONTACT, "")
    if not contact:
        return None
    faults, split = [], urlsplit(contact)
    mail = split.scheme == "mailto" and "@" in split.path
    if not (contact.isascii() and (mail or (split.scheme == "https" and split.hostname))):
        say = f'"{contact[:60]}" cannot be used; accepted is like mailto:belts@site.example'
        faults.append(Fault(CONTACT, say))
    private = environment.get(PRIVATE, "no")
    if private not in {"yes", "no"}:
        faults.append(Fault(PRIVATE, f'"{private[:20]}" is not known; accepted is yes or no'))
    if faults:
        raise InputError(*faults)
    return PushSender(contact, private == "yes")


def tell_phone(
    phones: PushPhones,
    sender: PushSender,
    token: str,
    given: Mapping[str, str],
    kinds: Collection[str],
    head: int,
) -> None:
    """Tell the phone of a session from now on what it asks for; no kinds: nothing any more.

    Parameters
    ----------
    given : `endpoint`, `p256dh` and `auth`, as its browser names them (W3C Push API)
    head : number of the register's last fact

    Raises
    ------
    InputError
        The endpoint cannot be called, its keys are none, or a kind is not known.
    """
    endpoint, point, secret = given.get("endpoint", ""), b"", b""
    faults = kind_faults(kinds)
    if kinds:
        try:
            split_url(endpoint, private=sender.private)
            point, secret = (
                from_plain64(given.get("p256dh", "")),
                from_plain64(given.get("auth", "")),
            )
            public_key(point)
        except InputError as error:
            faults += [Fault("endpoint", fault.sentence) for fault in error.faults]
        except ValueError:
            point = b""
        if not faults and (len(point), len(secret)) != (65, 16):
            say = "are not those that browsers give; accepted are p256dh and auth of the Push API"
            faults.append(Fault("keys", say))
    if faults:
        raise InputError(*faults)
    phones.set(token, endpoint, point, secret, kinds, head)


def push_notices(
    register: SqlRegister, sender: PushSender, now: datetime, *, send: Send = post
) -> int:
    """Tell every phone what it asked for and was not told yet; how many messages were taken.

    Parameters
    ----------
    send : as `calling_out.post`, which looks where an address leads before each call
    """
    sent, accounts, began = 0, register.accounts(), time.monotonic()
    for phone in accounts.push.due():
        if time.monotonic() - began > _TURN:
            break  # those that waited longest are first the next time
        account = accounts.account(phone.account)
        if account is not None and account.closed is None:
            sent += _tell(register, accounts, phone, account, sender, now, send)
    return sent


def _tell(
    register: SqlRegister,
    accounts: Accounts,
    phone: PushPhone,
    account: Account,
    sender: PushSender,
    now: datetime,
    send: Send,
) -> bool:
    head = register.head().seq
    new_notices = notices(as_themselves(register, account), phone, account.account, now)
    if not new_notices:
        # Not each look is a write: what was passed over is passed over again, for a while.
        if head - phone.seen > 1000 or (now - phone.looked).total_seconds() > 3600:
            accounts.push.notified(phone, head, now)
        return False
    key = private_key(accounts.push.key())
    held = accounts.push.take(phone)
    if held is None:
        return False
    urgent = any(notice.kind is NoticeKind.MUST_NOT_RUN for notice in new_notices)
    headers = {
        "TTL": str(_KEPT),
        "Urgency": "high" if urgent else "normal",
        "Content-Encoding": "aes128gcm",
        "Content-Type": "application/octet-stream",
        "Authorization": authorization(phone.endpoint, sender.contact, key, now.timestamp()),
    }
    body = encrypted(_message(new_notices), phone.public_key, phone.secret)
    answer = send(phone.endpoint, body, headers, private=sender.private)
    if not answer.failure:
        accounts.push.notified(held, head, now)
        return True
    if answer.status in _GONE:
        accounts.push.drop(held)
    else:
        accounts.push.missed(held, answer.wait)
    _LOG.warning("no message to a phone of %s: %s", account.login, answer.failure)
    return False


def _message(new_notices: list[Notice]) -> bytes:
    """What the phone shows: title, a few lines, and the page that a tap opens."""
    lines = [] if len(new_notices) == 1 else [notice.say for notice in new_notices[:_LINES]]
    if len(new_notices) > _LINES:
        lines.append(f"And {len(new_notices) - _LINES} more")
    message = {
        "title": headline(new_notices)[:_LETTERS],
        "body": "\n".join(lines)[:_LETTERS],
        "path": new_notices[0].path if len(new_notices) == 1 else "/",
    }
    return json.dumps(message, ensure_ascii=False, separators=(",", ":")).encode()
