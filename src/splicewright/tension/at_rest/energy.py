"""Energy stored in a stopped conveyor: in the stretched belt, the counterweight, the load."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from splicewright.loop import Path
from splicewright.plant import Side, TakeUpKind
from splicewright.quantities import Figure, Given, Kind, Origin, Worksheet, formula
from splicewright.tension.at_rest.rest import Rest
from splicewright.tension.at_rest.strands import end_of
from splicewright.tension.resistance.main import GRAVITY
from splicewright.tension.resistance.traction import times

if TYPE_CHECKING:
    from collections.abc import Sequence

    from splicewright.tension.running.running import Running


@dataclass(frozen=True, slots=True)
class Energies:
    """Energy stored, at most [J]: in the belt, the counterweight (None without one), the load.

    hangs: weight of the counterweight, at most [N].
    """

    belt: Figure
    weight: Figure | None
    load: Figure
    hangs: Figure | None


@formula(
    "U = T² l / (2 M B)",
    gives=("U", Kind.ENERGY),
    symbols={"tension": "T", "length": "l", "modulus": "M", "width": "B"},
    source="elastic",
    limits="linear belt; the tighter end's tension taken for the whole strand (safe side)",
)
def strain_energy(tension: float, length: float, modulus: float, width: float) -> float:
    """Energy stored in a stretched strand of belt.

    Parameters
    ----------
    tension : of the strand [N]
    length : [m]
    modulus : force per width at unit strain [N/m]
    width : of the belt [m]

    Returns
    -------
    float [J]
    """
    return tension**2 * length / (2 * modulus * width)


@formula(
    "W = n T_w/r",
    gives=("W", Kind.FORCE),
    symbols={"pull": "T_w", "strands": "n", "reeving": "r"},
    source="statics",
    limits="what strands of that pull carry: the high end of a stated range, and where nobody "
    "stated it of what crews tighten to",
)
def counterweight_of(pull: float, strands: float, reeving: float) -> float:
    """Weight of the counterweight [N].

    Parameters
    ----------
    pull : of the take-up on each strand [N]
    strands : of belt on its pulley [1]
    reeving : pull on the pulley over the weight [-]
    """
    return strands * pull / reeving


@formula(
    "U_w = r W x",
    gives=("U_w", Kind.ENERGY),
    symbols={"weight": "W", "travel": "x", "reeving": "r"},
    source="statics",
    limits="falls r times the travel of its pulley, from one end to the other, or farther if the "
    "stop is missing",
)
def weight_energy(weight: float, travel: float, reeving: float) -> float:
    """Energy of the counterweight should it fall [J].

    Parameters
    ----------
    weight : of it [N]
    travel : of the take-up pulley [m]
    reeving : pull on the pulley over the weight [-]
    """
    return reeving * weight * travel


@formula(
    "U_l = g q_G l h",
    gives=("U_l", Kind.ENERGY),
    symbols={"load": "q_G", "length": "l", "height": "h"},
    source="statics",
    limits="the load brought down to the lowest place of the carry side",
)
def load_energy(load: float, length: float, height: float) -> float:
    """Energy of the load on a run [J].

    Parameters
    ----------
    load : full load per length [kg/m]
    length : of belt that carries it [m]
    height : of its middle over the lowest place [m]
    """
    return GRAVITY * load * length * np.maximum(0.0, height)


def energies(rest: Rest, path: Path, every: Sequence[Running], sheet: Worksheet) -> Energies:
    """Energy stored in a stopped conveyor, at most.

    Parameters
    ----------
    rest : the stopped conveyor
    path : its loop laid out
    every : its solved cases: the belt may have kept the tension of any of them
    sheet : takes the lines
    """
    conveyor = rest.conveyor
    parts = [
        sheet.work(
            f"at_rest.energy.{n}",
            f"energy stored in {run.name}",
            strain_energy,
            tension=_tightest(rest, run.name, n, every, sheet),
            length=run.length,
            modulus=end_of(conveyor.belt.modulus, "low"),
            width=conveyor.belt.width,
        )
        for n, run in enumerate(conveyor.runs(), 1)
    ]
    take_up = conveyor.take_up
    weight = hangs = None
    if take_up.kind is TakeUpKind.GRAVITY:
        hangs = sheet.work(
            "at_rest.weight",
            "weight of the counterweight, at most",
            counterweight_of,
            pull=rest.holds.largest,
            strands=take_up.strands,
            reeving=end_of(take_up.reeving, "low"),
        )
        weight = sheet.work(
            "at_rest.weight_energy",
            "energy of the counterweight should it fall",
            weight_energy,
            weight=hangs,
            travel=end_of(take_up.travel, "high"),
            reeving=end_of(take_up.reeving, "high"),
        )
    return Energies(
        sheet.total("at_rest.belt_energy", "energy stored in the stretched belt", parts),
        weight,
        _load(rest, path, sheet),
        hangs,
    )


def _tightest(
    rest: Rest, run: str, number: int, every: Sequence[Running], sheet: Worksheet
) -> Figure:
    points = [case.at(run) for case in every]
    key = f"at_rest.energy.{number}.tension"
    most = sheet.largest(
        key,
        f"largest tension of {run}, every case",
        [f for p in points for f in (p.entering, p.leaving)],
    )
    if rest.holds.known:
        return most
    return sheet.work(
        f"{key}.high",
        f"the same with the take-up at the high end of its pull, {run}",
        times,
        factor=end_of(rest.conveyor.take_up.preload, "high"),
        pull=most,
    )


def _load(rest: Rest, path: Path, sheet: Worksheet) -> Figure:
    """Energy of the load brought down to the lowest point of the carry side, at most."""
    carry = [r for r in rest.conveyor.runs() if r.side is Side.CARRY]
    ends = [h for r in carry for h in (path.at(r.name).height_in, path.at(r.name).height_out)]
    low, high = np.min(ends), np.max(ends)
    load = end_of(rest.conveyor.material.line_mass, "high")
    full = [
        sheet.work(
            f"at_rest.load_energy.{n}",
            f"energy of full load on {r.name}",
            load_energy,
            load=load,
            length=r.length,
            height=_height(
                f"at_rest.load_height.{n}",
                f"mean height of {r.name} over the lowest place",
                (path.at(r.name).height_in + path.at(r.name).height_out) / 2 - low,
            ),
        )
        for n, r in enumerate(carry, 1)
    ]
    left = sheet.work(
        "at_rest.load_energy.top",
        "energy of the load left, all of it at the top",
        load_energy,
        load=load,
        height=_height("at_rest.load_height", "height of the carry side", high - low),
        length=sheet.found(
            "at_rest.load_metres",
            "metres of full load left",
            rest.unknown.metres,
            Kind.DISTANCE,
            "share left times the length of the carry side",
            [rest.load_left, *(r.length for r in carry)],
        ),
    )
    whole = sheet.total("at_rest.load_energy.full", "energy of a full load", full, Kind.ENERGY)
    return sheet.smallest(
        "at_rest.load_energy", "energy of the load on its slopes, at most", [whole, left]
    )


def _height(key: str, label: str, value: float) -> Figure:
    """A height read off the laid-out loop."""
    return Given(key, label, value, Kind.DISTANCE, Origin.FILE, "from the loop", value, value)
