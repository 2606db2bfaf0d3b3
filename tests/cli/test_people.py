"""Tokens from the console."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from uuid import uuid4

import pytest
from click.testing import CliRunner, Result

from splicewright.cli import main
from splicewright.store import Fact, PersonRole
from splicewright.store.facts.plant_facts import SiteAdded
from splicewright.store.sql.register import open_register


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A register with one account, named by the environment."""
    path = tmp_path / "register.sqlite"
    monkeypatch.setenv("SPLICEWRIGHT_REGISTER", str(path))
    with open_register(path) as register:
        accounts = register.accounts(hash_memory=64)
        secret = accounts.invite("Crew Example", PersonRole.CREW, None)
        accounts.accept(secret, "crew", "three wet stones")
    return path


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["register", "token", *words])


def test_made_listed_and_revoked(place: Path) -> None:
    made = run("make", "--account", "crew", "--label", "scale", "--scope", "read", "--json")
    assert made.exit_code == 0, made.output
    key = json.loads(made.output)["token"]
    assert key.startswith("sw_")
    [line] = json.loads(run("list", "--json").output)
    assert (line["label"], line["account"], line["scopes"], line["works"], line["used"]) == (
        "scale", "Crew Example", ["read"], True, None,
    )  # fmt: skip
    listed = run("list").output
    assert "scale  Crew Example  read" in listed and "never used" in listed and key not in listed
    assert run("revoke", line["id"]).output == f"{line['id']}: revoked.\n"
    assert json.loads(run("revoke", line["id"], "--json").output) == {"revoked": line["id"]}
    with open_register(place) as register:
        assert register.accounts().key(key) is None
    assert "ended" in run("list").output


def test_what_is_refused(place: Path) -> None:
    words = ("make", "--label", "scale", "--scope")
    for more, said in (
        (("admin", "--account", "crew"), "more than Crew Example may, being crew"),
        (("read", "--account", "nobody"), "'nobody' is no account; accepted is one of crew"),
        (("read", "--account", "crew", "--days", "0"), "accepted are 1 to 731"),
    ):
        refused = run(*words, *more)
        assert refused.exit_code == 2
        assert said in refused.output
    assert run("make", "--account", "crew", "--label", "a", "--scope", "read").exit_code == 0
    gone = run("revoke", "00000000-0000-4000-8000-000000000000")
    assert gone.exit_code == 2 and "there is no such key" in gone.output


def people(*words: str) -> Result:
    return CliRunner().invoke(main, ["register", "people", *words])


def test_people_are_let_into_sites_and_it_is_recorded(place: Path) -> None:
    north, twins = uuid4(), (uuid4(), uuid4())
    with open_register(place) as register:
        for site, name in ((north, "Northpit"), (twins[0], "Southpit"), (twins[1], "Southpit")):
            register.append(Fact(uuid4(), datetime.now(UTC), "Ada", SiteAdded(site, name)))
    assert "crew  Crew Example  crew  all sites" in people("list").output
    done = people("let-into", "crew", "--site", "Northpit", "--site", str(twins[0]))
    assert done.output == "crew: let into Northpit, Southpit.\n"
    [line] = json.loads(people("list", "--json").output)
    assert (line["all_sites"], set(line["sites"])) == (False, {str(north), str(twins[0])})
    with open_register(place) as register:
        account = register.accounts().accounts()[0]
        assert account.sites == frozenset({north, twins[0]})
        assert register.accounts().changes(1)[0].note == "from all sites to Northpit, Southpit"
    for words, said in (
        (("crew", "--site", "Southpit"), "is the name of several sites; accepted is one of"),
        (("crew", "--site", "Westpit"), "'Westpit' is no site; accepted is one of 'Northpit'"),
        (("crew",), "accepted is one of both"),
        (("crew", "--site", "Northpit", "--all-sites"), "accepted is one of both"),
        (("nobody", "--all-sites"), "'nobody' is no account; accepted is one of crew"),
    ):
        refused = people("let-into", *words)
        assert refused.exit_code == 2
        assert said in refused.output
    made = run("make", "--account", "crew", "--label", "k", "--scope", "read", "--site", "Northpit")
    assert made.exit_code == 0
    with open_register(place) as register:
        assert register.accounts().tokens()[0].sites == frozenset({north})
    assert json.loads(people("let-into", "crew", "--all-sites", "--json").output)["all_sites"]
