"""Phones that are told by web push, each as long as the session in which it was asked lasts."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol
from uuid import UUID


@dataclass(frozen=True, slots=True)
class PushPhone:
    """What a phone is told, and where.

    account : whose session it is
    endpoint : address of the push service that reaches it
    public_key, secret : of the browser, for which messages are encrypted (RFC 8291)
    kinds : what it is told of
    seen : the last fact that was told or passed over; looked : when what is due was looked at
    tries : failures in a row; next_try : not before this moment
    """

    session: UUID
    account: UUID
    endpoint: str
    public_key: bytes
    secret: bytes
    kinds: frozenset[str]
    seen: int
    looked: datetime
    tries: int
    next_try: datetime


class PushPhones(Protocol):
    """The phones that are told. Errors: `InputError`, `BusyError`, `FullError`."""

    def key(self) -> bytes:
        """The private key by which push services know this server, 32 byte; made when missing.

        Raises
        ------
        KeyAwayError
            It is sealed, and the file of keys is gone.
        """

    def of(self, token: str) -> PushPhone | None:
        """What the phone of a session's token is told; None for nothing."""

    def set(
        self,
        token: str,
        endpoint: str,
        public_key: bytes,
        secret: bytes,
        kinds: Collection[str],
        head: int,
    ) -> None:
        """Tell the phone of a session what happens from now on; no kinds: nothing any more.

        Parameters
        ----------
        head : number of the register's last fact
        """

    def due(self) -> tuple[PushPhone, ...]:
        """Phones that may be told now, of sessions that last."""

    def take(self, phone: PushPhone) -> PushPhone | None:
        """Hold a phone for a while; None when another worker was faster."""

    def notified(self, phone: PushPhone, seen: int, looked: datetime) -> None:
        """It is told up to there."""

    def missed(self, phone: PushPhone, wait: float) -> None:
        """Its push service did not take it; it is tried again, not before so many seconds."""

    def drop(self, phone: PushPhone) -> None:
        """Its push service does not know it any more."""
