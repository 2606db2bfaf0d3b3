"""A study explains itself: every figure in it is a line of its worksheet, down to the inputs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any

import pytest

from splicewright.plant import Conveyor
from splicewright.quantities import Figure, Given, Record, explain
from splicewright.tension import Study, study
from strategies import conveyor_of, invented, loop_file, pulley, run


def everything() -> Conveyor:
    """Two drives, a held length, hills, a crown, curves, a stated transition: all of the study."""
    return conveyor_of(
        loop_file(
            pulley("tail", "tail", drive="two", crown="1 mm", transition="1.5 m"),
            run("down", "carry", "50 m", rise="-3 m", curve_radius="120 m"),
            run("up", "carry", "60 m", rise="9 m"),
            pulley("head", "head", drive="one"),
            run("first return", "return", "40 m", rise="-2 m"),
            pulley("bend", "take-up", loss=1.03),
            run("second return", "return", "70 m", rise="-4 m"),
            drives=[
                {"name": "one", "power": "55 kW", "brake": True},
                {"name": "two", "power": "30 kW", "holdback": True},
            ],
            take_up={"kind": "screw", "force": "60 kN", "pulley": "bend"},
            conveyor={"reversing": True},
            special=[{"kind": "cleaner", "area": "0.01 m2", "pressure": "60 kPa", "friction": 0.6}],
        )
    )


@cache
def studied(name: str) -> Study:
    conveyor = everything() if name == "everything" else invented(name)
    return study(conveyor, 90e3, samples=64)


NAMES = ("everything", "incline", "flat", "shuttle")


def figures(part: Any) -> Iterator[Figure]:
    """Every figure in a result, however deep; the plant and the worksheet are its inputs."""
    if isinstance(part, Figure):
        yield part
    elif isinstance(part, tuple):
        for one in part:
            yield from figures(one)
    elif is_dataclass(part) and not isinstance(part, (Conveyor, Record)):
        for field in fields(part):
            yield from figures(getattr(part, field.name))


@pytest.mark.parametrize("name", NAMES)
def test_every_figure_can_be_explained(name: str) -> None:
    told = studied(name)
    found = {f.key: f for f in figures(told) if not isinstance(f, Given)}
    assert len(found) > 100
    lines = {
        entry.key if isinstance(entry, Given) else entry.figure.key: entry
        for entry in told.worksheet.entries
    }
    # A number is told with all below it: those worked last tell most of the rest.
    blocks: dict[str, str] = {}
    for key in reversed(list(lines)):
        if key in found and key not in blocks:
            text = explain(told.worksheet, key)
            assert text.splitlines()[0] == key
            for block in text.replace("\n  ", "\t").split("\n"):
                blocks[block.partition("\t")[0]] = block
    for key, figure in found.items():
        entry = lines[key]
        assert (entry.value if isinstance(entry, Given) else entry.figure.value) == figure.value
        assert figure.show() in blocks[key]


@pytest.mark.parametrize("name", NAMES)
def test_every_number_of_the_uncertainty_run_can_be_explained(name: str) -> None:
    told = studied(name)
    open_ = told.unknowns
    wanted = {
        f"unknowns.{way}.{key}": getattr(span, key)
        for way, span in (("running", open_.running), ("starting", open_.starting))
        for key in ("low", "median", "high")
    }
    assert open_.exceeded is not None
    wanted["unknowns.exceeded"] = open_.exceeded
    wanted |= {f"unknowns.{i.given.key}.total": i.total for i in open_.influences}
    wanted |= {f"moved.{s.given.key}.low": s.at_low for s in told.swings}
    for key, value in wanted.items():
        entry = told.worksheet.find(key)
        assert not isinstance(entry, Given)
        assert entry.figure.value == value
    text = explain(told.worksheet, "unknowns.running.high")
    assert "95 % of 64 samples, seed 20251: every open input between its ends" in text
    assert "plausible" in text  # of every open input, with its origin


@pytest.mark.parametrize("name", NAMES)
def test_every_line_rests_on_lines_or_inputs(name: str) -> None:
    told = studied(name).worksheet
    keys = set(told.keys())
    for entry in told.entries:
        for _, below in getattr(entry, "inputs", ()):
            assert below.startswith("=") or below in keys


def test_everything_is_in_it() -> None:
    told = studied("everything")
    assert told.second_look.crowns and told.second_look.curves and told.load_rests
    assert told.demand.worst is not None and told.demand.reverse_worst is not None
    assert told.demand.exceptional is not None
    assert told.run_back.back.pull.value > 0 < told.run_back.forward.pull.value
    assert Study.from_json(told.to_json()) == told


def test_the_belt_with_a_valley_pulls_both_ways() -> None:
    # By hand: 400 t/h at 2 m/s, 9 m up and 3 m down.
    told = studied("everything").run_back
    load = 9.81 * 400 / 3.6 / 2
    assert told.back.pull.value == pytest.approx(load * 9)
    assert told.forward.pull.value == pytest.approx(load * 3)
    assert told.even.value == pytest.approx(load * 6)
    assert (told.back.loaded, told.forward.loaded) == ("up", "down")


def test_at_rest_at_the_end_of_every_run_by_hand() -> None:
    """6 m straight down into the take-up: it hangs there, only its rolls turn."""
    told = studied("incline")
    points = {p.run: p for p in told.rest_points}
    assert list(points) == [r.name for r in told.conveyor.runs()]
    f = told.conveyor.method.standing_friction.high
    drag = f * 9.81 * 6 * 15 / 3
    end = points["into the take-up"]
    # Its end is the take-up itself: what the weight pulls, from either side.
    assert end.acting.value == pytest.approx(5800 * 9.81 / 2, rel=1e-9)
    begin = points["upper return"]
    hangs = 9.81 * told.conveyor.belt.line_mass.high * 6
    # Over the upper bend, whose rim and bearings may hold up to a twenty-fifth (assumption).
    bend = 1.04 * (5800 * 9.81 / 2 + hangs + drag)
    assert begin.acting.value == pytest.approx(bend, rel=1e-9)
    for point in points.values():
        assert point.released.value >= 0
