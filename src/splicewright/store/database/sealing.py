"""Secrets at rest: sealed with a key that lies beside the register, never in it.

Whoever has a copy of the register's file, or of its database, reads no secret from it. Sealed with
AES-256-GCM (NIST SP 800-38D); whose it is stands in what is authenticated, so that a secret moved
to another account or hook opens nothing. The file of keys holds one a line, the newest first: what
is sealed is sealed with that one, and what an older one sealed still opens.
"""

from __future__ import annotations

import base64
import binascii
import contextlib
import hashlib
import os
import secrets
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, LargeBinary, column, inspect, select, table, text, update

from splicewright.errors import Fault, InputError
from splicewright.store.database.schema import Id
from splicewright.store.refusals import DamagedError

_SEALED = b"\x01"
_KEY, _NAME, _NONCE, _TAG = 32, 8, 12, 16
_SHORTEST = 1 + _NAME + _NONCE + _TAG
"""Of what is sealed; a secret that an earlier version kept as it is, is shorter [byte]."""
_SEALING = 7_304_223
"""PostgreSQL advisory lock."""
_KEPT = (
    ("second_factors", "account", "secret"),
    ("hooks", "hook", "secret"),
    ("hooks", "hook", "former"),
    ("push_keys", "key", "secret"),
)
"""Every sealed secret of the database: table, whose it is, column."""


class KeyAwayError(InputError):
    """The key that opens a secret is not there."""


class Seal:
    """Seals and opens the secrets of one register.

    Parameters
    ----------
    place : the file of keys; made, readable by its owner only, when the first secret is sealed
    meanwhile : what to do while that file is away; said after the fault
    """

    def __init__(self, place: Path, meanwhile: str = "") -> None:
        self.place = place
        self._meanwhile = meanwhile

    def seal(self, connection: Connection, owner: UUID, secret: bytes) -> bytes:
        """A secret sealed with the newest key, for one account or hook.

        Where secrets are sealed already, no new key is made in the place of theirs.

        Raises
        ------
        KeyAwayError
            The file of keys is gone.
        """
        from cryptography.hazmat.primitives.ciphers.aead import AESGCM

        _alone(connection)
        keys = self._keys()
        if not keys:
            if any(is_sealed(kept) for *_, kept in _secrets(connection)):
                raise self._away()
            keys = self._begin()
        nonce = secrets.token_bytes(_NONCE)
        sealed = AESGCM(keys[0]).encrypt(nonce, secret, owner.bytes)
        return _SEALED + _name(keys[0]) + nonce + sealed

    def open(self, owner: UUID, kept: bytes) -> bytes:
        """A secret as it was before it was sealed.

        Raises
        ------
        KeyAwayError
            Its key is not in the file, or the file is gone.
        DamagedError
            It is not what was sealed for this account or hook.
        """
        from cryptography.exceptions import InvalidTag
        from cryptography.hazmat.primitives.ciphers.aead import AESGCM

        if not is_sealed(kept):
            return kept
        name, nonce = kept[1 : 1 + _NAME], kept[1 + _NAME : 1 + _NAME + _NONCE]
        key = next((k for k in self._keys() if _name(k) == name), None)
        if key is None:
            raise self._away()
        try:
            return AESGCM(key).decrypt(nonce, kept[1 + _NAME + _NONCE :], owner.bytes)
        except (InvalidTag, ValueError):
            msg = (
                "a secret is not what was sealed: an admin clears that second factor, or makes "
                "another secret for that hook"
            )
            raise DamagedError(msg) from None

    def check(self, connection: Connection) -> None:
        """See that the keys that are there open every secret.

        Raises
        ------
        KeyAwayError
            The key of one is not there.
        """
        for *_, owner, kept in _secrets(connection):
            self.open(owner, kept)

    def seal_anew(self, connection: Connection) -> int:
        """Seal every secret with the newest key, those kept as they are too; gives their number.

        Raises
        ------
        KeyAwayError
            The key of one is not there.
        """
        _alone(connection)
        entries = [one for one in _secrets(connection) if one[-1]]
        for name, whose, place, owner, kept in entries:
            sealed = self.seal(connection, owner, self.open(owner, kept))
            rows = _table(name, whose, place)
            mine = update(rows).where(rows.c[whose] == owner)
            connection.execute(mine.values({place: sealed}))
        return len(entries)

    def add_key(self) -> None:
        """Put a new key first; the older ones still open what they sealed."""
        self._write([secrets.token_bytes(_KEY), *self._keys()])

    def keep_newest(self) -> None:
        """Let go of the older keys, once nothing is sealed with them."""
        self._write(self._keys()[:1])

    def _keys(self) -> list[bytes]:
        try:
            lines = self.place.read_text("ascii").split()
            keys = [base64.b64decode(line, validate=True) for line in lines]
        except FileNotFoundError:
            return []
        except (OSError, ValueError, binascii.Error):
            raise self._away() from None
        if any(len(key) != _KEY for key in keys):
            raise self._away()
        return keys

    def _begin(self) -> list[bytes]:
        """Make the file with one key; of two who do it at once, both use the first one's."""
        temporary = self._beside([secrets.token_bytes(_KEY)])
        try:
            with contextlib.suppress(FileExistsError):
                os.link(temporary, self.place)
        finally:
            temporary.unlink()
        return self._keys()

    def _write(self, keys: list[bytes]) -> None:
        self._beside(keys).replace(self.place)

    def _beside(self, keys: list[bytes]) -> Path:
        """Keys in a file of their own beside the place, on the disk."""
        try:
            self.place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            handle, name = tempfile.mkstemp(prefix=".key.", dir=self.place.parent)
            with os.fdopen(handle, "wb") as file:
                file.writelines(base64.b64encode(key) + b"\n" for key in keys)
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            say = f"the key of secrets cannot be written to {self.place}: {error.strerror}"
            raise InputError(Fault("", say)) from None
        return Path(name)

    def _away(self) -> KeyAwayError:
        # Who reads it has given a password only: where the file lies is said at the console.
        say = (
            "the key that opens sealed secrets is not there, or is not whole: whoever keeps this "
            f"server puts back the copy of its file. {self._meanwhile}"
        )
        return KeyAwayError(Fault("code", say.strip()))


def _alone(connection: Connection) -> None:
    """Seal one after the other: what is sealed meanwhile would miss the change of a key.

    SQLite has one writer at a time, and who seals is one.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:n)"), {"n": _SEALING})


def is_sealed(kept: bytes) -> bool:
    """Whether a secret is kept sealed; one that was ended is empty."""
    return len(kept) >= _SHORTEST


def _table(name: str, whose: str, kept: str) -> Any:
    return table(name, column(whose, Id), column(kept, LargeBinary))


def _secrets(connection: Connection) -> Iterator[tuple[str, str, str, UUID, bytes]]:
    """Every secret that is kept: table, column of whose it is, its own, whose, and it."""
    there = set(inspect(connection).get_table_names())
    for name, whose, kept in _KEPT:
        if name not in there:  # an older register is being brought up to date
            continue
        rows = _table(name, whose, kept)
        query = select(rows).where(rows.c[kept].is_not(None))
        for owner, secret in connection.execute(query).all():
            yield name, whose, kept, owner, bytes(secret)


def _name(key: bytes) -> bytes:
    """Which key it is, told without telling the key."""
    return hashlib.sha256(b"splicewright key\n" + key).digest()[:_NAME]
