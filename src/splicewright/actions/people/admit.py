"""Let people in, change what they may do, and close their accounts.

Admins may do so for everybody, leads for crew and viewers. Each change stands in the log of
accounts, and the person's name and role in the facts.
"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID

from splicewright.actions.people.sign_in import make_known
from splicewright.errors import Fault, InputError, SplicewrightError

if TYPE_CHECKING:
    from splicewright.store import Account, Accounts, PersonRole, Register
    from splicewright.store.sites import Sites


class NotYoursError(SplicewrightError):
    """Somebody's role does not let them do this to an account of that role."""


def invite(accounts: Accounts, name: str, role: PersonRole, *, sites: Sites, by: UUID) -> str:
    """A one-time secret for a new person, who is let into these sites.

    Raises NotYoursError: the doer may not let in people of that role. Raises InputError: the name
    cannot be used, or no site is named, or one that is not the doer's to give.
    """
    _check(accounts, by, role)
    _named(sites)
    return accounts.invite(name, role, by, sites=sites)


def let_into(accounts: Accounts, account: UUID, sites: Sites, *, by: UUID) -> None:
    """Let somebody into these sites and no others; admins only.

    Their sessions end where they lose a site: a phone then deletes its copies.

    Raises NotYoursError: the doer is no admin. Raises InputError: no site is named, or the account
    has or gets sites that the doer is not let into.
    """
    from splicewright.store import PersonRole

    there = _known(accounts, account, by)
    doer = _check(accounts, by, there.role, there.sites)
    if doer.role is not PersonRole.ADMIN:
        msg = "sites are given and taken back by admins; ask one"
        raise NotYoursError(msg)
    _named(sites)
    accounts.let_into(account, sites, by)


def renew_password(accounts: Accounts, account: UUID, *, by: UUID) -> str:
    """A one-time secret by which somebody sets a new password."""
    there = _known(accounts, account, by)
    _check(accounts, by, there.role, there.sites)
    if there.closed is not None:
        raise InputError(Fault("account", f"{there.name}'s account is closed; open it first"))
    return accounts.invite(there.name, there.role, by, account=account)


def revoke(accounts: Accounts, invitation: UUID, *, by: UUID) -> None:
    """Take a one-time link back.

    Raises NotYoursError: the doer may not let in people of that role. Raises InputError: it opens
    nothing any more.
    """
    for there in accounts.invitations():
        if there.id == invitation:
            _check(accounts, by, there.role, there.sites)
    accounts.revoke_invitation(invitation, by)


def change_role(
    register: Register,
    accounts: Accounts,
    account: UUID,
    role: PersonRole,
    *,
    by: UUID,
    now: datetime,
) -> None:
    """Give somebody another role."""
    there = _known(accounts, account, by)
    _check(accounts, by, there.role, there.sites)
    doer = _check(accounts, by, role)
    accounts.change_role(account, role, by)
    make_known(register, _known(accounts, account, by), by=doer, now=now)


def rename(
    register: Register, accounts: Accounts, account: UUID, name: str, *, by: UUID, now: datetime
) -> None:
    """Give somebody another name; facts recorded before keep the old one."""
    doer = _theirs(accounts, account, by)
    accounts.rename(account, name, by)
    make_known(register, _known(accounts, account, by), by=doer, now=now)


def close_account(accounts: Accounts, account: UUID, *, by: UUID) -> None:
    """Close an account; what the person recorded stays."""
    _theirs(accounts, account, by)
    accounts.close_account(account, by)


def reopen_account(accounts: Accounts, account: UUID, *, by: UUID) -> None:
    """Open a closed account again."""
    _theirs(accounts, account, by)
    accounts.reopen_account(account, by)


def clear_factor(accounts: Accounts, account: UUID, *, by: UUID) -> None:
    """Take somebody's second factor away, as when a phone is lost; their sessions end."""
    _theirs(accounts, account, by)
    accounts.clear_factor(account, by)


def sign_out_everywhere(accounts: Accounts, account: UUID, *, by: UUID) -> None:
    """End all sessions of somebody, as when a phone is lost."""
    if account != by:
        _theirs(accounts, account, by)
    accounts.sign_out_everywhere(account, by)


def _theirs(accounts: Accounts, account: UUID, by: UUID) -> Account:
    """The doer, when the account is theirs to change."""
    there = _known(accounts, account, by)
    return _check(accounts, by, there.role, there.sites)


def _known(accounts: Accounts, account: UUID, by: UUID | None = None) -> Account:
    """The account; one that shares no site with the doer is as if there were none."""
    from splicewright.store.sites import shares

    match = accounts.account(account)
    mine = _known(accounts, by).sites if by is not None else None
    if match is None or not (shares(mine, match.sites) or account == by):
        raise InputError(Fault("account", f"there is no account {account}"))
    return match


def _named(sites: Sites) -> None:
    if sites is not None and not sites:
        say = "are not chosen; accepted are one or more sites, or all sites"
        raise InputError(Fault("sites", say))


def _check(accounts: Accounts, by: UUID, role: PersonRole, sites: Sites = frozenset()) -> Account:
    from splicewright.store.authority import may_admit
    from splicewright.store.sites import covers

    doer = _known(accounts, by)
    if not may_admit(doer.role, role):
        msg = f"a {doer.role.value} cannot do this for a {role.value}; ask an admin"
        raise NotYoursError(msg)
    if not covers(doer.sites, sites):
        msg = "they are let into sites that you are not; ask an admin who is let into all of them"
        raise NotYoursError(msg)
    return doer
