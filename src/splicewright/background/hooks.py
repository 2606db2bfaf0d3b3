"""Telling other systems of facts: one CloudEvent a fact, signed, in the order of the register.

The form is CloudEvents 1.0 (structured mode, JSON); the signature is that of the Standard Webhooks
specification 1.0.0: HMAC-SHA256 over `id.timestamp.body`, one for each secret that counts.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any
from uuid import UUID

from splicewright.background.calling_out import Answer, post
from splicewright.errors import Fault, InputError
from splicewright.store import CONSOLE, Actor, DamagedError, PersonRole, Scope, Stored
from splicewright.store.facts.facts import to_data
from splicewright.store.hooks import Hook, Hooks
from splicewright.store.sites import both
from splicewright.store.sql.register import SqlRegister
from splicewright.version import __version__

PREFIX = "whsec_"
"""What secrets begin with, as the specification asks."""
MEDIA_TYPE = "application/cloudevents+json; charset=utf-8"
TURN = 20.0
"""So long one hook is told facts before the next has its turn [s]."""
_AT_ONCE = 50
_PAUSE = 2.0
"""A hook that has nothing to tell looks again after so long [s]."""
_UNABLE = 60.0
_CONTENT = {400, 413, 415, 422}
"""Answers that say: not this one. Any other refusal is of all that would be sent now."""
Send = Callable[..., Answer]


def deliver(
    register: SqlRegister,
    hooks: Hooks,
    worker: str,
    now: Callable[[], datetime],
    *,
    send: Send = post,
    turn: float = TURN,
) -> int:
    """Give the hook that waited longest its turn; gives how many facts were told, -1 for no hook.

    Parameters
    ----------
    send : as `calling_out.post`
    turn : see `TURN` [s]
    """
    hook = hooks.take(worker)
    if hook is None:
        return -1
    wait, count = 0.0, 0
    try:
        own, keys = register.said_by(_as_whom(register, hook)), hooks.keys(hook)
    except InputError as error:
        hooks.let_go(hook, _UNABLE, error.faults[0].sentence)
        return 0
    except DamagedError as error:
        hooks.let_go(hook, _UNABLE, str(error))
        return 0
    source = source_of(register)
    began, at, goes_on = time.monotonic(), hook.seq, True
    try:
        for stored in _letters(own, hooks, hook):
            if not _tell(hooks, hook, at, stored, source, keys, now, send):
                goes_on = False
                break
            hook, count = replace(hook, tries=0), count + 1
        while goes_on:
            head = register.head().seq
            facts = own.facts_since(at, _AT_ONCE, hook.kinds)
            for stored in facts:
                if not _tell(hooks, hook, at, stored, source, keys, now, send):
                    goes_on = False
                    break
                hook, at, count = replace(hook, tries=0), stored.seq, count + 1
                if time.monotonic() - began > turn:
                    goes_on = False
                    break
            if goes_on and len(facts) < _AT_ONCE:
                # What it does not tell of is passed over, so that it is not looked through again.
                if head > at:
                    hooks.passed(hook, at, head)
                wait, goes_on = _PAUSE, False
    finally:
        hooks.let_go(hook, wait)
    return count


def event_of(stored: Stored, source: str) -> dict[str, Any]:
    """A fact as a CloudEvent 1.0; its data is what `GET /facts` of the API gives."""
    fact = stored.fact
    return {
        "specversion": "1.0",
        "id": str(fact.id),
        "source": source,
        "type": f"splicewright.fact.{fact.kind.replace(' ', '-')}",
        "subject": f"{fact.stream}/{fact.subject}",
        "time": stored.received.isoformat(),
        # The extension Sequence: strings that sort as the numbers do.
        "sequence": f"{stored.seq:020d}",
        "datacontenttype": "application/json",
        "data": {
            "seq": stored.seq,
            "received": stored.received.isoformat(),
            "hash": stored.hash.hex(),
            "fact": to_data(fact),
        },
    }


def source_of(register: SqlRegister) -> str:
    """Names this register for ever: made of the hash of its first fact."""
    first = register.facts_since(0, 1)
    octets = bytearray(first[0].hash[:16] if first else 16)
    octets[6], octets[8] = (
        octets[6] & 0x0F | 0x80,
        octets[8] & 0x3F | 0x80,
    )  # version 8 (RFC 9562, 5.8)
    return f"urn:uuid:{UUID(bytes=bytes(octets))}"


def shown_secret(secret: bytes) -> str:
    """A secret as receivers take it."""
    return PREFIX + base64.b64encode(secret).decode("ascii")


def signed(id: str, moment: datetime, body: bytes, keys: Sequence[bytes]) -> dict[str, str]:
    """The headers that prove where a body comes from, and when it was sent."""
    second = int(moment.timestamp())
    content = f"{id}.{second}.".encode("ascii") + body
    marks = (base64.b64encode(hmac.new(k, content, hashlib.sha256).digest()) for k in keys)
    return {
        "webhook-id": id,
        "webhook-timestamp": str(second),
        "webhook-signature": " ".join(f"v1,{mark.decode('ascii')}" for mark in marks),
    }


def _tell(
    hooks: Hooks,
    hook: Hook,
    at: int,
    stored: Stored,
    source: str,
    keys: Sequence[bytes],
    now: Callable[[], datetime],
    send: Send,
) -> bool:
    """Tell one fact; False when the turn is over: it was not taken, or somebody moved the hook."""
    event = event_of(stored, source)
    body = json.dumps(event, ensure_ascii=False, separators=(",", ":")).encode()
    headers = {"Content-Type": MEDIA_TYPE, "User-Agent": f"Splicewright/{__version__}"}
    headers |= signed(event["id"], now(), body, keys)
    answer = send(hook.url, body, headers, private=hook.private)
    if not answer.failure:
        return hooks.delivered(hook, at, stored.seq)
    refused = answer.status in _CONTENT
    hooks.missed(hook, at, stored.seq, answer.failure, refused=refused, wait=answer.wait)
    return False


def _letters(own: SqlRegister, hooks: Hooks, hook: Hook) -> list[Stored]:
    """Facts set aside that are to be told again, and may still be."""
    facts = []
    for letter in hooks.waiting_letters(hook, _AT_ONCE):
        there = own.facts_since(letter.seq - 1, 1)
        if there and there[0].seq == letter.seq:
            facts.append(there[0])
    return facts


def _as_whom(register: SqlRegister, hook: Hook) -> Actor:
    """Its maker, with the role and sites they have now.

    Raises
    ------
    InputError
        They are no admin any more.
    """
    if hook.account is None:
        made_by, sites = CONSOLE, hook.sites
    else:
        there = register.accounts().account(hook.account)
        if there is None or there.closed is not None or there.role is not PersonRole.ADMIN:
            say = f"nothing is sent: {hook.by}, who made it, is no admin any more; make a new hook"
            raise InputError(Fault("account", say))
        sites = both(there.sites, hook.sites)
        made_by = Actor(there.account, there.name, there.role, sites=sites)
    return Actor(made_by.account, made_by.name, made_by.role, frozenset({Scope.READ}), sites=sites)
