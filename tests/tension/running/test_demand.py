"""What the machine asks: two ways side by side, the larger governs, and what does not fit."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings

from depth import examples
from splicewright.quantities import Kind, Worksheet, show
from splicewright.tension import ORDINARY, Demand, demand
from splicewright.tension.unknowns import swings
from strategies import (
    conveyor_of,
    invented,
    loop_file,
    outline,
    outlines,
    pulley,
    run,
    small_loop,
)


def asked(**changes: Any) -> Demand:
    return demand(conveyor_of(outline(**changes)), Worksheet())


def test_cases_worked() -> None:
    assert tuple(c.case for c in asked().cases) == ORDINARY
    assert [c.value for c in ORDINARY] == ["empty", "full", "starting full"]


def test_nameplate_way() -> None:
    found = asked(
        drives=[{"name": "x", "power": "55 kW", "efficiency": 0.9, "start_factor": 1.6}],
        take_up={"mass": "4000 kg"},
    )
    plate = found.nameplate
    assert plate is not None
    pull = 55e3 * 0.9 / 2.0
    behind = found.case(ORDINARY[1]).behind_drive.value
    assert plate.pull.value == pytest.approx(pull)
    assert plate.behind_drive.value == pytest.approx(behind)
    assert plate.largest.value == pytest.approx((behind + pull) / 0.8)
    assert plate.starting.value == pytest.approx((behind + 1.6 * pull) / 0.8)


def test_nameplate_way_with_unknown_take_up_keeps_grip_and_sag() -> None:
    # A strong motor on a light belt: its own grip wants more than the running belt does.
    found = asked(drives=[{"name": "x", "power": "400 kW", "efficiency": 0.9}])
    plate = found.nameplate
    assert plate is not None
    grip = 400e3 * 0.9 / 2.0 / math.expm1(0.25 * math.pi)
    assert plate.behind_drive.value == pytest.approx(grip)
    # A weak one: what the running belt needs stays.
    weak = asked(drives=[{"name": "x", "power": "1 kW"}])
    assert weak.nameplate is not None
    assert weak.nameplate.behind_drive.value == weak.case(ORDINARY[1]).behind_drive.value


def test_no_nameplate_way_without_the_power_of_every_drive() -> None:
    assert asked(drives=[{"name": "x"}]).nameplate is None


@settings(max_examples=examples(25))
@given(outlines())
def test_the_larger_way_governs(data: dict[str, Any]) -> None:
    found = demand(conveyor_of(data), Worksheet())
    assert found.nameplate is not None
    steady = [c.largest.value for c in found.cases[:2]] + [found.nameplate.largest.value]
    start = [found.cases[2].largest.value, found.nameplate.starting.value]
    assert found.running.value == max(steady)
    assert found.starting.value == max(start)
    by_plate = found.nameplate.largest.value == max(steady)
    assert ("nameplate" in found.running_governed_by) is by_plate


def test_tension_at_every_pulley() -> None:
    conveyor = invented("incline")
    found = demand(conveyor, Worksheet())
    for passing, one in zip(found.passings, conveyor.pulleys(), strict=True):
        assert passing.pulley == one.name
        steady = [c.at(one.name) for c in found.cases[:2]]
        most = max(t for p in steady for t in (p.entering.value, p.leaving.value))
        assert passing.running.value == pytest.approx(most / 1.0)
        assert passing.diameter.value == one.diameter.value
        assert passing.wrap.value == one.wrap.value


@pytest.mark.parametrize("first", ["tail", "head", "snub"])
def test_a_pulley_has_the_worst_tension_of_before_and_behind_it_wherever_the_loop_begins(
    first: str,
) -> None:
    """Over a hump, so that load on one side alone pulls most; least is behind the drive, where the
    walk along the belt begins."""
    loop = [
        pulley("tail", "tail"), run("up", "carry", "60 m", rise="4 m"),
        run("down", "carry", "60 m", rise="-4 m"), pulley("head", "head", drive="head drive"),
        pulley("snub", "snub", wrap="40 deg"), run("back", "return", "120 m", rise="0 m"),
    ]  # fmt: skip
    at = next(n for n, e in enumerate(loop) if e["name"] == first)
    found = demand(conveyor_of(loop_file(*loop[at:], *loop[:at])), Worksheet())
    assert found.worst is not None
    behind = {p.name: float(p.tension.value) for p in found.worst.points}
    passing = {p.pulley: p.running.value * 0.8 for p in found.passings}
    for name, before in (("tail", "back"), ("head", "down"), ("snub", "head")):
        assert passing[name] == pytest.approx(max(behind[name], behind[before]), rel=1e-9)
    assert passing["snub"] < passing["tail"] < passing["head"]


def test_belt_safety() -> None:
    found = asked()
    assert found.belt_safety.value == pytest.approx(500e3 / found.running.value)


@pytest.mark.parametrize(
    ("changes", "start"),
    [
        ({"drives": [{"name": "x", "power": "4 kW"}]}, "Full load needs "),
        ({"drives": [{"name": "x", "power": "600 kW"}]}, "The motors could give "),
        ({"belt": {"marking": "EP 200/2 3+1"}, "take_up": {"mass": "9000 kg"}}, "The governing t"),
        ({"material": {"rate": "3000 t/h"}}, "The load fills "),
        ({"outline": {"lift": "-25 m"}, "material": {"rate": "900 t/h"}}, "Full, the load drives"),
    ],
)
def test_what_does_not_fit_is_said(changes: dict[str, Any], start: str) -> None:
    plain = [str(s) for s in asked(drives=[{"name": "x", "power": "40 kW"}]).findings]
    said = [
        str(s) for s in asked(**{"drives": [{"name": "x", "power": "40 kW"}], **changes}).findings
    ]
    assert any(s.startswith(start) for s in said)
    assert not any(s.startswith(start) for s in plain)


@pytest.mark.parametrize(("flow", "warned"), [("270 m3/h", False), ("290 m3/h", True)])
def test_a_stated_volume_flow_must_follow_from_the_load(flow: str, warned: bool) -> None:
    # 400 t/h at 1500 kg/m3 is 267 m3/h; 5 % off is still taken as rounding.
    skirts = {"kind": "skirts", "friction": 0.6, "length": "3 m", "between": "0.5 m",
              "volume_flow": flow}  # fmt: skip
    said = [str(s) for s in asked(special=[skirts]).findings]
    assert any("does not follow from mass flow" in s for s in said) is warned


def test_no_load_at_all() -> None:
    # A rate of nothing with skirts of a stated flow must not divide by it.
    skirts = {"kind": "skirts", "friction": 0.6, "length": "3 m", "between": "0.5 m",
              "volume_flow": "100 m3/h"}  # fmt: skip
    found = asked(material={"rate": "0 t/h"}, special=[skirts])
    assert found.case(ORDINARY[1]).pull.value >= found.case(ORDINARY[0]).pull.value


HORSEPOWER = 550 * 0.3048 * 0.45359237 * 9.80665  # 550 ft lbf/s [W]


def metric_and_inch() -> tuple[dict[str, Any], dict[str, Any]]:
    """The same conveyor typed in metric and in inch units, each exact."""
    metric = {
        "conveyor": {"speed": "2.032 m/s"},
        "outline": {"centre_distance": "121.92 m", "lift": "13.716 m", "smallest_pulley": "508 mm"},
        "belt": {"width": "914.4 mm", "marking": "EP 500/3 5+2", "thickness": "11.1125 mm"},
        "material": {"rate": "362.87389600 t/h", "density": "1601.846337396014 kg/m3"},
        "drives": [{"name": "x", "power": "55.927 kW"}],
        "take_up": {"mass": "2721.55422 kg", "travel": "1.8288 m", "position": "0.6096 m"},
    }
    inch = {
        "conveyor": {"speed": "400 ft/min"},
        "outline": {"centre_distance": "400 ft", "lift": "45 ft", "smallest_pulley": "20 in"},
        "belt": {"width": "36 in", "marking": "EP 500/3 5+2", "thickness": "7/16 in"},
        "material": {"rate": "400 short ton/h", "density": "100 lb/ft3"},
        "drives": [{"name": "x", "power": f"{55.927e3 / HORSEPOWER} hp"}],
        "take_up": {"mass": "6000 lb", "travel": "6 ft", "position": "2 ft"},
    }  # fmt: skip
    return metric, inch


def test_units_in_do_not_matter() -> None:
    one, two = (asked(**d) for d in metric_and_inch())
    assert two.running.value == pytest.approx(one.running.value, rel=1e-9)
    assert two.starting.value == pytest.approx(one.starting.value, rel=1e-9)
    for p, q in zip(one.passings, two.passings, strict=True):
        assert q.running.value == pytest.approx(p.running.value, rel=1e-9)


def test_unknowns_are_ranked_by_what_they_move() -> None:
    found = swings(conveyor_of(small_loop(drives=[{"name": "x"}])))
    assert found
    assert [s.size for s in found] == sorted((s.size for s in found), reverse=True)
    assert all(s.given.assumed and s.given.low < s.given.high for s in found)
    top = found[0]
    assert top.size == pytest.approx(abs(top.at_high - top.at_low))
    assert show(top.size, Kind.WIDTH_FORCE).endswith("N/mm")
