"""One-time links end with the authority behind them, on both databases."""

from __future__ import annotations

import pytest

from splicewright.errors import InputError
from splicewright.store import Account, Change, PersonRole
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.sql.register import SqlRegister
from store.making import DAY, Clock

PASSWORD, OTHER = "three wet stones", "seven dry bricks"


@pytest.fixture
def accounts(register: SqlRegister) -> SqlAccounts:
    return register.accounts(hash_memory=64)


def join(accounts: SqlAccounts, login: str, role: PersonRole) -> Account:
    return accounts.accept(accounts.invite(f"{login} Example", role, None), login, PASSWORD)


@pytest.fixture
def admin(accounts: SqlAccounts) -> Account:
    join(accounts, "spare", PersonRole.ADMIN)
    return join(accounts, "ada", PersonRole.ADMIN)


@pytest.fixture
def lead(accounts: SqlAccounts) -> Account:
    return join(accounts, "lea", PersonRole.LEAD)


@pytest.fixture
def crew(accounts: SqlAccounts) -> Account:
    return join(accounts, "carl", PersonRole.CREW)


def dead(accounts: SqlAccounts, *secrets: str) -> bool:
    """Whether links open nothing; each is tried."""
    for number, secret in enumerate(secrets):
        assert accounts.invitation(secret) is None
        with pytest.raises(InputError, match="was used already, is too old or was taken back"):
            accounts.accept(secret, f"eve{number}", OTHER)
    return accounts.sign_in("eve0", OTHER, "") is None


def test_a_link_for_somebody_since_made_admin(
    accounts: SqlAccounts, admin: Account, lead: Account, crew: Account
) -> None:
    secret = accounts.invite("", PersonRole.CREW, lead.account, account=crew.account)
    accounts.change_role(crew.account, PersonRole.ADMIN, admin.account)
    assert dead(accounts, secret)
    assert accounts.sign_in("carl", PASSWORD, "") is not None
    # Made crew again, the old link stays dead.
    accounts.change_role(crew.account, PersonRole.CREW, admin.account)
    assert dead(accounts, secret)


def test_links_of_a_closed_or_demoted_account(
    accounts: SqlAccounts, admin: Account, lead: Account
) -> None:
    by_admin = accounts.invite("Eve Example", PersonRole.ADMIN, admin.account)
    by_lead = accounts.invite("Eva Example", PersonRole.CREW, lead.account)
    accounts.close_account(admin.account, None)
    accounts.change_role(lead.account, PersonRole.CREW, None)
    assert dead(accounts, by_admin, by_lead)
    accounts.reopen_account(admin.account, None)
    accounts.change_role(lead.account, PersonRole.LEAD, None)
    assert dead(accounts, by_admin, by_lead)


def test_the_older_of_two_links(accounts: SqlAccounts, lead: Account, crew: Account) -> None:
    older, newer = (
        accounts.invite("", PersonRole.CREW, lead.account, account=crew.account) for _ in "ab"
    )
    accounts.accept(newer, "", OTHER)
    assert dead(accounts, older)
    older, newer = (accounts.invite("Dora Example", PersonRole.CREW, lead.account) for _ in "ab")
    other = accounts.invite("Dolf Example", PersonRole.CREW, lead.account)
    accounts.accept(newer, "dora", PASSWORD)
    assert dead(accounts, older)
    assert accounts.invitation(other) is not None


def test_links_are_listed_and_taken_back(
    accounts: SqlAccounts, lead: Account, crew: Account, clock: Clock
) -> None:
    first = accounts.invite("Dora Example", PersonRole.CREW, lead.account)
    clock.pass_(60)
    second = accounts.invite("", PersonRole.CREW, lead.account, account=crew.account)
    found = accounts.invitations()
    assert [(i.name, i.account, i.by) for i in found] == [
        ("carl Example", crew.account, lead.account), ("Dora Example", None, lead.account),
    ]  # fmt: skip
    accounts.revoke_invitation(found[1].id, lead.account)
    assert dead(accounts, first) and len(accounts.invitations()) == 1
    assert accounts.changes(1)[0].change is Change.REVOKED
    with pytest.raises(InputError, match="there is no such link any more"):
        accounts.revoke_invitation(found[1].id, lead.account)
    clock.pass_(7 * DAY)
    assert accounts.invitations() == ()
    assert dead(accounts, second)
