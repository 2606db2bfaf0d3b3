"""What the register remembers of phones: how many entries each had written, how many waited.

A browser may delete all that a page keeps, entries that wait included, and no page can tell that
from a phone on which nothing was ever written. The register can: the phone comes back under the id
in its cookie, which outlives the store, and has written fewer entries than were heard of before.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol
from uuid import UUID


@dataclass(frozen=True, slots=True)
class PhoneReport:
    """What a phone says of itself.

    phone : its id, None where its store is new
    device : the name that people read
    entries : ever written on it by this account
    waits : of them, those that are not on the register
    store : what it calls its store while it has no id: the id it gets where its browser has none
    """

    phone: UUID | None
    device: str
    entries: int
    waits: int
    store: UUID | None = None


@dataclass(frozen=True, slots=True)
class PhoneKnown:
    """What was last heard of a phone, and when."""

    phone: UUID
    device: str
    entries: int
    waits: int
    heard: datetime


@dataclass(frozen=True, slots=True)
class PhoneHeard:
    """What a phone is told.

    phone : the id it goes by
    lost : what was heard before its store was deleted; None while it has the store that goes with
        its id, and has written as many entries
    elsewhere : to a phone never heard of: the account's other phones on which entries wait
    """

    phone: UUID
    lost: PhoneKnown | None = None
    elsewhere: tuple[PhoneKnown, ...] = ()


class Phones(Protocol):
    """What the register remembers of phones. Errors: `BusyError`, `FullError`."""

    def hear(self, account: UUID, report: PhoneReport, cookie: UUID | None) -> PhoneHeard:
        """Remember what a phone says, and tell it what it may have lost.

        What was lost is told until the phone counts on from there, so a lost answer hides nothing.

        Parameters
        ----------
        cookie : the id that its browser keeps apart from the store
        """

    def lacking(self, ids: Collection[UUID]) -> frozenset[UUID]:
        """Those of a phone's receipts that the register has no fact for: it was set back.

        Of facts of any site, for the phone has their receipts; asked with its sites alone, what
        lies where somebody is no longer let into would be offered again for ever.
        """
