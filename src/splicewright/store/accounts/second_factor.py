"""Codes from an app on a phone (TOTP, RFC 6238), and recovery codes, in SQL.

Within a transaction of `SqlAccounts`. The secret is kept sealed (`sealing`), for the server works
the same codes from it; recovery codes are kept as hashes, and each is used once. A code counts
once, within half a minute before and after its own.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets
import struct
from datetime import datetime
from uuid import UUID

from sqlalchemy import Connection, delete, insert, select, update

from splicewright.errors import Fault, InputError
from splicewright.store.accounts import passkeys, sessions
from splicewright.store.accounts.schema import PASSKEYS, RECOVERY_CODES, SECOND_FACTORS
from splicewright.store.database.sealing import Seal

STEP, DIGITS, EITHER_WAY = 30, 6, 1
"""Seconds of a code, its digits (RFC 6238's defaults), and steps that a clock may be off."""
RECOVERY = 10
"""Recovery codes."""
_BYTES = 20
"""Of a secret: as long as the hash (RFC 4226, section 4, R6)."""


def code_of(secret: bytes, counter: int, digits: int = DIGITS) -> str:
    """The code of a counter, by HMAC-SHA-1 (RFC 4226, section 5.3)."""
    mac = hmac.new(secret, struct.pack(">Q", counter), hashlib.sha1).digest()
    at = mac[-1] & 0x0F
    (number,) = struct.unpack(">I", mac[at : at + 4])
    return f"{(number & 0x7FFFFFFF) % 10**digits:0{digits}d}"


def counter_at(now: datetime) -> int:
    """The number of the time step (RFC 6238, section 4.2, from 1970)."""
    return int(now.timestamp()) // STEP


def is_set(connection: Connection, account: UUID) -> bool:
    """Whether an account has any: an app that was confirmed, or a passkey."""
    return has_app(connection, account) or bool(passkeys.of(connection, account))


def set_for(connection: Connection) -> frozenset[UUID]:
    """Accounts that have any."""
    apps = select(SECOND_FACTORS.c.account).where(SECOND_FACTORS.c.confirmed.is_not(None))
    any_ = apps.union(select(PASSKEYS.c.account))
    return frozenset(connection.execute(any_).scalars())


def has_app(connection: Connection, account: UUID) -> bool:
    """Whether an account has an app for codes that was confirmed."""
    mine = SECOND_FACTORS.c.account == account
    query = select(SECOND_FACTORS.c.account).where(mine, SECOND_FACTORS.c.confirmed.is_not(None))
    return connection.execute(query).first() is not None


def begin(connection: Connection, account: UUID, now: datetime, seal: Seal) -> str:
    """A new secret in base32, which counts for nothing until a code of it was given."""
    if has_app(connection, account):
        raise InputError(Fault("", "an app for codes is set already; an admin takes it away first"))
    secret = secrets.token_bytes(_BYTES)
    connection.execute(delete(SECOND_FACTORS).where(SECOND_FACTORS.c.account == account))
    sealed = seal.seal(connection, account, secret)
    connection.execute(
        insert(SECOND_FACTORS).values(account=account, secret=sealed, created=now, step=0)
    )
    return base64.b32encode(secret).decode("ascii")


def confirm(
    connection: Connection, account: UUID, code: str, now: datetime, seal: Seal
) -> tuple[str, ...]:
    """The phone shows the right codes: it is asked for from now on. Gives the recovery codes."""
    if has_app(connection, account) or not _check_code(connection, account, code, now, seal):
        say = "is not the code that the app shows now; accepted are its 6 digits"
        raise InputError(Fault("code", say))
    mine = SECOND_FACTORS.c.account == account
    connection.execute(update(SECOND_FACTORS).where(mine).values(confirmed=now))
    return new_codes(connection, account)


def new_codes(connection: Connection, account: UUID) -> tuple[str, ...]:
    """New recovery codes; those of before count no more."""
    connection.execute(delete(RECOVERY_CODES).where(RECOVERY_CODES.c.account == account))
    codes = tuple(_grouped(secrets.token_hex(8)) for _ in range(RECOVERY))
    connection.execute(
        insert(RECOVERY_CODES),
        [{"digest": _digest(account, code), "account": account} for code in codes],
    )
    return codes


def check(connection: Connection, account: UUID, code: str, now: datetime, seal: Seal) -> str:
    """What was given: "code", "recovery code", or "" for neither; a recovery code is used up.

    Recovery codes first: they are good when the key that opens the app's secret is away.
    """
    used = RECOVERY_CODES.c.digest == _digest(account, code)
    if connection.execute(delete(RECOVERY_CODES).where(used)).rowcount:
        return "recovery code"
    if has_app(connection, account) and _check_code(connection, account, code, now, seal):
        return "code"
    return ""


def codes_left(connection: Connection, account: UUID) -> int:
    """Recovery codes not used yet."""
    mine = RECOVERY_CODES.c.account == account
    return len(connection.execute(select(RECOVERY_CODES.c.digest).where(mine)).all())


def clear(connection: Connection, account: UUID) -> None:
    """Take all away: app, passkeys, recovery codes."""
    passkeys.clear(connection, account)
    for table in (SECOND_FACTORS, RECOVERY_CODES):
        connection.execute(delete(table).where(table.c.account == account))


def _check_code(
    connection: Connection, account: UUID, code: str, now: datetime, seal: Seal
) -> bool:
    mine = SECOND_FACTORS.c.account == account
    row = connection.execute(select(SECOND_FACTORS).where(mine).with_for_update()).first()
    if row is None:
        return False
    typed, here = "".join(code.split()), counter_at(now)
    secret = seal.open(account, bytes(row.secret))
    for step in range(here - EITHER_WAY, here + EITHER_WAY + 1):
        right = code_of(secret, step)
        if step > row.step and hmac.compare_digest(right.encode(), typed.encode()):
            # RFC 6238, section 5.2: a code is accepted once.
            connection.execute(update(SECOND_FACTORS).where(mine).values(step=step))
            return True
    return False


def _grouped(text: str) -> str:
    return "-".join(text[n : n + 4] for n in range(0, len(text), 4))


def _digest(account: UUID, code: str) -> bytes:
    """What is kept of a recovery code; it has 64 random bits, and tries are counted."""
    return sessions.digest(f"{account} {''.join(code.lower().replace('-', ' ').split())}")
