"""Another end curve: proposed only where it makes the verdict better, judged as the plan is."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planned import SITE, planned
from splicewright.job import loads_of, plan
from splicewright.joint import load_ranges
from splicewright.joint.choice.verdict import Standing
from splicewright.plant import load_conveyor, load_work
from splicewright.quantities import Kind, stated


def test_planned_again_with_the_proposed_curve_the_worst_plate_stands_better() -> None:
    """The whole way round: what the proposal says is what a plan with that depth carries."""
    told = loads_of(planned("flat", "flat-riveted"))
    assert told.standing is Standing.OVER and told.proposal is not None
    depth = {name: value for name, value, _ in told.proposal.numbers}["depth"]
    assert depth * 1000 == pytest.approx(round(depth * 1000))
    conveyor = load_conveyor(SITE / "conveyors" / "flat.toml")
    work = replace(
        load_work(SITE / "jobs" / "flat-riveted.toml", conveyor),
        curve_depth=stated("joint.curve_depth", "curve depth", depth, Kind.LENGTH),
    )
    again = loads_of(plan(conveyor, work, load_ranges((SITE / "fasteners",))))
    promised = told.worksheet.find("loads.proposed")
    assert again.load.high.value == pytest.approx(promised.figure.value, rel=1e-3)  # type: ignore[union-attr]
    assert list(Standing).index(again.standing) < list(Standing).index(told.standing)
    assert again.proposal is None or again.standing is not Standing.WITHIN


def test_a_joint_within_its_rating_is_proposed_nothing() -> None:
    told = loads_of(planned("flat", "flat-torn-belt"))
    assert told.standing is Standing.WITHIN and told.proposal is None
