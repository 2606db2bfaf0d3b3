"""The verdict on an inspection whose facts came by themselves: by phone, program or correction.

A phone without signal shows a verdict of its own and sends what was found. The server works the
verdict anew from the facts, as it would have on its page, and that one counts; the phone's is kept
beside it (`PhoneVerdict`), and where the two differ everybody who looks is told.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any
from uuid import UUID, uuid5

from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.actions.inspection.assess_taps import Tapped
    from splicewright.job.inspection.joint_assessment import JointAssessment
    from splicewright.store import Actor, Fact, Register
    from splicewright.store.facts.joint_facts import PhoneVerdict
    from splicewright.store.present.job_sheet import Inspection
    from splicewright.store.present.present import JointNow

JointLook = tuple[UUID, UUID]
"""A joint and an inspection of it."""
_BEARING = frozenset(
    {
        "end inspected",
        "plate inspected",
        "plate judged",
        "joint measured",
        "phone verdict",
        "inspection closed",
        "correction",
    }
)
_ALIKE = 1e-3
"""Margins that differ by less, relatively, count as the same: the phone's stated precision is a
millionth, and a margin is shown to three digits [1]."""


@dataclass(frozen=True, slots=True)
class Worked:
    """What the server works out of a recorded inspection.

    assessment : None where nothing was found, or `why_not` tells why there is no verdict
    phone : what a phone had shown; None when none did
    """

    label: str
    assessment: JointAssessment | None
    why_not: str = ""
    phone: PhoneVerdict | None = None

    @property
    def differs(self) -> bool:
        """Whether the phone showed something else, or something where the server says nothing."""
        if self.phone is None:
            return False
        if self.assessment is None:
            return True
        low, high = self.assessment.margin
        pairs = ((self.phone.margin_low, low), (self.phone.margin_high, high))
        return self.phone.level is not self.assessment.verdict or any(
            abs(one - other) > _ALIKE * max(abs(one), abs(other)) for one, other in pairs
        )

    def sentences(self) -> tuple[str, ...]:
        """What the one who sent it is told; nothing where their phone had shown the same."""
        wording = _server_says(self)
        if self.differs and self.phone is not None:
            shown = self.phone.level.sentence
            return (f"{wording} Your phone had shown: {shown}. The server's verdict counts.",)
        return (wording,) if wording and self.phone is None else ()


def _server_says(worked: Worked) -> str:
    head = f"Inspection of {worked.label}"
    if worked.why_not:
        return (
            f"{head}: no verdict could be worked out, because {worked.why_not}. What the joint can "
            "carry is not known; the competent person named in the site rules decides."
        )
    if worked.assessment is None:
        return f"{head}: the server has no findings to judge." if worked.phone is not None else ""
    return f"{head}, worked out by the server: {worked.assessment.verdict.sentence}."


def bearing(sent: Iterable[Any], recorded: Iterable[UUID]) -> list[UUID]:
    """Those of the recorded facts that a verdict may depend on, by the kind they were sent as.

    Most of what phones and programs send is of jobs: it is not looked up again for nothing.
    """
    kinds = {str(i.get("id")): i.get("kind") for i in sent if isinstance(i, dict)}
    return [id_ for id_ in recorded if kinds.get(str(id_)) in _BEARING]


def inspections_named(register: Register, facts: Iterable[Fact]) -> tuple[JointLook, ...]:
    """Inspections of which these facts say something that a verdict depends on, or correct it."""
    from splicewright.store import Correction
    from splicewright.store.facts.joint_facts import (
        EndInspected,
        InspectionClosed,
        JointMeasured,
        PhoneVerdict,
        PlateInspected,
        PlateJudged,
    )

    looks: dict[JointLook, None] = {}
    for fact in facts:
        event = fact.what
        if isinstance(event, Correction):
            there = register.fact(event.corrects)
            if there is None:
                continue
            event = there.fact.what
        if isinstance(
            event,
            EndInspected
            | PlateInspected
            | PlateJudged
            | JointMeasured
            | PhoneVerdict
            | InspectionClosed,
        ):
            looks[event.joint, event.inspection] = None
    return tuple(looks)


def work_verdict(register: Register, joint: UUID, inspection: UUID) -> Worked | None:
    """Work the verdict from the facts as they stand; records nothing.

    Returns None while the inspection is not closed, or where the register does not know it.
    """
    from splicewright.actions.inspection.assess_taps import assess_taps

    now, round_ = register.joint(joint), _round(register, joint, inspection)
    if now is None or round_ is None or round_.closed is None:
        return None
    worked = Worked(now.label, None, phone=phone_verdict(round_))
    if not _anything(round_):
        return worked
    try:
        tapped, plates, invented = _tapped(register, now)
        from splicewright.actions.inspection.assess_taps import read_taps

        seen = read_taps(_as_typed(round_, plates), plates, now.label, invented=invented)
        return replace(worked, assessment=assess_taps(tapped, seen) if seen.anything else None)
    except InputError as error:
        sentences = [f"{f.key}: {f.sentence}" if f.key else f.sentence for f in error.faults]
        return replace(worked, why_not="; ".join(sentences))


def keep_verdict(
    register: Register, joint: UUID, inspection: UUID, actor: Actor, now: datetime
) -> Worked | None:
    """Work the verdict of a closed inspection and keep it, if another or none is kept."""
    from splicewright.store import Correction, Fact, Stream
    from splicewright.store.facts.joint_facts import JointAssessed

    worked = work_verdict(register, joint, inspection)
    round_ = _round(register, joint, inspection)
    if worked is None or round_ is None:
        return worked
    before = round_.assessed
    if worked.assessment is None:
        # What they judged is no longer what was found: no old verdict may stand.
        while round_ is not None and (old := round_.assessed) is not None:
            back = Correction(Stream.JOINT, joint, old.fact, None, "findings were corrected")
            id_ = uuid5(inspection, f"withdrawn {old.fact}")
            register.append(Fact(id_, now, actor.name, back, actor.account, "server"))
            round_ = _round(register, joint, inspection)
        return worked
    digest = register.keep(worked.assessment.to_json().encode(), "application/json")
    assessed = JointAssessed(joint, inspection, worked.assessment.verdict, digest)
    if before is None or before.what != assessed:
        id_ = uuid5(inspection, f"assessed {digest} {before.fact if before else ''}")
        register.append(Fact(id_, now, actor.name, assessed, actor.account, "server"))
    return worked


def keep_verdicts(
    register: Register, actor: Actor, recorded: Iterable[UUID], now: datetime, most: int = 4
) -> tuple[tuple[Worked, ...], Callable[[], None] | None]:
    """Work the verdicts that facts which just arrived ask for; every door that records asks here.

    recorded : ids of the facts; now : by the register's clock
    most : verdicts worked at once: each takes some tenths of a second, and the first of a joint
        some seconds, while somebody waits for the answer
    Returns the first verdicts, and what works the others; None where there are none.
    """
    known = (register.fact(id_) for id_ in recorded)
    named = inspections_named(register, [stored.fact for stored in known if stored is not None])
    theirs = register.said_by(replace(actor, phone=False))

    def _keep(which: Sequence[JointLook]) -> tuple[Worked, ...]:
        verdicts = (keep_verdict(theirs, joint, round_, actor, now) for joint, round_ in which)
        return tuple(worked for worked in verdicts if worked is not None)

    first, rest = named[:most], named[most:]
    return _keep(first), (lambda: _discard(_keep(rest))) if rest else None


def _discard(_: tuple[Worked, ...]) -> None:
    """Nobody waits for these: they show where the inspections are looked at."""


def phone_verdict(round_: Inspection) -> PhoneVerdict | None:
    """What a phone showed when the inspection was recorded there."""
    from splicewright.store.facts.joint_facts import PhoneVerdict

    verdict = round_.on_phone.what if round_.on_phone is not None else None
    return verdict if isinstance(verdict, PhoneVerdict) else None


def _round(register: Register, joint: UUID, inspection: UUID) -> Inspection | None:
    from splicewright.store.present.job_sheet import inspections

    rounds = inspections(register.facts_about(joint))
    return next((each for each in rounds if each.inspection == inspection), None)


def _anything(round_: Inspection) -> bool:
    """Whether something was found that could weaken the joint."""
    from splicewright.joint.inspection.verdict import PlateState
    from splicewright.store.facts.joint_facts import JointMeasured, PlateInspected

    for answer in round_.plates.values():
        event = answer.last.what
        if isinstance(event, PlateInspected) and event.state is not PlateState.OK:
            return True
    measured = round_.measured.what if round_.measured is not None else None
    return bool(round_.judged) or (
        isinstance(measured, JointMeasured)
        and (measured.pin_now is not None or measured.torn_left > 0 or measured.torn_right > 0)
    )


def _tapped(register: Register, now: JointNow) -> tuple[Tapped, int, bool]:
    """The joint, plates of one end, and whether its plan is invented.

    Raises InputError: it cannot be judged; the sentence says what is missing.
    """
    from splicewright.actions.inspection.assess_taps import (
        Tapped,
        planned_plates,
        require_plates,
        tapped_by_plan,
    )
    from splicewright.actions.joint.describe import known_joint
    from splicewright.actions.register.kept_files import kept_plan

    require_plates(now)
    kept = kept_plan(register, now.joint)
    if kept is not None:
        digest, plan = kept
        layout, _ = planned_plates(now, plan)
        plates = len(layout.ends[0].plates)
        return tapped_by_plan(digest, plan), plates, plan.conveyor.invented
    known = known_joint(register, now)
    if known is None:
        raise InputError(Fault("", f"{now.label} has no plan and nobody described it"))
    if known.missing:
        raise InputError(*(Fault("", f"this is missing: {gap}") for gap in known.missing))
    invented = known.conveyor is not None and known.conveyor.invented
    return Tapped(known.key, known.joined), known.description.plates, invented


def _as_typed(round_: Inspection, plates: int) -> dict[str, list[str]]:
    """What was found, as the page of an inspection would send it: it is read by the same reader.

    Raises InputError: a plate that the joint has not.
    """
    from splicewright.store.facts.joint_facts import JointMeasured, PlateInspected, PlateJudged

    typed: dict[str, list[str]] = {}
    columns = ("more_end", "more_plate", "more_kept", "more_bolts", "more_note")
    for end, number in sorted({*round_.plates, *round_.judged}, key=lambda k: (k[0].name, k[1])):
        if number > plates:
            say = f"plate {number} of the {end.value} is recorded, and this joint has {plates}"
            raise InputError(Fault("", say))
        seen, judged = round_.plates.get((end, number)), round_.judged.get((end, number))
        inspected = seen.last.what if seen is not None else None
        kept = judged.last.what if judged is not None else None
        note = inspected.note if isinstance(inspected, PlateInspected) else ""
        if isinstance(inspected, PlateInspected):
            typed[f"{end.name.lower()}.{number}"] = [inspected.state.value]
        share, bolts = "", ""
        if isinstance(kept, PlateJudged):
            share = "" if kept.share_kept is None else repr(kept.share_kept)
            bolts = str(kept.bolts_missing or "")
        if share or bolts or note:
            row = (end.name.lower(), str(number), share, bolts, note)
            for column, text in zip(columns, row, strict=True):
                typed.setdefault(column, []).append(text)
    measured = round_.measured.what if round_.measured is not None else None
    if isinstance(measured, JointMeasured):
        for name in ("pin_now", "pin_new", "torn_left", "torn_right"):
            if value := getattr(measured, name):
                typed[name] = [f"{value!r} m"]
        if measured.worn_keeps is not None:
            typed["worn_keeps"] = [repr(measured.worn_keeps)]
        if measured.breaking:
            typed["breaking"] = [f"{measured.breaking!r} N/m"]
    return typed
