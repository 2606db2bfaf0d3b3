"""Accounts as the rest of Splicewright sees them: who may sign in, as whom, and what changed.

An account is a person of the register who can sign in. Secrets (passwords, session, invitation
and API tokens) are kept only as hashes and never leave the store but once, when they are made.
Every change of an account is written to a log that the database itself refuses to change.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Literal, Protocol
from urllib.parse import urlsplit
from uuid import UUID

from splicewright.store.accounts.phones import Phones
from splicewright.store.accounts.push_phones import PushPhones
from splicewright.store.authority import Scope
from splicewright.store.facts.plant_facts import PersonRole
from splicewright.store.sites import ALL_SITES, NO_SITES, Sites, both

Units = Literal["metric", "inch"]
SHORTEST_PASSWORD, LONGEST_PASSWORD = 10, 200
"""Characters of a password."""
LONGEST_LOGIN = 60
"""Characters of the name somebody signs in with."""


class Change(StrEnum):
    """What happened to an account, or what its owner did beside the facts."""

    INVITED = "invited"
    REVOKED = "invitation revoked"
    JOINED = "joined"
    RENAMED = "name changed"
    ROLE = "role changed"
    SITES = "sites changed"
    CLOSED = "closed"
    REOPENED = "opened again"
    PASSWORD = "password changed"
    UNITS = "units changed"
    SIGNED_IN = "signed in"
    SIGNED_OUT = "signed out"
    SIGNED_OUT_ALL = "signed out everywhere"
    FACTOR_SET = "second factor set"
    FACTOR_CLEARED = "second factor cleared"
    PASSKEY_ADDED = "passkey added"
    PASSKEY_REMOVED = "passkey removed"
    TOKEN_MADE = "token made"
    TOKEN_ENDED = "token ended"
    HOOK_MADE = "made a hook"
    HOOK_SECRET = "made another secret for a hook"
    HOOK_REPLAYED = "had a hook tell again"
    HOOK_AGAIN = "sent dead letters of a hook again"
    HOOK_ENDED = "ended a hook"
    MAPPING_KEPT = "kept a mapping of incoming values"
    FAULTS_CLEARED = "cleared what was wrong with incoming values"


OF_DOORS = frozenset(
    {
        Change.HOOK_MADE,
        Change.HOOK_SECRET,
        Change.HOOK_REPLAYED,
        Change.HOOK_AGAIN,
        Change.HOOK_ENDED,
        Change.MAPPING_KEPT,
        Change.FAULTS_CLEARED,
    }
)
"""Done by whoever it is of, to hooks and incoming values, not to an account."""
SCOPE_ROLES = {
    Scope.READ: PersonRole.VIEWER,
    Scope.RECORD: PersonRole.CREW,
    Scope.PLAN: PersonRole.CREW,
    Scope.ADMIN: PersonRole.ADMIN,
    Scope.CALENDAR: PersonRole.VIEWER,
}
"""The role that the key's account must have too: a key never does more than its account may."""
LONGEST_TOKEN = timedelta(days=731)
"""How far ahead a key may end."""


@dataclass(frozen=True, slots=True)
class Account:
    """Somebody who can sign in.

    account : also the id of the person in facts; login : what they sign in with
    closed : since when they cannot sign in any more; None while they can
    sites : that they are let into; what is not said is none
    """

    account: UUID
    login: str
    name: str
    role: PersonRole
    units: Units
    created: datetime
    closed: datetime | None = None
    sites: Sites = NO_SITES


@dataclass(frozen=True, slots=True)
class Session:
    """A person signed in on one device.

    csrf : secret that forms of this session carry; 32 bytes
    token : a new token that the device must use from now on; None keeps the one it has
    device : what the device shows when it signs in again, as one that did before; "" when it has it
    waits : a code is still asked for (`Accounts.pass_factor`); until then it opens nothing
    """

    account: Account
    csrf: bytes
    token: str | None = None
    device: str = ""
    waits: bool = False


@dataclass(frozen=True, slots=True)
class Place:
    """Under which address a browser reaches the app; passkeys are made for it and no other.

    origin : as browsers say it, such as https://belts.example.org
    """

    origin: str

    @property
    def host(self) -> str:
        """Its name, without a port."""
        return urlsplit(self.origin).hostname or ""

    @property
    def takes_passkeys(self) -> bool:
        """Whether browsers make passkeys for it: a name, by HTTPS or on this machine."""
        secure = self.origin.startswith("https://") or self.host == "localhost"
        return secure and not self.host.replace(".", "").isdigit() and ":" not in self.host


