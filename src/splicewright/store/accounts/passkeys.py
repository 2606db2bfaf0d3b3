"""Passkeys (W3C Web Authentication, level 2) in SQL, within a transaction of `SqlAccounts`.

A passkey stays in the phone or security key that made it; kept here are its public key, the host it
was made for, and how often it has signed. It signs a challenge that counts once, for ten minutes,
for one account and for what it was asked for. What a browser sends is checked by the library.
"""

from __future__ import annotations

import json
import secrets
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any
from uuid import UUID, uuid5

from sqlalchemy import Connection, Select, delete, func, insert, select, update

from splicewright.errors import Fault, InputError
from splicewright.store.accounts.accounts import Account, Passkey, Place
from splicewright.store.accounts.schema import CHALLENGES, PASSKEYS

MOST = 10
"""Passkeys of one account."""
LONGEST_SENT = 20_000
"""Characters of what a browser sends; 1,000 to 2,000 are usual, from memory."""
WAITS = timedelta(minutes=10)
_CHALLENGES = 20
"""Challenges of one account at once; older ones make room."""
_BY_CREDENTIAL = UUID("6f1c2c2a-5f0b-4f44-9a53-3e1f6d6d7f10")


class Purpose(StrEnum):
    """What a challenge is signed for."""

    ADD = "add"
    SIGN_IN = "sign in"


def of(connection: Connection, account: UUID) -> tuple[Passkey, ...]:
    """The passkeys of an account, the oldest first."""
    mine = select(PASSKEYS).where(PASSKEYS.c.account == account)
    rows = connection.execute(mine.order_by(PASSKEYS.c.created, PASSKEYS.c.credential))
    return tuple(Passkey(_id(bytes(r.credential)), r.name, r.host, r.created, r.used) for r in rows)


def begin(connection: Connection, account: Account, place: Place, now: datetime) -> str:
    """What the browser needs to make one, as JSON."""
    from webauthn import generate_registration_options, options_to_json
    from webauthn.helpers.structs import (
        AuthenticatorSelectionCriteria,
        PublicKeyCredentialDescriptor,
        ResidentKeyRequirement,
        UserVerificationRequirement,
    )

    host = _usable(place)
    if len(of(connection, account.account)) >= MOST:
        raise InputError(Fault("name", f"{MOST} passkeys are set already; remove one first"))
    options = generate_registration_options(
        rp_id=host,
        rp_name="Splicewright",
        user_id=account.account.bytes,
        user_name=account.login,
        user_display_name=account.name,
        challenge=_challenge(connection, account.account, Purpose.ADD, now),
        exclude_credentials=[
            PublicKeyCredentialDescriptor(bytes(row.credential))
            for row in connection.execute(_here(account.account, host))
        ],
        # The password was the first factor: one touch is enough, and nothing need be discoverable.
        authenticator_selection=AuthenticatorSelectionCriteria(
            resident_key=ResidentKeyRequirement.DISCOURAGED,
            user_verification=UserVerificationRequirement.PREFERRED,
        ),
    )
    return options_to_json(options)


def add(
    connection: Connection, account: UUID, name: str, sent: str, place: Place, now: datetime
) -> None:
    """Keep the passkey that the browser made; the name is checked already."""
    from webauthn import verify_registration_response

    challenge = _taken(connection, account, Purpose.ADD, sent, now)
    say = "was not made by this page for this challenge; try again"
    refused = InputError(Fault("passkey", say))
    if challenge is None or len(of(connection, account)) >= MOST:
        raise refused
    try:
        registration = verify_registration_response(
            credential=sent,
            expected_challenge=challenge,
            expected_rp_id=_usable(place),
            expected_origin=place.origin,
        )
    except _refusals():
        raise refused from None
    there = select(PASSKEYS.c.account).where(PASSKEYS.c.credential == registration.credential_id)
    if connection.execute(there).first() is not None:
        raise InputError(Fault("passkey", "is set already"))
    if any(p.name.casefold() == name.casefold() for p in of(connection, account)):
        raise InputError(Fault("name", f'"{name}" is the name of a passkey you have; take another'))
    connection.execute(
        insert(PASSKEYS).values(
            credential=registration.credential_id,
            account=account,
            host=place.host,
            name=name,
            public_key=registration.credential_public_key,
            sign_count=registration.sign_count,
            created=now,
        )
    )


