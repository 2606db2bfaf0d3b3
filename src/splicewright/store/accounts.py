"""Accounts as the rest of Splicewright sees them: who may sign in, as whom, and what changed.

An account is a person of the register who can sign in. Secrets (passwords, session, invitation
and API tokens) are kept only as hashes and never leave the store but once, when they are made.
Every change of an account is written to a log that the database itself refuses to change.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Literal, Protocol
from uuid import UUID

from splicewright.store.plant_facts import PersonRole

Units = Literal["metric", "inch"]
SHORTEST_PASSWORD, LONGEST_PASSWORD = 10, 200
"""Characters of a password."""
LONGEST_LOGIN = 60
"""Characters of the name somebody signs in with."""


class Change(StrEnum):
    """What happened to an account."""

    INVITED = "invited"
    JOINED = "joined"
    RENAMED = "name changed"
    ROLE = "role changed"
    CLOSED = "closed"
    REOPENED = "opened again"
    PASSWORD = "password changed"
    UNITS = "units changed"
    SIGNED_IN = "signed in"
    SIGNED_OUT = "signed out"
    SIGNED_OUT_ALL = "signed out everywhere"
    TOKEN_MADE = "token made"
    TOKEN_ENDED = "token ended"


@dataclass(frozen=True, slots=True)
class Account:
    """Somebody who can sign in.

    account : also the id of the person in facts; login : what they sign in with
    closed : since when they cannot sign in any more; None while they can
    """

    account: UUID
    login: str
    name: str
    role: PersonRole
    units: Units
    made: datetime
    closed: datetime | None = None


@dataclass(frozen=True, slots=True)
class Session:
    """A person signed in on one device.

    csrf : secret that forms of this session carry; 32 bytes
    token : a new token that the device must use from now on; None keeps the one it has
    """

    account: Account
    csrf: bytes
    token: str | None = None


@dataclass(frozen=True, slots=True)
class Invitation:
    """A one-time link that makes an account, or gives `account` a new password."""

    name: str
    role: PersonRole
    until: datetime
    account: UUID | None = None


@dataclass(frozen=True, slots=True)
class Token:
    """A key for programs; it may do what its account may. The key itself is not kept."""

    token: UUID
    account: UUID
    label: str
    made: datetime
    until: datetime | None
    used: datetime | None


@dataclass(frozen=True, slots=True)
class AccountChange:
    """One line of the log: what happened to an account, when, done by whom (None: the console)."""

    seq: int
    at: datetime
    account: UUID | None
    name: str
    by: UUID | None
    by_name: str
    change: Change
    note: str


class Accounts(Protocol):
    """All that can be done with accounts. Errors: `InputError`, `BusyError`, `FullError`."""

    def accounts(self) -> tuple[Account, ...]:
        """All accounts by name, closed ones too."""

    def account(self, account: UUID) -> Account | None:
        """One account."""

    def sign_in(self, login: str, password: str, address: str) -> Session | None:
        """Begin a session; None when name and password do not belong together.

        The session's `token` is the device's secret.

        Parameters
        ----------
        login, password : as typed
        address : where the try came from, to count tries

        Raises
        ------
        TooOftenError
            Too many tries in a short time; the password was not looked at.
        """

    def session(self, token: str) -> Session | None:
        """The session of a device's token; None when it ended. May give a new token."""

    def sign_out(self, token: str) -> None:
        """End the session of a token."""

    def sign_out_everywhere(self, account: UUID, by: UUID | None) -> None:
        """End all sessions of an account."""

    def invite(
        self, name: str, role: PersonRole, by: UUID | None, account: UUID | None = None
    ) -> str:
        """Make a one-time invitation and give its secret.

        Parameters
        ----------
        name, role : of the new account
        by : who invites; None from the console
        account : an account that gets a new password instead; name and role stay its own
        """

    def invitation(self, secret: str) -> Invitation | None:
        """An invitation that can still be used."""

    def accept(self, secret: str, login: str, password: str) -> Account:
        """Use an invitation: make the account, or give it its new password.

        Raises
        ------
        InputError
            The invitation was used or is too old, the login is taken, the password too weak.
        """

    def change_password(self, account: UUID, old: str, new: str, address: str) -> None:
        """Change one's own password; all sessions of the account end.

        Raises
        ------
        InputError
            The old password is wrong, or the new one too weak.
        TooOftenError
            Too many tries in a short time.
        """

    def change_role(self, account: UUID, role: PersonRole, by: UUID | None) -> None:
        """Give an account another role; the last admin keeps theirs."""

    def rename(self, account: UUID, name: str, by: UUID | None) -> None:
        """Give an account another name; facts recorded before keep the old one."""

    def close_account(self, account: UUID, by: UUID | None) -> None:
        """Close an account: sessions and tokens end; what it recorded stays."""

    def reopen_account(self, account: UUID, by: UUID | None) -> None:
        """Open a closed account again."""

    def set_units(self, account: UUID, units: Units) -> None:
        """What units a person reads."""

    def make_token(self, account: UUID, label: str, until: datetime | None = None) -> str:
        """Make a key for programs and give it; it is shown once."""

    def by_token(self, key: str) -> Account | None:
        """The account of a program's key; None when it was ended, is too old, or never was."""

    def tokens(self, account: UUID) -> tuple[Token, ...]:
        """Keys of an account that work, the newest first."""

    def end_token(self, token: UUID, account: UUID, by: UUID | None) -> None:
        """End a key of an account."""

    def changes(self, limit: int = 200, before: int | None = None) -> tuple[AccountChange, ...]:
        """The log of changes, the newest first; `before` pages on."""
