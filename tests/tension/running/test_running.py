"""Tension round the running loop: what must hold for every conveyor."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from depth import examples
from splicewright.plant import Conveyor, load_conveyor
from splicewright.quantities import Worksheet
from splicewright.tension import ORDINARY, LoadCase, Running, demand, running
from splicewright.tension.unknowns import inputs_of, with_inputs
from strategies import (
    CONVEYORS,
    conveyor_of,
    invented,
    loop_file,
    metres,
    outline,
    outlines,
    pulley,
    run,
    small_loop,
    solved,
)

few = settings(max_examples=examples(40))


def all_cases(conveyor: Conveyor) -> tuple[Running, ...]:
    return running(conveyor, ORDINARY, Worksheet())[0]


def closes(result: Running) -> None:
    """Walk the loop by the forces of its parts: the tension returns to where it began."""
    gained = sum(f.total.value for f in result.forces)
    assert gained == pytest.approx(result.pull.value, rel=1e-9, abs=1e-6)
    last = result.points[-1].leaving.value
    assert last == pytest.approx(result.behind_drive.value, rel=1e-9, abs=1e-6)
    for one, following in zip(result.points, result.points[1:], strict=False):
        assert one.leaving.value == following.entering.value


@few
@given(outlines())
def test_equilibrium_round_the_loop(data: dict[str, Any]) -> None:
    for result in all_cases(conveyor_of(data)):
        closes(result)


def test_each_run_adds_its_own_force() -> None:
    result = solved(invented("incline"))
    for force in result.forces:
        point = result.at(force.run)
        parts = [force.main, force.secondary, force.slope]
        assert point.leaving.value - point.entering.value == pytest.approx(
            sum(p.value for p in parts)
        )


def two_drives(**changes: Any) -> dict[str, Any]:
    return loop_file(
        pulley("tail", "tail", drive="tail drive"),
        run("up", "carry", "150 m", rise="12 m"),
        pulley("head", "head", drive="head drive", wrap="200 deg"),
        pulley("snub", "snub", wrap="20 deg"),
        run("down", "return", "150 m", rise="-12 m"),
        drives=[{"name": "head drive", "share": "70 %"}, {"name": "tail drive", "share": "30 %"}],
        take_up={"kind": "winch", "pulley": "snub"},
        **changes,
    )


def test_two_drives_share_the_pull() -> None:
    result = solved(conveyor_of(two_drives()))
    closes(result)
    for name, share in (("head", 0.7), ("tail", 0.3)):
        point = result.at(name)
        taken = point.entering.value - point.leaving.value
        assert taken == pytest.approx(share * result.pull.value)


def test_both_drives_hold_their_grip() -> None:
    conveyor = conveyor_of(two_drives(resistance={"drum_friction": 0.3, "sag_limit": "90 %"}))
    result = solved(conveyor)
    ratios = []
    for name in ("head", "tail"):
        point = result.at(name)
        wrap = next(p.wrap.value for p in conveyor.pulleys() if p.name == name)
        ratios.append(point.entering.value / point.leaving.value / np.exp(0.3 * wrap))
    assert max(ratios) == pytest.approx(1)  # one of them at its limit, the other within it
    assert result.grip_kept


@few
@given(outlines())
def test_unknown_take_up_is_set_to_hold_slip_and_sag(data: dict[str, Any]) -> None:
    conveyor = conveyor_of(data)
    results = all_cases(conveyor)
    assert all(r.grip_kept and r.sag_kept for r in results)
    # ... and to no more: in one case one limit is just reached.
    spare = [
        (r.behind_drive.value - max(n.value for n in r.needed)) / r.behind_drive.value
        for r in results
    ]
    assert min(spare) == pytest.approx(0, abs=1e-9)
    for result in results:
        driven = next(p for p in conveyor.pulleys() if p.drive)
        point = result.at(driven.name)
        grip = np.exp(conveyor.method.drum_friction.value * driven.wrap.value)
        assert point.entering.value <= point.leaving.value * grip * (1 + 1e-9)
        for one in conveyor.runs():
            if abs(one.rise.value) > 0.7 * one.length.value or not result.case.steady:
                continue  # DIN 22101: the sag limit is for steady running
            load = conveyor.material.line_mass.value if _loaded(result, one.side) else 0.0
            mass = conveyor.belt.line_mass.value + load
            least = one.idlers.spacing.value * mass * 9.81 / (8 * 0.01)
            ends = result.at(one.name)
            assert min(ends.entering.value, ends.leaving.value) >= least * (1 - 1e-9)


def _loaded(result: Running, side: str) -> bool:
    return side == "carry" and result.case is not LoadCase.EMPTY


def test_known_take_up_fixes_the_tension() -> None:
    conveyor = conveyor_of(outline(take_up={"kind": "gravity", "mass": "3000 kg"}))
    for result in all_cases(conveyor):
        assert result.at("take-up pulley").entering.value == pytest.approx(3000 * 9.81 / 2)
    pulled = conveyor_of(outline(take_up={"kind": "winch", "force": "40 kN"}))
    assert solved(pulled).at("take-up pulley").entering.value == pytest.approx(20e3)


def test_a_light_counterweight_is_pointed_out() -> None:
    conveyor = conveyor_of(outline(take_up={"kind": "gravity", "mass": "100 kg"}))
    result = solved(conveyor)
    assert not result.grip_kept
    assert not result.sag_kept
    said = [str(s) for s in demand(conveyor, Worksheet()).findings]
    assert any(s.startswith("full: the take-up gives ") for s in said)
    assert "full: the belt sags more than 1 % of the idler spacing somewhere." in said


@few
@given(outlines(), st.floats(0.5, 30))
def test_more_lift_never_lowers_the_demand(data: dict[str, Any], more: float) -> None:
    # The load outweighs the belt here; the cosine in the main resistance falls far slower.
    low = float(data["outline"]["lift"].split()[0])
    if low + more > 0.4 * float(data["outline"]["centre_distance"].split()[0]):
        more = 0.0
    higher = {**data, "outline": {**data["outline"], "lift": f"{low + more} m"}}
    below, above = (solved(conveyor_of(d)) for d in (data, higher))
    assert above.pull.value >= below.pull.value * (1 - 1e-9)
    assert above.largest.value >= below.largest.value * (1 - 1e-9)


@few
@given(outlines(), st.floats(1.0, 2.0))
def test_more_load_never_lowers_the_demand(data: dict[str, Any], factor: float) -> None:
    rate = float(data["material"]["rate"].split()[0])
    heavier = {**data, "material": {**data["material"], "rate": f"{rate * factor} t/h"}}
    below, above = (all_cases(conveyor_of(d)) for d in (data, heavier))
    for one, other in zip(below, above, strict=True):
        assert other.pull.value >= one.pull.value * (1 - 1e-9)
        assert other.largest.value >= one.largest.value * (1 - 1e-9)


@few
@given(outlines(), st.floats(1.5, 4.0))
def test_masses_and_forces_scale_together(data: dict[str, Any], factor: float) -> None:
    conveyor = conveyor_of(data)
    heavier = conveyor
    for item in {g.key: g for g in inputs_of(conveyor)}.values():
        if item.kind == "mass per length":
            heavier = with_inputs(heavier, {item.key: item.value * factor})
    for one, other in zip(all_cases(conveyor), all_cases(heavier), strict=True):
        assert other.largest.value == pytest.approx(factor * one.largest.value, rel=1e-9)


def test_downhill_conveyor_brakes() -> None:
    data = outline(outline={"lift": "-25 m"}, material={"rate": "900 t/h"})
    conveyor = conveyor_of(data)
    for result in all_cases(conveyor):
        closes(result)
    full = solved(conveyor)
    assert full.pull.value < 0
    assert full.grip_kept
    head = full.at("head pulley")
    # Braking: the belt leaves the drive on its tight side.
    assert head.leaving.value > head.entering.value
    grip = np.exp(0.25 * np.pi)
    assert head.leaving.value <= head.entering.value * grip * (1 + 1e-9)
    assert full.power.value == pytest.approx(full.pull.value * 2.0 * 0.9)
    said = [str(s) for s in demand(conveyor, Worksheet()).findings]
    assert (
        "Full, the load drives the belt: the drive must brake; low friction is then the unsafe "
        "side. Have braking and holdback checked." in said
    )


def test_starting_gives_the_surplus_to_all_moving_mass() -> None:
    conveyor = conveyor_of(outline(drives=[{"name": "head drive", "start_factor": 1.6}]))
    _, full, start = all_cases(conveyor)
    assert start.pull.value == pytest.approx(1.6 * full.pull.value)
    load = conveyor.material.line_mass.value
    masses = {
        r.name: r.length.value
        * (
            r.idlers.line_mass.value
            + conveyor.belt.line_mass.value
            + (load if r.side == "carry" else 0)
        )
        for r in conveyor.runs()
    }
    for force in start.forces:
        assert force.surplus is not None
        share = masses[force.run] / sum(masses.values())
        assert force.surplus.value == pytest.approx(0.6 * full.pull.value * share)


def test_tension_factors_of_pulleys() -> None:
    data = small_loop()
    data["loop"][0]["loss"] = 1.04
    result = solved(conveyor_of(data))
    tail = result.at("tail")
    assert tail.leaving.value == pytest.approx(1.04 * tail.entering.value)


def test_largest_tension_and_where() -> None:
    result = solved(invented("incline"))
    everywhere = {p.name: p.leaving.value for p in result.points}
    assert result.where == max(everywhere, key=lambda name: everywhere[name]) == "incline"
    assert result.largest.value == pytest.approx(everywhere["incline"] / 1.0)


ARRAYS = [
    ("resistance.friction", [0.016, 0.022, 0.030]),
    ("resistance.drum_friction", [0.15, 0.25, 0.4]),
    ("material.line_mass", [10.0, 80.0, 300.0]),
    ("belt.mass", [5.0, 12.0, 40.0]),
    ("outline.lift", [-20.0, 0.0, 30.0]),
    ("belt.width", [0.6, 0.8, 1.0]),
    ("idlers.carry.spacing", [1.0, 1.2, 1.5]),
    ("resistance.length_coefficient", [1.0, 1.5, 2.0]),
    ("take_up.mass", [2000.0, 3000.0, 4000.0]),
]


@pytest.mark.parametrize(("key", "values"), ARRAYS)
def test_an_array_gives_what_each_of_its_values_gives(key: str, values: list[float]) -> None:
    take_up = {"mass": "3000 kg"} if key == "take_up.mass" else {}
    tilt = {"kind": "idler tilt", "coefficient": 0.4, "friction": 0.35, "length": "50 m",
            "tilt": "1.5 deg"}  # fmt: skip
    conveyor = conveyor_of(outline(take_up=take_up, special=[tilt], outline={"lift": "0 m"}))
    together = all_cases(varied(conveyor, key, np.array(values)))
    for n, value in enumerate(values):
        alone = all_cases(varied(conveyor, key, value))
        for one, many in zip(alone, together, strict=True):
            assert _pick(many.pull.value, n) == pytest.approx(one.pull.value, rel=1e-12)
            assert _pick(many.largest.value, n) == pytest.approx(one.largest.value, rel=1e-12)
            assert _pick(many.power.value, n) == pytest.approx(one.power.value, rel=1e-12)
            for p, q in zip(one.points, many.points, strict=True):
                assert _pick(q.leaving.value, n) == pytest.approx(p.leaving.value, rel=1e-12)


def varied(conveyor: Conveyor, key: str, value: Any) -> Conveyor:
    """Another value of one input; the lift moves the return runs with it."""
    if key != "outline.lift":
        return with_inputs(conveyor, {key: value})
    shares = {"outline.lift": 1.0, "outline.return_1_rise": -0.05, "outline.return_2_rise": -0.95}
    for name, share in shares.items():
        conveyor = with_inputs(conveyor, {name: share * value})
    return conveyor


def _pick(value: Any, n: int) -> float:
    return float(np.broadcast_to(np.asarray(value), (3,))[n])


def test_turning_a_level_conveyor_round_changes_nothing_but_the_drive_end() -> None:
    conveyor = invented("shuttle")
    forward, back = solved(conveyor), solved(conveyor.turned_round())
    assert back.pull.value == pytest.approx(forward.pull.value)
    closes(back)


def test_reversing_conveyor_is_worked_both_ways() -> None:
    asked = demand(conveyor_of(outline(conveyor={"reversing": True})), Worksheet())
    up, down = asked.case(LoadCase.FULL), asked.reverse_cases[1]
    lift = sum(f.slope.value for f in up.forces)
    assert sum(f.slope.value for f in down.forces) == pytest.approx(-lift)
    assert asked.running.value >= max(up.largest.value, down.largest.value)


@pytest.mark.parametrize("path", CONVEYORS, ids=lambda p: p.stem)
def test_examples_hold_their_limits_and_balance(path: Any) -> None:
    conveyor = load_conveyor(path)
    lossy = any(p.loss.value != 1 for p in conveyor.pulleys())
    for result in all_cases(conveyor):
        if not lossy:  # the published sheet with pulley factors keeps them out of its pull
            closes(result)
        assert result.grip_kept
        assert result.sag_kept


def test_the_same_conveyor_in_another_drawing_order() -> None:
    # The loop may be listed from any pulley on.
    data = small_loop(take_up={"kind": "screw"})
    other = {**data, "loop": [*data["loop"][2:], *data["loop"][:2]]}
    one, two = solved(conveyor_of(data)), solved(conveyor_of(other))
    assert two.largest.value == pytest.approx(one.largest.value, rel=1e-12)
    assert {p.name: p.leaving.value for p in two.points} == pytest.approx(
        {p.name: p.leaving.value for p in one.points}
    )


@few
@given(metres(0.005, 0.02), metres(0.8, 2.0))
def test_sag_and_spacing_trade_off(sag: float, spacing: float) -> None:
    data = small_loop(
        resistance={"sag_limit": sag, "drum_friction": 1.0},
        idlers={"carry": {"spacing": f"{spacing} m"}},
    )
    result = solved(conveyor_of(data))
    carry = result.at("carry")
    sagging = conveyor_of(data)
    mass = sagging.belt.line_mass.value + sagging.material.line_mass.value
    assert carry.entering.value >= spacing * mass * 9.81 / (8 * sag) * (1 - 1e-9)


def test_replaced_case_is_found_by_name() -> None:
    asked = demand(invented("flat"), Worksheet())
    assert asked.case(LoadCase.EMPTY).case is LoadCase.EMPTY
    with pytest.raises(KeyError):
        replace(asked, cases=()).case(LoadCase.FULL)
