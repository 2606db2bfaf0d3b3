"""Accounts on both databases: passwords, sessions, invitations, keys, tries, and the log."""

from __future__ import annotations

import contextlib
import threading
from datetime import timedelta
from uuid import uuid4

import pytest
from sqlalchemy import event, insert, select, text, update
from sqlalchemy.exc import DBAPIError

from splicewright.errors import InputError
from splicewright.store import Account, Change, PersonRole, Scope, TooOftenError
from splicewright.store.accounts import account_sites
from splicewright.store.accounts.passwords import Passwords
from splicewright.store.accounts.schema import (
    ACCOUNTS,
    INVITATIONS,
    SECOND_FACTORS,
    SESSIONS,
    TOKENS,
)
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.sites import NO_SITES
from splicewright.store.sql.register import SqlRegister
from store.making import Clock, Plant

PASSWORD = "three wet stones"
OTHER = "seven dry bricks"
HERE = "192.0.2.7"
DAY = timedelta(days=1)


@pytest.fixture
def accounts(register: SqlRegister) -> SqlAccounts:
    return register.accounts(hash_memory=64)


def join(accounts: SqlAccounts, login: str = "ada", role: PersonRole = PersonRole.ADMIN) -> Account:
    return accounts.accept(accounts.invite(f"{login} Example", role, None), login, PASSWORD)


def token_of(accounts: SqlAccounts, login: str = "ada", password: str = PASSWORD) -> str:
    session = accounts.sign_in(login, password, HERE)
    assert session is not None
    assert session.token is not None
    return session.token


def key_of(accounts: SqlAccounts, account: Account) -> str:
    now = account.created
    return accounts.make_token(account.account, "scale", {Scope.READ}, now + DAY, None)


def log_of(accounts: SqlAccounts) -> list[Change]:
    return [line.change for line in reversed(accounts.changes())]


def test_people_are_read_together_as_one_by_one(
    accounts: SqlAccounts, register: SqlRegister, plant: Plant
) -> None:
    """The page of people asked twice for each of them."""
    asked: list[str] = []
    event.listen(
        register._engine, "before_cursor_execute", lambda *a: asked.append(a[2]), named=False
    )
    counts = []
    for n in range(3):
        everywhere = join(accounts, f"a{n}")
        nowhere = join(accounts, f"b{n}", PersonRole.CREW)
        here = join(accounts, f"c{n}", PersonRole.CREW)
        one = everywhere if n else nowhere
        factor = {"account": one.account, "secret": b"", "created": one.created, "step": 0}
        with register._writer.begin() as connection:
            account_sites.write(connection, here.account, frozenset({plant.site}))
            for limited in (here, nowhere):
                some = update(ACCOUNTS).where(ACCOUNTS.c.account == limited.account)
                connection.execute(some.values(all_sites=False))
            confirmed = one.created if n != 1 else None
            connection.execute(insert(SECOND_FACTORS).values(confirmed=confirmed, **factor))
        asked.clear()
        people, with_factor = accounts.accounts(), accounts.with_factor()
        counts.append(len(asked))
        assert people == tuple(accounts.account(a.account) for a in people)
        assert {a.sites for a in people} == {None, NO_SITES, frozenset({plant.site})}
        assert with_factor == {a.account for a in people if accounts.has_factor(a.account)}
    assert len(with_factor) == 2 and len(people) == 9
    assert len(set(counts)) == 1


def test_roles_reach_downwards() -> None:
    order = [PersonRole.VIEWER, PersonRole.CREW, PersonRole.LEAD, PersonRole.ADMIN]
    for mine, role in enumerate(order):
        assert [role.reaches(needed) for needed in order] == [n <= mine for n in range(4)]


def test_an_invitation_makes_one_account_once(accounts: SqlAccounts) -> None:
    secret = accounts.invite("  Ada   Example ", PersonRole.CREW, None)
    found = accounts.invitation(secret)
    assert found is not None
    assert (found.name, found.role) == ("Ada Example", PersonRole.CREW)
    made = accounts.accept(secret, " Ada ", PASSWORD)
    assert (made.login, made.name, made.role, made.units) == (
        "ada", "Ada Example", PersonRole.CREW, "metric",
    )  # fmt: skip
    assert accounts.account(made.account) == made
    assert accounts.invitation(secret) is None
    with pytest.raises(InputError, match="was used already, is too old"):
        accounts.accept(secret, "eve", PASSWORD)


