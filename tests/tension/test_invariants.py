"""What must hold for every conveyor, whatever its numbers."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from depth import examples
from splicewright.plant import Conveyor, Pulley, Run, TakeUpKind
from splicewright.quantities import Worksheet
from splicewright.tension import LoadCase, Running, applicable, demand, running
from strategies import conveyor_of, loop_file, metres, outline, pulley, run

few = settings(max_examples=examples(15), deadline=None)

KINDS: dict[str, dict[str, Any]] = {
    "gravity": {"kind": "gravity", "mass": "5000 kg"},
    "screw": {"kind": "screw", "force": "50 kN"},
    "unknown": {"kind": "winch"},
}


@st.composite
def conveyors(draw: st.DrawFn) -> dict[str, Any]:
    """Two drives, brakes, losses, an uneven carry side."""
    rises = draw(st.lists(metres(-5, 8), min_size=1, max_size=3))
    lift, length = sum(rises), 45.0 * len(rises)
    share = draw(metres(0.2, 0.8))
    kind = draw(st.sampled_from(sorted(KINDS)))
    return loop_file(
        pulley("tail", "tail", drive="two", loss=1.0),
        *(run(f"c{n}", "carry", "45 m", rise=f"{r} m") for n, r in enumerate(rises, 1)),
        pulley("head", "head", drive="one", wrap=f"{draw(metres(160, 220))} deg"),
        run("r1", "return", "20 m", rise=f"{-lift * 20 / length} m"),
        pulley("bend", "take-up", loss=draw(metres(1, 1.05))),
        run("r2", "return", f"{length - 20} m", rise=f"{-lift * (1 - 20 / length)} m"),
        drives=[
            {"name": "one", "power": "40 kW", "brake": True, "share": share},
            {"name": "two", "power": "20 kW", "holdback": True, "share": 1 - share},
        ],
        take_up=KINDS[kind],
    )


def all_of(conveyor: Conveyor) -> tuple[Running, ...]:
    return running(conveyor, applicable(conveyor), Worksheet())[0]


@few
@given(conveyors())
def test_forces_balance_at_every_pulley_and_run(data: dict[str, Any]) -> None:
    conveyor = conveyor_of(data)
    by_name = {e.name: e for e in conveyor.loop}
    for result in all_of(conveyor):
        forces = {f.run: f.total.value for f in result.forces}
        given_up = 0.0
        scale = max(abs(p.leaving.value) for p in result.points)
        for point in result.points:
            element = by_name[point.name]
            gain = point.leaving.value - point.entering.value
            if isinstance(element, Run):
                assert gain == pytest.approx(forces[point.name], rel=1e-9, abs=1e-9 * scale)
            elif element.drive:
                given_up -= gain
            else:
                assert point.leaving.value == pytest.approx(
                    element.loss.value * point.entering.value, rel=1e-9, abs=1e-9 * scale
                )
        assert given_up == pytest.approx(result.pull.value, rel=1e-9, abs=1e-9 * scale)


@few
@given(metres(0.5, 20), metres(0, 200), metres(0, 1))
def test_less_load_never_raises_the_slope_resistance_of_a_rise(
    rise: float, load: float, share: float
) -> None:
    def slope(line: float) -> float:
        conveyor = conveyor_of(
            outline(
                outline={"lift": f"{rise} m"},
                material={"line_mass": f"{line} kg/m", "rate": f"{line * 2} kg/s"},
            )
        )
        full = next(r for r in all_of(conveyor) if r.case.value == "full")
        return full.forces[0].slope.value

    assert slope(load * share) <= slope(load) + 1e-9


@few
@given(st.sampled_from(["gravity", "screw"]), metres(0, 4))
def test_a_symmetric_loop_turned_round_is_its_mirror(kind: str, hump: float) -> None:
    """Up and down again, driven in the middle of the return: both ways are one."""
    conveyor = conveyor_of(
        loop_file(
            pulley("left", "tail"),
            run("up", "carry", "50 m", rise=f"{hump} m"),
            run("down", "carry", "50 m", rise=f"{-hump} m"),
            pulley("right", "head"),
            run("right half", "return", "50 m", rise="0 m"),
            pulley("drive pulley", "drive", drive="d"),
            run("left half", "return", "50 m", rise="0 m"),
            drives=[{"name": "d"}],
            take_up={"kind": "screw", "pulley": "drive pulley", "force": "40 kN"}
            if kind == "screw"
            else {"kind": "gravity", "pulley": "drive pulley"},
            resistance={"length_coefficient": 1.0},
        )
    )
    conveyor = replace(
        conveyor,
        loop=tuple(
            replace(e, loss=e.loss.at(1.0)) if isinstance(e, Pulley) else e for e in conveyor.loop
        ),
    )
    mirror = {"up": "down", "down": "up", "right half": "left half", "left half": "right half",
              "left": "right", "right": "left", "drive pulley": "drive pulley"}  # fmt: skip
    for one, other in zip(all_of(conveyor), all_of(conveyor.turned_round()), strict=True):
        assert other.pull.value == pytest.approx(one.pull.value, rel=1e-9, abs=1e-6)
        assert other.largest.value == pytest.approx(one.largest.value, rel=1e-9)
        for point in one.points:
            same = other.at(mirror[point.name])
            assert same.leaving.value == pytest.approx(point.leaving.value, rel=1e-9, abs=1e-6)
            assert same.entering.value == pytest.approx(point.entering.value, rel=1e-9, abs=1e-6)


def cut(conveyor: Conveyor, count: int) -> Conveyor:
    """Every run cut into equal pieces that follow one another."""
    loop: list[Any] = []
    for e in conveyor.loop:
        if not isinstance(e, Run):
            loop.append(e)
            continue
        length, rise = e.length.value / count, e.rise.value / count
        loop += [
            replace(e, name=f"{e.name} {n}", length=e.length.at(length), rise=e.rise.at(rise))
            for n in range(1, count + 1)
        ]
    return replace(conveyor, loop=tuple(loop))


@few
@given(conveyors(), st.integers(2, 4))
def test_cutting_runs_into_pieces_changes_nothing(data: dict[str, Any], count: int) -> None:
    whole = conveyor_of(data)
    fine = cut(whole, count)
    worst, pieces = demand(whole, Worksheet()), demand(fine, Worksheet())
    for one, other in zip(
        (*worst.cases, *worst.other_cases), (*pieces.cases, *pieces.other_cases), strict=True
    ):
        assert other.case is one.case
        assert other.pull.value == pytest.approx(one.pull.value, rel=1e-9, abs=1e-6)
        if one.case is LoadCase.BLOCKED:
            continue  # the stuck load pulls on the last piece only, and a held loop's mean tells
        for e in whole.loop:
            there = other.at(f"{e.name} {count}" if isinstance(e, Run) else e.name)
            wanted = one.at(e.name).leaving.value
            assert there.leaving.value == pytest.approx(wanted, rel=1e-9, abs=1e-5)
        assert other.largest.value == pytest.approx(one.largest.value, rel=1e-9)
    if worst.worst is not None:
        assert pieces.worst is not None
        coarse, finer = worst.worst.largest.value, pieces.worst.largest.value
        tight = all(p.leaving.value > 0 for c in worst.cases for p in c.points)
        if whole.take_up.kind is TakeUpKind.GRAVITY or tight:
            # Every loading of the pieces was among those of the whole runs, parts included.
            assert finer == pytest.approx(coarse, rel=1e-9)
        else:  # a loading that hangs slack somewhere: superposition no longer holds exactly
            assert finer == pytest.approx(coarse, rel=0.05)


@few
@given(conveyors())
def test_ten_times_the_world_gives_ten_times_the_force(data: dict[str, Any]) -> None:
    """All masses and stated forces tenfold: every force tenfold (units cannot matter)."""
    conveyor = conveyor_of({**data, "take_up": KINDS["unknown"]})
    heavy = replace(
        conveyor,
        belt=replace(
            conveyor.belt, line_mass=conveyor.belt.line_mass.at(conveyor.belt.line_mass.value * 10)
        ),
        material=replace(
            conveyor.material,
            line_mass=conveyor.material.line_mass.at(conveyor.material.line_mass.value * 10),
        ),
        drives=tuple(
            replace(d, power=d.power.at(d.power.value * 10)) if d.power is not None else d
            for d in conveyor.drives
        ),
        loop=tuple(
            replace(
                e,
                idlers=replace(
                    e.idlers, line_mass=e.idlers.line_mass.at(e.idlers.line_mass.value * 10)
                ),
            )
            if isinstance(e, Run)
            else e
            for e in conveyor.loop
        ),
    )
    for one, other in zip(all_of(conveyor), all_of(heavy), strict=True):
        assert other.largest.value == pytest.approx(10 * one.largest.value, rel=1e-9)
        assert other.pull.value == pytest.approx(10 * one.pull.value, rel=1e-9, abs=1e-6)


@few
@given(metres(20, 400), metres(-20, 20), metres(0.5, 4))
def test_the_same_conveyor_in_two_unit_systems(length: float, lift: float, speed: float) -> None:
    foot, pound = 0.3048, 0.45359237
    metric = outline(
        conveyor={"speed": f"{speed} m/s"},
        outline={"centre_distance": f"{length} m", "lift": f"{lift * length / 400} m"},
        take_up={"kind": "gravity", "mass": "3000 kg"},
        drives=[{"name": "d", "brake": True}],
    )
    inch = outline(
        conveyor={"speed": f"{speed / foot * 60!r} ft/min"},
        outline={
            "centre_distance": f"{length / foot!r} ft", "lift": f"{lift * length / 400 / foot!r} ft"
        },
        belt={"width": f"{800 / 25.4!r} in", "thickness": f"{11 / 25.4!r} in"},
        material={"rate": f"{400e3 / pound / 2000!r} short ton/h"},
        take_up={"kind": "gravity", "mass": f"{3000 / pound!r} lb"},
        drives=[{"name": "d", "brake": True}],
    )  # fmt: skip
    one, other = conveyor_of(metric), conveyor_of(inch)
    for a, b in zip(all_of(one), all_of(other), strict=True):
        assert b.largest.value == pytest.approx(a.largest.value, rel=1e-7)
        assert b.pull.value == pytest.approx(a.pull.value, rel=1e-7, abs=1e-4)
