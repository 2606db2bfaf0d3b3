"""The joint whose plates are tapped: by its plan, or as somebody described it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from uuid import UUID

from fastapi import HTTPException, Request

from splicewright.actions.inspection.assess_taps import (
    Tapped,
    planned_plates,
    require_plates,
    tapped_by_plan,
)
from splicewright.actions.joint.describe import Known, known_joint
from splicewright.actions.register.kept_files import kept_plan
from splicewright.errors import InputError
from splicewright.store import Register
from splicewright.store.present.job_sheet import Inspection, inspections
from splicewright.store.present.present import JointNow
from splicewright.version import __version__
from splicewright.web.app.visitor import room_of
from splicewright.web.joint.picture import Picture, drawn, picture

LEVELS = {
    "STOP": ("Do not run it", "bad", "■"),
    "REDUCE": ("Not at this load", "warn", "▲"),
    "WATCH": ("No overload found: keep watching", "plain", "●"),
}
"""The three levels in plain words, with a colour and a shape; none of them says that it is safe."""


@dataclass(frozen=True, slots=True)
class TappedJoint:
    """A joint with plates to tap.

    tapped : None where a verdict lacks what `missing` tells
    pin : diameter of the new hinge pin; None when not known [m]
    known : as it was described, where it has no plan
    last : the inspection before; None for the first
    """

    now: JointNow
    tapped: Tapped | None
    picture: Picture
    invented: bool
    pin: float | None
    known: Known | None = None
    last: Inspection | None = None

    @property
    def missing(self) -> tuple[str, ...]:
        """What a verdict cannot do without."""
        return self.known.missing if self.known is not None else ()

    @property
    def condensed(self) -> str:
        """Where a phone finds the joint condensed; "" where a verdict lacks something.

        Another joint, or another version of the app, has another address.
        """
        if self.tapped is None:
            return ""
        digest = hashlib.sha256(f"{self.tapped.key} {__version__}".encode()).hexdigest()[:12]
        return f"/joints/{self.now.joint}/inspect/condensed?v={digest}"


class NotDescribedError(Exception):
    """The joint has no plan, and nobody said yet what it is."""


def tapped_joint(request: Request, joint: UUID) -> TappedJoint:
    """The joint, or the page that says there is none.

    Raises
    ------
    NotDescribedError
        It has no plan, and nobody said what it is.
    InputError
        It is planned without plates.
    """
    register = room_of(request).register
    now = register.joint(joint)
    if now is None:
        raise HTTPException(404)
    require_plates(now)
    kept = kept_plan(register, joint)
    if kept is None:
        known = known_joint(register, now)
        if known is None:
            raise NotDescribedError
        last = _last(register, joint)
        return _as_described(now, known, last, invented=room_of(request).invented)
    digest, plan = kept
    layout, fastener = planned_plates(now, plan)
    seen, pin = picture(layout, fastener), fastener.size.pin
    tapped, last = tapped_by_plan(digest, plan), _last(register, joint)
    return TappedJoint(now, tapped, seen, plan.conveyor.invented, pin, last=last)


def _last(register: Register, joint: UUID) -> Inspection | None:
    return next(reversed(inspections(register.facts_about(joint))), None)


def _as_described(
    now: JointNow, known: Known, last: Inspection | None, *, invented: bool
) -> TappedJoint:
    """A joint without a plan, by what somebody said of it."""
    from splicewright.joint import End

    description, conveyor = known.joint, known.conveyor
    nominal = conveyor.belt.width.value if conveyor is not None else 0.04 * description.plates
    width = description.width or max(nominal, (description.pitch or 0.0) * description.plates)
    centres, plate = description.centres(width)
    pitch = centres[0] - centres[1] if len(centres) > 1 else width
    seen = drawn(dict.fromkeys(End, centres), pitch, plate, width)
    tapped = Tapped(known.key, known.joined) if not known.missing else None
    unreal = conveyor.invented if conveyor is not None else invented
    return TappedJoint(now, tapped, seen, unreal, description.pin, known, last)


def drawing_of(request: Request, joint: UUID) -> Picture | None:
    """The picture of a joint; None where it has neither plates nor a description any more."""
    try:
        return tapped_joint(request, joint).picture
    except (InputError, NotDescribedError):
        return None
