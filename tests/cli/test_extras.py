"""Planning runs without the extras; what needs one says which, in one sentence."""

from __future__ import annotations

import importlib.metadata
import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

from splicewright.cli.answers import SERVER
from splicewright.store.sql.register import open_register
from strategies import EXAMPLES

SITE = EXAMPLES / "karst-hollow"
_ALONE = """
import importlib.abc, json, sys

class Missing(importlib.abc.MetaPathFinder):
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in set(sys.argv[2].split(",")):
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)

sys.meta_path.insert(0, Missing())
from click.testing import CliRunner
from splicewright.cli import main

told = []
for words in json.loads(sys.argv[1]):
    done = CliRunner().invoke(main, words)
    told.append([done.exit_code, done.stdout, done.stderr, repr(done.exception)])
print(json.dumps(told))
"""


def run_without(modules: set[str], *commands: list[str]) -> list[tuple[int, str, str, str]]:
    done = subprocess.run(
        [sys.executable, "-c", _ALONE, json.dumps(commands), ",".join(modules)],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return [tuple(one) for one in json.loads(done.stdout)]


def brought_by(extra: str) -> set[str]:
    """Modules of what an extra installs, by the metadata of what is installed here."""
    project = tomllib.loads((EXAMPLES.parent / "pyproject.toml").read_text("utf-8"))["project"]
    names = {re.split(r"[>\[; ]", one)[0] for one in project["optional-dependencies"][extra]}
    found = importlib.metadata.packages_distributions()
    modules = {m for m, packages in found.items() if names & {p.lower() for p in packages}}
    return {m for m in modules if not m.startswith("_") and m != "multipart"}


def test_what_an_extra_brings_is_known() -> None:
    assert brought_by("server") == SERVER


def test_planning_needs_no_extra(tmp_path: Path) -> None:
    away = {*SERVER, "psycopg", "starlette", "mako", "markupsafe"}
    history, out = SITE / "history", tmp_path / "pack"
    conveyor, work = SITE / "conveyors" / "shuttle.toml", SITE / "jobs" / "shuttle-new-belt.toml"
    commands = [
        ["--help"],
        ["plan", str(conveyor), str(work), "--out", str(out)],
        ["explain", str(out), "demand.running"],
        ["tension", str(conveyor), "--samples", "64", "--out", str(tmp_path / "study")],
        ["assess", str(SITE / "inspections" / "typed-in.toml")],
        ["wear", str(history / "incline-wear.csv"), "--out", str(tmp_path / "wear")],
        ["decide", str(history / "flat-torn-place.toml")],
        ["check", str(conveyor)],
    ]
    for words, (code, out_, err, why) in zip(commands, run_without(away, *commands), strict=True):
        assert code == 0, (words, out_, err, why)


def test_a_missing_extra_is_one_sentence(tmp_path: Path) -> None:
    here = str(tmp_path / "register.sqlite")
    commands = [
        ["fleet", "--register", here],
        ["life", "--register", here],
        ["serve", "--register", here],
        ["register", "verify", "--register", here],
        ["background", "--register", here],
        ["report", "x", "--out", str(tmp_path / "x.pdf"), "--register", here],
    ]
    told = run_without(set(SERVER), *commands)
    for words, (code, _, err, why) in zip(commands, told, strict=True):
        assert code == 2, (words, why)
        assert re.fullmatch(
            r"error: this needs the server extra, which is not installed \(\w+ is missing\): "
            r"pip install 'splicewright\[server\]'\n",
            err,
        ), (words, err)
    where = "postgresql://u@localhost/x"
    ((code, _, err, why),) = run_without({"psycopg"}, ["fleet", "--register", where])
    assert code == 2 and "pip install splicewright[postgres]" in err, (err, why)
    ((code, out, _, _),) = run_without({"sqlalchemy"}, ["fleet", "--register", here, "--json"])
    assert code == 2 and "splicewright[server]" in json.loads(out)["error"][0]["sentence"]


def test_listening_without_its_extra_is_one_sentence(tmp_path: Path) -> None:
    here = tmp_path / "register.sqlite"
    with open_register(here):
        pass
    words = ["listen", "--broker", "mqtt://127.0.0.1", "--register", str(here)]
    ((code, _, err, why),) = run_without({"paho"}, words)
    assert code == 2 and "pip install 'splicewright[mqtt]'" in err, (err, why)


def test_stores_and_stamps_without_their_extras_are_one_sentence(tmp_path: Path) -> None:
    here = tmp_path / "register.sqlite"
    with open_register(here):
        pass
    on = ["--register", str(here)]
    to = str(tmp_path / "head.txt")
    for module, extra, words in (
        ("obstore", "s3", ["register", "backups", "s3://kept/here", *on]),
        ("rfc3161_client", "timestamp",
         ["register", "stamp", to, "--authority", "https://stamps.example.org/", *on]),
    ):  # fmt: skip
        ((code, _, err, why),) = run_without({module}, words)
        assert code == 2 and f"pip install 'splicewright[{extra}]'" in err, (err, why)
