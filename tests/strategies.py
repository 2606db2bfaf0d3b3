"""Conveyors, works and fasteners that the tests of several rooms share."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from splicewright.files.toml import check
from splicewright.joint import BoltLength, BoltRow, PulleyRule, Range, Size, StepSize, load_ranges
from splicewright.joint.fasteners.ranges import EdgeSets
from splicewright.plant import Carcass, Conveyor, Work, load_conveyor
from splicewright.plant.conveyor_file import ConveyorFile
from splicewright.plant.filling.conveyor import fill
from splicewright.plant.filling.work import fill_work
from splicewright.plant.work_file import WorkFile
from splicewright.quantities import Worksheet
from splicewright.tension import LoadCase, Running, running

EXAMPLES = Path(__file__).parent.parent / "examples"
CONVEYORS = sorted(EXAMPLES.glob("*/conveyors/*.toml"))


def published(name: str) -> Conveyor:
    """A published worked example, read from its conveyor file."""
    return load_conveyor(EXAMPLES / "published" / "conveyors" / f"{name}.toml")


def invented(name: str) -> Conveyor:
    """A conveyor of the invented example site."""
    return load_conveyor(EXAMPLES / "karst-hollow" / "conveyors" / f"{name}.toml")


def example_ranges() -> tuple[Range, ...]:
    """The invented fastener ranges of the example site."""
    return load_ranges((EXAMPLES / "karst-hollow" / "fasteners",))


def conveyor_of(data: dict[str, Any] | str) -> Conveyor:
    """A conveyor from the tables of a file, or its text."""
    tables = tomllib.loads(data) if isinstance(data, str) else data
    return fill(check(tables, ConveyorFile, "test.toml"), "test.toml")


def work_of(conveyor: Conveyor, **tables: Any) -> Work:
    """A work on a conveyor, from the tables of a file."""
    data = {"work": {"name": "test work"}, **tables}
    data["work"] = {"name": "test work", **data["work"]}
    return fill_work(check(data, WorkFile, "work.toml"), conveyor, "work.toml")


def solved(conveyor: Conveyor, case: LoadCase = LoadCase.FULL) -> Running:
    """One load case on its own."""
    return running(conveyor, (case,), Worksheet())[0][0]


def outline(**changes: Any) -> dict[str, Any]:
    """The tables of a plain inclined conveyor; `changes` go into the table they name."""
    data: dict[str, Any] = {
        "conveyor": {"name": "test conveyor", "speed": "2 m/s"},
        "outline": {"centre_distance": "120 m", "lift": "14 m", "smallest_pulley": "500 mm"},
        "belt": {"width": "800 mm", "marking": "EP 500/3 5+2", "thickness": "11 mm"},
        "material": {"rate": "400 t/h", "density": "1500 kg/m3"},
        "drives": [{"name": "head drive", "power": "55 kW"}],
        "take_up": {"kind": "gravity"},
    }
    for table, entries in changes.items():
        old = data.get(table, {})
        data[table] = {**old, **entries} if isinstance(entries, dict) else entries
    return data


def loop_file(*elements: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """As `outline`, with the loop given element by element."""
    data = outline(**changes)
    del data["outline"]
    return {**data, "loop": [dict(e) for e in elements]}


def pulley(name: str, role: str, **entries: Any) -> dict[str, Any]:
    """One pulley of a loop."""
    return {"kind": "pulley", "name": name, "role": role, "diameter": "500 mm", **entries}


def run(name: str, side: str, length: str, **entries: Any) -> dict[str, Any]:
    """One run of a loop."""
    return {"kind": "run", "name": name, "side": side, "length": length, **entries}


def small_loop(**changes: Any) -> dict[str, Any]:
    """A level loop of two pulleys and two runs of unequal idlers."""
    return loop_file(
        pulley("tail", "tail"),
        run("carry", "carry", "60 m"),
        pulley("head", "head"),
        run("back", "return", "60 m"),
        **changes,
    )


def text_of(data: dict[str, Any]) -> str:
    """The tables as the text of a TOML file (only what these tests need)."""
    lines: list[str] = []
    for name, table in data.items():
        if isinstance(table, list):
            for row in table:
                lines += [f"[[{name}]]", *_pairs(row), ""]
        else:
            lines += [f"[{name}]", *_pairs(table), ""]
    return "\n".join(lines)


def _pairs(table: dict[str, Any]) -> list[str]:
    return [f"{key} = {_value(value)}" for key, value in table.items()]


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else repr(value)


def size(**changes: Any) -> Size:
    """An invented fastener size with unequal numbers everywhere; lengths [m]."""
    given: dict[str, Any] = {
        "pitch": 0.043,
        "plate_width": 0.038,
        "plate_length": 0.060,
        "thickness": (0.008, 0.016),
        "cut_line": 0.013,
        "mesh_offset": 0.0215,
        "setback": (0.012, 0.054),
        "rows": (BoltRow(0.015, (-0.011, 0.009)), BoltRow(0.035, (0.002,))),
        "hole": 0.011,
        "bolt": 0.010,
        "bolt_lengths": (BoltLength(0.012, 0.040), BoltLength(0.016, 0.048)),
        "rated_tension": 90e3,
        "starting_tension": 130e3,
        "smallest_pulley": 0.5,
        "pulley_rules": (PulleyRule(0.6, 0.6, 0.315), PulleyRule(6.3, 0.3, 0.4)),
        "proud_height": 0.006,
        "pin": 0.010,
        "pin_inset": 0.015,
        "liner_over": 0.080,
        "seating_over": 0.100,
        "sets": (1, 3),
        "edge_sets": (
            EdgeSets(math.radians(9.9), 3, None),
            EdgeSets(math.radians(29.9), 3, 2),
            EdgeSets(math.radians(90.0), 3, 1),
        ),
        "strip_widths": (),
        "curve_depth": 0.003,
        "curve_radius": None,
        "stand_out": 0.003,
        "seat_torque": 38.0,
        "scrapers": True,
    }
    return Size(**{**given, **changes})


def step_size(**changes: Any) -> StepSize:
    """An invented vulcanised joint of three plies, with unequal numbers; lengths [m]."""
    given: dict[str, Any] = {
        "plies": 3,
        "strength": (250e3, 630e3),
        "carcass": (Carcass.POLYESTER, Carcass.POLYAMIDE),
        "step_length": 0.2,
        "bias": 0.35,
        "kept_strength": 0.6,
        "safety_factor": 4.0,
        "starting_safety_factor": 3.0,
        "cure_time": 25 * 60.0,
        "cure_temperature": 418.15,
        "heating_time": 45 * 60.0,
        "cooling_time": 60 * 60.0,
        "work_temperature": (278.15, 313.15),
        "smallest_pulley": 0.4,
    }
    return StepSize(**{**given, **changes})


def metres(low: float, high: float) -> st.SearchStrategy[float]:
    """Ordinary numbers, not the edges of floating point."""
    return st.floats(low, high, allow_nan=False, allow_infinity=False).map(lambda x: round(x, 6))


@st.composite
def outlines(draw: st.DrawFn, *, least_lift: float = 0.0) -> dict[str, Any]:
    """Conveyors in the short form, over what is found on quarry sites."""
    length = draw(metres(15, 600))
    lift = draw(metres(least_lift, 0.25 * length))
    kind = draw(st.sampled_from(["gravity", "screw", "winch"]))
    return outline(
        conveyor={"speed": f"{draw(metres(0.5, 5))} m/s"},
        outline={
            "centre_distance": f"{length} m",
            "lift": f"{lift} m",
            "drive_wrap": f"{draw(metres(150, 230))} deg",
            "lagging": draw(st.sampled_from(["bare steel", "rubber, grooved", "unknown"])),
        },
        belt={"width": draw(st.sampled_from(["650 mm", "800 mm", "1200 mm"]))},
        material={"rate": f"{draw(metres(100, 1500))} t/h"},
        take_up={"kind": kind},
    )
