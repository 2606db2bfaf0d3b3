"""What a signature needs: values, or a reason; a second person; a lead where
values are missing; an inspection of every plate, or what was not looked at.

Asked where facts are appended (`store.sql.appending`), so every door asks it, as `store.authority`;
pages only explain it beforehand.
"""

from __future__ import annotations

from collections.abc import Sequence

from splicewright.errors import Fault
from splicewright.store.authority import Actor
from splicewright.store.facts.facts import Fact
from splicewright.store.facts.job_facts import BUILT, CHECKED, Gap, HoldPointSigned, SignedOff
from splicewright.store.facts.joint_facts import InspectionClosed
from splicewright.store.facts.plant_facts import PersonRole
from splicewright.store.present.job_sheet import Inspection, JobSheet

NOT_SEEN = (
    "not every plate of both ends was said to be looked at; say which plates, or what else, were "
    "not, before the joint may run on"
)
_NOTHING = {"", "nothing", "none", "no", "-"}
GAPS = "values are missing, so the job is for leads and admins to close; ask them"
SAME_PERSON = (
    "the same person signed as builder; another person must check, unless a lead allows one person"
)
CHECKER_BUILT = (
    "the same person signed as checker, who did not build it; another person must sign as builder, "
    "unless a lead allows one person"
)


def may_run(closing: InspectionClosed, round_: Inspection | None) -> Fault | None:
    """Why it cannot be said like this that a joint may run on: somebody looked at all of it, or
    says what they did not look at."""
    left = closing.not_seen.strip().casefold().rstrip(".")
    if closing.can_run is not True or (round_ is not None and round_.whole):
        return None
    return Fault("what.not_seen", NOT_SEEN) if left in _NOTHING else None


def hold_point(signature: HoldPointSigned, gaps: Sequence[Gap], unticked: int = 0) -> Fault | None:
    """Why a hold point cannot be signed like this over what is missing, outside its limits, or
    not ticked: no reason stands in for a lock."""
    if unticked:
        lines = "1 line" if unticked == 1 else f"{unticked} lines"
        return Fault("what.step", f"has {lines} not ticked; tick each when it is done, then sign")
    unsaid = {(g.what, g.box) for g in gaps} - {(g.what, g.box) for g in signature.gaps}
    if unsaid:
        first = next(g for g in gaps if (g.what, g.box) in unsaid)
        more = f", and {len(unsaid) - 1} more" if len(unsaid) > 1 else ""
        say = (
            f'"{first.what}", box {first.box}, is {first.how}{more}: measure it, or sign with a '
            "reason"
        )
        return Fault("what.gaps", say)
    if signature.gaps and not signature.why.strip():
        return Fault("what.why", "is empty; values are missing or outside: say why it is signed")
    return None


def sign_off(
    actor: Actor, fact: Fact, signature: SignedOff, sheet: JobSheet, for_lead: Sequence[str]
) -> Fault | None:
    """Why this person may not sign the job like this: builder and checker are two people, and
    only leads close over what was never measured."""
    other = {BUILT: CHECKED, CHECKED: BUILT}.get(signature.role)
    for signed in () if sheet.alone else sheet.signatures:
        earlier = signed.what
        same = (signed.person, None if fact.person else signed.by) == (
            fact.person,
            None if fact.person else fact.by,
        )
        if isinstance(earlier, SignedOff) and earlier.role == other and same:
            return Fault("what.role", SAME_PERSON if signature.role == CHECKED else CHECKER_BUILT)
    if signature.closes and for_lead and not actor.role.reaches(PersonRole.LEAD):
        return Fault("what.closes", f"{for_lead[0]}: {GAPS}")
    return None
