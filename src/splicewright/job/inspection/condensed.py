"""What a phone needs to judge a damaged joint by itself: both belt ends, condensed to their plates.

Numbers only, in SI: no words and no thresholds of its own. `web/static/joint-verdict.js` works the
same contact problem from it as `joint.inspection.damage`; a test holds both together. Compliances
go as doubles: in single precision the worst plate would be off by more than a millionth, and the
whole is a quarter of what a phone may be asked to load.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from splicewright.job.inspection.joined_belt import JoinedBelt
from splicewright.job.inspection.tonnage import empty_tensions
from splicewright.joint import End
from splicewright.joint.inspection.plate_condition import LEAST_HOLD
from splicewright.joint.loads.membrane import EdgeCompliance
from splicewright.joint.loads.places import curve_slack, place_slack
from splicewright.joint.loads.sharing import swing_ease
from splicewright.joint.loads.stiffness import Case


def condensed(joined: JoinedBelt) -> dict[str, Any]:
    """The joint for a phone.

    plates : of one end; width, plate_width, pin (new; None when not known), pin_taken [m];
        bolts : of one plate; rows : plate middles of each end [m]
    belts : of each: `halves`, lower triangle of each end's compliance by rows [m/N]; `slack`, of
        each plate at each place, by end [m]
    cases : of each: belt, plate stiffness k [N/m], ease of swing over the plates' own and whether
        it is free, bending of the pin [N m2]; the typical first
    places : pull [N], pull per width, and that of the empty belt, None without a conveyor [N/m]
    rated, breaking [N/m]; permitted, even : pull of one plate, of the largest share and of the
        even one at `rated` [N]; peak, least_share, least_hold [1]
    """
    cases = joined.cases()
    belts: list[EdgeCompliance] = []
    belt_tables = []
    for case in cases:
        if not any(case.edge is belt for belt in belts):
            belts.append(case.edge)
            belt_tables.append(_belt(case, joined))
    conveyor = joined.conveyor
    empty = None if conveyor is None else empty_tensions(conveyor, joined.running * joined.narrower)
    return {
        "plates": joined.plates,
        "hinged": joined.hinged,
        "width": joined.width,
        "plate_width": joined.plate_width,
        "bolts": joined.bolts,
        "pin": joined.pin,
        "pin_taken": joined.pin_diameter(None),
        "rows": [list(joined.row(end).centres) for end in _ends(joined)],
        "belts": belt_tables,
        "cases": [
            _case(case, next(n for n, belt in enumerate(belts) if belt is case.edge))
            for case in cases
        ],
        "places": [
            {
                "pull": place.width_tension * joined.width,
                "per_width": place.width_tension * joined.narrower,
                "empty": None if empty is None else empty[pulley],
            }
            for pulley, place in joined.places
        ],
        "rated": joined.rated,
        "running": joined.running,
        "breaking": joined.assumed_breaking,
        "permitted": joined.permitted_pull,
        "even": joined.rated_pull,
        "peak": joined.peak,
        "least_share": joined.least_share,
        "least_hold": LEAST_HOLD,
    }


def _ends(joined: JoinedBelt) -> tuple[End, ...]:
    """Belt ends that are worked: of plates in one piece the leading one stands for both."""
    return tuple(End) if joined.hinged else (End.LEADING,)


def _belt(case: Case, joined: JoinedBelt) -> dict[str, Any]:
    edges = [case.edge] if case.hinge is None else [case.hinge.leading, case.hinge.trailing]
    return {
        "halves": [edge.matrix[np.tril_indices(len(edge.row))].tolist() for edge in edges],
        "slack": [
            [
                (
                    place_slack(edge, place)
                    + curve_slack(edge.row.y, edge.strip.width, joined.curve_depth)
                ).tolist()
                for _, place in joined.places
            ]
            for edge in edges
        ],
    }


def _case(case: Case, belt: int) -> dict[str, Any]:
    y = case.edge.row.y if case.hinge is None else case.hinge.y
    assert case.guidance is not None  # every case of a belt with free sides has one
    return {
        "belt": belt,
        "k": case.plate_stiffness,
        "ease": swing_ease(case.guidance, case.plate_stiffness, y),
        "free": bool(np.isinf(case.guidance.swing)),
        "bending": None if case.hinge is None else case.hinge.bending,
    }