@dataclass(frozen=True, slots=True)
class Passkey:
    """A passkey of an account, as people see it.

    host : for which it was made; used : when it last signed in
    """

    passkey: UUID
    name: str
    host: str
    created: datetime
    used: datetime | None = None


@dataclass(frozen=True, slots=True)
class Invitation:
    """A one-time link that makes an account, or gives `account` a new password.

    by : who made it; None: the console
    digest : of its secret; nobody can tell the secret from it
    sites : that the new account is let into; for a new password, those the account has
    """

    name: str
    role: PersonRole
    until: datetime
    account: UUID | None = None
    by: UUID | None = None
    digest: bytes = b""
    sites: Sites = NO_SITES

    @property
    def id(self) -> UUID:
        """By what it is revoked."""
        return UUID(bytes=self.digest[:16])


@dataclass(frozen=True, slots=True)
class Token:
    """A key for programs: what its scopes and its account may both. The key itself is not kept.

    used : about when it was last used; ended : when somebody revoked it
    sites : of its account's those that it opens; all sites: as many as its account
    """

    token: UUID
    account: UUID
    label: str
    scopes: frozenset[Scope]
    created: datetime
    until: datetime
    used: datetime | None = None
    ended: datetime | None = None
    sites: Sites = ALL_SITES

    def works(self, now: datetime) -> bool:
        """Whether it still opens anything."""
        return self.ended is None and now < self.until


@dataclass(frozen=True, slots=True)
class Key:
    """A key that works, and the account it acts as."""

    token: Token
    account: Account

    @property
    def sites(self) -> Sites:
        """What it opens: never more than its account may at this moment."""
        return both(self.token.sites, self.account.sites)


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

    @property
    def shown_name(self) -> str:
        """Whom the line begins with."""
        return self.name or ("The console" if self.change in OF_DOORS else "new person")


