"""Stopped belts that the tests of this room share: known inputs, so that hands can follow."""

from __future__ import annotations

from typing import Any

from splicewright.loop import budget, lay_out
from splicewright.plant import Conveyor
from splicewright.quantities import Figure, Kind, Worksheet
from splicewright.tension import demand
from splicewright.tension.at_rest import AtRest, at_rest
from strategies import conveyor_of, work_of

G = 9.81
BELT, LOAD = 12.0, 80.0
CARRY_ROLLS, RETURN_ROLLS = 14.0, 5.0
FRICTION = 0.04


def run(name: str, side: str, length: float, rise: float = 0.0) -> dict[str, Any]:
    return {
        "kind": "run",
        "name": name,
        "side": side,
        "length": f"{length} m",
        "rise": f"{rise} m",
        "idlers": {
            "spacing": "1.2 m" if side == "carry" else "3 m",
            "line_mass": f"{CARRY_ROLLS if side == 'carry' else RETURN_ROLLS} kg/m",
        },
    }


def pulley(name: str, role: str, wrap: float = 180.0, **more: Any) -> dict[str, Any]:
    return {
        "kind": "pulley",
        "name": name,
        "role": role,
        "diameter": "500 mm",
        "wrap": f"{wrap} deg",
        "loss": 1.0,
        **more,
    }


def known(*loop: dict[str, Any], take_up: dict[str, Any], **more: Any) -> Conveyor:
    """A conveyor whose belt, load, friction and idlers are all stated: no ranges."""
    drives = more.pop("drives", [{"name": "d"}])
    return conveyor_of(
        {
            "conveyor": {"name": "known", "speed": "2 m/s"},
            "belt": {
                "width": "1 m",
                "strength": "500 N/mm",
                "carcass": "EP",
                "plies": 3,
                "thickness": "10 mm",
                "mass": f"{BELT} kg/m",
                "modulus": "5000 N/mm",
            },
            "material": {"line_mass": f"{LOAD} kg/m"},
            "resistance": {"standing_friction": FRICTION, "drum_friction": 0.3},
            "drives": drives,
            "take_up": {"travel": "8 m", "position": "4 m", **take_up},
            "loop": list(loop),
            **more,
        }
    )


def level(length: float = 300.0, **take_up: Any) -> Conveyor:
    """A level conveyor, its head driven, taken up at its tail."""
    return known(
        pulley("tail", "tail"),
        run("carry", "carry", length),
        pulley("head", "head", drive="d"),
        run("back", "return", length),
        take_up={"kind": "gravity", "mass": "2000 kg", "pulley": "tail", **take_up},
    )


def two_drives(length: float = 300.0) -> Conveyor:
    """A level conveyor, head and tail driven, its counterweight in a 5 m tower behind the head."""
    return known(
        pulley("tail", "tail", drive="t"),
        run("carry", "carry", length),
        pulley("head", "head", drive="d"),
        run("near", "return", 20.0),
        pulley("bend in", "bend", 90),
        run("down", "return", 5.0, -5.0),
        pulley("take-up pulley", "take-up"),
        run("up", "return", 5.0, 5.0),
        pulley("bend out", "bend", 90),
        run("far", "return", length - 20.0),
        take_up={"kind": "gravity", "mass": "2000 kg", "pulley": "take-up pulley"},
        drives=[{"name": "d"}, {"name": "t"}],
    )


def slope(length: float = 200.0, rise: float = 30.0, **take_up: Any) -> Conveyor:
    """An incline driven at its head, taken up at its tail."""
    return known(
        pulley("tail", "tail"),
        run("carry", "carry", length, rise),
        pulley("head", "head", drive="d"),
        run("back", "return", length, -rise),
        take_up={"kind": "gravity", "mass": "2000 kg", "pulley": "tail", **take_up},
    )


def stopped(
    conveyor: Conveyor, place: str, along: float, load: float = 1.0, **tables: Any
) -> tuple[AtRest, Worksheet]:
    """The belt at rest for a job at a place, and its worksheet."""
    work = work_of(
        conveyor,
        work={"run": place, "distance": f"{along} m"},
        belt={"load_left": load, **tables.pop("belt", {})},
        **tables,
    )
    sheet = Worksheet()
    path = lay_out(conveyor, sheet)
    asked = demand(conveyor, sheet)
    span = Figure("span", "span", 0.03, Kind.LENGTH)
    belt = budget(conveyor, work, path.belt_length, span, sheet)
    return at_rest(conveyor, work, path, asked, belt.slack_needed, belt.slack_there, sheet), sheet
