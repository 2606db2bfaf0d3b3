"""The belt loop laid out: where each run and pulley lies along the belt, and how high."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from splicewright.loop.closing import check_closing
from splicewright.plant import Conveyor, Pulley, Run, Work, slug
from splicewright.quantities import Figure, Kind, Number, Worksheet, formula


@dataclass(frozen=True, slots=True)
class Station:
    """One element of the loop: where it starts and ends along the belt [m], and its heights [m].

    Heights are above the start of the loop, the entry of the first pulley.
    """

    name: str
    is_run: bool
    start: float
    end: float
    height_in: float
    height_out: float


@dataclass(frozen=True, slots=True)
class Path:
    """The closed belt: its length and its elements in the order of travel.

    idlers: sets on each run, in the order of the runs [-].
    """

    belt_length: Figure
    stations: tuple[Station, ...]
    idlers: tuple[Figure, ...] = ()

    def at(self, name: str) -> Station:
        """The station of the run or pulley called `name`; KeyError when there is none."""
        for station in self.stations:
            if station.name == name:
                return station
        raise KeyError(name)

    def place(self, work: Work) -> tuple[float, float]:
        """Where the work stands: distance along the loop and height, both [m]."""
        run = self.at(work.run)
        share = work.distance.value / max(run.end - run.start, 1e-9)
        height = run.height_in + share * (run.height_out - run.height_in)
        return run.start + work.distance.value, height


@formula(
    "l = φ (D + t)/2",
    gives=("l", Kind.DISTANCE),
    symbols={"wrap": "φ", "diameter": "D", "thickness": "t"},
    source="geometry",
)
def wrapped_length(wrap: float, diameter: float, thickness: float) -> float:
    """Belt that lies on a pulley, along its middle.

    Parameters
    ----------
    wrap : angle [rad]
    diameter : of the pulley [m]
    thickness : of the belt [m]

    Returns
    -------
    float [m]
    """
    return wrap * (diameter + thickness) / 2


@formula(
    "n = ⌊l/a⌋",
    gives=("n", Kind.COUNT),
    symbols={"length": "l", "spacing": "a"},
    source="geometry",
    limits="even spacing, half of it or more free at each end; none on a run shorter than that",
)
def idler_sets(length: Number, spacing: Number) -> Number:
    """Idler sets on a run.

    Parameters
    ----------
    length : of the run [m]
    spacing : of the sets [m]

    Returns
    -------
    float or array, whole numbers [-]
    """
    return np.floor(length / spacing * (1 + 1e-12))


def lay_out(conveyor: Conveyor, sheet: Worksheet) -> Path:
    """Lay the loop out: stations, heights and belt length.

    Parameters
    ----------
    conveyor : the conveyor
    sheet : takes the lines that explain the length

    Raises
    ------
    InputError
        All wrap angles are stated and do not close.
    """
    check_closing(conveyor)
    stations: list[Station] = []
    parts: list[Figure] = []
    along = height = 0.0
    for element in conveyor.loop:
        if isinstance(element, Run):
            parts.append(sheet.note(element.length))
            end, top = along + element.length.value, height + element.rise.value
        else:
            arc = _arc(element, conveyor, sheet)
            parts.append(arc)
            end, top = along + arc.value, height
        stations.append(Station(element.name, isinstance(element, Run), along, end, height, top))
        along, height = end, top
    length = sheet.total("loop.length", "length of the belt loop", parts, Kind.DISTANCE)
    idlers = tuple(
        sheet.work(
            f"loop.{slug(r.name)}.idlers",
            f"idler sets on {r.name}",
            idler_sets,
            length=r.length,
            spacing=r.idlers.spacing,
        )
        for r in conveyor.runs()
    )
    return Path(length, tuple(stations), idlers)


def _arc(pulley: Pulley, conveyor: Conveyor, sheet: Worksheet) -> Figure:
    return sheet.work(
        f"loop.{slug(pulley.name)}.arc",
        f"belt on {pulley.name}",
        wrapped_length,
        wrap=pulley.wrap,
        diameter=pulley.diameter,
        thickness=conveyor.belt.thickness,
    )
