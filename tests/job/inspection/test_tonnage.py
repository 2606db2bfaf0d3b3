"""The load a joint lets through, checked by planning the conveyor with that load."""

from __future__ import annotations

import numpy as np
import pytest

from splicewright.job.inspection.joined_belt import ALL_ROUND
from splicewright.job.inspection.tonnage import largest_load, tensions_at
from splicewright.plant import Conveyor
from splicewright.quantities import Worksheet
from splicewright.tension import demand
from strategies import conveyor_of, invented, outline


def resisting(rate: str = "400 t/h") -> Conveyor:
    """A conveyor whose motor plate is not known: the resistances govern."""
    data = outline(material={"rate": rate}, take_up={"kind": "gravity", "mass": "3000 kg"})
    del data["drives"][0]["power"]
    return conveyor_of(data)


def test_tensions_are_those_of_a_conveyor_with_that_load() -> None:
    loads = np.array([0.3, 1.0]) * resisting().material.line_mass.value
    found = tensions_at(resisting(), loads)
    for at, rate in enumerate(("120 t/h", "400 t/h")):
        asked = demand(resisting(rate), Worksheet())
        assert found[ALL_ROUND][at] == pytest.approx(asked.running.value, rel=1e-9)
        for passing in asked.passings:
            assert found[passing.pulley][at] == pytest.approx(passing.running.value, rel=1e-9)


def test_at_the_tonnage_the_belt_pulls_what_the_joint_bears() -> None:
    conveyor = resisting()
    now = demand(conveyor, Worksheet()).running.value
    load = largest_load(conveyor, now, {ALL_ROUND: 0.8 * now})
    assert load is not None and 0 < load.share < 1
    again = demand(resisting(f"{load.rate * 3.6} t/h"), Worksheet())
    assert again.running.value == pytest.approx(0.8 * now, rel=1e-4)
    assert load.tension == pytest.approx(0.8 * now, rel=1e-4)


def test_a_place_of_its_own_may_bind() -> None:
    conveyor = resisting()
    asked = demand(conveyor, Worksheet())
    head = next(p for p in asked.passings if p.pulley.startswith("head"))
    may = {ALL_ROUND: 10 * asked.running.value, head.pulley: 0.7 * head.running.value}
    load = largest_load(conveyor, asked.running.value, may)
    assert load is not None
    there = tensions_at(conveyor, np.array([load.line_mass]))[head.pulley][0]
    assert there == pytest.approx(0.7 * head.running.value, rel=1e-4)


def test_whole_and_no_load() -> None:
    conveyor = resisting()
    now = demand(conveyor, Worksheet()).running.value
    full = largest_load(conveyor, now, {ALL_ROUND: now})
    assert full is not None and full.share == 1.0
    empty = float(tensions_at(conveyor, np.zeros(1))[ALL_ROUND][0])
    assert 0 < empty < now
    assert largest_load(conveyor, now, {ALL_ROUND: 0.999 * empty}) is None


def test_what_the_motor_plates_add_is_kept_at_every_load() -> None:
    """Half the tension asked for may bear less than half the load's own share of it."""
    conveyor = invented("incline")
    now = demand(conveyor, Worksheet()).running.value
    top = tensions_at(conveyor, np.array([conveyor.material.line_mass.value]))[ALL_ROUND][0]
    assert now > top  # the motor plate governs there
    load = largest_load(conveyor, now, {ALL_ROUND: 0.8 * now})
    assert load is not None
    there = tensions_at(conveyor, np.array([load.line_mass]))[ALL_ROUND][0]
    assert there + (now - top) == pytest.approx(0.8 * now, rel=1e-4)
