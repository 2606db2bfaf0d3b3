"""Following a point of the belt: where it is after a time, and what it has passed.

Distances count along the loop from its first station in the direction of travel; a negative
speed is the belt running backwards.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.loop.path import Station
from splicewright.quantities import Kind, Number, formula, show


@dataclass(frozen=True, slots=True)
class Place:
    """Where a point of the belt is: along the loop and height [m], the element it lies on."""

    along: float
    height: float
    element: str
    is_run: bool


@dataclass(frozen=True, slots=True)
class Followed:
    """A point of the belt after it has travelled.

    place: where it is; turns: full circuits, net, negative backwards; travelled: way gone
    both ways together [m]; passed: pulleys it has gone over (middle of the wrap), with how
    often, in the order of the loop.
    """

    place: Place
    turns: float
    travelled: float
    passed: tuple[tuple[str, int], ...]

    def bends(self) -> int:
        """How often the point has been bent round a pulley."""
        return sum(times for _, times in self.passed)


@formula(
    "n = |⌊(s_2 - p)/L⌋ - ⌊(s_1 - p)/L⌋|",
    gives=("n", Kind.COUNT),
    symbols={"start": "s_1", "end": "s_2", "at": "p", "length": "L"},
    source="geometry",
    limits="travel one way; s runs on past the end of the loop",
)
def passes(start: Number, end: Number, at: Number, length: Number) -> Number:
    """How often a point of the belt goes over a place of the loop.

    Parameters
    ----------
    start, end : of its travel along the loop, not reduced to one turn [m]
    at : the place [m]
    length : of the loop [m]

    Returns
    -------
    float or array, whole numbers [-]
    """
    count: Number = np.abs(np.floor((end - at) / length) - np.floor((start - at) / length))
    return count


def loop_length(stations: Sequence[Station]) -> float:
    """Length of the belt laid out in `stations` [m]."""
    return stations[-1].end - stations[0].start


def place(stations: Sequence[Station], along: float) -> Place:
    """Where a distance along the loop lies; distances beyond the loop go round again.

    Heights are straight between the ends of an element.

    Parameters
    ----------
    stations : the loop laid out
    along : distance from its start [m]
    """
    first, length = stations[0].start, loop_length(stations)
    here = first + (along - first) % length
    station = next((s for s in stations if s.start <= here < s.end), stations[-1])
    share = (
        (here - station.start) / (station.end - station.start)
        if station.end > station.start
        else 0.0
    )
    height = station.height_in + share * (station.height_out - station.height_in)
    return Place(here, height, station.name, station.is_run)


def follow(stations: Sequence[Station], point: float, time: float, speed: float) -> Followed:
    """Where a point of the belt is after running for a time.

    Parameters
    ----------
    stations : the loop laid out
    point : where it was along the loop [m]
    time : run, 0 or more [s]
    speed : of the belt, negative backwards [m/s]

    Raises
    ------
    InputError
        The time is negative or no number.
    """
    return follow_legs(stations, point, [(time, speed)])


def follow_legs(
    stations: Sequence[Station], point: float, legs: Sequence[tuple[float, float]]
) -> Followed:
    """Where a point of the belt is after several legs of travel, as on a reversing conveyor.

    Parameters
    ----------
    stations : the loop laid out
    point : where it was along the loop [m]
    legs : time [s] and speed [m/s] of each, in order; negative speed backwards

    Raises
    ------
    InputError
        A time is negative or no number.
    """
    length = loop_length(stations)
    middles = [(s.name, (s.start + s.end) / 2) for s in stations if not s.is_run]
    counts = dict.fromkeys((name for name, _ in middles), 0)
    here, travelled = point, 0.0
    for time, speed in legs:
        if not (np.isfinite(time) and time >= 0 and np.isfinite(speed)):
            raise InputError(
                Fault(
                    "time",
                    f"{time:g} s at {show(speed, Kind.SPEED)} cannot be followed; give a time of "
                    "0 or more, and a negative speed for running backwards",
                )
            )
        there = here + time * speed
        for name, at in middles:
            counts[name] += int(passes(here, there, at, length))
        travelled += abs(there - here)
        here = there
    # A way that ends short of a turn by rounding only would else lose that turn.
    turns = float(np.trunc(round((here - point) / length, 9)))
    return Followed(place(stations, here), turns, travelled, tuple(counts.items()))
