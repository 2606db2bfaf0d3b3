"""Secrets of apps for codes and of hooks at rest: sealed, opened by the key beside the register."""

from __future__ import annotations

import base64
import os
import sqlite3
import stat
from pathlib import Path
from uuid import uuid4

import pytest
from click.testing import CliRunner
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from sqlalchemy import Connection, MetaData, Table, insert, select, update

from splicewright.cli import main
from splicewright.errors import InputError
from splicewright.store import CONSOLE, DamagedError, PersonRole
from splicewright.store.accounts.schema import SECOND_FACTORS
from splicewright.store.accounts.second_factor import code_of, counter_at
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.database import opening
from splicewright.store.database.sealing import KeyAwayError, Seal
from splicewright.store.facts.facts import microseconds
from splicewright.store.hooks import OVERLAP
from splicewright.store.sql.register import SqlRegister, open_register
from store.making import Clock

PASSWORD = "three wet stones"


@pytest.fixture
def accounts(register: SqlRegister, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> SqlAccounts:
    monkeypatch.setenv("SPLICEWRIGHT_KEY_FILE", str(tmp_path / "kept" / "key"))
    return register.accounts(hash_memory=64)


class Phone:
    """An account, and the app of its person."""

    def __init__(self, accounts: SqlAccounts, clock: Clock, login: str) -> None:
        self.accounts, self.clock, self.login = accounts, clock, login
        secret = accounts.invite(f"{login.title()} Example", PersonRole.CREW, None)
        self.account = accounts.accept(secret, login, PASSWORD).account
        self.secret = base64.b32decode(accounts.begin_factor(self.account))
        self.codes = accounts.confirm_factor(self.account, self.code(), "here")

    def code(self) -> str:
        return code_of(self.secret, counter_at(self.clock()))

    def opens(self, code: str = "") -> bool:
        """Whether a code signs in; each a minute after the last."""
        self.clock.pass_(60)
        session = self.accounts.sign_in(self.login, PASSWORD, "here")
        assert session is not None and session.waits and session.token
        return self.accounts.pass_factor(session.token, code or self.code(), "here")


def test_the_database_holds_no_secret(
    register: SqlRegister, accounts: SqlAccounts, clock: Clock
) -> None:
    phone = Phone(accounts, clock, "ada")
    with register._engine.connect() as connection:
        kept = bytes(connection.execute(select(SECOND_FACTORS.c.secret)).scalar_one())
    assert phone.secret not in kept and phone.opens()
    place = accounts.key_place
    assert stat.S_IMODE(place.stat().st_mode) == 0o600
    # Opened by hand, as docs/register.md describes it: format, key's name, nonce, AES-256-GCM.
    key = base64.b64decode(place.read_text())
    assert kept[0] == 1 and len(key) == 32
    assert AESGCM(key).decrypt(kept[9:21], kept[21:], phone.account.bytes) == phone.secret


def test_without_the_key_recovery_codes_open_and_the_rest_is_told(
    accounts: SqlAccounts, clock: Clock
) -> None:
    phone = Phone(accounts, clock, "ada")
    place = accounts.key_place
    away = place.rename(place.with_suffix(".away"))
    with pytest.raises(KeyAwayError, match=r"puts back the copy of its file.*clear-factor"):
        phone.opens()
    with pytest.raises(KeyAwayError):  # no new key in place of one that may come back
        Phone(accounts, clock, "eve")
    assert not place.exists()
    assert phone.opens(phone.codes[0])
    accounts.clear_factor(phone.account, None)
    accounts.clear_factor(next(a.account for a in accounts.accounts() if a.login == "eve"), None)
    assert Phone(accounts, clock, "bob").opens()  # nothing is sealed with the one that is away
    for wrong in (b"", b"not a key\n", base64.b64encode(b"short") + b"\n", b"\xff\xfe"):
        place.write_bytes(wrong)
        with pytest.raises(InputError):
            Seal(place).open(uuid4(), b"\x01" + bytes(60))
    assert away.exists()


def test_a_secret_moved_to_another_account_opens_nothing(
    register: SqlRegister, accounts: SqlAccounts, clock: Clock
) -> None:
    ada, eve = Phone(accounts, clock, "ada"), Phone(accounts, clock, "eve")
    mine = SECOND_FACTORS.c.account
    with register._writer.begin() as connection:
        stolen = select(SECOND_FACTORS.c.secret).where(mine == eve.account)
        secret = connection.execute(stolen).scalar_one()
        changed = update(SECOND_FACTORS).where(mine == ada.account).values(secret=secret)
        connection.execute(changed)
    with pytest.raises(DamagedError, match="not what was sealed"):
        ada.opens(eve.code())


def test_a_new_key_seals_all_and_the_old_one_opens_none(
    accounts: SqlAccounts, clock: Clock, tmp_path: Path
) -> None:
    phones = [Phone(accounts, clock, login) for login in ("ada", "eve")]
    old = accounts.key_place.read_bytes()
    assert accounts.new_key() == 2
    new = accounts.key_place.read_bytes()
    assert new != old and len(new.split()) == 1
    assert all(phone.opens() for phone in phones)
    accounts.key_place.write_bytes(old)
    with pytest.raises(KeyAwayError):
        phones[0].opens()
    # Killed between the new file and the database: both keys are there, and both open.
    accounts.key_place.write_bytes(new)
    accounts._seal.add_key()
    assert phones[0].opens() and Phone(accounts, clock, "bob").opens() and phones[1].opens()
    assert accounts.new_key() == 3
    assert all(phone.opens() for phone in phones)
    assert [p.name for p in accounts.key_place.parent.iterdir()] == ["key"]


def _then(connection: Connection, name: str) -> Table:
    """A table as the version of that time had it."""
    return Table(name, MetaData(), autoload_with=connection)


def test_what_an_earlier_version_kept_open_is_sealed_when_the_register_is_opened(
    tmp_path: Path, clock: Clock
) -> None:
    path = tmp_path / "old.sqlite"
    engine = opening.connect(opening.read_url(path))
    opening.migrate(engine, "0009")
    account, secret = uuid4(), os.urandom(20)
    with opening.writing(engine).begin() as connection:
        connection.exec_driver_sql("PRAGMA ignore_check_constraints = ON")
        connection.exec_driver_sql("PRAGMA defer_foreign_keys = ON")
        connection.exec_driver_sql(
            "INSERT INTO accounts (account, login, name, role, units, password, made, all_sites) "
            f"VALUES ('{account.hex}', 'ada', 'Ada', 'crew', 'metric', 'x', 0, 1)"
        )
        row = {"account": account.hex, "secret": secret, "made": 0, "confirmed": 0, "step": 0}
        connection.execute(insert(_then(connection, "second_factors")).values(row))
    engine.dispose()
    with open_register(path, clock=clock) as register:
        accounts = register.accounts(hash_memory=64)
        assert accounts.key_place == Path(f"{path}-key")
    with sqlite3.connect(path) as raw:
        (kept,) = raw.execute("SELECT secret FROM second_factors").fetchone()
    assert secret not in kept
    assert Seal(Path(f"{path}-key")).open(account, kept) == secret
    done = CliRunner().invoke(main, ["register", "people", "new-key", "--register", str(path)])
    assert done.exit_code == 0, done.output
    assert "1 secrets are sealed" in done.output and f"{path}-key, apart from" in done.output


def _kept_hook(path: Path) -> tuple[bytes, bytes]:
    with sqlite3.connect(path) as raw:
        secret, former = raw.execute("SELECT secret, former FROM hooks").fetchone()
    return bytes(secret), bytes(former)


def test_secrets_of_hooks_that_lay_open_are_sealed_too(tmp_path: Path, clock: Clock) -> None:
    path, now = tmp_path / "old.sqlite", clock()
    engine = opening.connect(opening.read_url(path))
    opening.migrate(engine, "0014")
    hook, secret, former = uuid4(), os.urandom(32), os.urandom(32)
    row = {
        "hook": hook.hex, "label": "plant", "url": "https://receiver.example/", "kinds": "",
        "by": "console", "private": False, "secret": secret, "former": former,
        "former_until": microseconds(now + OVERLAP), "made": microseconds(now), "seq": 0,
        "tries": 0, "next_try": microseconds(now), "holder": "", "said": "",
    }  # fmt: skip
    with opening.writing(engine).begin() as connection:
        connection.execute(insert(_then(connection, "hooks")).values(row))
    engine.dispose()
    with open_register(path, clock=clock) as register:
        (kept,) = register.hooks().all(CONSOLE)
        assert register.hooks().keys(kept) == (secret, former)
        sealed = _kept_hook(path)
        key = base64.b64decode(Path(f"{path}-key").read_text())
        for found, was in zip(sealed, (secret, former), strict=True):
            assert AESGCM(key).decrypt(found[9:21], found[21:], hook.bytes) == was
        # An account and a hook share the key and its change.
        assert Phone(register.accounts(hash_memory=64), clock, "ada").opens()
        assert register.accounts(hash_memory=64).new_key() == 3
        assert _kept_hook(path) != sealed
        assert register.hooks().keys(kept) == (secret, former)
        away = Path(f"{path}-key").rename(tmp_path / "away")
        with pytest.raises(KeyAwayError, match=r"copy of its file\. Until then nothing is sent"):
            register.hooks().keys(kept)
        with pytest.raises(KeyAwayError):
            register.hooks().new_secret(CONSOLE, hook)
        away.rename(f"{path}-key")
        register.hooks().end(CONSOLE, hook)
        assert _kept_hook_is_gone(path)


def _kept_hook_is_gone(path: Path) -> bool:
    with sqlite3.connect(path) as raw:
        found: tuple[bytes, bytes | None] = raw.execute(
            "SELECT secret, former FROM hooks"
        ).fetchone()
    return found == (b"", None)
