"""Many conveyors in one call give what each gives alone."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from splicewright.plant import Conveyor, Run
from splicewright.quantities import Figure, Given, Kind, Worksheet
from splicewright.tension import governing
from splicewright.tension.at_rest.bounds import Bounds, bounds_at
from splicewright.tension.at_rest.model import stopped
from strategies import work_of
from tension.at_rest.stopping import known, pulley, run, slope


def bounds(conveyor: Conveyor, load: Any) -> Bounds:
    sheet = Worksheet()
    found = governing(conveyor, sheet)
    work = work_of(slope(), work={"run": "carry", "distance": "150 m"})
    left = replace(work.load_left, value=load, low=load, high=load)
    rest = stopped(conveyor, left, found.forward, sheet)
    along = Figure("along", "along", 150.0, Kind.DISTANCE)
    return bounds_at(rest, conveyor.runs()[0], along, 10.0, sheet)


def known_at(given: Given, value: Any) -> Given:
    return replace(given, value=value, low=value, high=value)


def with_values(conveyor: Conveyor, belt: Any, load: Any, friction: Any, rise: Any) -> Conveyor:
    """The same conveyor with other masses, friction and rise: numbers, or arrays of them."""
    rises = {"carry": rise, "back": -rise}
    loop = tuple(
        replace(e, rise=known_at(e.rise, rises[e.name])) if isinstance(e, Run) else e
        for e in conveyor.loop
    )
    return replace(
        conveyor,
        loop=loop,
        belt=replace(conveyor.belt, line_mass=known_at(conveyor.belt.line_mass, belt)),
        material=replace(conveyor.material, line_mass=known_at(conveyor.material.line_mass, load)),
        method=replace(
            conveyor.method, standing_friction=known_at(conveyor.method.standing_friction, friction)
        ),
    )


def screwed() -> Conveyor:
    return known(
        pulley("tail", "tail"),
        run("carry", "carry", 200.0, 20.0),
        pulley("head", "head", drive="d"),
        run("back", "return", 200.0, -20.0),
        take_up={"kind": "screw", "force": "60 kN", "pulley": "tail"},
    )


@pytest.mark.parametrize("conveyor", [slope(), screwed()], ids=["gravity", "screw"])
def test_a_fleet_in_one_call(conveyor: Conveyor) -> None:
    rng = np.random.default_rng(3)
    count = 40
    belt, load = rng.uniform(8, 20, count), rng.uniform(20, 120, count)
    friction, rise = rng.uniform(0.02, 0.06, count), rng.uniform(-10, 30, count)
    share = rng.uniform(0, 1, count)
    together = bounds(with_values(conveyor, belt, load, friction, rise), share)
    for n in range(count):
        own = (float(a[n]) for a in (belt, load, friction, rise))
        alone = bounds(with_values(conveyor, *own), float(share[n]))
        for name in ("acting", "released", "draw"):
            for end in ("least", "largest"):
                many = getattr(getattr(together, name), end).value
                one = getattr(getattr(alone, name), end).value
                assert np.broadcast_to(many, count)[n] == pytest.approx(one, rel=2e-3, abs=20.0)
        for mine, theirs in zip(together.sides, alone.sides, strict=True):
            for name in ("acting", "let_go"):
                many = np.broadcast_to(getattr(mine, name).value, count)[n]
                assert many == pytest.approx(getattr(theirs, name).value, rel=2e-3, abs=20.0)
            held = np.broadcast_to(mine.hold.largest.value, count)[n]
            assert held == pytest.approx(theirs.hold.largest.value, rel=2e-3, abs=20.0)