def test_an_invitation_ends_after_a_week(accounts: SqlAccounts, clock: Clock) -> None:
    secret = accounts.invite("Ada Example", PersonRole.CREW, None)
    clock.pass_(7 * 86400)
    assert accounts.invitation(secret) is None
    with pytest.raises(InputError, match="too old"):
        accounts.accept(secret, "ada", PASSWORD)


@pytest.mark.parametrize(
    ("login", "password", "message"),
    [
        ("", PASSWORD, "login: cannot be used"),
        ("two words", PASSWORD, "login: cannot be used"),
        ("x" * 61, PASSWORD, "login: cannot be used"),
        ("ada", "short", "password: must have 10 to 200"),
        ("ada", "x" * 201, "password: must have 10 to 200"),
        ("ada", "abababababab", "password: is easy to guess"),
        ("grace-example", "GRACE-example-1", "password: is easy to guess"),
    ],
)
def test_what_is_refused_uses_no_invitation(
    accounts: SqlAccounts, login: str, password: str, message: str
) -> None:
    secret = accounts.invite("Somebody Invented", PersonRole.CREW, None)
    with pytest.raises(InputError, match=message):
        accounts.accept(secret, login, password)
    assert accounts.invitation(secret) is not None


def test_what_looks_the_same_is_the_same_login(accounts: SqlAccounts) -> None:
    join(accounts, "ada")
    secret = accounts.invite("Eve Example", PersonRole.CREW, None)
    for same in ("ADA", "ａｄａ", " ada "):  # the second in full-width letters
        with pytest.raises(InputError, match='"ada" is taken'):
            accounts.accept(secret, same, PASSWORD)
    assert accounts.sign_in("Ada", PASSWORD, HERE) is not None


def test_nothing_secret_is_kept_as_it_is(accounts: SqlAccounts, register: SqlRegister) -> None:
    ada = join(accounts)
    secrets = [token_of(accounts), key_of(accounts, ada), PASSWORD,
               accounts.invite("Eve Example", PersonRole.CREW, ada.account)]  # fmt: skip
    with register._engine.connect() as connection:
        for table in (ACCOUNTS, SESSIONS, INVITATIONS, TOKENS):
            kept = repr(connection.execute(select(table)).all())
            assert not any(secret in kept for secret in secrets)
        hashed = connection.execute(select(ACCOUNTS.c.password)).scalar_one()
    assert hashed.startswith("$argon2id$")
    told = "".join(register.dump())
    assert not any(secret in told for secret in secrets)
    assert hashed not in told


def test_the_usual_hash_is_what_rfc_9106_recommends() -> None:
    # RFC 9106, section 4: second recommended option, argon2id, t=3, p=4, m=2^16 KiB. From memory.
    assert "$argon2id$v=19$m=65536,t=3,p=4$" in Passwords().hashed(PASSWORD)


def test_an_old_hash_is_made_anew_at_sign_in(accounts: SqlAccounts, register: SqlRegister) -> None:
    join(accounts)
    stronger = register.accounts(hash_memory=128)
    assert stronger.sign_in("ada", PASSWORD, HERE) is not None
    with register._engine.connect() as connection:
        assert "m=128" in connection.execute(select(ACCOUNTS.c.password)).scalar_one()
    assert stronger.sign_in("ada", PASSWORD, HERE) is not None


def test_every_sign_in_is_a_new_session(accounts: SqlAccounts) -> None:
    join(accounts)
    one, two = token_of(accounts), token_of(accounts)
    assert one != two
    first, second = accounts.session(one), accounts.session(two)
    assert first is not None
    assert second is not None
    assert first.csrf != second.csrf
    accounts.sign_out(one)
    assert accounts.session(one) is None
    assert accounts.session(two) is not None
    assert accounts.session("") is None
    assert accounts.session("\ud800") is None


def test_a_token_is_rotated_every_hour_and_forms_stay_good(
    accounts: SqlAccounts, clock: Clock
) -> None:
    join(accounts)
    old = token_of(accounts)
    first = accounts.session(old)
    assert first is not None
    assert first.token is None
    clock.pass_(3601)
    rotated = accounts.session(old)
    assert rotated is not None
    assert rotated.token not in {None, old}
    assert rotated.csrf == first.csrf
    new = rotated.token or ""
    # Requests sent side by side with the old one still pass, and give no third token.
    again = accounts.session(old)
    assert again is not None
    assert again.token is None
    assert accounts.session(new) is not None
    clock.pass_(61)
    assert accounts.session(old) is None
    assert accounts.session(new) is not None


