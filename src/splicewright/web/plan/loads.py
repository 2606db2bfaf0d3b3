"""Page: what each plate of a recorded plan carries, worked once for a plan and kept.

The first time for a belt and layout takes most of a second, so the page of the plan asks for it
when it is shown already.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from typing import TYPE_CHECKING, Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import Response

from splicewright.actions.register.kept_files import kept_plan
from splicewright.quantities import System
from splicewright.web.app.rendering import render
from splicewright.web.app.visitor import Visitor, room_of, visitor

if TYPE_CHECKING:
    from splicewright.job import JointLoads, JointPlan

router = APIRouter()
MOST = 64
"""Plans whose loads are kept; the one asked for longest ago goes first."""


class _Kept:
    """Loads by the digest of their plan, worked one at a time: the work is the processor's."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._loads: OrderedDict[str, JointLoads] = OrderedDict()

    def there(self, digest: str) -> JointLoads | None:
        """The loads of that plan where they were worked already."""
        return self._loads.get(digest)

    def work(self, digest: str, plan: JointPlan) -> JointLoads:
        """The loads of that plan."""
        from splicewright.job import loads_of

        with self._lock:
            if digest not in self._loads:
                self._loads[digest] = loads_of(plan)
                while len(self._loads) > MOST:
                    self._loads.popitem(last=False)
            self._loads.move_to_end(digest)
            return self._loads[digest]


_KEPT = _Kept()


@router.get("/joints/{joint}/plan/loads")
def loads(request: Request, joint: UUID, who: Annotated[Visitor, Depends(visitor)]) -> Response:
    """What the plates of the joint carry, and what is found in it."""
    register = room_of(request).register
    there = register.joint(joint)
    kept = kept_plan(register, joint) if there is not None else None
    if there is None or kept is None or not has_plates(kept[1]):
        raise HTTPException(404)
    by_script = bool(request.headers.get("hx-request"))
    name = "plan-loads.html" if by_script else "plan-loads-page.html"
    texts = load_words(_KEPT.work(*kept), who.units)
    return render(request, name, joint=there, loads=texts)


def has_plates(plan: JointPlan) -> bool:
    """Whether a plan holds a joint of plates."""
    return plan.fastener is not None and plan.layout is not None


def told_at_once(digest: str, system: System) -> dict[str, Any] | None:
    """What `loads` would show, where it was worked already."""
    joint_loads = _KEPT.there(digest)
    return load_words(joint_loads, system) if joint_loads is not None else None


def load_words(joint_loads: JointLoads, system: System) -> dict[str, Any]:
    """The loads in words."""
    over = joint_loads.overload
    return {
        "overload": over.say(system) if over is not None else "",
        "load": joint_loads.load.show(system),
        "rating": joint_loads.rating.show(system),
        "permitted": joint_loads.permitted.show(system),
        "place": joint_loads.worst.place.name,
        "remarks": [sentence.say(system) for sentence in joint_loads.remarks if sentence != over],
        "assumptions": [sentence.say(system) for sentence in joint_loads.assumptions],
    }
