"""Accounts in SQL, beside the log. Passwords are kept as argon2id hashes."""

from __future__ import annotations

import contextlib
import secrets
from collections.abc import Callable, Collection
from datetime import datetime
from uuid import UUID, uuid4

from sqlalchemy import Engine, insert, select

from splicewright.errors import Fault, InputError
from splicewright.store.accounts import account_sites, invitations, keys, second_factor, sessions
from splicewright.store.accounts.accounts import (
    OF_DOORS,
    Account,
    AccountChange,
    Change,
    Invitation,
    Key,
    Session,
    Token,
    Units,
)
from splicewright.store.accounts.changing import (
    account_of,
    find,
    keep_an_admin,
    may_let_into,
    must_find,
    must_see,
    read_account,
)
from splicewright.store.accounts.passwords import (
    Passwords,
    checked_name,
    login_faults,
    login_key,
    password_faults,
)
from splicewright.store.accounts.schema import ACCOUNTS, CHANGES
from splicewright.store.accounts.sql_factors import SqlFactors
from splicewright.store.accounts.sql_phones import SqlPhones
from splicewright.store.accounts.sql_push import SqlPush
from splicewright.store.authority import Scope
from splicewright.store.database import opening
from splicewright.store.facts.plant_facts import PersonRole
from splicewright.store.refusals import BusyError, FullError
from splicewright.store.sites import ALL_SITES, NO_SITES, Sites, covers