def test_a_lost_answer_does_not_sign_a_phone_out(accounts: SqlAccounts, clock: Clock) -> None:
    join(accounts)
    old = token_of(accounts)
    clock.pass_(3601)
    assert accounts.session(old) is not None  # the answer with the new token is lost
    clock.pass_(3600)
    again = accounts.session(old)
    assert again is not None
    assert again.token is not None
    assert accounts.session(again.token) is not None
    clock.pass_(61)
    assert accounts.session(old) is None


def test_sessions_end_unused_and_at_last(accounts: SqlAccounts, clock: Clock) -> None:
    join(accounts)
    unused = token_of(accounts)
    clock.pass_(14 * 86400 + 1)
    assert accounts.session(unused) is None
    token = token_of(accounts)
    for _ in range(60):
        clock.pass_(86400)
        found = accounts.session(token)
        assert found is not None
        token = found.token or token
        found = accounts.session(token)
        assert found is not None
    clock.pass_(1)
    assert accounts.session(token) is None


def test_looking_writes_only_now_and_then(
    accounts: SqlAccounts, clock: Clock, register: SqlRegister
) -> None:
    join(accounts)
    token = token_of(accounts)

    def used() -> object:
        with register._engine.connect() as connection:
            return connection.execute(select(SESSIONS.c.used)).scalar_one()

    begun = used()
    clock.pass_(60)
    accounts.session(token)
    assert used() == begun
    clock.pass_(300)
    accounts.session(token)
    assert used() == clock.now


def test_five_wrong_passwords_and_it_waits(accounts: SqlAccounts, clock: Clock) -> None:
    join(accounts)
    for _ in range(5):
        assert accounts.sign_in("ada", "not the password", HERE) is None
        clock.pass_(60)
    with pytest.raises(TooOftenError, match=r"too many tries to sign in; try again in 1\d minutes"):
        accounts.sign_in("ada", PASSWORD, HERE)
    # Others elsewhere are not locked out by it, nor is the owner elsewhere.
    assert accounts.sign_in("ada", PASSWORD, "192.0.2.8") is not None
    clock.pass_(11 * 60)
    assert accounts.sign_in("ada", PASSWORD, HERE) is not None


def test_many_addresses_and_many_names_are_counted_too(accounts: SqlAccounts, clock: Clock) -> None:
    join(accounts)
    for number in range(30):
        assert accounts.sign_in("ada", "not the password", f"192.0.2.{number}") is None
    # By then one name is only slowed down: nobody can lock somebody out by trying on purpose.
    with pytest.raises(TooOftenError) as slowed:
        accounts.sign_in("ada", PASSWORD, "198.51.100.1")
    assert slowed.value.wait == 30
    clock.pass_(30)
    assert accounts.sign_in("ada", PASSWORD, "198.51.100.1") is not None
    for number in range(50):
        assert accounts.sign_in(f"name-{number}", "not the password", HERE[::-1]) is None
    with pytest.raises(TooOftenError):
        accounts.sign_in("another", "not the password", HERE[::-1])


def test_a_device_that_signed_in_before_is_let_through(accounts: SqlAccounts, clock: Clock) -> None:
    ada = join(accounts)
    join(accounts, "eve")
    signed = accounts.sign_in("ada", PASSWORD, HERE)
    assert signed is not None and signed.device
    for number in range(40):
        with contextlib.suppress(TooOftenError):
            accounts.sign_in("ada", "not the password", f"192.0.2.{number % 9}")
    with pytest.raises(TooOftenError):
        accounts.sign_in("ada", PASSWORD, HERE)
    again = accounts.sign_in("ada", PASSWORD, HERE, signed.device)
    assert again is not None and again.device == signed.device
    # It is a sign for this name only, cannot be made up, and slows its own tries down.
    nonce = signed.device.partition(".")[0]
    theirs = accounts.sign_in("eve", PASSWORD, "198.51.100.9")
    assert theirs is not None
    for made_up in (theirs.device, f"{nonce}.{'0' * 64}", nonce, ".", "é.é"):
        with pytest.raises(TooOftenError):
            accounts.sign_in("ada", PASSWORD, HERE, made_up)
    for _ in range(10):
        assert accounts.sign_in("ada", "not the password", HERE, signed.device) is None
    with pytest.raises(TooOftenError):
        accounts.sign_in("ada", PASSWORD, HERE, signed.device)
    # A new password ends it.
    clock.pass_(16 * 60)
    accounts.change_password(ada.account, PASSWORD, OTHER, HERE, signed.device)
    for _ in range(5):
        assert accounts.sign_in("ada", PASSWORD, HERE, signed.device) is None
    with pytest.raises(TooOftenError):
        accounts.sign_in("ada", OTHER, HERE, signed.device)