def ask(connection: Connection, account: UUID, place: Place, now: datetime) -> str | None:
    """What the browser needs to sign with one, as JSON; None when none was made for this host."""
    from webauthn import generate_authentication_options, options_to_json
    from webauthn.helpers.structs import PublicKeyCredentialDescriptor, UserVerificationRequirement

    rows = connection.execute(_here(account, place.host)).all()
    if not rows:
        return None
    options = generate_authentication_options(
        rp_id=place.host,
        challenge=_challenge(connection, account, Purpose.SIGN_IN, now),
        allow_credentials=[PublicKeyCredentialDescriptor(bytes(row.credential)) for row in rows],
        user_verification=UserVerificationRequirement.PREFERRED,
    )
    return options_to_json(options)


def check(
    connection: Connection, account: UUID, sent: str, place: Place, now: datetime
) -> str | None:
    """The name of the passkey that signed the challenge; None when none did."""
    from webauthn import verify_authentication_response
    from webauthn.helpers import parse_authentication_credential_json

    challenge = _taken(connection, account, Purpose.SIGN_IN, sent, now)
    if challenge is None:
        return None
    try:
        given = parse_authentication_credential_json(sent)
        mine = (PASSKEYS.c.credential == given.raw_id) & (PASSKEYS.c.account == account)
        row = connection.execute(select(PASSKEYS).where(mine).with_for_update()).first()
        if row is None:
            return None
        done = verify_authentication_response(
            credential=given,
            expected_challenge=challenge,
            expected_rp_id=row.host,
            expected_origin=place.origin,
            credential_public_key=bytes(row.public_key),
            # A count that does not grow is a copy of the key; the library refuses it.
            credential_current_sign_count=row.sign_count,
        )
    except _refusals():
        return None
    change = update(PASSKEYS).where(mine).values(sign_count=done.new_sign_count, used=now)
    connection.execute(change)
    name: str = row.name
    return name


def remove(connection: Connection, account: UUID, passkey: UUID) -> str:
    """Take one away; its name."""
    query = select(PASSKEYS).where(PASSKEYS.c.account == account)
    for row in connection.execute(query).all():
        if _id(bytes(row.credential)) == passkey:
            gone = PASSKEYS.c.credential == row.credential
            connection.execute(delete(PASSKEYS).where(gone))
            name: str = row.name
            return name
    raise InputError(Fault("passkey", "there is no such passkey of yours"))


def clear(connection: Connection, account: UUID) -> None:
    """Take all of an account away."""
    for table in (PASSKEYS, CHALLENGES):
        connection.execute(delete(table).where(table.c.account == account))


def _here(account: UUID, host: str) -> Select[Any]:
    mine = (PASSKEYS.c.account == account) & (PASSKEYS.c.host == host)
    return select(PASSKEYS.c.credential).where(mine)


def _usable(place: Place) -> str:
    """The host, when browsers make passkeys for it."""
    if not place.takes_passkeys:
        say = (
            f"cannot be made for {place.origin}: browsers make them for a name by HTTPS, or for "
            "localhost; open the app under its name"
        )
        raise InputError(Fault("passkey", say))
    return place.host


def _id(credential: bytes) -> UUID:
    return uuid5(_BY_CREDENTIAL, credential.hex())


def _challenge(connection: Connection, account: UUID, purpose: Purpose, now: datetime) -> bytes:
    mine = CHALLENGES.c.account == account
    connection.execute(delete(CHALLENGES).where(CHALLENGES.c.created < now - WAITS))
    if connection.execute(select(func.count()).where(mine)).scalar_one() >= _CHALLENGES:
        connection.execute(delete(CHALLENGES).where(mine))
    challenge = secrets.token_bytes(32)
    connection.execute(
        insert(CHALLENGES).values(
            challenge=challenge, account=account, purpose=purpose, created=now
        )
    )
    return challenge


def _taken(
    connection: Connection, account: UUID, purpose: Purpose, sent: str, now: datetime
) -> bytes | None:
    """The challenge that was signed, if it is one of this account's; it counts once."""
    from webauthn.helpers import base64url_to_bytes, parse_client_data_json

    if len(sent) > LONGEST_SENT:
        return None
    try:
        data = json.loads(sent)["response"]["clientDataJSON"]
        challenge = parse_client_data_json(base64url_to_bytes(data)).challenge
    except _refusals():
        return None
    mine = (
        (CHALLENGES.c.challenge == challenge)
        & (CHALLENGES.c.account == account)
        & (CHALLENGES.c.purpose == purpose)
        & (CHALLENGES.c.created > now - WAITS)
    )
    return challenge if connection.execute(delete(CHALLENGES).where(mine)).rowcount else None


def _refusals() -> tuple[type[Exception], ...]:
    """What the library and its readers raise for what is no passkey's answer."""
    from webauthn.helpers.exceptions import WebAuthnException

    return (
        WebAuthnException,
        ValueError,
        TypeError,
        KeyError,
        AttributeError,
        IndexError,
        RecursionError,
        OverflowError,
        ArithmeticError,
    )
