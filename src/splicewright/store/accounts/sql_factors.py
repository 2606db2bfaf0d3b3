"""The second factor of accounts in SQL: codes, passkeys, recovery codes, sessions that wait."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import UUID

from splicewright.errors import Fault, InputError
from splicewright.store.accounts import passkeys, second_factor, sessions, sql_push
from splicewright.store.accounts.accounts import Account, Change, Passkey, Place
from splicewright.store.accounts.changing import AccountChanges, find, must_find, must_see
from splicewright.store.accounts.passwords import checked_name
from splicewright.store.database import opening

if TYPE_CHECKING:
    from sqlalchemy import Connection


class SqlFactors(AccountChanges):
    """What `Accounts` promises of the second factor."""

    def waiting(self, token: str) -> Account | None:
        """Whose session it is that still waits for a code."""
        with opening.reading(self._engine) as connection:
            account = sessions.waiting(connection, token, self._now())
            record = None if account is None else find(connection, account)
        return record if record is not None and record.closed is None else None

    def pass_factor(self, token: str, code: str, address: str) -> bool:
        """Give a waiting session its code; see `Accounts.pass_factor`."""

        def right(connection: Connection, account: UUID) -> str:
            return second_factor.check(connection, account, code, self._now(), self._seal)

        return self._pass(token, address, right)

    def ask_passkey(self, token: str, place: Place) -> str | None:
        """What a browser needs to sign in with a passkey."""
        now = self._now()
        with self._writing() as connection:
            account = sessions.waiting(connection, token, now)
            return None if account is None else passkeys.ask(connection, account, place, now)

    def pass_passkey(self, token: str, sent: str, place: Place, address: str) -> bool:
        """Give a waiting session what a passkey signed; see `Accounts.pass_passkey`."""

        def right(connection: Connection, account: UUID) -> str:
            name = passkeys.check(connection, account, sent, place, self._now())
            return "" if name is None else f"passkey: {name}"

        return self._pass(token, address, right)

    def _pass(self, token: str, address: str, right: Callable[[Connection, UUID], str]) -> bool:
        """Open a waiting session when what was given is right; tries count, whatever is given."""
        now = self._now()
        with self._writing() as connection:
            account = sessions.waiting(connection, token, now)
            if account is None:
                return False
            this = sessions.count_try(connection, f"code {account}", address, now)
        with self._writing() as connection:
            # The session may have ended meanwhile.
            if sessions.waiting(connection, token, now) is None:
                return False
            by = right(connection, account)
            if not by:
                return False
            sessions.forget_try(connection, this)
            sessions.let_pass(connection, token)
            self._log(connection, Change.SIGNED_IN, account, account, f"with a {by}")
        return True

    def has_factor(self, account: UUID) -> bool:
        """Whether an account has a second factor."""
        with opening.reading(self._engine) as connection:
            return second_factor.is_set(connection, account)

    def with_factor(self) -> frozenset[UUID]:
        """The accounts that have one."""
        with opening.reading(self._engine) as connection:
            return second_factor.set_for(connection)

    def has_code_app(self, account: UUID) -> bool:
        """Whether an account has an app for codes."""
        with opening.reading(self._engine) as connection:
            return second_factor.has_app(connection, account)

    def passkeys(self, account: UUID) -> tuple[Passkey, ...]:
        """The passkeys of an account."""
        with opening.reading(self._engine) as connection:
            return passkeys.of(connection, account)

    def begin_passkey(self, account: UUID, place: Place) -> str:
        """What a browser needs to make a passkey."""
        with self._writing() as connection:
            there = must_find(connection, account)
            return passkeys.begin(connection, there, place, self._now())

    def add_passkey(self, account: UUID, name: str, sent: str, place: Place) -> tuple[str, ...]:
        """Keep the passkey a browser made; see `Accounts.add_passkey`."""
        name = checked_name(name)
        with self._writing() as connection:
            must_find(connection, account)
            first = not second_factor.is_set(connection, account)
            passkeys.add(connection, account, name, sent, place, self._now())
            self._log(connection, Change.PASSKEY_ADDED, account, account, name)
            return second_factor.new_codes(connection, account) if first else ()

    def remove_passkey(self, account: UUID, passkey: UUID) -> None:
        """Take one's own passkey away; see `Accounts.remove_passkey`."""
        with self._writing() as connection:
            name = passkeys.remove(connection, account, passkey)
            if not second_factor.is_set(connection, account):
                # Raised within the transaction: it is there again.
                say = "is your last second factor; set another first, or ask an admin to clear it"
                raise InputError(Fault("passkey", say))
            self._log(connection, Change.PASSKEY_REMOVED, account, account, name)

    def recovery_codes_left(self, account: UUID) -> int:
        """How many recovery codes were not used yet."""
        with opening.reading(self._engine) as connection:
            return second_factor.codes_left(connection, account)

    def begin_factor(self, account: UUID) -> str:
        """A new secret for an app that makes codes."""
        with self._writing() as connection:
            must_find(connection, account)
            return second_factor.begin(connection, account, self._now(), self._seal)

    def confirm_factor(self, account: UUID, code: str, address: str) -> tuple[str, ...]:
        """The app shows the right codes; see `Accounts.confirm_factor`."""
        now = self._now()
        with self._writing() as connection:
            this = sessions.count_try(connection, f"code {account}", address, now)
        with self._writing() as connection:
            codes = second_factor.confirm(connection, account, code, now, self._seal)
            sessions.forget_try(connection, this)
            self._log(connection, Change.FACTOR_SET, account, account)
        return codes

    def clear_factor(self, account: UUID, by: UUID | None) -> None:
        """Take the second factor away."""
        with self._writing() as connection:
            must_see(connection, account, by)
            if second_factor.is_set(connection, account):
                second_factor.clear(connection, account)
                sessions.end_all(connection, account)
                self._log(connection, Change.FACTOR_CLEARED, account, by)

    @property
    def key_place(self) -> Path:
        """Where the key lies that opens sealed secrets; no backup holds it."""
        return self._seal.place

    def new_key(self) -> int:
        """Seal all secrets with a new key and let go of the old one; gives their number.

        Raises
        ------
        KeyAwayError
            The key of one is not there.
        """
        self._seal.add_key()
        # Killed here or below, the file holds both keys, and each opens what it sealed.
        with self._writing() as connection:
            sql_push.drop_lost(connection, self._seal)
            number = self._seal.seal_anew(connection)
        self._seal.keep_newest()
        return number
