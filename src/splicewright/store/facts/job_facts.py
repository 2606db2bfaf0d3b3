"""Facts of a job: steps, values, hold points, hand-over, sign-off. Numbers are SI."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated
from uuid import UUID

from pydantic import Field

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
    Words,
    fact_kind,
)

Boxes = Annotated[int, Field(ge=1, le=1000)]
Version = Annotated[int, Field(ge=0, lt=2**63)]
PlanId = Annotated[str, Field(pattern=r"^[A-Za-z0-9]{0,20}$")]
PARTS = "parts"
"""Step under which parts are ticked off that were picked; it stands in no plan."""
BUILT, CHECKED = "I built it", "I checked it, I did not build it"
"""The two that one person does not sign both."""
SIGN_OFFS = {
    BUILT: "I built this joint by this plan. What I wrote down is what I measured and did.",
    CHECKED: "I did not build this joint. I have looked at it and at what is written down here.",
    "I answer for the job": "The hold points of this job are signed, and I have read what is "
    "written down here.",
}
"""As what somebody signs a job off, and the statement they read."""
DEVIATION = (
    "I have seen this value and its limit. I answer for leaving it so, and for what is to be done "
    "about it. The limit stays as it is, and nothing here says that the joint may run."
)
"""What the signer of a deviation reads."""


@fact_kind("job opened", Stream.JOB, begins=True)
@dataclass(frozen=True, slots=True)
class JobOpened(What):
    """A job is known; said again it renames the job.

    joint : the one it makes; None where it makes none
    plan, plan_id : digest of its kept plan and the id it prints, where it makes no joint; else the
    plan is the joint's
    """

    job: UUID
    conveyor: UUID
    name: Name
    joint: UUID | None = None
    plan: Digest | None = None
    plan_id: PlanId = ""


@fact_kind("step ticked", Stream.JOB)
@dataclass(frozen=True, slots=True)
class StepTicked(What):
    """A step of the job, by its key in the plan, is done, or not done after all.

    line : number of the line within the step, as on the isolation sheet; 0 for the whole step
    plan : id of the plan that was read there; "" where nobody said. It may be an earlier version
    lot : of a part that was picked: its number and the date on it
    """

    job: UUID
    step: Name
    done: bool = True
    line: Annotated[int, Field(ge=0, le=1000)] = 0
    plan: PlanId = ""
    lot: Text = ""


@fact_kind("value recorded", Stream.JOB)
@dataclass(frozen=True, slots=True)
class ValueRecorded(What):
    """A value written into one box of a step, in SI and as it was typed.

    sure : it is far from what is expected (`job.acceptance.likely`), and the writer was asked and
        said that it is right
    """

    job: UUID
    step: Name
    what: Name
    measure: Kind
    value: Number
    typed: Name
    box: Boxes = 1
    sure: bool = False


@fact_kind("step timed", Stream.JOB)
@dataclass(frozen=True, slots=True)
class StepTimed(What):
    """Somebody worked on a step for `took` [s], by the timer of their phone.

    A step worked on in several stretches has several of these; one device's add up.

    planned : what the plan assumed for the step, whatever past jobs said of it [s], so that jobs of
    other sizes compare and what was learnt is not learnt again
    """

    job: UUID
    step: Name
    took: Amount
    planned: Amount | None = None


@dataclass(frozen=True, slots=True)
class Gap:
    """A value that a step asks for, and that is not as it should be.

    what, box : as in `ValueRecorded`; box 0 is the difference of two boxes
    how : "missing", "too small", "too large" or "far from what is expected"
    """

    what: Name
    box: Annotated[int, Field(ge=0, le=1000)]
    how: Name


@fact_kind("hold point signed", Stream.JOB, signed=True)
@dataclass(frozen=True, slots=True)
class HoldPointSigned(What):
    """Somebody signed that what a hold point asks is true; `statement` is what they read.

    gaps : values that were missing or outside their limits when they signed; why : they signed
        all the same
    plan : as in `StepTicked`
    """

    job: UUID
    step: Name
    statement: Text
    why: Text = ""
    gaps: Annotated[tuple[Gap, ...], Field(max_length=1000)] = ()
    plan: PlanId = ""


@fact_kind("deviation signed", Stream.JOB, signed=True)
@dataclass(frozen=True, slots=True)
class DeviationSigned(What):
    """Somebody answers for a value that is outside its limits and stays so.

    It holds for that value alone: measured anew, the box is judged anew.

    what, box : as in `ValueRecorded`; box 0 is the difference of two boxes
    value : that stays [SI]; limit : as the signer read it
    why : it stays; to_do : what is done about it; until : by when, None without a date
    statement : what they read when they signed
    low, high : the limits as numbers [SI], None where there is none or the fact is from before they
        were kept; what is measured anew between them needs no deviation any more
    """

    job: UUID
    step: Name
    what: Name
    box: Annotated[int, Field(ge=0, le=1000)]
    measure: Kind
    value: Number
    limit: Text
    why: Words
    to_do: Words
    statement: Text
    until: Moment | None = None
    low: Number | None = None
    high: Number | None = None


@fact_kind("job commented", Stream.JOB)
@dataclass(frozen=True, slots=True)
class JobCommented(What):
    """Somebody said something of the job that no box asks for."""

    job: UUID
    text: Words


@fact_kind("job planned again", Stream.JOB)
@dataclass(frozen=True, slots=True)
class JobPlannedAgain(What):
    """The job's joint was planned again while the job is in hand, and why.

    plan : id of the new plan; `JointPlanned` records the plan itself
    """

    job: UUID
    plan: PlanId
    why: Words


@fact_kind("job handed over", Stream.JOB)
@dataclass(frozen=True, slots=True)
class JobHandedOver(What):
    """A shift handed the job to the next."""

    job: UUID
    to: Name
    note: Text = ""


@fact_kind("one person allowed", Stream.JOB)
@dataclass(frozen=True, slots=True)
class OnePersonAllowed(What):
    """The site allows that who built the joint also checks it, or does not after all; and why."""

    job: UUID
    why: Words
    allowed: bool = True


@fact_kind("signed off", Stream.JOB, signed=True)
@dataclass(frozen=True, slots=True)
class SignedOff(What):
    """Somebody signed the job.

    role : as what they sign; statement : what they read when they signed
    seen : version of the job's stream they saw; later facts show as changes after the signature
    closes : whether the job is over with it
    """

    job: UUID
    role: Name
    statement: Text
    seen: Version
    closes: bool = False