def test_what_ended_a_session(accounts: SqlAccounts, clock: Clock) -> None:
    ada = join(accounts)
    ended, unused = token_of(accounts), None
    assert not accounts.was_ended(ended)
    accounts.sign_out_everywhere(ada.account, None)
    assert accounts.was_ended(ended)
    unused = token_of(accounts)
    clock.pass_(30 * 86400)
    token_of(accounts)  # somebody else's sign-in forgets no session that was only left unused
    assert accounts.session(unused) is None and not accounts.was_ended(unused)


def test_right_passwords_do_not_count(accounts: SqlAccounts) -> None:
    join(accounts)
    for _ in range(12):
        assert accounts.sign_in("ada", PASSWORD, HERE) is not None


def test_tries_side_by_side_all_count(accounts: SqlAccounts) -> None:
    join(accounts)
    looked: list[bool] = []

    def guess() -> None:
        try:
            accounts.sign_in("ada", "not the password", HERE)
            looked.append(True)
        except TooOftenError:
            looked.append(False)

    guesses = [threading.Thread(target=guess) for _ in range(12)]
    for thread in guesses:
        thread.start()
    for thread in guesses:
        thread.join()
    assert sorted(looked) == [False] * 7 + [True] * 5


def test_a_new_password_ends_all_sessions(accounts: SqlAccounts) -> None:
    ada = join(accounts)
    token = token_of(accounts)
    with pytest.raises(InputError, match="old: is not your password"):
        accounts.change_password(ada.account, OTHER, OTHER, HERE)
    with pytest.raises(InputError, match="password: must have"):
        accounts.change_password(ada.account, PASSWORD, "short", HERE)
    assert accounts.session(token) is not None
    accounts.change_password(ada.account, PASSWORD, OTHER, HERE)
    assert accounts.session(token) is None
    assert accounts.sign_in("ada", PASSWORD, HERE) is None
    assert accounts.sign_in("ada", OTHER, HERE) is not None


def test_guessing_the_old_password_is_counted(accounts: SqlAccounts) -> None:
    ada = join(accounts)
    for _ in range(5):
        with pytest.raises(InputError):
            accounts.change_password(ada.account, OTHER, OTHER, HERE)
    with pytest.raises(TooOftenError):
        accounts.change_password(ada.account, PASSWORD, OTHER, HERE)


def test_an_invitation_for_an_account_gives_it_a_password(accounts: SqlAccounts) -> None:
    ada = join(accounts)
    token = token_of(accounts)
    secret = accounts.invite("ignored", PersonRole.VIEWER, ada.account, account=ada.account)
    found = accounts.accept(secret, "ignored too", OTHER)
    assert found == ada
    assert accounts.session(token) is None
    assert accounts.sign_in("ada", OTHER, HERE) is not None
    secret = accounts.invite("", PersonRole.VIEWER, None, account=join(accounts, "eve").account)
    eve = next(a for a in accounts.accounts() if a.login == "eve")
    accounts.close_account(eve.account, ada.account)
    with pytest.raises(InputError, match="too old"):
        accounts.accept(secret, "", OTHER)


def test_closing_ends_sessions_and_keys_and_reopening_brings_none_back(
    accounts: SqlAccounts,
) -> None:
    ada, eve = join(accounts), join(accounts, "eve", PersonRole.LEAD)
    token, key = token_of(accounts, "eve"), key_of(accounts, eve)
    opened = accounts.key(key)
    assert opened is not None and opened.account == eve
    accounts.close_account(eve.account, ada.account)
    accounts.close_account(eve.account, ada.account)
    assert accounts.session(token) is None
    assert accounts.key(key) is None
    assert accounts.sign_in("eve", PASSWORD, HERE) is None
    accounts.reopen_account(eve.account, ada.account)
    assert accounts.session(token) is None
    assert accounts.key(key) is None
    assert accounts.sign_in("eve", PASSWORD, HERE) is not None
    assert log_of(accounts).count(Change.CLOSED) == 1


