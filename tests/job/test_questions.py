"""What nobody stated is asked for before work, and taken where it is worst.

The worst place is found by brute force: a plan for each of many places that are stated.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from splicewright.job import JointPlan, plan
from splicewright.plant import Conveyor, Side, load_conveyor, load_work
from splicewright.quantities import stated

SITE = Path(__file__).parents[2] / "examples" / "karst-hollow" / "conveyors"


def conveyor_of(name: str) -> Conveyor:
    return load_conveyor(SITE / f"{name}.toml")


@pytest.mark.parametrize("name", ["incline", "flat", "shuttle"])
def test_a_place_not_given_asks_as_much_as_the_worst_place_that_is(name: str) -> None:
    conveyor = conveyor_of(name)
    blank = load_work(None, conveyor)
    told = plan(conveyor, blank)
    assert "place of work not stated" in told.work.distance.reason
    for run in conveyor.runs():
        if run.side is not Side.RETURN or run.length.value < 5.0:
            continue
        for share in (0.05, 0.2, 0.35, 0.5, 0.65, 0.8, 0.95):
            there = stated(
                "work.distance", "place", share * run.length.value, blank.distance.kind, "tried"
            )
            tried = plan(conveyor, replace(blank, run=run.name, distance=there))
            if not tried.clamps.fits:
                continue
            assert tried.at_rest.ratings.clamps.value <= told.at_rest.ratings.clamps.value * 1.0001


def test_the_place_taken_is_asked_for_with_its_name() -> None:
    conveyor = conveyor_of("incline")
    told = plan(conveyor, load_work(None, conveyor))
    [asked] = [q.say() for q in told.questions if "Where is the work?" in q.say()]
    assert f"{told.work.distance.show()} along {told.work.run}" in asked


def test_a_named_run_is_kept_and_a_stated_place_is_not_moved() -> None:
    conveyor = conveyor_of("incline")
    blank = load_work(None, conveyor)
    named = plan(conveyor, replace(blank, run="tail return", anywhere=False))
    assert named.work.run == "tail return"
    where = stated("work.distance", "place", 7.0, blank.distance.kind, "stated")
    kept = plan(conveyor, replace(blank, run="tail return", anywhere=False, distance=where))
    assert kept.work.distance.value == 7.0
    assert not [q for q in kept.questions if "Where is the work?" in q.say()]


def test_an_unmarked_belt_is_asked_for_and_a_marked_one_is_not(tmp_path: Path) -> None:
    text = (SITE / "incline.toml").read_text("utf-8")
    assert not _asks_class(plan(conveyor_of("incline"), load_work(None, conveyor_of("incline"))))
    file = tmp_path / "bare.toml"
    file.write_text(text.replace('marking = "EP 800/4 6+3"\n', ""), "utf-8")
    bare = load_conveyor(file)
    told = plan(bare, load_work(None, bare))
    assert bare.belt.strength.assumed
    [asked] = _asks_class(told)
    assert bare.belt.strength.show() in asked and "Read the marking" in asked


def _asks_class(joint_plan: JointPlan) -> list[str]:
    return [q.say() for q in joint_plan.questions if "Class of the belt" in q.say()]
