"""Facts in words, for people who read what was recorded."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import datetime
from enum import Enum
from functools import singledispatch
from uuid import UUID

from splicewright.actions.register.correct import why_not
from splicewright.quantities import Kind, System, show, show_time
from splicewright.store import Correction, Register, Stored, What
from splicewright.store.facts import job_facts as job
from splicewright.store.facts import joint_facts as joint
from splicewright.store.facts import photo_facts as photo
from splicewright.store.facts import plant_facts as plant
from splicewright.store.facts.kinds import Stream, kind_of
from splicewright.store.present.job_view import say_gaps


@dataclass(frozen=True, slots=True)
class Line:
    """One fact as a person reads it: what was said, about what, by whom, when.

    path : page of the thing, empty where it has none
    withdrawn : a later correction took it back; corrected : one changed it
    odd_date : its date is far from its arrival, as when a phone's clock was wrong
    """

    seq: int
    when: datetime
    received: datetime
    by: str
    device: str
    kind: str
    says: str
    about: str
    path: str
    withdrawn: bool
    corrected: bool
    odd_date: bool = False
    correct: str = ""


class Names:
    """Names of the things that facts are about, looked up once."""

    def __init__(self, register: Register) -> None:
        self._register = register
        self._known: dict[UUID, tuple[str, str]] = {}

    def of(self, stream: Stream, thing: UUID) -> tuple[str, str]:
        """Name and page of a thing; a part of its id where it has no name."""
        if thing not in self._known:
            self._known[thing] = self._find(stream, thing)
        return self._known[thing]

    def _find(self, stream: Stream, thing: UUID) -> tuple[str, str]:
        register = self._register
        if stream is Stream.CONVEYOR and (there := register.conveyor(thing)):
            return there.name, f"/conveyors/{thing}"
        if stream is Stream.JOINT and (found := register.joint(thing)):
            return f"joint {found.label}", f"/joints/{thing}"
        if stream is Stream.JOB and (work := register.job(thing)):
            return work.name, f"/jobs/{thing}"
        if stream is Stream.SITE and (site := register.site(thing)):
            return site.name, ""
        if stream is Stream.BELT and (belt := register.belt(thing)):
            name, page = self.of(Stream.CONVEYOR, belt.conveyor)
            return f"{belt.name} of {name}", page
        if stream is Stream.PERSON:
            for person in register.people():
                self._known[person.person] = (person.name, "")
        return self._known.get(thing, (f"{stream.value} {str(thing)[:8]}", ""))


def tell(stored: Stored, names: Names, system: System) -> Line:
    """One fact as a line."""
    fact = stored.fact
    about, path = names.of(fact.stream, fact.subject)
    return Line(
        stored.seq,
        stored.when,
        stored.received,
        fact.by,
        fact.device,
        fact.kind,
        said(stored.what, system),
        about,
        path,
        stored.withdrawn,
        stored.corrected is not None,
        stored.odd_date,
        "" if why_not(stored) else f"/recorded/{fact.id}",
    )


@singledispatch
def said(what: What, system: System) -> str:
    """What a fact says, in a few words; kinds without words of their own tell their fields."""
    kind = kind_of(what)
    ids = {kind.about, *(name for name, _ in kind.names)}
    told = [
        f"{f.name.replace('_', ' ')}: {_plain(getattr(what, f.name))}"
        for f in fields(what)
        if f.name not in ids
        and getattr(what, f.name) not in (None, "", ())
        and not isinstance(getattr(what, f.name), UUID)
    ]
    return f"{kind.name} ({', '.join(told)})" if told else kind.name


def _plain(value: object) -> str:
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d}"
    if isinstance(value, float):
        return f"{value:.6g}"
    text = str(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


def _step(key: str) -> str:
    """The key of a step, in words."""
    return key.replace("_", " ").replace("-", " ")


def _far(metres: float, system: System) -> str:
    return show(metres, Kind.DISTANCE, system)


def _more(text: str) -> str:
    return f": {text}" if text else ""


@said.register
def _(what: Correction, system: System) -> str:
    if what.instead is None:
        return f"withdrew an earlier entry{_more(what.why)}"
    return f"corrected an earlier entry to: {said(what.instead, system)}{_more(what.why)}"


@said.register
def _(what: plant.ConveyorRecorded, system: System) -> str:
    length = "" if what.belt_length is None else f", belt {_far(what.belt_length, system)}"
    return f"conveyor file recorded{length}"


@said.register
def _(what: plant.BeltPlaced, system: System) -> str:
    marking = f", {what.marking}" if what.marking else ""
    return f"belt {what.name} placed, {_far(what.length, system)}{marking}"


@said.register
def _(what: plant.PiecePlaced, system: System) -> str:
    return f"{what.name} placed at {_far(what.start, system)}, {_far(what.length, system)} long"


@said.register
def _(what: plant.DamageFound, system: System) -> str:
    return f"damage at {_far(what.place, system)}, {what.grade.value}{_more(what.note)}"


@said.register
def _(what: plant.DamageMended, system: System) -> str:
    return f"damage repaired{_more(what.how)}"


@said.register
def _(what: plant.StockMoved, system: System) -> str:
    way = "in" if what.count >= 0 else "out"
    return f"{abs(what.count):g} {what.item} {way}{_more(what.why)}"


@said.register
def _(what: plant.FastenersRecorded, system: System) -> str:
    return f"fasteners {what.name} {'recorded' if what.file else 'not used any more'}"


@said.register
def _(what: plant.PersonAdded, system: System) -> str:
    return f"{what.name} is {what.role.value}"


@said.register
def _(what: joint.JointPlanned, system: System) -> str:
    place = "" if what.place is None else f" at {_far(what.place, system)}"
    plan = f", plan {what.plan_id}" if what.plan_id else ""
    return f"joint {what.label} planned{place}{plan}"


@said.register
def _(what: joint.JointDescribed, system: System) -> str:
    kind = "hinged" if what.hinged else "solid plates"
    measures = (
        ("belt", what.width, Kind.LENGTH),
        ("pitch", what.pitch, Kind.LENGTH),
        ("plate", what.plate_width, Kind.LENGTH),
        ("pin", what.pin, Kind.LENGTH),
        ("rated", what.rated, Kind.WIDTH_FORCE),
        ("starting rating", what.starting_rated, Kind.WIDTH_FORCE),
    )
    told = [f"{name} {show(value, of, system)}" for name, value, of in measures if value]
    bolts = [f"{what.bolts} bolts a plate"] if what.bolts else []
    return (
        f"joint described without a plan: {kind}, {what.plates} plates on each end"
        f"{''.join(f', {t}' for t in (*bolts, *told))}{_more(what.note)}"
    )


@said.register
def _(what: joint.JointSuspended, system: System) -> str:
    return f"joint suspended{_more(what.why)}"


@said.register
def _(what: joint.JointRemoved, system: System) -> str:
    return f"joint removed, {what.mode.value}{_more(what.note)}"


@said.register
def _(what: joint.JointSeen, system: System) -> str:
    return f"joint seen at {_far(what.station, system)} of the loop"


@said.register
def _(what: joint.PlateInspected, system: System) -> str:
    return f"{what.end.value}, plate {what.plate}: {what.state.value}{_more(what.note)}"


@said.register
def _(what: joint.EndInspected, system: System) -> str:
    return f"every plate of the {what.end.value} inspected, {what.plates} in all"


@said.register
def _(what: joint.PlateJudged, system: System) -> str:
    kept = "" if what.share_kept is None else f" keeps {show(what.share_kept, Kind.SHARE)}"
    bolts = f" {what.bolts_missing} bolts lost or loose" if what.bolts_missing else ""
    return f"{what.end.value}, plate {what.plate}:{kept}{bolts}"


@said.register
def _(what: joint.JointMeasured, system: System) -> str:
    measures = (
        ("hinge pin", what.pin_now),
        ("pin when new", what.pin_new),
        ("left edge torn", what.torn_left),
        ("right edge torn", what.torn_right),
    )
    told = [f"{name} {show(value, Kind.LENGTH, system)}" for name, value in measures if value]
    if what.worn_keeps is not None:
        told.append(f"worn plates keep {show(what.worn_keeps, Kind.SHARE)}")
    if what.breaking is not None:
        told.append(f"a sound joint broke at {show(what.breaking, Kind.WIDTH_FORCE, system)}")
    return f"measured: {', '.join(told) or 'nothing'}"


@said.register
def _(what: joint.JointAssessed, system: System) -> str:
    return f"the calculation said: {what.level.value}"


@said.register
def _(what: joint.PhoneVerdict, system: System) -> str:
    low, high = (show(m, Kind.SHARE) for m in (what.margin_low, what.margin_high))
    left = f", {what.unsaid} plates not said" if what.unsaid else ""
    return f"the phone showed, without signal: {what.level.value}, margin {low} to {high}{left}"


@said.register
def _(what: joint.InspectionClosed, system: System) -> str:
    verdict = {True: "can run", False: "must not run", None: "left open"}[what.can_run]
    again = "" if what.next_after is None else f", next after {show_time(what.next_after)}"
    left = f", not looked at: {what.not_seen}" if what.not_seen else ""
    return f"inspection closed, {verdict}{again}{left}{_more(what.note)}"


@said.register
def _(what: joint.DueSet, system: System) -> str:
    when = "not due any more" if what.due is None else f"due {what.due:%Y-%m-%d}"
    return f"{what.task.value} {when}{_more(what.why)}"


@said.register
def _(what: joint.ReadingTaken, system: System) -> str:
    return f"{what.what}: {show(what.value, what.measure, system)}{_more(what.note)}"


@said.register
def _(what: joint.WearLimitSet, system: System) -> str:
    new = "" if what.new is None else f", {show(what.new, Kind.LENGTH, system)} when new"
    at = show(what.limit, Kind.LENGTH, system)
    return f"{what.what} is worn out at {at}{new}, by {what.source}{_more(what.note)}"


@said.register
def _(what: joint.PhotoAdded, system: System) -> str:
    return f"photograph{_more(what.caption)}"


@said.register
def _(what: photo.PhotographMeasured, system: System) -> str:
    took = [v for v in what.values if v.taken is not None]
    own = sum(bool(v.typed) for v in took)
    overruled = f", {own} overruled" if own else ""
    lost = f"; missing: plate {', '.join(map(str, what.missing))}" if what.missing else ""
    return f"photograph measured: {len(took)} of {len(what.values)} values taken{overruled}{lost}"


@said.register
def _(what: job.JobOpened, system: System) -> str:
    return f"job opened: {what.name}"


@said.register
def _(what: job.StepTicked, system: System) -> str:
    line = f", line {what.line}" if what.line else ""
    lot = f", lot {what.lot}" if what.lot else ""
    return f"step {_step(what.step)}{line} {'done' if what.done else 'not done after all'}{lot}"


@said.register
def _(what: job.ValueRecorded, system: System) -> str:
    box = f" ({what.box})" if what.box > 1 else ""
    return f"{what.what}{box}: {show(what.value, what.measure, system)}, step {_step(what.step)}"


@said.register
def _(what: job.HoldPointSigned, system: System) -> str:
    over = f", with {say_gaps(what.gaps)}, because {what.why}" if what.gaps else ""
    return f"hold point signed, step {_step(what.step)}{over}{_more(what.statement)}"


@said.register
def _(what: job.OnePersonAllowed, system: System) -> str:
    allowed = "may" if what.allowed else "may not after all"
    return f"one person {allowed} build and check the joint{_more(what.why)}"


@said.register
def _(what: job.DeviationSigned, system: System) -> str:
    box = f" ({what.box})" if what.box > 1 else ""
    value, until = show(what.value, what.measure, system), ""
    if what.until is not None:
        until = f", by {what.until:%Y-%m-%d}"
    return (
        f"deviation signed, step {_step(what.step)}: {what.what}{box} stays at {value}, outside "
        f"{what.limit}, because {what.why}; to do: {what.to_do}{until}"
    )


@said.register
def _(what: job.JobCommented, system: System) -> str:
    return f"comment: {what.text}"


@said.register
def _(what: job.JobPlannedAgain, system: System) -> str:
    return f"planned again, plan {what.plan}{_more(what.why)}"


@said.register
def _(what: job.JobHandedOver, system: System) -> str:
    return f"handed over to {what.to}{_more(what.note)}"


@said.register
def _(what: job.SignedOff, system: System) -> str:
    return f"signed as {what.role}{' and closed' if what.closes else ''}{_more(what.statement)}"
