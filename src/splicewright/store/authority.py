"""Who may say what: the one place for it.

What a signature needs beside authority stands in `store.signing`.

It is asked where facts are appended (`store.sql.appending`), so every door asks it: pages, `/sync`,
the API, imports, the command line, and corrections. Pages only explain it beforehand.

Three questions of each fact, each a pure function:

- `by_kind`: may this actor say a fact of this kind at all, under this name?
- `in_state`: may they say it of this thing as it stands, and of the fact it corrects?
- `loosened`: may they bring about what is true afterwards? A joint that must not run goes back to
  work only by a lead with a stated reason, and so does work that a lead set off the due list.

Unknown is unsafe: a joint that is suspended counts as one that must not run, whether it is the
joint or the belt that stands, because the register cannot tell them apart.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from uuid import UUID

from splicewright.errors import Fault
from splicewright.store.facts.facts import Correction, Fact
from splicewright.store.facts.job_facts import JobOpened
from splicewright.store.facts.joint_facts import (
    DueSet,
    InspectionClosed,
    JointPlanned,
    JointPutToWork,
)
from splicewright.store.facts.kinds import Stream, What, kind_of
from splicewright.store.facts.plant_facts import PersonRole
from splicewright.store.present.present import JobNow, JointNow, State
from splicewright.store.sites import ALL_SITES, NO_SITES, Sites

EPOCH = datetime(1960, 1, 1, tzinfo=UTC)
"""Nothing is dated before it: no belt of then is in service (assumption, no source)."""
AHEAD = timedelta(days=3653)
"""How far ahead of the register's clock a date may be.

What is ahead counts from its arrival and is marked (`Stored.odd_date`). It is this far because the
register's own clock may be the wrong one, and a fact refused for that would be lost.
"""
BEFORE_JOB = timedelta(days=1)
"""How long before its job was opened something of it may be dated."""
DUE_AHEAD = timedelta(days=20 * 366)
"""How far ahead work may be set due."""

MAY_RUN = "that it may run is for leads and admins to record; leave it open, and ask them"
LIMITS = "limits of wear are for leads and admins to set or take back; ask them"
DEVIATIONS = "a deviation is for leads and admins to sign; ask them"
ALONE = "that one person builds and checks is for leads and admins to allow; ask them"
DUE = "what is due is for leads and admins to set; ask them"
DECIDED = "what an inspection decided is for leads and admins to change; ask them"
MUST_NOT_RUN = (
    "the joint must not run; that it goes back to work is for leads and admins to record, with the "
    "reason; ask them"
)
REASON = "is empty; the joint must not run: say why it may go back to work"
PUT_OFF = "renewing this joint is due; only leads and admins take it off or put it off; ask them"
REPLANNED = (
    "the joint is planned; another plan, conveyor or interval is for leads and admins to record"
)
PLANNED_AGAIN = "a job in hand is for leads and admins to plan again; ask them"
RENAMED = "the job is of another joint or conveyor; only leads and admins move it"
WITHDRAWN = (
    "the job was withdrawn: nothing more is recorded of it until a lead opens it again; ask them"
)
NOT_HERE = (
    "A vulcanised joint has no plates, and inspections here go plate by plate. Inspect it as its "
    "maker's instructions say"
)
"""Of a joint that is `plateless`: why it is not inspected here, and what to do instead."""
PEOPLE = 'people and their roles need the scope "admin"'


class Scope(StrEnum):
    """What a program's key may be used for; each is given by itself, `admin` holds the others.

    `calendar` stands in an address, so it opens the calendar of due dates and nothing else, and no
    other scope opens that.
    """

    READ = "read"
    RECORD = "record"
    PLAN = "plan"
    ADMIN = "admin"
    CALENDAR = "calendar"


@dataclass(frozen=True, slots=True)
class Actor:
    """Who records.

    account, name : as whom every fact stands; None for the console: whoever has the register's
        file in hand says under which name they work
    role : of the account, at this moment
    scopes : what a program's key allows; None for a person, who may also sign
    phone : whether it was kept by a phone, and may be days old
    sites : that they are let into (`store.sites`); what is not said is none
    """

    account: UUID | None
    name: str
    role: PersonRole
    scopes: frozenset[Scope] | None = None
    phone: bool = False
    sites: Sites = NO_SITES

    def holds(self, scope: Scope) -> bool:
        """Whether the key, if there is one, allows it."""
        return self.scopes is None or bool(self.scopes & {scope, Scope.ADMIN})


CONSOLE = Actor(None, "", PersonRole.ADMIN, sites=ALL_SITES)
"""Who works on the register's own machine: they could write into its file as well."""
NOBODY = Actor(None, "", PersonRole.VIEWER)
"""Whoever is not known: nothing may be said by them, and they see nothing."""


