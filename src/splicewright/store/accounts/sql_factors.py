"""The second factor of accounts in SQL: codes of an app, recovery codes, sessions that wait."""

from __future__ import annotations

from uuid import UUID

from splicewright.store.accounts import second_factor, sessions
from splicewright.store.accounts.accounts import Account, Change
from splicewright.store.accounts.changing import AccountChanges, find, must_find, must_see
from splicewright.store.database import opening


class SqlFactors(AccountChanges):
    """What `Accounts` promises of the second factor."""

    def waiting(self, token: str) -> Account | None:
        """Whose session it is that still waits for a code."""
        with opening.reading(self._engine) as connection:
            account = sessions.waiting(connection, token, self._now())
            found = None if account is None else find(connection, account)
        return found if found is not None and found.closed is None else None

    def pass_factor(self, token: str, code: str, address: str) -> bool:
        """Give a waiting session its code; see `Accounts.pass_factor`."""
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
            by = second_factor.check(connection, account, code, now)
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

    def recovery_codes_left(self, account: UUID) -> int:
        """How many recovery codes were not used yet."""
        with opening.reading(self._engine) as connection:
            return second_factor.codes_left(connection, account)

    def begin_factor(self, account: UUID) -> str:
        """A new secret for an app that makes codes."""
        with self._writing() as connection:
            must_find(connection, account)
            return second_factor.begin(connection, account, self._now())

    def confirm_factor(self, account: UUID, code: str, address: str) -> tuple[str, ...]:
        """The app shows the right codes; see `Accounts.confirm_factor`."""
        now = self._now()
        with self._writing() as connection:
            this = sessions.count_try(connection, f"code {account}", address, now)
        with self._writing() as connection:
            made = second_factor.confirm(connection, account, code, now)
            sessions.forget_try(connection, this)
            self._log(connection, Change.FACTOR_SET, account, account)
        return made

    def clear_factor(self, account: UUID, by: UUID | None) -> None:
        """Take the second factor away."""
        with self._writing() as connection:
            must_see(connection, account, by)
            if second_factor.is_set(connection, account):
                second_factor.clear(connection, account)
                sessions.end_all(connection, account)
                self._log(connection, Change.FACTOR_CLEARED, account, by)
