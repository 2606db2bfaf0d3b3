"""at-rest by a measured sag: which run it speaks of, and what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from splicewright.cli import main
from splicewright.plant import Side, load_conveyor
from splicewright.quantities import System
from strategies import EXAMPLES

INCLINE = EXAMPLES / "karst-hollow" / "conveyors" / "incline.toml"


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, ["at-rest", str(INCLINE), *map(str, words)])


def test_a_sag_is_one_over_a_span() -> None:
    for given, lacks in (("--sag", "--span"), ("--span", "--sag")):
        alone = run(given, "30 mm" if given == "--sag" else "3 m")
        assert alone.exit_code == 2
        assert f"{lacks}: is missing; give --sag and --span together" in alone.stderr


@pytest.mark.parametrize("units", ["metric", "inch"])
def test_without_a_run_it_is_the_longest_return_run(units: System) -> None:
    runs = load_conveyor(INCLINE).runs()
    back = [r for r in runs if r.side is Side.RETURN]
    longest = max(back, key=lambda r: r.length.value)
    # Not simply the longest run of the loop, nor the first that comes back.
    assert len(back) > 1 and len(back) < len(runs)
    words = ("--sag", "30 mm", "--span", "3 m", "--units", units)
    told = run(*words)
    assert told.exit_code == 0, told.output
    assert f"Belt tension on {longest.name}: " in told.stdout
    assert run(*words, "--run", longest.name).stdout == told.stdout


def test_a_sag_is_told_with_what_its_inputs_leave_open(tmp_path: Path) -> None:
    """By hand: 20 kg/m x 9.81 m/s² x (3 m)²/(8 x 14 mm) = 15.77 kN.

    1 in 20 of the mass, twice 10 mm in 3 m of the span and 2 mm in 14 mm of the sag, added as
    squares (JCGM 100:2008, 5.1.2, from memory): 0.1515 of it, 2.39 kN.
    """
    known = tmp_path / "incline.toml"
    text = INCLINE.read_text("utf-8")
    known.write_text(text.replace("[belt]", '[belt]\nmass = "19 to 21 kg/m"'), "utf-8")
    words = ["at-rest", str(known), "--sag", "14 mm", "--span", "3 m"]
    told = CliRunner().invoke(main, words)
    assert told.exit_code == 0, told.output
    assert "Belt tension on long return: 15.8 kN, give or take 2.39 kN." in told.stdout
