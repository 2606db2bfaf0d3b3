"""Keys for programs on both databases: scopes, ends, and what may not be."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest
from sqlalchemy import text

from splicewright.errors import InputError
from splicewright.store import Account, Change, PersonRole, Scope
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.sql.register import SqlRegister
from store.making import Clock

PASSWORD = "three wet stones"
DAY = timedelta(days=1)


@pytest.fixture
def accounts(register: SqlRegister) -> SqlAccounts:
    return register.accounts(hash_memory=64)


def join(accounts: SqlAccounts, login: str, role: PersonRole) -> Account:
    return accounts.accept(accounts.invite(f"{login} Example", role, None), login, PASSWORD)


def test_keys_end_by_hand_and_by_date(accounts: SqlAccounts, clock: Clock) -> None:
    ada = join(accounts, "ada", PersonRole.ADMIN)
    until = clock.now + DAY
    key = accounts.make_token(ada.account, "scale", {Scope.READ}, until, ada.account)
    lasting = accounts.make_token(
        ada.account, "planner", {Scope.READ, Scope.PLAN}, clock.now + 9 * DAY, None
    )
    assert key.startswith("sw_")
    opened = accounts.key(key)
    assert opened is not None
    assert opened.account == ada
    assert (opened.token.label, opened.token.scopes) == ("scale", frozenset({Scope.READ}))
    used = {t.label: t.used for t in accounts.tokens(ada.account)}
    assert used == {"scale": clock.now, "planner": None}
    clock.pass_(86400)
    assert accounts.key(key) is None
    planner = next(t for t in accounts.tokens() if t.label == "planner")
    with pytest.raises(InputError, match="no such key"):
        accounts.end_token(uuid4(), ada.account)
    accounts.end_token(planner.token, ada.account)
    accounts.end_token(planner.token, ada.account)
    assert accounts.key(lasting) is None
    assert [t.works(clock.now) for t in accounts.tokens()] == [False, False]
    told = [(c.change, c.by, c.note) for c in accounts.changes() if "token" in c.change.value]
    assert told == [
        (Change.TOKEN_ENDED, ada.account, "planner"),
        (Change.TOKEN_MADE, None, "planner (plan, read)"),
        (Change.TOKEN_MADE, ada.account, "scale (read)"),
    ]


def test_what_a_key_may_not_be(accounts: SqlAccounts, clock: Clock) -> None:
    eve = join(accounts, "eve", PersonRole.CREW)
    until = clock.now + DAY
    accounts.make_token(eve.account, "scale", {Scope.RECORD}, until, None)
    for scopes, when, said in (
        (set[Scope](), until, "accepted are one or more of read, record, plan, admin"),
        ({Scope.ADMIN}, until, "more than eve Example may, being crew"),
        ({Scope.READ}, clock.now, "accepted are 1 to 731 days from now"),
        ({Scope.READ}, clock.now + 732 * DAY, "accepted are 1 to 731 days from now"),
        ({Scope.READ}, until, '"scale" is the name of a key that works'),
    ):
        with pytest.raises(InputError, match=said):
            accounts.make_token(eve.account, "scale", scopes, when, None)
    for nothing in ("", "sw_", "sw_x", "\ud800", "sw_" + "a" * 100_000):
        assert accounts.key(nothing) is None


def test_a_key_does_what_its_account_still_may(accounts: SqlAccounts, clock: Clock) -> None:
    join(accounts, "ada", PersonRole.ADMIN)
    eve = join(accounts, "eve", PersonRole.ADMIN)
    key = accounts.make_token(eve.account, "all", {Scope.ADMIN}, clock.now + DAY, None)
    accounts.change_role(eve.account, PersonRole.VIEWER, None)
    opened = accounts.key(key)
    assert opened is not None
    assert opened.account.role is PersonRole.VIEWER


def test_a_key_of_before_scopes_ends(
    accounts: SqlAccounts, register: SqlRegister, clock: Clock
) -> None:
    ada = join(accounts, "ada", PersonRole.ADMIN)
    key = accounts.make_token(ada.account, "old", {Scope.READ}, clock.now + DAY, None)
    with register._engine.begin() as connection:
        connection.execute(text("UPDATE api_tokens SET until = NULL"))
    assert accounts.key(key) is None
