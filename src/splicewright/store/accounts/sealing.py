"""Secrets at rest: sealed with a key that lies beside the register, never in it.

Whoever has a copy of the register's file, or of its database, reads no secret from it. Sealed with
AES-256-GCM (NIST SP 800-38D); whose it is stands in what is authenticated, so that a secret moved
to another account opens nothing. The file of keys holds one a line, the newest first: what is
sealed is sealed with that one, and what an older one sealed still opens.
"""

from __future__ import annotations

import base64
import binascii
import contextlib
import hashlib
import os
import secrets
import tempfile
from pathlib import Path
from uuid import UUID

from splicewright.errors import Fault, InputError
from splicewright.store.refusals import DamagedError

_SEALED = b"\x01"
_KEY, _NAME, _NONCE = 32, 8, 12
PLAIN = 20
"""Length of a secret that an earlier version kept as it is; what is sealed is longer [byte]."""


class KeyAwayError(InputError):
    """The key that opens a secret is not there."""


class Seal:
    """Seals and opens the secrets of accounts.

    Parameters
    ----------
    place : the file of keys; made, readable by its owner only, when the first secret is sealed
    """

    def __init__(self, place: Path) -> None:
        self.place = place

    def seal(self, account: UUID, secret: bytes, *, others: bool) -> bytes:
        """A secret sealed with the newest key.

        Parameters
        ----------
        others : whether secrets are sealed already: without their key no new one is made

        Raises
        ------
        KeyAwayError
            The file of keys is gone.
        """
        from cryptography.hazmat.primitives.ciphers.aead import AESGCM

        keys = self._keys()
        if not keys:
            if others:
                raise self._away()
            keys = self._begin()
        nonce = secrets.token_bytes(_NONCE)
        sealed = AESGCM(keys[0]).encrypt(nonce, secret, account.bytes)
        return _SEALED + _name(keys[0]) + nonce + sealed

    def open(self, account: UUID, kept: bytes) -> bytes:
        """A secret as it was before it was sealed.

        Raises
        ------
        KeyAwayError
            Its key is not in the file, or the file is gone.
        DamagedError
            It is not what was sealed for this account.
        """
        from cryptography.exceptions import InvalidTag
        from cryptography.hazmat.primitives.ciphers.aead import AESGCM

        if len(kept) == PLAIN:
            return kept
        name, nonce = kept[1 : 1 + _NAME], kept[1 + _NAME : 1 + _NAME + _NONCE]
        key = next((k for k in self._keys() if _name(k) == name), None)
        if key is None:
            raise self._away()
        try:
            return AESGCM(key).decrypt(nonce, kept[1 + _NAME + _NONCE :], account.bytes)
        except (InvalidTag, ValueError):
            msg = "a second factor's secret is not what was sealed; an admin clears that factor"
            raise DamagedError(msg) from None

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
        made = self._beside([secrets.token_bytes(_KEY)])
        try:
            with contextlib.suppress(FileExistsError):
                os.link(made, self.place)
        finally:
            made.unlink()
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
            say = f"the key of second factors cannot be written to {self.place}: {error.strerror}"
            raise InputError(Fault("", say)) from None
        return Path(name)

    def _away(self) -> KeyAwayError:
        # Who reads it has given a password only: where the file lies is said at the console.
        say = (
            "the key that opens codes of apps is not there, or is not whole: whoever keeps this "
            "server puts back the copy of its file. Until then sign in with a recovery code or a "
            "passkey, or have the factor cleared: splicewright register people clear-factor LOGIN"
        )
        return KeyAwayError(Fault("code", say))


def _name(key: bytes) -> bytes:
    """Which key it is, told without telling the key."""
    return hashlib.sha256(b"splicewright key\n" + key).digest()[:_NAME]
