"""Facts about joints, readings and photographs. Numbers are SI."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated
from uuid import UUID

from pydantic import Field

from splicewright.joint.inspection.verdict import PlateState, Verdict
from splicewright.joint.layout import End
from splicewright.quantities import Kind
from splicewright.store.facts.kinds import (
    Amount,
    Digest,
    Moment,
    Name,
    Number,
    Stream,
    Text,
    What,
    fact_kind,
)
from splicewright.store.facts.photo_facts import ToMeasure


class Mode(StrEnum):
    """Why a joint was removed: how it failed, or that it had not."""

    PULL_OUT = "pull-out"
    PLATE_BENT = "plate bent"
    LOOP_WORN = "loop worn through"
    PIN_WORN = "pin worn"
    PIN_MIGRATED = "pin migrated"
    PIN_BROKEN = "pin broken"
    BOLT_LOST = "bolt lost"
    EDGE_TORN = "edge torn"
    PLY_TEAR = "ply tear behind plates"
    COVER_LIFTED = "cover lifted"
    RIPPLE = "ripple"
    RENEWED = "renewed before failing"
    BELT_CHANGED = "removed with the belt"
    OTHER = "other"


class Task(StrEnum):
    """What can be due at a joint."""

    RETIGHTEN = "re-tighten"
    INSPECT = "inspect"
    RENEW = "renew"


Plates = Annotated[int, Field(ge=1, le=1000)]
Bolts = Annotated[int, Field(ge=0, le=100)]
Construction = Annotated[str, Field(pattern=r"^[a-z ]{0,40}$")]
"""Kind of joint, in the words of `joint.fasteners`."""
HINGED, SOLID = "hinged", "solid plate"
"""Kinds of joint that somebody describes without a plan."""
VULCANISED = "vulcanised step"
Part = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
"""A share of a whole [1]."""


@fact_kind("joint planned", Stream.JOINT, begins=True)
@dataclass(frozen=True, slots=True)
class JointPlanned(What):
    """A joint is planned; said again it is planned anew.

    place : of the pin axis, on the belt [m]; None when not known
    plan : digest of the kept plan, as made; None for a joint found without one
    plan_id : ten letters and digits of the plan
    retighten_after, inspect_after : as the plan says [s]; running is counted as if the belt
        never stopped, which brings the work forward, never back
    construction : kind of joint that is planned; empty where nobody said it
    """

    joint: UUID
    conveyor: UUID
    label: Name
    belt: UUID | None = None
    place: Amount | None = None
    plan: Digest | None = None
    plan_id: Text = ""
    retighten_after: Amount | None = None
    inspect_after: Amount | None = None
    construction: Construction = ""


@fact_kind("joint described", Stream.JOINT)
@dataclass(frozen=True, slots=True)
class JointDescribed(What):
    """What a joint without a plan is, as somebody saw it; said again it is described anew.

    plates : of one belt end
    hinged : a pin between the ends; else plates are one piece across them
    width : of the belt at the joint; pitch, plate_width : of the plates [m]
    bolts : of one plate; pin : diameter of the new hinge pin [m]
    rated, starting_rated : permitted tension per width, running and starting [N/m]
    since : in the belt; None when nobody knows
    source : where the rating comes from

    None: not known; a calculation takes a named assumption, or says that it is missing.
    """

    joint: UUID
    plates: Plates
    hinged: bool
    width: Amount | None = None
    pitch: Amount | None = None
    plate_width: Amount | None = None
    bolts: Bolts | None = None
    pin: Amount | None = None
    rated: Amount | None = None
    starting_rated: Amount | None = None
    source: Text = ""
    since: Moment | None = None
    note: Text = ""


@fact_kind("joint built", Stream.JOINT)
@dataclass(frozen=True, slots=True)
class JointBuilt(What):
    """The joint is built; the belt has not run yet."""

    joint: UUID


@fact_kind("joint put to work", Stream.JOINT)
@dataclass(frozen=True, slots=True)
class JointPutToWork(What):
    """The belt runs on this joint, for the first time or again.

    why : it may, when it was suspended or an inspection had found that it must not run
    """

    joint: UUID
    why: Text = ""


@fact_kind("joint suspended", Stream.JOINT)
@dataclass(frozen=True, slots=True)
class JointSuspended(What):
    """The joint stays in the belt but must not run, or the belt stands."""

    joint: UUID
    why: Text = ""


@fact_kind("joint removed", Stream.JOINT)
@dataclass(frozen=True, slots=True)
class JointRemoved(What):
    """The joint was cut out of the belt."""

    joint: UUID
    mode: Mode
    note: Text = ""


@fact_kind("joint seen", Stream.JOINT)
@dataclass(frozen=True, slots=True)
class JointSeen(What):
    """The joint passed or stood at a station of the loop [m] when the fact happened."""

    joint: UUID
    station: Amount


@fact_kind("plate inspected", Stream.JOINT)
@dataclass(frozen=True, slots=True)
class PlateInspected(What):
    """What one plate looked like; `inspection` groups the plates of one round."""

    joint: UUID
    inspection: UUID
    end: End
    plate: Plates
    state: PlateState
    note: Text = ""


@fact_kind("end inspected", Stream.JOINT)
@dataclass(frozen=True, slots=True)
class EndInspected(What):
    """Every plate of a belt end was looked at; those without an entry of their own were ok."""

    joint: UUID
    inspection: UUID
    end: End
    plates: Plates


@fact_kind("plate judged", Stream.JOINT)
@dataclass(frozen=True, slots=True)
class PlateJudged(What):
    """How much of a plate is left: its strength over a sound one's, and bolts lost or loose.

    share_kept : [1]; None when nobody judged it
    """

    joint: UUID
    inspection: UUID
    end: End
    plate: Plates
    share_kept: Part | None = None
    bolts_missing: Bolts = 0


@fact_kind("joint measured", Stream.JOINT)
@dataclass(frozen=True, slots=True)
class JointMeasured(What):
    """What an inspection measured of the whole joint.

    pin_now, pin_new : diameter of the hinge pin at its thinnest, and when it was new [m]; None
        when not measured
    torn_left, torn_right : width of belt torn off or cut through at each side [m]
    worn_keeps : what worn plates that nobody judged one by one are said to keep [1]; None: nobody
        said
    breaking : pull per width at which a sound joint broke, if somebody tested it [N/m]
    """

    joint: UUID
    inspection: UUID
    pin_now: Amount | None = None
    pin_new: Amount | None = None
    torn_left: Amount = 0.0
    torn_right: Amount = 0.0
    worn_keeps: Part | None = None
    breaking: Amount | None = None


@fact_kind("joint assessed", Stream.JOINT)
@dataclass(frozen=True, slots=True)
class JointAssessed(What):
    """What the calculation said of what an inspection found, with every assumption kept.

    assessment : digest of the kept assessment, with its worksheet
    """

    joint: UUID
    inspection: UUID
    level: Verdict
    assessment: Digest


@fact_kind("phone verdict", Stream.JOINT)
@dataclass(frozen=True, slots=True)
class PhoneVerdict(What):
    """What a phone without signal showed when an inspection was recorded on it.

    It decides nothing: the server works the verdict anew, and both are shown where they differ.

    margin_low, margin_high : permitted over actual load of the worst plate [1]
    unsaid : plates of which nobody had said anything; the phone took them as good
    """

    joint: UUID
    inspection: UUID
    level: Verdict
    margin_low: Amount
    margin_high: Amount
    unsaid: Annotated[int, Field(ge=0, le=2000)] = 0


@fact_kind("inspection closed", Stream.JOINT)
@dataclass(frozen=True, slots=True)
class InspectionClosed(What):
    """An inspection is done.

    can_run : what the inspector decided; None when left open
    next_after : to the next inspection [s]; None takes the plan's interval
    not_seen : what was not looked at, as the inspector says; "" where nobody asked
    """

    joint: UUID
    inspection: UUID
    can_run: bool | None = None
    next_after: Amount | None = None
    note: Text = ""
    not_seen: Text = ""


@fact_kind("joint re-tightened", Stream.JOINT)
@dataclass(frozen=True, slots=True)
class JointRetightened(What):
    """The bolts were re-tightened after the run-in."""

    joint: UUID


@fact_kind("due set", Stream.JOINT)
@dataclass(frozen=True, slots=True)
class DueSet(What):
    """Somebody set when a task is due; None: it is not due any more."""

    joint: UUID
    task: Task
    due: Moment | None
    why: Text = ""


@fact_kind("reading taken", None)
@dataclass(frozen=True, slots=True)
class ReadingTaken(What):
    """A measured value of a conveyor, belt or joint, in SI and as it was typed."""

    of: Stream
    about: UUID
    what: Name
    measure: Kind
    value: Number
    typed: Name
    note: Text = ""


@fact_kind("wear limit set", None)
@dataclass(frozen=True, slots=True)
class WearLimitSet(What):
    """A place is worn out at `limit` [m], and who states it; said again of a place it is replaced.

    of, about : a joint, a belt, or a conveyor: then of whichever belt lies there
    what : the place, called as its readings are
    typed : the limit as it was typed
    source : who states it: the maker's instruction, the site's rule
    new : what is read when nothing is worn [m]; None when nobody says
    """

    of: Stream
    about: UUID
    what: Name
    limit: Amount
    typed: Name
    source: Name
    new: Amount | None = None
    note: Text = ""


@fact_kind("photograph added", None)
@dataclass(frozen=True, slots=True)
class PhotoAdded(What):
    """A photograph of a thing; the rest says what it shows, where that is known.

    step : of a job; inspection, end, plate : what was photographed at an inspection
    measure : with what it is to be measured; None: it is only looked at
    """

    of: Stream
    about: UUID
    photo: Digest
    caption: Text = ""
    step: Text = ""
    damage: UUID | None = None
    inspection: UUID | None = None
    end: End | None = None
    plate: Plates | None = None
    measure: ToMeasure | None = None
