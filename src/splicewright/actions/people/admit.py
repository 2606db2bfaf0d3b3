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


class NotYoursError(SplicewrightError):
    """Somebody's role does not let them do this to an account of that role."""


def invite(accounts: Accounts, name: str, role: PersonRole, *, by: UUID) -> str:
    """A one-time secret for a new person.

    Raises
    ------
    NotYoursError
        The doer may not let in people of that role.
    InputError
        The name cannot be used.
    """
    _check(accounts, by, role)
    return accounts.invite(name, role, by)


def renew_password(accounts: Accounts, account: UUID, *, by: UUID) -> str:
    """A one-time secret by which somebody sets a new password."""
    there = _known(accounts, account)
    _check(accounts, by, there.role)
    if there.closed is not None:
        raise InputError(Fault("account", f"{there.name}'s account is closed; open it first"))
    return accounts.invite(there.name, there.role, by, account=account)


def revoke(accounts: Accounts, invitation: UUID, *, by: UUID) -> None:
    """Take a one-time link back.

    Raises
    ------
    NotYoursError
        The doer may not let in people of that role.
    InputError
        It opens nothing any more.
    """
    for there in accounts.invitations():
        if there.id == invitation:
            _check(accounts, by, there.role)
    accounts.revoke_invitation(invitation, by)


def change_role(
    register: Register, accounts: Accounts, account: UUID, role: PersonRole, *, by: UUID,
    now: datetime,
) -> None:  # fmt: skip
    """Give somebody another role."""
    there = _known(accounts, account)
    _check(accounts, by, there.role)
    doer = _check(accounts, by, role)
    accounts.change_role(account, role, by)
    make_known(register, _known(accounts, account), by=doer, now=now)


def rename(
    register: Register, accounts: Accounts, account: UUID, name: str, *, by: UUID, now: datetime
) -> None:
    """Give somebody another name; facts recorded before keep the old one."""
    doer = _check(accounts, by, _known(accounts, account).role)
    accounts.rename(account, name, by)
    make_known(register, _known(accounts, account), by=doer, now=now)


def close_account(accounts: Accounts, account: UUID, *, by: UUID) -> None:
    """Close an account; what the person recorded stays."""
    _check(accounts, by, _known(accounts, account).role)
    accounts.close_account(account, by)


def reopen_account(accounts: Accounts, account: UUID, *, by: UUID) -> None:
    """Open a closed account again."""
    _check(accounts, by, _known(accounts, account).role)
    accounts.reopen_account(account, by)


def sign_out_everywhere(accounts: Accounts, account: UUID, *, by: UUID) -> None:
    """End all sessions of somebody, as when a phone is lost."""
    if account != by:
        _check(accounts, by, _known(accounts, account).role)
    accounts.sign_out_everywhere(account, by)


def _known(accounts: Accounts, account: UUID) -> Account:
    found = accounts.account(account)
    if found is None:
        raise InputError(Fault("account", f"there is no account {account}"))
    return found


def _check(accounts: Accounts, by: UUID, role: PersonRole) -> Account:
    from splicewright.store.authority import may_admit

    doer = _known(accounts, by)
    if not may_admit(doer.role, role):
        msg = f"a {doer.role.value} cannot do this for a {role.value}; ask an admin"
        raise NotYoursError(msg)
    return doer
