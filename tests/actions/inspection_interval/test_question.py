"""What the question takes where nobody stated it."""

from __future__ import annotations

import json
import re

from click.testing import CliRunner

from splicewright.actions.inspection_interval.question import FOUND, LookAsked
from splicewright.actions.planner import PlannerAsked
from splicewright.cli import main

GIVEN = ["when", "--damage-every", "4000 h", "--delay", "600 h", "--look", "250"]
COSTS = ["--planned", "6000", "--failure", "40000"]


def _interval(*more: str) -> tuple[float, str]:
    said = CliRunner().invoke(main, [*GIVEN, *COSTS, *more])
    assert said.exit_code == 0, said.output
    found = re.search(r"Inspect: every (\d+) h", said.output)
    assert found is not None
    return float(found[1]), " ".join(said.output.split())


def test_one_chance_is_assumed_wherever_nobody_stated_it() -> None:
    assert LookAsked().chance == PlannerAsked().found == FOUND < 1
    assert LookAsked(fixed=True).chance == 1 and LookAsked(found=0.6).chance == 0.6
    unsaid, words = _interval()
    assert (unsaid, words) == _interval("--found", "80 %")
    assert "taken to find what is there with a chance of 80 %" in words


def test_what_is_assumed_lies_on_the_safe_side_of_sure_inspections() -> None:
    assert _interval("--found", "50 %")[0] < _interval()[0] < _interval("--found", "100 %")[0]
    assert "chance of 100 %" in _interval("--fixed")[1]


def test_the_program_s_answer_carries_it() -> None:
    said = CliRunner().invoke(main, [*GIVEN, *COSTS, "--json"])
    assert json.loads(said.stdout)["look"]["found"] == FOUND
