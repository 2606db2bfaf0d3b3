"""The page of plate loads in words and numbers: loads by place, end curve, limits."""

from __future__ import annotations

from typing import Any

from splicewright.job import JointLoads, Spread
from splicewright.joint import PlaceLoads
from splicewright.joint.loads.end_curve import Depth
from splicewright.joint.loads.making_limits import BOTH_ENDS, DERIVED
from splicewright.quantities import Kind, System, show

_PLACES = 6
"""The places with the largest plate loads stand on the page."""


def plate_loads(loads: JointLoads, system: System) -> dict[str, Any]:
    """Everything the page says, as texts."""
    heavy = sorted(loads.places, key=lambda at: -at.worst[2])[:_PLACES]
    shown = [at for at in loads.places if at in heavy]
    curve = loads.curve
    typical = curve.typical
    depths = [("straight", typical.straight), ("best", typical.best)]
    if typical.template is not None and typical.template.depth > 0:
        depths.insert(1, ("as planned", typical.template))
    return {
        "numbers": [
            ["a plate may carry", loads.permitted.show(system), _allowed(loads, system)],
            _number("largest plate load", loads.load, system),
            _number(f"over the mean of {loads.mean.show(system)}", loads.factor, system),
            _number("margin to what it may carry", loads.margin, system),
        ],
        "rows": [
            f"row {number} from the cut: {row.show(system)}"
            for number, row in enumerate(loads.rows, 1)
        ],
        "places": [_place(at, loads, system) for at in shown],
        "others": len(loads.places) - len(shown),
        "curve": [_depth(name, depth, system) for name, depth in depths],
        "limits": [
            {
                "what": limit.what,
                "smallest": limit.smallest.show(system),
                "held": held,
                "loose": loose,
                "practice": limit.practice.say(system),
            }
            for limit in loads.limits.every
            for held, loose in [("–", "–") if limit.guided is None else limit.guided.shown(system)]
        ],
        "derived": f"{DERIVED}; {BOTH_ENDS}",
        "loss": "a tenth of the margin",
        "remarks": [sentence.say(system) for sentence in loads.remarks],
        "assumptions": [sentence.say(system) for sentence in loads.assumptions],
    }


def _allowed(loads: JointLoads, system: System) -> str:
    whose = "assumed" if loads.evenness.assumed else "range data"
    even = loads.rating.show(system)
    return f"{loads.evenness.show(system)} times its even share {even}, {whose}"


def _number(name: str, value: Spread, system: System) -> list[str]:
    low, high = value.low.show(system), value.high.show(system)
    return [name, value.typical.show(system), f"{low} to {high}"]


def _place(at: PlaceLoads, loads: JointLoads, system: System) -> dict[str, str]:
    low, typical, high = (show(value, Kind.FORCE, system) for value in at.worst)
    least = at.margin(loads.permitted.value)[0] - 1
    return {
        "name": at.place.name,
        "tension": show(at.place.width_tension, Kind.WIDTH_FORCE, system),
        "load": typical,
        "span": f"{low} to {high}",
        "factor": show(at.factor[1], Kind.RATIO, system),
        "plate": str(at.plate),
        "margin": show(least, Kind.SHARE, system),
    }


def _depth(name: str, depth: Depth, system: System) -> dict[str, str]:
    return {
        "name": name,
        "depth": show(depth.depth, Kind.LENGTH, system),
        "load": show(depth.load, Kind.FORCE, system),
        "factor": show(depth.factor, Kind.RATIO, system),
        "where": f"plate {depth.plate}, {depth.place}",
    }
