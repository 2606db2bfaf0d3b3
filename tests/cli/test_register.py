"""The register's commands as a user types them."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from splicewright.actions.plan.plan import plan_joint
from splicewright.cli import main
from splicewright.cli.register import register_command

ROOT = Path(__file__).parents[2]
SITE = ROOT / "examples" / "karst-hollow"
INCLINE = SITE / "conveyors" / "incline.toml"


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the register is, named by the environment."""
    path = tmp_path / "data" / "register.sqlite"
    monkeypatch.setenv("SPLICEWRIGHT_REGISTER", str(path))
    return path


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, ["register", *(str(w) for w in words)])


@pytest.fixture
def filled(place: Path, tmp_path: Path) -> Path:
    plan = tmp_path / "plan.json"
    plan.write_text(plan_joint(INCLINE).to_json(), "utf-8")
    assert run("add-conveyor", INCLINE, "--by", "Ada").exit_code == 0
    done = run("add-joint", plan, "--label", "J1", "--place", "120 m", "--by", "Ada")
    assert done.exit_code == 0, done.output
    return place


def test_conveyor_and_joint(filled: Path) -> None:
    again = run("add-conveyor", INCLINE, "--by", "Ada")
    assert again.stdout == "K2 incline: version 1 of its file was recorded already.\n"
    (joint,) = json.loads(run("joints", "--json").stdout)
    assert (joint["conveyor"], joint["label"], joint["place"], joint["state"]) == (
        "K2 incline", "J1", 120.0, "planned",
    )  # fmt: skip
    listed = run("joints", "--conveyor", "K2 incline", "--state", "planned").stdout
    assert "J1" in listed and listed.endswith("1 joints.\n")
    assert run("joints", "--state", "running").stdout == "0 joints.\n"
    wrong = run("joints", "--conveyor", "K9")
    assert wrong.exit_code == 2
    assert wrong.stderr == "error: --conveyor: the register knows no conveyor 'K9'\n"


def test_reading_commands_make_no_register(place: Path) -> None:
    for words in (
        ("joints",),
        ("verify",),
        ("backup", "x"),
        ("dump", "x"),
        ("export", "stock", "x.csv"),
    ):
        result = run(*words)
        assert result.exit_code == 2
        assert result.stderr == f"error: register: there is no register at {place}\n"
    assert not place.exists() and not place.parent.exists()


def test_a_joint_needs_its_conveyor(place: Path, tmp_path: Path) -> None:
    run("add-conveyor", SITE / "conveyors" / "flat.toml", "--by", "Ada")
    plan = tmp_path / "plan.json"
    plan.write_text(plan_joint(INCLINE).to_json(), "utf-8")
    result = run("add-joint", plan, "--label", "J1", "--by", "Ada")
    assert result.exit_code == 2
    assert "the register knows no conveyor 'K2 incline' at" in result.stderr
    assert result.stderr.endswith("record it with add-conveyor\n")


def test_backup_verify_restore(filled: Path, tmp_path: Path) -> None:
    backup = tmp_path / "backup.sqlite"
    head = json.loads(run("backup", backup, "--json").stdout)["head"]
    assert run("verify", "--head", head).exit_code == 0
    refused = run("restore", backup)
    assert refused.exit_code == 2
    assert refused.stderr == (
        "error: register: register.sqlite is already there; --replace puts it aside and restores\n"
    )
    done = run("restore", backup, "--replace")
    assert done.exit_code == 0 and "4 facts restored; the chain holds." in done.stdout
    assert "The register that was there lies in" in done.stdout
    assert json.loads(run("verify", "--json").stdout)["head"] == head


def test_verify_says_what_was_changed(filled: Path) -> None:
    with sqlite3.connect(filled) as forger:
        forger.execute("DROP TRIGGER facts_no_update")
        forger.execute("UPDATE facts SET body = replace(body, 'J1', 'J2')")
    forger.close()
    result = run("verify")
    assert result.exit_code == 1
    assert "! fact 3 is not what was recorded: its hash does not fit\n" in result.stdout
    assert "NOT as recorded" in result.stdout
    assert json.loads(run("verify", "--json").stdout)["faults"] == [
        "fact 3 is not what was recorded: its hash does not fit"
    ]


def test_dump_and_load(filled: Path, tmp_path: Path) -> None:
    dump = tmp_path / "all.jsonl"
    assert run("dump", dump).stdout == f"{dump}: 7 lines.\n"
    there = tmp_path / "second.sqlite"
    done = run("load", dump, "--register", there)
    assert done.exit_code == 0 and "4 facts loaded; the chain holds." in done.stdout
    assert run("load", dump, "--register", there).stderr == (
        "error: register: is not empty; a dump is loaded into an empty one\n"
    )


def test_import_and_export(filled: Path, tmp_path: Path) -> None:
    table = tmp_path / "stock.csv"
    table.write_text(
        "site,item,count,when\nKarst Hollow quarry (invented),bolt,100,2026-01-01\n"
        "Elsewhere,bolt,x,2026-01-01\n",
        "utf-8",
    )
    dry = run("import", "stock", table, "--by", "Ada", "--dry-run")
    assert dry.exit_code == 0
    assert dry.stdout == (
        "stock.csv:3: site: the register knows no site 'Elsewhere'\n"
        'stock.csv:3: count: "x" cannot be read as a number with a unit; accepted is a count such '
        "as 3 (units: a plain number)\n"
        "1 rows can be used, 1 refused; 1 facts would be recorded, 0 were there already.\n"
    )
    done = json.loads(run("import", "stock", table, "--by", "Ada", "--json").stdout)
    assert (done["recorded"], done["refused"][0]["line"]) == (1, 3)
    out = tmp_path / "out.xlsx"
    assert run("export", "stock", out).stdout == f"{out}: 1 rows.\n"
    again = json.loads(run("import", "stock", out, "--by", "Ada", "--json").stdout)
    assert (again["rows"], again["refused"]) == (1, [])


def test_a_wrong_place_is_one_sentence(place: Path) -> None:
    result = run("joints", "--register", "mysql://x/y")
    assert result.exit_code == 2 and len(result.stderr.splitlines()) == 1
    assert 'register: "mysql://x/y" cannot be used' in result.stderr


def test_every_command_and_option_is_documented() -> None:
    page = (ROOT / "docs" / "cli.md").read_text("utf-8")
    section = page.split("## splicewright register", 1)[1].split("\n## ", 1)[0]
    assert isinstance(register_command, click.Group)
    for name, command in register_command.commands.items():
        assert f"register {name} " in section or f"register {name}\n" in section, name
        assert command.help
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                assert parameter.opts[0] in section, parameter.opts[0]