class SqlAccounts(SqlFactors):
    """`Accounts` in SQL. Made by `SqlRegister.accounts`; may be used by many threads."""

    def __init__(
        self, engine: Engine, clock: Callable[[], datetime], hash_memory: int | None = None
    ) -> None:
        super().__init__(engine, clock)
        self._passwords = Passwords(hash_memory)
        self.phones = SqlPhones(engine, clock)
        self.push = SqlPush(engine, clock)

    # Who there is

    def accounts(self) -> tuple[Account, ...]:
        """All accounts by name."""
        with opening.reading(self._engine) as connection:
            query = select(ACCOUNTS).order_by(ACCOUNTS.c.name, ACCOUNTS.c.account)
            rows, sites = connection.execute(query).all(), account_sites.read_all(connection)
        return tuple(
            account_of(r, ALL_SITES if r.all_sites else sites.get(r.account, NO_SITES))
            for r in rows
        )

    def account(self, account: UUID) -> Account | None:
        """One account."""
        with opening.reading(self._engine) as connection:
            return find(connection, account)

    def changes(
        self, limit: int = 200, before: int | None = None, *, sites: Sites = ALL_SITES
    ) -> tuple[AccountChange, ...]:
        """The log of changes, the newest first; see `Accounts.changes`."""
        who, doer = ACCOUNTS.alias("who"), ACCOUNTS.alias("doer")
        query = (
            select(CHANGES, who.c.name.label("name"), doer.c.name.label("by_name"))
            .outerjoin(who, who.c.account == CHANGES.c.account)
            .outerjoin(doer, doer.c.account == CHANGES.c.by)
            .order_by(CHANGES.c.seq.desc())
            .limit(limit)
        )
        if before is not None:
            query = query.where(CHANGES.c.seq < before)
        if sites is not None:
            query = query.where(CHANGES.c.account.in_(account_sites.sharing(sites)))
        hidden = {Change.SITES, *OF_DOORS} if sites is not None else set()
        with opening.reading(self._engine) as connection:
            return tuple(
                AccountChange(
                    r.seq,
                    r.at,
                    r.account,
                    r.name or "",
                    r.by,
                    r.by_name or "",
                    r.change,
                    "" if r.change in hidden else r.note,
                )
                for r in connection.execute(query)
            )

    # Signing in

    def sign_in(self, login: str, password: str, address: str, device: str = "") -> Session | None:
        """Begin a session; see `Accounts.sign_in`."""
        key = login_key(login)
        query = select(ACCOUNTS).where(ACCOUNTS.c.login == key)
        with self._writing() as connection:
            row = connection.execute(query).first()
            kept: str | None = row.password if row is not None else None
            known = self._passwords.knows(kept, device)
            this = sessions.count_try(connection, key, address, self._now(), known)
        if not self._passwords.match(kept, password) or kept is None:
            return None
        renewed = self._passwords.hashed(password) if self._passwords.outdated(kept) else None
        with self._writing() as connection:
            # The account may have been closed, or its password changed, meanwhile.
            row = connection.execute(query).first()
            if row is None or row.closed is not None or row.password != kept:
                return None
            sessions.forget_try(connection, this)
            if renewed is not None:
                self._set(connection, row.account, password=renewed)
            waits = second_factor.is_set(connection, row.account)
            token, csrf = sessions.begin(connection, row.account, self._now(), waits=waits)
            if not waits:
                self._log(connection, Change.SIGNED_IN, row.account, row.account)
            # Its sign goes with the password that is kept from now on.
            sign = device if known and not renewed else self._passwords.device_of(renewed or kept)
            return Session(read_account(connection, row), csrf, token, sign, waits)

    def session(self, token: str) -> Session | None:
        """The session of a device's token; see `Accounts.session`."""
        now = self._now()
        with opening.reading(self._engine) as connection:
            match = sessions.find(connection, token, now)
            if match is None:
                return None
            row, csrf, stale = match
            account = read_account(connection, row)
        if account.closed is not None:
            return None
        new = None
        if stale:
            # It holds until it ends, renewed or not: a busy register turns nobody away for it.
            with contextlib.suppress(BusyError, FullError), self._writing() as connection:
                new = sessions.touch(connection, token, now)
        return Session(account, csrf, new)

    def device_of(self, account: UUID) -> str:
        """A sign for a device on which the account's password was just set."""
        with opening.reading(self._engine) as connection:
            query = select(ACCOUNTS.c.password).where(ACCOUNTS.c.account == account)
            return self._passwords.device_of(connection.execute(query).scalar_one())

    def was_ended(self, token: str) -> bool:
        """Whether the session of a token was ended by somebody."""
        with opening.reading(self._engine) as connection:
            return not sessions.is_there(connection, token)

    def sign_out(self, token: str) -> None:
        """End the session of a token."""
        with self._writing() as connection:
            account = sessions.end(connection, token)
            if account is not None:
                self._log(connection, Change.SIGNED_OUT, account, account)

    def sign_out_everywhere(self, account: UUID, by: UUID | None) -> None:
        """End all sessions of an account."""
        with self._writing() as connection:
            must_find(connection, account)
            sessions.end_all(connection, account)
            self._log(connection, Change.SIGNED_OUT_ALL, account, by)

    # Joining and changing

    def invite(
        self,
        name: str,
        role: PersonRole,
        by: UUID | None,
        account: UUID | None = None,
        *,
        sites: Sites = ALL_SITES,
    ) -> str:
        """Make a one-time invitation; see `Accounts.invite`."""
        name = name if account is not None else checked_name(name)
        secret = secrets.token_urlsafe(32)
        now = self._now()
        with self._writing() as connection:
            if account is not None:
                there = must_find(connection, account)
                name, role, sites = there.name, there.role, there.sites
            may_let_into(connection, by, sites)
            invitation = Invitation(name, role, now, account, by, sessions.digest(secret), sites)
            invitations.make(connection, invitation, now)
            note = f"{name} as {role.value}" if account is None else "to set a new password"
            self._log(connection, Change.INVITED, account, by, note)
        return secret

    def invitation(self, secret: str) -> Invitation | None:
        """An invitation that can still be used."""
        with opening.reading(self._engine) as connection:
            return invitations.find(connection, secret, self._now())

    def invitations(self) -> tuple[Invitation, ...]:
        """All invitations that can still be used, the newest first."""
        with opening.reading(self._engine) as connection:
            return invitations.usable(connection, self._now())

    def revoke_invitation(self, invitation: UUID, by: UUID | None) -> None:
        """End an invitation by its id."""
        with self._writing() as connection:
            ended = invitations.revoke(connection, invitation, self._now())
            note = f"{ended.name} as {ended.role.value}" if ended.account is None else ""
            self._log(connection, Change.REVOKED, ended.account, by, note)

    def accept(self, secret: str, login: str, password: str) -> Account:
        """Use an invitation; see `Accounts.accept`."""
        say = "was used already, is too old or was taken back; ask for a new one"
        gone = InputError(Fault("invitation", say))
        there = self.invitation(secret)
        if there is None:
            raise gone
        faults = []
        key = login_key(login)
        if there.account is None:
            faults += login_faults(key)
        faults += password_faults(password, (key, there.name))
        if faults:
            raise InputError(*faults)
        kept = self._passwords.hashed(password)
        with self._writing() as connection:
            row = invitations.find(connection, secret, self._now())
            if row is None:
                raise gone
            invitations.use(connection, row, self._now())
            if row.account is not None:
                account = must_find(connection, row.account)
                self._set(connection, row.account, password=kept)
                sessions.end_all(connection, row.account)
                self._log(connection, Change.PASSWORD, row.account, row.account, "by invitation")
                return account
            taken = select(ACCOUNTS.c.account).where(ACCOUNTS.c.login == key)
            if connection.execute(taken).first() is not None:
                raise InputError(Fault("login", f'"{key}" is taken; choose another name'))
            account = Account(
                uuid4(), key, row.name, row.role, "metric", self._now(), sites=row.sites
            )
            connection.execute(
                insert(ACCOUNTS).values(
                    account=account.account,
                    login=key,
                    name=account.name,
                    role=account.role,
                    password=kept,
                    units=account.units,
                    created=account.created,
                    all_sites=account.sites is None,
                )
            )
            account_sites.write(connection, account.account, account.sites)
            self._log(
                connection, Change.JOINED, account.account, row.by, f"as {account.role.value}"
            )
            self._log_sites(connection, account.account, row.by, NO_SITES, account.sites)
            return account

    def change_password(
        self, account: UUID, old: str, new: str, address: str, device: str = ""
    ) -> None:
        """Change one's own password; see `Accounts.change_password`."""
        with self._writing() as connection:
            there = must_find(connection, account)
            query = select(ACCOUNTS.c.password).where(ACCOUNTS.c.account == account)
            kept = connection.execute(query).scalar_one()
            known = self._passwords.knows(kept, device)
            this = sessions.count_try(connection, there.login, address, self._now(), known)
        if not self._passwords.match(kept, old):
            raise InputError(Fault("old", "is not your password"))
        faults = password_faults(new, (there.login, there.name))
        if faults:
            raise InputError(*faults)
        hashed = self._passwords.hashed(new)
        with self._writing() as connection:
            sessions.forget_try(connection, this)
            self._set(connection, account, password=hashed)
            sessions.end_all(connection, account)
            self._log(connection, Change.PASSWORD, account, account)

    def change_role(self, account: UUID, role: PersonRole, by: UUID | None) -> None:
        """Give an account another role."""
        with self._writing() as connection:
            there = must_find(connection, account)
            if there.role is role:
                return
            if role is not PersonRole.ADMIN:
                keep_an_admin(connection, there)
            self._set(connection, account, role=role)
            invitations.end_of(connection, account, self._now())
            note = f"from {there.role.value} to {role.value}"
            self._log(connection, Change.ROLE, account, by, note)

    def let_into(self, account: UUID, sites: Sites, by: UUID | None) -> None:
        """Let an account into these sites and no others; see `Accounts.let_into`."""
        with self._writing() as connection:
            there = must_see(connection, account, by)
            if there.sites == sites:
                return
            may_let_into(connection, by, sites)
            may_let_into(connection, by, there.sites)
            if sites is not None:
                keep_an_admin(connection, there)
            self._set(connection, account, all_sites=sites is None)
            account_sites.write(connection, account, sites)
            invitations.end_of(connection, account, self._now())
            if not covers(sites, there.sites):
                sessions.end_all(connection, account)
            self._log_sites(connection, account, by, there.sites, sites)

    def rename(self, account: UUID, name: str, by: UUID | None) -> None:
        """Give an account another name."""
        name = checked_name(name)
        with self._writing() as connection:
            there = must_find(connection, account)
            if there.name == name:
                return
            self._set(connection, account, name=name)
            self._log(connection, Change.RENAMED, account, by, f"from {there.name} to {name}")

    def close_account(self, account: UUID, by: UUID | None) -> None:
        """Close an account."""
        with self._writing() as connection:
            there = must_find(connection, account)
            if there.closed is not None:
                return
            keep_an_admin(connection, there)
            now = self._now()
            self._set(connection, account, closed=now)
            sessions.end_all(connection, account)
            keys.end_all(connection, account, now)
            invitations.end_of(connection, account, now)
            self._log(connection, Change.CLOSED, account, by)

    def reopen_account(self, account: UUID, by: UUID | None) -> None:
        """Open a closed account again."""
        with self._writing() as connection:
            if must_find(connection, account).closed is None:
                return
            self._set(connection, account, closed=None)
            self._log(connection, Change.REOPENED, account, by)

    def set_units(self, account: UUID, units: Units) -> None:
        """What units a person reads."""
        if units not in {"metric", "inch"}:
            raise InputError(Fault("units", f'"{units}" is not known; give metric or inch'))
        with self._writing() as connection:
            if must_find(connection, account).units == units:
                return
            self._set(connection, account, units=units)
            self._log(connection, Change.UNITS, account, account, f"to {units}")

    # Keys for programs

    def make_token(
        self,
        account: UUID,
        label: str,
        scopes: Collection[Scope],
        until: datetime,
        by: UUID | None,
        *,
        sites: Sites = ALL_SITES,
    ) -> str:
        """Make a key for programs; see `Accounts.make_token`."""
        label, now = checked_name(label, "label"), self._now()
        with self._writing() as connection:
            there = must_see(connection, account, by)
            # A key for all its account's sites goes with them: its maker must be let into them.
            may_let_into(connection, by, there.sites if sites is None else sites)
            key = keys.make(connection, there, label, frozenset(scopes), until, now, sites)
            scope_names = ", ".join(sorted(scopes))
            self._log(connection, Change.TOKEN_MADE, account, by, f"{label} ({scope_names})")
        return key

    def key(self, key: str) -> Key | None:
        """What a program's key opens."""
        now = self._now()
        with opening.reading(self._engine) as connection:
            match = keys.find(connection, key, now)
        if match is None or match[1].closed is not None:
            return None
        token, account = match
        if token.used is None or abs(now - token.used) > sessions.USED_TOLD:
            # Only for people to look at: a busy register turns nobody away for it.
            with contextlib.suppress(BusyError, FullError), self._writing() as connection:
                keys.note_use(connection, token.token, now)
        return Key(token, account)

    def tokens(self, account: UUID | None = None) -> tuple[Token, ...]:
        """Keys of an account or all, the newest first."""
        with opening.reading(self._engine) as connection:
            return keys.all_of(connection, account)

    def end_token(self, token: UUID, by: UUID | None) -> None:
        """Revoke a key."""
        with self._writing() as connection:
            mine = must_find(connection, by).sites if by is not None else ALL_SITES
            ended = keys.end(connection, token, self._now(), mine)
            if ended is not None:
                self._log(connection, Change.TOKEN_ENDED, ended.account, by, ended.label)
