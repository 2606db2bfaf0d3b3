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