@dataclass(frozen=True, slots=True)
class Rule:
    """Who may say facts of one kind.

    role : least role; scope : what a program's key needs
    phone : whether phones keep it for later; plant, plans and people are the desk's
    refusal : what is told to those who may not
    """

    role: PersonRole = PersonRole.CREW
    scope: Scope = Scope.RECORD
    phone: bool = False
    refusal: str = ""


_PLANT = Rule(PersonRole.LEAD, Scope.PLAN)
_DESK, _POCKET = Rule(), Rule(phone=True)
RULES: dict[str, Rule] = {
    "site added": _PLANT,
    "conveyor recorded": _PLANT,
    "fasteners recorded": _PLANT,
    "person added": Rule(PersonRole.ADMIN, Scope.ADMIN, refusal=PEOPLE),
    "belt placed": _DESK,
    "belt piece placed": _DESK,
    "belt piece removed": _DESK,
    "joint planned": _DESK,
    "joint described": _DESK,
    "joint assessed": _DESK,
    "job opened": _DESK,
    "photograph measured": _DESK,
    "job planned again": Rule(PersonRole.LEAD, Scope.PLAN, refusal=PLANNED_AGAIN),
    "due set": Rule(PersonRole.LEAD, refusal=DUE),
    "wear limit set": Rule(PersonRole.LEAD, refusal=LIMITS),
    "deviation signed": Rule(PersonRole.LEAD, refusal=DEVIATIONS),
    "one person allowed": Rule(PersonRole.LEAD, refusal=ALONE),
    **dict.fromkeys(
        (
            "correction",
            "damage found",
            "damage mended",
            "end inspected",
            "hold point signed",
            "inspection closed",
            "job commented",
            "job handed over",
            "joint built",
            "joint measured",
            "joint put to work",
            "joint re-tightened",
            "joint removed",
            "joint seen",
            "joint suspended",
            "phone verdict",
            "photograph added",
            "plate inspected",
            "plate judged",
            "reading taken",
            "signed off",
            "step ticked",
            "step timed",
            "stock moved",
            "value recorded",
        ),
        _POCKET,
    ),
}
"""By the name of the kind; a kind without a rule cannot be recorded."""
_LEADS_CORRECT = (JointPlanned, JobOpened)
"""Crew record them, but one taken back would take a job's hold points with it."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A fact to be recorded, and what the register knows that bears on it.

    received : now, by the register's clock
    corrected : what the fact that it corrects said first, and what counts of it now
    joint, job : the thing it is about, as it stands before
    plan : digest of the plan of a job that makes no joint, as it stands before
    """

    fact: Fact
    received: datetime
    corrected: tuple[What, ...] = ()
    joint: JointNow | None = None
    job: JobNow | None = None
    plan: str | None = None


@dataclass(frozen=True, slots=True)
class Guarded:
    """What of a joint is not let go by everybody.

    barred : it must not run; renew : when renewing is due, None when it is not
    gone : it was cut out of the belt: nothing of it runs any more
    reasons : why, as stated by the facts that brought about this state
    """

    barred: bool = False
    renew: datetime | None = None
    gone: bool = False
    reasons: tuple[str, ...] = field(default=(), compare=False)


def may_admit(doer: PersonRole, role: PersonRole) -> bool:
    """Whether somebody may let in, change and close accounts of a role."""
    if doer is PersonRole.ADMIN:
        return True
    return doer is PersonRole.LEAD and not role.reaches(PersonRole.LEAD)


def is_barred(joint: JointNow | None) -> bool:
    """Whether a joint in the belt must not run."""
    if joint is None or joint.state is State.REMOVED:
        return False
    return joint.can_run is False or joint.state is State.SUSPENDED


def reason_of(event: What) -> str:
    """The reason that a fact states; empty where it states none."""
    if isinstance(event, InspectionClosed):
        return event.note.strip()
    if isinstance(event, JointPutToWork | Correction | DueSet):
        return event.why.strip()
    return ""


def by_kind(actor: Actor, fact: Fact) -> Fault | None:
    """Why this actor may not say such a fact at all; None when they may."""
    return _as_whom(actor, fact) or may_say(actor, fact.what)


def may_say(actor: Actor, event: What) -> Fault | None:
    """Why they may not say this, of whatever thing; pages ask it to explain beforehand."""
    kind = kind_of(event)
    if isinstance(event, Correction):
        if event.of is Stream.PERSON:
            return _lacks(actor, RULES["person added"], "correction")
        return None if event.instead is None else _by_role(actor, event.instead)
    if actor.phone and not RULES[kind.name].phone:
        return Fault("kind", f'"{kind.name}" is recorded at the desk, not by a phone')
    if kind.signed and actor.scopes is not None:
        say = f'"{kind.name}" is a signature; accepted is a person who signs at a page'
        return Fault("kind", say)
    return _by_role(actor, event)


