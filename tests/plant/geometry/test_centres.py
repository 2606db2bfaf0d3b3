"""A loop given by pulley centres: the same as by lengths and wraps, and what is refused."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

import pytest

from splicewright.errors import InputError
from splicewright.job import plan
from splicewright.loop import closing_gap, turnings
from splicewright.plant import Conveyor, Run
from splicewright.quantities import Worksheet
from splicewright.tension import demand
from strategies import conveyor_of, loop_file, pulley, run, work_of

THICK = 0.011
CENTRES = {
    "tail": (0.0, 0.0), "head": (110.0, 12.0), "snub": (108.9, 11.3), "bend 1": (95.0, 9.5),
    "weight": (94.6, 4.0), "bend 2": (94.0, 9.4),
}  # fmt: skip


def placed(**wrong: Any) -> dict[str, Any]:
    """An incline with a snubbed head and a take-up loop; `wrong` overrides a pulley's entries."""

    def at(name: str, role: str, **entries: Any) -> dict[str, Any]:
        own = {"centre": [f"{v} m" for v in CENTRES[name]], **entries}
        return pulley(name, role, **{**own, **wrong.get(name.replace(" ", "_"), {})})

    return loop_file(
        at("tail", "tail"),
        {"kind": "run", "name": "up", "side": "carry"},
        at("head", "head", diameter="800 mm", drive="d"),
        {"kind": "run", "name": "short", "side": "return"},
        at("snub", "snub", diameter="315 mm"),
        {"kind": "run", "name": "upper", "side": "return"},
        at("bend 1", "bend", diameter="400 mm"),
        {"kind": "run", "name": "in", "side": "return"},
        at("weight", "take-up"),
        {"kind": "run", "name": "out", "side": "return"},
        at("bend 2", "bend", diameter="400 mm"),
        {"kind": "run", "name": "long", "side": "return"},
        belt={"thickness": f"{THICK} m"},
        drives=[{"name": "d", "power": "45 kW"}],
        take_up={"kind": "gravity", "mass": "2500 kg"},
    )


def by_lengths(conveyor: Conveyor) -> dict[str, Any]:
    """The same, written with lengths, rises and wraps and no centre."""
    told = placed()
    for entry, element in zip(told["loop"], conveyor.loop, strict=True):
        entry.pop("centre", None)
        if isinstance(element, Run):
            entry["length"] = f"{element.length.value!r} m"
            entry["rise"] = f"{element.rise.value!r} m"
        else:
            entry["wrap"] = f"{math.degrees(element.wrap.value)!r} deg"
    return told


def test_two_descriptions_of_one_conveyor() -> None:
    one = conveyor_of(placed())
    two = conveyor_of(by_lengths(one))
    first, second = demand(one, Worksheet()), demand(two, Worksheet())
    assert second.running.value == pytest.approx(first.running.value, rel=1e-9)
    assert second.starting.value == pytest.approx(first.starting.value, rel=1e-9)
    for p, q in zip(first.cases[1].points, second.cases[1].points, strict=True):
        assert q.leaving.value == pytest.approx(p.leaving.value, rel=1e-9, abs=1e-6)
    where = {"work": {"run": "long", "distance": "20 m"}}
    plans = [plan(c, work_of(c, **where)) for c in (one, two)]
    assert plans[1].path.belt_length.value == pytest.approx(plans[0].path.belt_length.value, 1e-9)
    one_way, other_way = (asdict(p.at_rest.summary) for p in plans)
    for name in ("ratings", "movements"):
        assert other_way[name] == pytest.approx(one_way[name], rel=1e-9)


def test_it_closes_and_lies_where_the_centres_are() -> None:
    conveyor = conveyor_of(placed())
    assert float(closing_gap(*turnings(conveyor))) == pytest.approx(0, abs=1e-9)
    up = conveyor.runs()[0]
    # Outer tangent of two circles by hand: radii to the middle of the belt.
    distance = math.hypot(110, 12)
    radii = (0.5 + THICK) / 2, (0.8 + THICK) / 2
    assert up.length.value == pytest.approx(math.sqrt(distance**2 - (radii[1] - radii[0]) ** 2))
    slope = math.atan2(12, 110) + math.asin((radii[1] - radii[0]) / distance)
    assert up.rise.value == pytest.approx(up.length.value * math.sin(slope), rel=1e-9)
    assert not any(p.wrap.assumed for p in conveyor.pulleys())


def test_a_stated_wrap_or_length_goes_before_the_centres() -> None:
    told = placed(head={"wrap": "215 deg"})
    told["loop"][1]["length"] = "111 m"
    told["loop"][1]["rise"] = "11.9 m"
    conveyor = conveyor_of(told)
    assert math.degrees(conveyor.pulleys()[1].wrap.value) == pytest.approx(215)
    assert conveyor.runs()[0].length.value == 111


def two_runs(tables: dict[str, Any]) -> None:
    tables["loop"].insert(2, run("more", "carry", "3 m"))


def no_centre(tables: dict[str, Any]) -> None:
    del tables["loop"][4]["centre"]


def no_diameter(tables: dict[str, Any]) -> None:
    del tables["loop"][4]["diameter"]


def no_length(tables: dict[str, Any]) -> None:
    for entry in tables["loop"]:
        entry.pop("centre", None)


def overlapping(tables: dict[str, Any]) -> None:
    tables["loop"][4]["centre"] = ["109.7 m", "11.9 m"]


def crossing(tables: dict[str, Any]) -> None:
    tables["loop"][8]["touches"] = "carry cover"


def one_coordinate(tables: dict[str, Any]) -> None:
    tables["loop"][0]["centre"] = ["0 m"]


@pytest.mark.parametrize(
    ("spoil", "key", "message"),
    [
        (two_runs, "loop", "has two runs in a row; with centres there is one run between"),
        (no_centre, "loop.5.centre", "is missing at snub; where one pulley has a centre all need"),
        (no_diameter, "loop.5.diameter", "is missing at snub; where one pulley has a centre all"),
        (no_length, "loop.2.length", "is missing; give it, or the centres of all pulleys"),
        (overlapping, "loop.5", "overlaps head: centres are "),
        (crossing, "loop.9", "weight: "),
        (one_coordinate, "loop.1.centre", ""),
    ],
)
def test_refusals(spoil: Any, key: str, message: str) -> None:
    told = placed()
    spoil(told)
    with pytest.raises(InputError) as caught:
        conveyor_of(told)
    assert any(f.key.startswith(key) and message in f.sentence for f in caught.value.faults), str(
        caught.value
    )
