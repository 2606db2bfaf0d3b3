"""Sign in, and join by invitation: a session for the device, and a person the register knows."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING
from uuid import uuid4

if TYPE_CHECKING:
    from splicewright.store import Account, Accounts, Register, Session


def sign_in(
    register: Register,
    accounts: Accounts,
    login: str,
    password: str,
    *,
    address: str,
    now: datetime,
    device: str = "",
) -> Session | None:
    """Begin a session; None when name and password do not belong together.

    register : gets to know the person when it does not yet
    device : what an earlier session gave this device (`Session.device`)
    Raises TooOftenError: too many tries in a short time.
    """
    session = accounts.sign_in(login, password, address, device)
    if session is not None:
        make_known(register, session.account, by=None, now=now)
    return session


def join(
    register: Register,
    accounts: Accounts,
    secret: str,
    login: str,
    password: str,
    *,
    address: str,
    now: datetime,
) -> Session | None:
    """Use an invitation and sign in with it.

    Raises InputError: the invitation was used or is too old, whoever made it may not let people in
    any more, the login is taken, the password too weak.
    """
    account = accounts.accept(secret, login, password)
    return sign_in(
        register,
        accounts,
        account.login,
        password,
        address=address,
        now=now,
        device=accounts.device_of(account.account),
    )


def make_known(register: Register, account: Account, *, by: Account | None, now: datetime) -> None:
    """Record the person of an account, or their new name or role, as a fact; once.

    by : who changed the account; None: the person's own doing
    """
    from splicewright.store import CONSOLE, Fact
    from splicewright.store.facts.plant_facts import PersonAdded

    # What accounts say of people is settled already: the fact only repeats it for the history.
    register = register.said_by(CONSOLE)
    there = {person.person: person for person in register.people()}.get(account.account)
    if there is not None and (there.name, there.role) == (account.name, account.role):
        return
    doer = by or account
    event = PersonAdded(account.account, account.name, account.role)
    fact = Fact(uuid4(), now, doer.name, event, doer.account, "accounts")
    register.append(fact)