def in_state(actor: Actor, asked: Asked) -> Fault | None:
    """Why it may not be said of this thing as it stands, or of the fact that it corrects."""
    event = asked.fact.what
    fault = _dated(actor, asked)
    if fault is not None:
        return fault
    effective_event = event.instead if isinstance(event, Correction) else event
    # Nothing can be held against the plan of a job without its opening, signatures neither.
    withdrawn = asked.fact.stream is Stream.JOB and asked.job is None
    if withdrawn and not isinstance(effective_event, JobOpened | None):
        return Fault("what", WITHDRAWN)
    if isinstance(event, Correction):
        return next(filter(None, (_correcting(actor, w) for w in asked.corrected)), None)
    leads = actor.role.reaches(PersonRole.LEAD)
    if isinstance(event, JointPutToWork) and is_barred(asked.joint):
        if not leads:
            return Fault("what", MUST_NOT_RUN)
        return None if reason_of(event) else Fault("what.why", REASON)
    if isinstance(event, JointPlanned) and asked.joint is not None and not leads:
        there = asked.joint
        same = (event.conveyor, event.plan, event.retighten_after, event.inspect_after) == (
            there.conveyor,
            there.plan,
            there.retighten_after,
            there.inspect_after,
        )
        return None if same else Fault("what", REPLANNED)
    if isinstance(event, JobOpened) and asked.job is not None and not leads:
        same = (event.joint, event.conveyor) == (asked.job.joint, asked.job.conveyor)
        if not same:
            return Fault("what.joint", RENAMED)
        return None if event.plan in {None, asked.plan} else Fault("what.plan", PLANNED_AGAIN)
    return None


def loosened(actor: Actor, before: Guarded, after: Guarded) -> Fault | None:
    """Why this actor may not bring a joint from one state into the other; None when they may."""
    if after.gone:
        return None
    leads = actor.role.reaches(PersonRole.LEAD)
    if before.barred and not after.barred:
        if not leads:
            return Fault("what", MUST_NOT_RUN)
        if not any(after.reasons):
            return Fault("what.note", REASON)
    if before.renew is not None and not leads:
        later = after.renew is None or after.renew > before.renew
        return Fault("what", PUT_OFF) if later else None
    return None


def _as_whom(actor: Actor, fact: Fact) -> Fault | None:
    if actor.account is None:
        return None
    if fact.person != actor.account:
        return Fault("person", f"is somebody else; accepted is '{actor.account}', or nothing")
    if fact.by != actor.name:
        return Fault("by", f"is somebody else; accepted is {actor.name!r}, or nothing")
    return None


def _by_role(actor: Actor, event: What) -> Fault | None:
    name = kind_of(event).name
    fault = _lacks(actor, RULES[name], name)
    if fault is not None or actor.role.reaches(PersonRole.LEAD):
        return fault
    if isinstance(event, InspectionClosed) and event.can_run is True:
        return Fault("what.can_run", MAY_RUN)
    return None


def _lacks(actor: Actor, rule: Rule, kind: str) -> Fault | None:
    """What an actor lacks of a rule: the key's scope, or the role."""
    if not actor.holds(rule.scope):
        return Fault("kind", rule.refusal or f'"{kind}" needs the scope "{rule.scope}"')
    if actor.role.reaches(rule.role):
        return None
    who = "crew, leads and admins"
    if rule.role is not PersonRole.CREW:
        who = "admins" if rule.role is PersonRole.ADMIN else "leads and admins"
    return Fault("kind", rule.refusal or f'"{kind}" is for {who} to record; ask them')


def _correcting(actor: Actor, corrected: What) -> Fault | None:
    """A correction needs the authority of what it corrects."""
    fault = _by_role(actor, corrected)
    if fault is not None or actor.role.reaches(PersonRole.LEAD):
        return fault
    if isinstance(corrected, InspectionClosed) and corrected.can_run is not None:
        return Fault("what.corrects", DECIDED)
    if isinstance(corrected, _LEADS_CORRECT):
        say = f'"{kind_of(corrected).name}" is for leads and admins to correct; ask them'
        return Fault("what.corrects", say)
    return None


def _dated(actor: Actor, asked: Asked) -> Fault | None:
    """Why a fact cannot be of that moment.

    What a phone kept is marked instead, never lost; the console brings in what is long past.
    """
    at, event = asked.fact.at, asked.fact.what
    if at < EPOCH:
        return Fault("at", f"{at.date()} is not believable; accepted is {EPOCH.year} or later")
    here = actor.account is not None and not actor.phone
    if here and at > asked.received + AHEAD:
        return Fault("at", f"{at.date()} lies in the future; accepted is today, by a true clock")
    opened = asked.job.opened if asked.job is not None else None
    if here and opened is not None and at < opened - BEFORE_JOB:
        return Fault("at", f"{at.date()} is before the job was opened on {opened.date()}")
    effective_event = event.instead if isinstance(event, Correction) else event
    if isinstance(effective_event, DueSet) and effective_event.due is not None:
        latest = asked.received + DUE_AHEAD
        if not EPOCH <= effective_event.due <= latest:
            say = f"{effective_event.due.date()} is not accepted; accepted is up to {latest.date()}"
            return Fault("what.due", say)
    return None
