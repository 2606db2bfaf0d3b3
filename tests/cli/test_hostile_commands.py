"""Commands given files and words that nobody gives in good faith: a sentence each, no traceback."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from click.testing import CliRunner

from depth import sized
from planned import SITE
from splicewright.cli import main
from web.hostile import NUMBERS, TEXTS

_LENGTHS = ("1e308 m", "1e-300 m", "-1e308 mm", "9" * 70 + " mm", "1e-300 in", "0 mm", "1e18 km")
_INCLINE = (SITE / "conveyors" / "incline.toml").read_text("utf-8")


def _conveyor(draw: random.Random) -> str:
    """A sound file with one value that is none."""
    lines = _INCLINE.splitlines()
    at = draw.choice([n for n, line in enumerate(lines) if " = " in line and "#" not in line])
    key = lines[at].partition(" = ")[0]
    value = draw.choice((*_LENGTHS, *NUMBERS, *(t for t in TEXTS if len(t) < 300)))
    quoted = value.replace("\\", "\\\\").replace('"', '\\"')
    lines[at] = f"{key} = {draw.choice((quoted, chr(34) + quoted + chr(34)))}"
    return "\n".join(lines)


def _table(draw: random.Random) -> str:
    cell = draw.choice((*_LENGTHS, *NUMBERS, *TEXTS))
    rows = [f"p,{n} h,{n / 10} mm" for n in (100, 200, 300)]
    rows[draw.randrange(3)] = draw.choice((f"p,{cell},9 mm", f"p,100 h,{cell}", cell))
    return "place,use,value\n" + "\n".join(rows)


def _calls(draw: random.Random, folder: Path) -> list[str]:
    conveyor, table = folder / "belt.toml", folder / "wear.csv"
    text = draw.choice(TEXTS)
    conveyor.write_text(_conveyor(draw), "utf-8", errors="replace")
    table.write_text(_table(draw), "utf-8", errors="replace")
    word = text.replace("\0", "") or "x"  # no system hands a zero byte to a program
    register = ["--register", str(folder / "register.sqlite")]
    return draw.choice((
        ["check", str(conveyor)], ["tension", str(conveyor)],
        ["wear", str(table), "--limit", draw.choice(_LENGTHS)],
        ["wear", str(table), f"--limit={word}"],
        ["check", word[:200]], ["life", word[:200]],
        ["register", "verify", f"--head={word}", *register],
        ["register", "joints", f"--conveyor={word}", *register],
        ["register", "add-conveyor", str(conveyor), f"--by={word}", *register],
        ["register", "restore", str(table), *register],
        ["register", "import", "stock", str(table), f"--by={word}", *register],
        ["register", "joints", "--register", word[:200].replace("/", "")],
    ))  # fmt: skip


@pytest.mark.parametrize("seed", range(4))
def test_each_is_refused_or_answered_in_words(
    tmp_path: Path, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    draw = random.Random(seed)
    for _ in range(sized(8, deep=250)):
        words = _calls(draw, tmp_path)
        done = CliRunner().invoke(main, words)
        assert done.exception is None or isinstance(done.exception, SystemExit), (
            words, (tmp_path / "belt.toml").read_text(), done.exception,
        )  # fmt: skip
        assert done.exit_code in {0, 1, 2} and "Traceback" not in done.output, words
        assert len(done.output) < 100_000, words


@pytest.mark.parametrize("name", ["a" * 5000, "\U0001f680" * 200, "a/" * 3000])
def test_a_name_too_long_for_a_file_is_said(name: str) -> None:
    for words in (["register", "joints", "--register", name], ["check", name], ["wear", name],
                  ["register", "restore", name], ["register", "backup", name],
                  ["register", "backups", name], ["explain", name, "x"]):  # fmt: skip
        done = CliRunner().invoke(main, words)
        assert isinstance(done.exception, SystemExit) and done.exit_code == 2, words[:2]