def test_the_last_admin_stays(accounts: SqlAccounts) -> None:
    ada, eve = join(accounts), join(accounts, "eve", PersonRole.LEAD)
    with pytest.raises(InputError, match="is the only admin"):
        accounts.close_account(ada.account, ada.account)
    with pytest.raises(InputError, match="is the only admin"):
        accounts.change_role(ada.account, PersonRole.LEAD, ada.account)
    accounts.change_role(eve.account, PersonRole.ADMIN, ada.account)
    accounts.change_role(ada.account, PersonRole.CREW, ada.account)
    changed = accounts.account(ada.account)
    assert changed is not None
    assert changed.role is PersonRole.CREW


def test_two_admins_cannot_close_each_other(accounts: SqlAccounts) -> None:
    both = [join(accounts), join(accounts, "eve")]
    refused: list[InputError] = []

    def close(number: int) -> None:
        try:
            accounts.close_account(both[number].account, both[1 - number].account)
        except InputError as error:
            refused.append(error)

    closers = [threading.Thread(target=close, args=(n,)) for n in range(2)]
    for thread in closers:
        thread.start()
    for thread in closers:
        thread.join()
    assert len(refused) == 1
    assert len([a for a in accounts.accounts() if a.closed is None]) == 1


def test_the_log_tells_every_change_and_by_whom(accounts: SqlAccounts) -> None:
    ada = join(accounts)
    eve = accounts.accept(
        accounts.invite("Eve Example", PersonRole.CREW, ada.account), "eve", PASSWORD
    )
    accounts.change_role(eve.account, PersonRole.LEAD, ada.account)
    accounts.change_role(eve.account, PersonRole.LEAD, ada.account)
    accounts.rename(eve.account, "Eve Sample", ada.account)
    accounts.set_units(eve.account, "inch")
    accounts.sign_out(token_of(accounts, "eve"))
    accounts.sign_out_everywhere(eve.account, ada.account)
    lines = accounts.changes()[::-1]
    assert [(c.change, c.by_name, c.note) for c in lines] == [
        (Change.INVITED, "", "ada Example as admin"),
        (Change.JOINED, "", "as admin"),
        (Change.SITES, "", "from no site to all sites"),
        (Change.INVITED, "ada Example", "Eve Example as crew"),
        (Change.JOINED, "ada Example", "as crew"),
        (Change.SITES, "ada Example", "from no site to all sites"),
        (Change.ROLE, "ada Example", "from crew to lead"),
        (Change.RENAMED, "ada Example", "from Eve Example to Eve Sample"),
        (Change.UNITS, "Eve Sample", "to inch"),
        (Change.SIGNED_IN, "Eve Sample", ""),
        (Change.SIGNED_OUT, "Eve Sample", ""),
        (Change.SIGNED_OUT_ALL, "ada Example", ""),
    ]
    assert accounts.changes(limit=2) == (lines[-1], lines[-2])
    assert accounts.changes(limit=2, before=lines[-2].seq) == (lines[-3], lines[-4])


@pytest.mark.parametrize("deed", ["UPDATE account_log SET note = 'x'", "DELETE FROM account_log"])
def test_the_database_refuses_to_change_the_log(
    accounts: SqlAccounts, register: SqlRegister, deed: str
) -> None:
    join(accounts)
    with pytest.raises(DBAPIError, match="never changed"), register._engine.begin() as connection:
        connection.execute(text(deed))


def test_a_password_changed_meanwhile_lets_nobody_in(
    accounts: SqlAccounts, register: SqlRegister, monkeypatch: pytest.MonkeyPatch
) -> None:
    join(accounts)

    def late(self: Passwords, kept: str | None, password: str) -> bool:
        with register._engine.begin() as connection:
            connection.execute(update(ACCOUNTS).values(password="another"))
        return True

    monkeypatch.setattr(Passwords, "match", late)
    assert accounts.sign_in("ada", PASSWORD, HERE) is None


def test_unknown_accounts_units_and_names_are_refused(accounts: SqlAccounts) -> None:
    with pytest.raises(InputError, match="there is no account"):
        accounts.rename(uuid4(), "Ada", None)
    ada = join(accounts)
    with pytest.raises(InputError, match="give metric or inch"):
        accounts.set_units(ada.account, "cubits")  # type: ignore[arg-type]
    for name in ("", " ", "x" * 121, "a\x00b"):
        with pytest.raises(InputError, match="name: must be 1 to 120 characters"):
            accounts.rename(ada.account, name, None)
