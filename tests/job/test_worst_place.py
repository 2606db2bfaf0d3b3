"""A job of which nobody said where it is, is rated for the worst place of the loop.

In a trial a place nobody gave was the first return run of the list, with the lowest forces.
Checked by brute force: the same job planned at many stated places of every run. The search for the
outermost place at which clamps fit ends within a 250th of the run: a thousandth is let go for it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from depth import sized
from planned import SITE
from splicewright.job import plan
from splicewright.plant import load_conveyor, load_work
from splicewright.quantities import Origin


@pytest.mark.parametrize("name", ["incline", "flat", "shuttle"])
def test_no_stated_place_asks_more_of_the_clamps(name: str) -> None:
    conveyor = load_conveyor(SITE / "conveyors" / f"{name}.toml")
    work = load_work(None, conveyor)
    open_ = plan(conveyor, work)
    rated = open_.at_rest.ratings.clamps.value
    asked = " ".join(s.say() for s in open_.questions)
    assert "Nobody stated the run" in asked and open_.work.run in asked
    assert open_.clamps.fits
    for run in conveyor.runs():
        for share in np.linspace(0.0, 1.0, sized(5, deep=21)):
            along = replace(
                work.distance, value=float(share) * run.length.value, origin=Origin.FILE, reason=""
            )
            there = plan(conveyor, replace(work, run=run.name, distance=along, anywhere=False))
            if not there.clamps.fits:
                continue  # nobody can work there, and the plan says so
            assert there.at_rest.ratings.clamps.value <= rated * 1.001, (run.name, share)
