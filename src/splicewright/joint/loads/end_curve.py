"""How deep to curve the belt end on this machine.

In a transition the sides of the belt have the longer way and pull more. An end whose middle
is cut back lets the edge plates hang slack at first, so the middle takes up its share. Too
deep a curve overloads the middle where the belt runs flat. The best depth is the one with the
smallest worst plate load over all places the joint passes. Where the fastener range comes
with a punch template, the template rules; this says what it costs or gains.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.joint.loads.places import Place, plate_loads
from splicewright.joint.loads.stiffness import Case

DEEPEST_SHARE = 0.02
"""Depths are searched up to this share of the belt width; assumption of this tool."""

NEAR = 0.02
"""Depths whose worst plate load is within this of the smallest count as equally good."""

_STEPS = 60


@dataclass(frozen=True, slots=True)
class Depth:
    """One depth of the end curve and the plate that carries most with it.

    Attributes
    ----------
    depth : [m]
    load : the worst plate load over all places [N]
    place : where that is
    plate : which plate, from the left, from 1
    factor : that load over the mean plate load there [1]
    """

    depth: float
    load: float
    place: str
    plate: int
    factor: float


@dataclass(frozen=True, slots=True)
class EndCurve:
    """The best end curve under one set of assumptions.

    Attributes
    ----------
    case : name of the assumptions
    best, straight : the best depth, and depth 0
    template : the template's depth, None without one
    equal_from, equal_to : depths within `NEAR` of the best [m]
    at_limit : True when the best lies at the end of the search
    depths, loads : what was searched, for a plot [m], [N]
    """

    case: str
    best: Depth
    straight: Depth
    template: Depth | None
    equal_from: float
    equal_to: float
    at_limit: bool
    depths: tuple[float, ...]
    loads: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class CurveAdvice:
    """The best end curve as a range over all assumptions; the typical case comes first."""

    typical: EndCurve
    cases: tuple[EndCurve, ...]

    @property
    def shallowest(self) -> float:
        """Smallest best depth of all cases [m]."""
        return min(curve.best.depth for curve in self.cases)

    @property
    def deepest(self) -> float:
        """Largest best depth of all cases [m]."""
        return max(curve.best.depth for curve in self.cases)

    @property
    def steadiest(self) -> float:
        """The depth whose worst plate load over all cases together is smallest [m]."""
        depths = np.unique(np.concatenate([curve.depths for curve in self.cases]))
        loads = [np.interp(depths, curve.depths, curve.loads) for curve in self.cases]
        return float(depths[int(np.max(loads, axis=0).argmin())])


def best_curve(
    case: Case,
    places: Sequence[Place],
    *,
    template: float | None = None,
    deepest: float | None = None,
) -> EndCurve:
    """Find the depth with the smallest worst plate load over all places.

    Parameters
    ----------
    case : belt end, plate stiffness and guidance
    places : where the joint passes; give the flat running places too
    template : depth of the range's punch template [m]
    deepest : end of the search; `DEEPEST_SHARE` of the width when left out [m]

    Raises
    ------
    InputError
        No place, or a depth below 0.
    """
    if not places:
        raise InputError(
            Fault("places", "none given: give at least the place with the largest pull")
        )
    width = case.edge.strip.width
    end = DEEPEST_SHARE * width if deepest is None else deepest
    for name, value in (("template", template), ("deepest", end)):
        if value is not None and not value >= 0:
            raise InputError(Fault(name, f"{value:g} m is not accepted: give 0 m or more"))
    coarse = np.linspace(0.0, end, _STEPS + 1)
    loads = plate_loads(case, places, coarse)
    near = int(loads.max(axis=(1, 2)).argmin())
    low, high = coarse[max(near - 1, 0)], coarse[min(near + 1, _STEPS)]
    wanted = [] if template is None else [template]
    depths = np.unique(np.concatenate([coarse, np.linspace(low, high, _STEPS + 1), wanted]))
    loads = plate_loads(case, places, depths)
    worst = loads.max(axis=(1, 2))
    at = int(worst.argmin())
    good = np.flatnonzero(worst <= (1 + NEAR) * worst[at])

    def depth(index: int) -> Depth:
        place, plate = divmod(int(loads[index].argmax()), loads.shape[2])
        mean = places[place].width_tension * width / len(case.edge.row)
        load = float(worst[index])
        return Depth(float(depths[index]), load, places[place].name, plate + 1, load / mean)

    return EndCurve(
        case.name,
        depth(at),
        depth(0),
        None if template is None else depth(int(np.searchsorted(depths, template))),
        float(depths[good[0]]),
        float(depths[good[-1]]),
        bool(depths[at] >= end),
        tuple(depths.tolist()),
        tuple(worst.tolist()),
    )


def advise_curve(
    cases: Sequence[Case],
    places: Sequence[Place],
    *,
    template: float | None = None,
    deepest: float | None = None,
) -> CurveAdvice:
    """The best end curve under every case, the first being the typical one."""
    curves = tuple(best_curve(case, places, template=template, deepest=deepest) for case in cases)
    return CurveAdvice(curves[0], curves)
