"""What people may call themselves, and how passwords are checked and kept."""

from __future__ import annotations

import contextlib
import hashlib
import hmac
import secrets
import threading
import unicodedata

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from splicewright.errors import Fault, InputError
from splicewright.store.accounts.accounts import LONGEST_LOGIN, LONGEST_PASSWORD, SHORTEST_PASSWORD
from splicewright.store.facts.kinds import LONGEST_NAME

_AT_ONCE = threading.Semaphore(2)
"""Passwords hashed at once: each takes 64 MiB, and anybody may ask for it."""


class Passwords:
    """Passwords as argon2id hashes, by RFC 9106's second recommended option (64 MiB).

    memory : of one hash [KiB], for tests; None takes the recommended
    """

    def __init__(self, memory: int | None = None) -> None:
        self._hasher = (
            PasswordHasher()
            if memory is None
            else PasswordHasher(time_cost=1, memory_cost=memory, parallelism=1)
        )
        self._nobody = ""

    def hashed(self, password: str) -> str:
        """The hash to keep."""
        with _AT_ONCE:
            return self._hasher.hash(password)

    def match(self, kept: str | None, password: str) -> bool:
        """Whether the password is the kept one; without one it takes as long to say no."""
        if len(password) > LONGEST_PASSWORD:
            return False
        if kept is None:
            self._nobody = self._nobody or self.hashed(secrets.token_urlsafe(32))
            self.match(self._nobody, password)
            return False
        with _AT_ONCE, contextlib.suppress(VerificationError, InvalidHashError):
            return self._hasher.verify(kept, password)
        return False

    def device_of(self, kept: str) -> str:
        """A new sign for a device that signed in: only whoever has the kept hash can make one.

        It ends when the password changes.
        """
        nonce = secrets.token_urlsafe(18)
        return f"{nonce}.{_mark(kept, nonce)}"

    def knows(self, kept: str | None, device: str) -> str:
        """What tells this device from others, when it signed in with this password before."""
        nonce, _, mark = device.partition(".")
        if kept is None or not nonce or not device.isascii():
            return ""
        return nonce if hmac.compare_digest(_mark(kept, nonce), mark) else ""

    def outdated(self, kept: str) -> bool:
        """Whether a kept hash was made with other settings than those of today."""
        return self._hasher.check_needs_rehash(kept)


def _mark(kept: str, nonce: str) -> str:
    return hmac.new(kept.encode(), b"device " + nonce.encode(), hashlib.sha256).hexdigest()


def checked_name(name: str, key: str = "name") -> str:
    """A name without needless blanks.

    Raises
    ------
    InputError
        It says nothing, is too long, or cannot be printed.
    """
    name = " ".join(name.split())
    if not 0 < len(name) <= LONGEST_NAME or any(not c.isprintable() for c in name):
        raise InputError(Fault(key, f"must be 1 to {LONGEST_NAME} characters that can be printed"))
    return name


def login_key(login: str) -> str:
    """The name as it is kept: what looks the same is the same."""
    return unicodedata.normalize("NFKC", login).strip().casefold()


def login_faults(key: str) -> list[Fault]:
    """What is wrong with a name to sign in with."""
    fine = 0 < len(key) <= LONGEST_LOGIN and all(c.isalnum() or c in "._-@+" for c in key)
    accepted = f"accepted are 1 to {LONGEST_LOGIN} letters, digits and . _ - @ +"
    return [] if fine else [Fault("login", f"cannot be used; {accepted}")]


def password_faults(password: str, known: tuple[str, ...]) -> list[Fault]:
    """What is wrong with a new password; `known` are the person's names."""
    if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        say = f"must have {SHORTEST_PASSWORD} to {LONGEST_PASSWORD} characters"
        return [Fault("password", f"{say}; a few words in a row are good")]
    low = password.casefold()
    if len(set(low)) < 5 or any(len(k) > 3 and k.casefold() in low for k in known):
        say = "is easy to guess: it repeats few characters or holds your name; take another"
        return [Fault("password", say)]
    return []
