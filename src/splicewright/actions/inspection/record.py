"""Record an inspection of a joint: every plate looked at, what was measured, what was decided."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID, uuid4, uuid5

from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.actions.inspection.assess_taps import PlateTaps
    from splicewright.job.inspection.joint_assessment import JointAssessment
    from splicewright.joint import End
    from splicewright.store import Register, What


@dataclass(frozen=True, slots=True)
class Closing:
    """How an inspection ends.

    ends : belt ends of which every plate was looked at; plates : of one end
    sound : plates of the other end that were looked at and found good, by end and number
    not_seen : what was not looked at, in words
    can_run : what was decided; None when left open
    next_after : to the next inspection [s]; None takes the plan's interval
    """

    ends: tuple[End, ...]
    plates: int
    can_run: bool | None
    next_after: float | None
    note: str
    sound: tuple[tuple[End, int], ...] = ()
    not_seen: str = ""


def record_inspection(
    register: Register,
    joint: UUID,
    inspection: UUID,
    seen: PlateTaps,
    closing: Closing,
    assessment: JointAssessment | None,
    *,
    by: str,
    now: datetime,
    person: UUID | None = None,
    device: str = "",
) -> bool:
    """Record an inspection, all of it or nothing.

    inspection : id made when the page was opened; sending the page again records nothing
    seen, closing : what was found and decided; plates of the ends looked at that are not named
        were ok
    assessment : what the calculation said of it, kept with every assumption; None without one
    Returns whether it is new. Raises InputError: the register does not know the joint; nothing was
    looked at; the joint is to run on, and nobody says what was not looked at.
    """
    from splicewright.store import Fact
    from splicewright.store.facts.joint_facts import InspectionClosed, JointAssessed

    close = uuid5(inspection, "closed")
    if register.fact(close) is not None:
        return False
    facts: list[tuple[UUID, What]] = _plates(joint, inspection, seen, closing)
    facts += _measured(joint, inspection, seen)
    if assessment is not None:
        digest = register.keep(assessment.to_json().encode(), "application/json")
        assessed = JointAssessed(joint, inspection, assessment.verdict, digest)
        facts.append((uuid5(inspection, "assessed"), assessed))
    closed = InspectionClosed(
        joint, inspection, closing.can_run, closing.next_after, closing.note, closing.not_seen
    )
    facts.append((close, closed))
    register.append(*(Fact(id_, now, by, event, person, device) for id_, event in facts))
    return True


def new_inspection() -> UUID:
    """An id for an inspection that begins."""
    return uuid4()


def _plates(
    joint: UUID, inspection: UUID, seen: PlateTaps, closing: Closing
) -> list[tuple[UUID, What]]:
    from splicewright.joint.inspection.verdict import PlateState
    from splicewright.store.facts.joint_facts import EndInspected, PlateInspected, PlateJudged

    if not closing.ends and not closing.sound and not seen.plates:
        say = "no plate was said to be looked at; mark each, or say that all others are good"
        raise InputError(Fault("looked", say))
    facts: list[tuple[UUID, What]] = []
    for which in closing.ends:
        looked = EndInspected(joint, inspection, which, closing.plates)
        facts.append((uuid5(inspection, which.name), looked))
    for which, number in closing.sound:
        good = PlateInspected(joint, inspection, which, number, PlateState.OK)
        facts.append((uuid5(inspection, f"{which.name} {number}"), good))
    for plate in seen.plates:
        end, number, key = plate.end, plate.number, f"{plate.end.name} {plate.number}"
        state = PlateState(plate.state)
        inspected = PlateInspected(joint, inspection, end, number, state, plate.note)
        facts.append((uuid5(inspection, key), inspected))
        if plate.share_kept is not None or plate.bolts_missing:
            judged = PlateJudged(
                joint, inspection, end, number, plate.share_kept, plate.bolts_missing
            )
            facts.append((uuid5(inspection, f"{key} judged"), judged))
    return facts


def _measured(joint: UUID, inspection: UUID, seen: PlateTaps) -> list[tuple[UUID, What]]:
    from splicewright.store.facts.joint_facts import JointMeasured

    of = seen.inspection
    keeps = None if seen.assumed else seen.worn_keeps
    measured = JointMeasured(
        joint, inspection, of.pin_now, of.pin_new, of.torn_left, of.torn_right, keeps, of.breaking
    )
    if measured == JointMeasured(joint, inspection):
        return []
    return [(uuid5(inspection, "measured"), measured)]
