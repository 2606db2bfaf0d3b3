"""The places a joint passes on its way round the loop, and the plate loads at each.

What differs from place to place is the pull and the strain that a transition or a crowned
pulley builds into the belt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from splicewright.errors import Fault, InputError
from splicewright.joint.loads.membrane import EdgeCompliance
from splicewright.joint.loads.sharing import share
from splicewright.joint.loads.stiffness import Case
from splicewright.quantities import Kind, Number, formula

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Place:
    """A place of the loop that the joint passes, as the plates feel it.

    Parameters
    ----------
    name : for the sheet
    width_tension : mean pull per width there [N/m]
    edge_strain : strain at the belt's sides above that in the middle, below it on a crown; 0
        where it runs flat [1]
    flat : share of the width, about the centreline, that is not strained: the middle roll of
        the trough, or the cylinder of a crown, over the belt width [1]
    power : how the strain grows from there to the sides: 2 in a transition and on an arc, 1 on
        the cones of a crown [1]
    transition : which of the belt end's transition lengths the strain is built in over: the
        part of the transition on one side of the joint
    """

    name: str
    width_tension: float
    edge_strain: float = 0.0
    flat: float = 0.0
    transition: int = 0
    power: float = 2.0

    def __post_init__(self) -> None:
        if not self.width_tension > 0:
            raise InputError(
                Fault(
                    "place.width_tension",
                    f"{self.width_tension:g} N/m at '{self.name}' is not accepted: give a pull "
                    "above 0",
                )
            )
        if not 0 <= self.flat < 1:
            raise InputError(
                Fault(
                    "place.flat",
                    f"{self.flat:g} at '{self.name}' is not accepted: give 0 up to, not at, 1",
                )
            )


@formula(
    "g = d (2y/B)²",
    gives=("g", Kind.LENGTH),
    symbols={"y": "y", "width": "B", "depth": "d"},
    source="anatomy",
    limits="parabola, full depth at the belt's sides",
)
def curve_slack(y: Number, width: float, depth: Number) -> Array:
    """Slack of a plate when the middle of the end is cut back.

    g = d (2y/B)^2

    Parameters
    ----------
    y : place across, from the centreline [m]
    width : belt width [m]
    depth : how far the middle is cut back behind the sides [m]
    """
    return np.asarray(np.asarray(depth) * (2 * np.asarray(y) / width) ** 2, dtype=np.float64)


def uneven_strain(
    edge: EdgeCompliance, edge_strain: float, flat: float = 0.0, power: float = 2.0
) -> Array:
    """Strain in each stretch of the edge in a transition or on a crown, `(stretches,)` [1].

    e = e_s ((|2y/B| - f) / (1 - f))^p outside the flat middle, 0 inside; p = 2 is the way to a
    side that rises at a constant angle, and an arc, p = 1 a cone. Means over the stretches,
    exact.

    Parameters
    ----------
    edge : the belt end
    edge_strain : strain at the sides above the middle [1]
    flat : f, share of the width that is not strained [1]
    power : p [1]
    """
    u = 2 * edge.stretches / edge.strip.width
    beyond = np.maximum(np.abs(u) - flat, 0.0) / (1 - flat)
    total = np.sign(u) * beyond ** (power + 1) * (1 - flat) / (power + 1)
    return np.asarray(edge_strain * np.diff(total) / np.diff(u))


@lru_cache(maxsize=256)
def place_slack(edge: EdgeCompliance, place: Place) -> Array:
    """Slack the place itself gives each plate, negative where the belt is short, `(plates,)`.

    Kept, and not to be written to: dozens of assumptions stand on one belt end.
    """
    if place.edge_strain == 0:
        return np.zeros(len(edge.row))
    if not 0 <= place.transition < len(edge.transition_lengths):
        raise InputError(
            Fault(
                "place.transition",
                f"{place.transition} at '{place.name}' is not one of the "
                f"{len(edge.transition_lengths)} transition lengths the belt end was worked for",
            )
        )
    strain = uneven_strain(edge, place.edge_strain, place.flat, place.power)
    return -edge.drawn_back(strain, place.transition)


def plate_loads(case: Case, places: Sequence[Place], depths: Array) -> Array:
    """Loads of a sound joint for each depth of end curve, `(depths, places, plates)` [N]."""
    edge = case.edge
    own = np.array([place_slack(edge, place) for place in places])
    pull = np.array([place.width_tension for place in places]) * edge.strip.width
    slack = own + curve_slack(edge.row.y, edge.strip.width, depths[:, None, None])
    return share(
        edge, case.plate_stiffness, pull[None, :], slack=slack, guidance=case.guidance
    ).loads


@dataclass(frozen=True, slots=True)
class PlaceLoads:
    """Plate loads of a sound joint at one place.

    Attributes
    ----------
    place : which
    loads : of each plate in the typical case, left to right [N]
    low, high : smallest and largest load of each plate over all cases [N]
    held, loose : loads with typical belt and plates, at the most and the least side guidance
        of the cases [N]
    worst : largest plate load, smallest, typical and largest of all cases [N]
    plate : the plate that carries most in the typical case, from the left, from 1
    mean : pull over the number of plates [N]
    """

    place: Place
    loads: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    held: tuple[float, ...]
    loose: tuple[float, ...]
    worst: tuple[float, float, float]
    plate: int
    mean: float

    @property
    def factor(self) -> tuple[float, float, float]:
        """Worst plate load over the mean, smallest, typical and largest of all cases [1]."""
        low, typical, high = self.worst
        return low / self.mean, typical / self.mean, high / self.mean

    def margin(self, rating: float) -> tuple[float, float]:
        """Permitted pull per plate over the worst load, smallest and largest [1]."""
        return rating / self.worst[2], rating / self.worst[0]


def loads_round_the_loop(
    cases: Sequence[Case], places: Sequence[Place], curve_depth: float = 0.0
) -> tuple[PlaceLoads, ...]:
    """Plate loads of a sound joint at every place, over all assumptions.

    Parameters
    ----------
    cases : belt, plate and guidance assumptions, the typical first
    places : where the joint passes
    curve_depth : depth of its end curve [m]

    Raises
    ------
    InputError
        No case or no place.
    """
    faults = [
        Fault(name, f"none given: give at least one {item}")
        for given, name, item in (
            (cases, "cases", "set of assumptions"),
            (places, "places", "place the joint passes"),
        )
        if not given
    ]
    if faults:
        raise InputError(*faults)
    loads = np.array([plate_loads(case, places, np.array([curve_depth]))[0] for case in cases])
    worst = loads.max(axis=2)
    edge, plate = cases[0].edge, cases[0].plate_stiffness
    swing = {
        n: case.guidance.swing if case.guidance is not None else 0.0
        for n, case in enumerate(cases)
        if case.edge is edge and case.plate_stiffness == plate
    }
    held, loose = min(swing, key=lambda n: swing[n]), max(swing, key=lambda n: swing[n])
    return tuple(
        PlaceLoads(
            place,
            tuple(loads[0, i].tolist()),
            tuple(loads[:, i].min(axis=0).tolist()),
            tuple(loads[:, i].max(axis=0).tolist()),
            tuple(loads[held, i].tolist()),
            tuple(loads[loose, i].tolist()),
            (float(worst[:, i].min()), float(worst[0, i]), float(worst[:, i].max())),
            int(loads[0, i].argmax()) + 1,
            place.width_tension * edge.strip.width / len(edge.row),
        )
        for i, place in enumerate(places)
    )
