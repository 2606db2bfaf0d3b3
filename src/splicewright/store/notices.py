"""What people can be told of; who wants it by mail, and how far they were told; off until asked.

Wishes are no facts: they hold an address and end. Several workers may look at once: each moves a
wish on from where it read it, and only the one that did sends.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any
from uuid import UUID

from sqlalchemy import BigInteger, Column, Engine, Table, Text, delete, insert, select, update

from splicewright.errors import Fault, InputError
from splicewright.store.database import opening
from splicewright.store.database.schema import METADATA, Id, Instant

MAIL_WISHES = Table(
    "mail_wishes",
    METADATA,
    Column("account", Id, primary_key=True),
    Column("address", Text, nullable=False),
    Column("kinds", Text, nullable=False),
    Column("seen", BigInteger, nullable=False),
    Column("looked", Instant, nullable=False),
)
"""seen : the last fact that was told or passed over; looked : when what is due was looked at."""
_LONGEST = 254
"""Letters of an address (RFC 5321, 4.5.3.1.3: a path of 256 with its angle brackets)."""


class NoticeKind(StrEnum):
    """What somebody can be told of."""

    MUST_NOT_RUN = "must not run"
    OVERDUE = "overdue"
    PLANNED_AGAIN = "planned again"
    HANDED_OVER = "handed over"


def kind_faults(kinds: Collection[str]) -> list[Fault]:
    """What is wrong with kinds that somebody asks for."""
    known = {kind.value for kind in NoticeKind}
    if set(kinds) <= known:
        return []
    return [Fault("kinds", f"is not known; accepted is {', '.join(sorted(known))}")]


@dataclass(frozen=True, slots=True)
class MailWish:
    """What an account wants to be told by mail; see `MAIL_WISHES`."""

    account: UUID
    address: str
    kinds: frozenset[NoticeKind]
    seen: int
    looked: datetime


class MailWishes:
    """The wishes kept in a register's database."""

    def __init__(self, engine: Engine, clock: Callable[[], datetime]) -> None:
        self._engine = engine
        self._writer = opening.writing(engine)
        self._clock = clock

    def of(self, account: UUID) -> MailWish | None:
        """What an account wishes; None for nothing."""
        return next((w for w in self.all() if w.account == account), None)

    def all(self) -> tuple[MailWish, ...]:
        """Every wish."""
        with opening.reading(self._engine) as connection:
            return tuple(_read(row) for row in connection.execute(select(MAIL_WISHES)))

    def set(self, account: UUID, address: str, kinds: Sequence[str], head: int) -> None:
        """Set what an account wants to be told from now on; no kinds: nothing any more.

        Parameters
        ----------
        kinds : of `NoticeKind`; head : number of the register's last fact

        Raises
        ------
        InputError
            The address cannot be one, or a kind is not known.
        """
        faults = kind_faults(kinds)
        name, _, host = address.rpartition("@")
        plain = all(c.isprintable() and not c.isspace() and c not in '<>,;"' for c in address)
        if kinds and not (name and "." in host and plain and len(address) <= _LONGEST):
            say = f'"{address[:60]}" is no mail address; accepted is one, like crew@belts.example'
            faults.append(Fault("address", say))
        if faults:
            raise InputError(*faults)
        with opening.said_plainly(), self._writer.begin() as connection:
            connection.execute(delete(MAIL_WISHES).where(MAIL_WISHES.c.account == account))
            if kinds:
                connection.execute(
                    insert(MAIL_WISHES).values(
                        account=account,
                        address=address,
                        kinds=",".join(sorted(set(kinds))),
                        seen=head,
                        looked=self._clock(),
                    )
                )

    def move_on(self, wish: MailWish, seen: int, looked: datetime) -> MailWish | None:
        """Take a wish as told up to there; None when somebody else was faster."""
        there = (MAIL_WISHES.c.account == wish.account) & (MAIL_WISHES.c.seen == wish.seen)
        there &= MAIL_WISHES.c.looked == wish.looked
        moved = update(MAIL_WISHES).where(there).values(seen=seen, looked=looked)
        with opening.said_plainly(), self._writer.begin() as connection:
            if connection.execute(moved).rowcount != 1:
                return None
        return MailWish(wish.account, wish.address, wish.kinds, seen, looked)


def _read(row: Any) -> MailWish:
    kinds = frozenset(NoticeKind(word) for word in row.kinds.split(",") if word)
    return MailWish(row.account, row.address, kinds, row.seen, row.looked)
