"""Closing of described loops: the invented incline, and loops laid by tangents."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from proof import proves
from splicewright.loop import all_wraps_stated, closing_gap, turnings
from splicewright.plant import Conveyor, Cover, Placed, Pulley, Run, Side, round_pulleys
from splicewright.plant.loading import load_conveyor

pytestmark = proves(
    "Loop and take-up",
    "A described loop closes",
    "C",
    "The turnings of a closed belt add up to one turn; a wrong cover shows as twice its wrap.",
    doubt="Exact geometry.",
    tolerance="0.01 degrees, wraps as stated in whole degrees",
    sketch="two-pulleys",
)


ROOT = Path(__file__).parent.parent.parent
SITE = ROOT / "examples" / "karst-hollow" / "conveyors"


@pytest.fixture
def incline() -> Conveyor:
    return load_conveyor(SITE / "incline.toml")


def gap(conveyor: Conveyor) -> float:
    return float(closing_gap(*turnings(conveyor)))


def test_the_incline_closes_by_hand(incline: Conveyor) -> None:
    # 180 + 200 - 20 - 90 + 180 - 90 = 360°; its valley and its return's brow cancel.
    wraps, bends = turnings(incline)
    assert math.degrees(float(wraps)) == pytest.approx(360.0)
    assert math.degrees(float(bends)) == pytest.approx(0.0, abs=0.01)
    assert all_wraps_stated(incline)


def test_a_wrong_cover_counts_twice(incline: Conveyor) -> None:
    wrong = replace(
        incline,
        loop=tuple(
            replace(e, touches=Cover.PULLEY)
            if isinstance(e, Pulley) and e.name == "snub pulley"
            else e
            for e in incline.loop
        ),
    )
    assert math.degrees(gap(wrong)) == pytest.approx(40.0, abs=0.01)


def test_turned_round_it_closes_as_before(incline: Conveyor) -> None:
    assert gap(incline.turned_round()) == pytest.approx(gap(incline), abs=1e-12)


def test_many_wraps_at_once(incline: Conveyor) -> None:
    head = np.radians([200.0, 210.0])
    many = replace(
        incline,
        loop=tuple(
            replace(e, wrap=e.wrap.at(head))
            if isinstance(e, Pulley) and e.name == "head pulley"
            else e
            for e in incline.loop
        ),
    )
    found = np.degrees(np.asarray(closing_gap(*turnings(many))))
    assert found == pytest.approx([0.0, 10.0], abs=0.01)


def test_assumed_wraps_are_known_as_such() -> None:
    assert not all_wraps_stated(load_conveyor(SITE / "flat.toml"))


def test_a_loop_laid_by_tangents_closes(incline: Conveyor) -> None:
    """Slopes and wraps of a laid loop, put into a described one."""
    laid = round_pulleys(
        [
            Placed("tail pulley", 0.0, 0.0, 0.63),
            Placed("head pulley", 200.0, 30.0, 0.8),
            Placed("snub pulley", 198.8, 29.3, 0.4, Cover.CARRY),
        ],
        0.0145,
    )
    pulleys = {p.name: p for p in incline.pulleys()}
    run = incline.runs()[0]
    elements: list[Pulley | Run] = []
    for arc, span in zip(laid.arcs, laid.spans, strict=True):
        pulley = pulleys[arc.pulley]
        elements.append(replace(pulley, wrap=pulley.wrap.at(arc.wrap), touches=arc.touches))
        side = Side.CARRY if arc.pulley == "tail pulley" else Side.RETURN
        elements.append(
            replace(
                run, side=side, length=run.length.at(span.length), rise=run.rise.at(span.rise)
            )
        )  # fmt: skip
    assert gap(replace(incline, loop=tuple(elements))) == pytest.approx(0.0, abs=1e-9)