class Accounts(Protocol):
    """All that can be done with accounts. Errors: `InputError`, `BusyError`, `FullError`."""

    @property
    def phones(self) -> Phones:
        """What is remembered of the phones they write on."""

    @property
    def push(self) -> PushPhones:
        """The phones that are told by web push."""

    def accounts(self) -> tuple[Account, ...]:
        """All accounts by name, closed ones too."""

    def account(self, account: UUID) -> Account | None:
        """One account."""

    def sign_in(self, login: str, password: str, address: str, device: str = "") -> Session | None:
        """Begin a session; None when name and password do not belong together.

        The session's `token` is the device's secret.

        Parameters
        ----------
        login, password : as typed
        address : where the try came from, to count tries
        device : what an earlier session of this account gave this device (`Session.device`): its
            tries are counted by themselves, so that nobody elsewhere can keep it out

        Raises
        ------
        TooOftenError
            Too many tries in a short time; the password was not looked at.
        """

    def session(self, token: str) -> Session | None:
        """The session of a device's token; None when it ended. May give a new token."""

    def device_of(self, account: UUID) -> str:
        """A sign for a device on which somebody has just set the account's password."""

    def waiting(self, token: str) -> Account | None:
        """Whose session it is that still waits for the code of the second factor."""

    def pass_factor(self, token: str, code: str, address: str) -> bool:
        """Give a waiting session its code, or a recovery code; whether it was right.

        Raises
        ------
        TooOftenError
            Too many tries in a short time; the code was not looked at.
        """

    def has_factor(self, account: UUID) -> bool:
        """Whether an account has a second factor: an app for codes, or a passkey."""

    def with_factor(self) -> frozenset[UUID]:
        """The accounts that have one."""

    def has_code_app(self, account: UUID) -> bool:
        """Whether an account has an app for codes."""

    def passkeys(self, account: UUID) -> tuple[Passkey, ...]:
        """The passkeys of an account, the oldest first."""

    def begin_passkey(self, account: UUID, place: Place) -> str:
        """What a browser needs to make a passkey, as JSON.

        Raises
        ------
        InputError
            There are too many, or browsers make none for that address.
        """

    def add_passkey(self, account: UUID, name: str, sent: str, place: Place) -> tuple[str, ...]:
        """Keep the passkey a browser made; gives recovery codes when it is the first factor.

        Raises
        ------
        InputError
            It answers no challenge of this account, or the name cannot be used.
        """

    def remove_passkey(self, account: UUID, passkey: UUID) -> None:
        """Take one's own passkey away; the last second factor only an admin takes away.

        Raises
        ------
        InputError
            There is no such passkey, or it is the last factor.
        """

    def ask_passkey(self, token: str, place: Place) -> str | None:
        """What a browser needs to sign in with a passkey, as JSON; None when there is none."""

    def pass_passkey(self, token: str, sent: str, place: Place, address: str) -> bool:
        """Give a waiting session what a passkey signed; whether it was right.

        Raises
        ------
        TooOftenError
            Too many tries in a short time; the answer was not looked at.
        """

    def recovery_codes_left(self, account: UUID) -> int:
        """How many recovery codes were not used yet."""

    def begin_factor(self, account: UUID) -> str:
        """A new secret in base32 for an app that makes codes; nothing is asked for yet.

        Raises
        ------
        InputError
            There is a second factor already.
        """

    def confirm_factor(self, account: UUID, code: str, address: str) -> tuple[str, ...]:
        """The app shows the right codes: they are asked for from now on. Gives recovery codes.

        Raises
        ------
        InputError
            It is not the code of the secret.
        TooOftenError
            Too many tries in a short time.
        """

    def new_key(self) -> int:
        """Seal all secrets, of apps for codes and of hooks, with a new key; gives their number."""

    def clear_factor(self, account: UUID, by: UUID | None) -> None:
        """Take the second factor away, as when a phone is lost; the account's sessions end."""

    def was_ended(self, token: str) -> bool:
        """Whether the session of a token was ended by somebody, not only left unused."""

    def sign_out(self, token: str) -> None:
        """End the session of a token."""

    def sign_out_everywhere(self, account: UUID, by: UUID | None) -> None:
        """End all sessions of an account."""

    def invite(
        self,
        name: str,
        role: PersonRole,
        by: UUID | None,
        account: UUID | None = None,
        *,
        sites: Sites = ALL_SITES,
    ) -> str:
        """Make a one-time invitation and give its secret.

        Parameters
        ----------
        name, role : of the new account
        by : who invites; None from the console
        account : an account that gets a new password instead; name and role stay its own
        sites : that the new account is let into; none that whoever invites is not let into

        Raises
        ------
        InputError
            The name cannot be used, or the sites are not theirs to give.
        """

    def invitation(self, secret: str) -> Invitation | None:
        """An invitation that can still be used."""

    def invitations(self) -> tuple[Invitation, ...]:
        """All invitations that can still be used, the newest first."""

    def revoke_invitation(self, invitation: UUID, by: UUID | None) -> None:
        """End an invitation by its id."""

    def accept(self, secret: str, login: str, password: str) -> Account:
        """Use an invitation: make the account, or give it its new password.

        Raises
        ------
        InputError
            The invitation was used or is too old, whoever made it may not let people in any more,
            the login is taken, the password too weak.
        """

    def change_password(
        self, account: UUID, old: str, new: str, address: str, device: str = ""
    ) -> None:
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

    def let_into(self, account: UUID, sites: Sites, by: UUID | None) -> None:
        """Let an account into these sites and no others; its sessions end where it loses one.

        A phone that was signed in deletes its copies when it next meets the server.

        Raises
        ------
        InputError
            `by` is not let into all of the sites that the account gets or loses.
        """

    def rename(self, account: UUID, name: str, by: UUID | None) -> None:
        """Give an account another name; facts recorded before keep the old one."""

    def close_account(self, account: UUID, by: UUID | None) -> None:
        """Close an account: sessions and tokens end; what it recorded stays."""

    def reopen_account(self, account: UUID, by: UUID | None) -> None:
        """Open a closed account again."""

    def set_units(self, account: UUID, units: Units) -> None:
        """What units a person reads."""

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
        """Make a key for programs and give it; it is shown once.

        Parameters
        ----------
        account : as which it acts
        label : what it is for; no two keys that work have the same
        scopes : at least one; none that the account's role does not reach
        until : when it ends, at most two years ahead
        by : who makes it; None from the console
        sites : of the account's those that it opens; all sites: as many as the account, always

        Raises
        ------
        InputError
            A value cannot be.
        """

    def key(self, key: str) -> Key | None:
        """What a program's key opens; None when it was revoked, is too old, or never was."""

    def tokens(self, account: UUID | None = None) -> tuple[Token, ...]:
        """Keys of an account or all, revoked and expired ones too, the newest first."""

    def end_token(self, token: UUID, by: UUID | None) -> None:
        """Revoke a key; again it is harmless.

        Raises
        ------
        InputError
            There is none, or it opens sites that `by` is not let into.
        """

    def changes(
        self, limit: int = 200, before: int | None = None, *, sites: Sites = ALL_SITES
    ) -> tuple[AccountChange, ...]:
        """The log of changes, the newest first; `before` pages on.

        sites : of whoever looks: only of accounts that share one, and no names of sites
        """
