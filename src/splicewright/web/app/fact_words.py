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
        if stream is Stream.JOINT and (row := register.joint(thing)):
            return f"joint {row.label}", f"/joints/{thing}"
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
        event_words(stored.what, system),
        about,
        path,
        stored.withdrawn,
        stored.corrected is not None,
        stored.odd_date,
        "" if why_not(stored) else f"/recorded/{fact.id}",
    )


@singledispatch
def event_words(event: What, system: System) -> str:
    """What a fact says, in a few words; kinds without words of their own tell their fields."""
    kind = kind_of(event)
    ids = {kind.about, *(name for name, _ in kind.names)}
    parts = [
        f"{f.name.replace('_', ' ')}: {_plain(getattr(event, f.name))}"
        for f in fields(event)
        if f.name not in ids
        and getattr(event, f.name) not in (None, "", ())
        and not isinstance(getattr(event, f.name), UUID)
    ]
    return f"{kind.name} ({', '.join(parts)})" if parts else kind.name


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


@event_words.register
def _(event: Correction, system: System) -> str:
    if event.instead is None:
        return f"withdrew an earlier entry{_more(event.why)}"
    return f"corrected an earlier entry to: {event_words(event.instead, system)}{_more(event.why)}"


@event_words.register
def _(event: plant.ConveyorRecorded, system: System) -> str:
    length = "" if event.belt_length is None else f", belt {_far(event.belt_length, system)}"
    return f"conveyor file recorded{length}"


@event_words.register
def _(event: plant.BeltPlaced, system: System) -> str:
    marking = f", {event.marking}" if event.marking else ""
    return f"belt {event.name} placed, {_far(event.length, system)}{marking}"


@event_words.register
def _(event: plant.PiecePlaced, system: System) -> str:
    return f"{event.name} placed at {_far(event.start, system)}, {_far(event.length, system)} long"


@event_words.register
def _(event: plant.DamageFound, system: System) -> str:
    return f"damage at {_far(event.place, system)}, {event.grade.value}{_more(event.note)}"


@event_words.register
def _(event: plant.DamageMended, system: System) -> str:
    return f"damage repaired{_more(event.how)}"


@event_words.register
def _(event: plant.StockMoved, system: System) -> str:
    way = "in" if event.count >= 0 else "out"
    return f"{abs(event.count):g} {event.item} {way}{_more(event.why)}"


@event_words.register
def _(event: plant.FastenersRecorded, system: System) -> str:
    return f"fasteners {event.name} {'recorded' if event.file else 'not used any more'}"


@event_words.register
def _(event: plant.PersonAdded, system: System) -> str:
    return f"{event.name} is {event.role.value}"


@event_words.register
def _(event: joint.JointPlanned, system: System) -> str:
    place = "" if event.place is None else f" at {_far(event.place, system)}"
    plan = f", plan {event.plan_id}" if event.plan_id else ""
    return f"joint {event.label} planned{place}{plan}"


@event_words.register
def _(event: joint.JointDescribed, system: System) -> str:
    kind = "hinged" if event.hinged else "solid plates"
    measures = (
        ("belt", event.width, Kind.LENGTH),
        ("pitch", event.pitch, Kind.LENGTH),
        ("plate", event.plate_width, Kind.LENGTH),
        ("pin", event.pin, Kind.LENGTH),
        ("rated", event.rated, Kind.WIDTH_FORCE),
        ("starting rating", event.starting_rated, Kind.WIDTH_FORCE),
    )
    values = [f"{name} {show(value, of, system)}" for name, value, of in measures if value]
    bolts = [f"{event.bolts} bolts a plate"] if event.bolts else []
    return (
        f"joint described without a plan: {kind}, {event.plates} plates on each end"
        f"{''.join(f', {t}' for t in (*bolts, *values))}{_more(event.note)}"
    )


@event_words.register
def _(event: joint.JointSuspended, system: System) -> str:
    return f"joint suspended{_more(event.why)}"


@event_words.register
def _(event: joint.JointRemoved, system: System) -> str:
    return f"joint removed, {event.mode.value}{_more(event.note)}"


@event_words.register
def _(event: joint.JointSeen, system: System) -> str:
    return f"joint seen at {_far(event.station, system)} of the loop"


@event_words.register
def _(event: joint.PlateInspected, system: System) -> str:
    return f"{event.end.value}, plate {event.plate}: {event.state.value}{_more(event.note)}"


@event_words.register
def _(event: joint.EndInspected, system: System) -> str:
    return f"every plate of the {event.end.value} inspected, {event.plates} in all"


@event_words.register
def _(event: joint.PlateJudged, system: System) -> str:
    kept = "" if event.share_kept is None else f" keeps {show(event.share_kept, Kind.SHARE)}"
    bolts = f" {event.bolts_missing} bolts lost or loose" if event.bolts_missing else ""
    return f"{event.end.value}, plate {event.plate}:{kept}{bolts}"


@event_words.register
def _(event: joint.JointMeasured, system: System) -> str:
    measures = (
        ("hinge pin", event.pin_now),
        ("pin when new", event.pin_new),
        ("left edge torn", event.torn_left),
        ("right edge torn", event.torn_right),
    )
    values = [f"{name} {show(value, Kind.LENGTH, system)}" for name, value in measures if value]
    if event.worn_keeps is not None:
        values.append(f"worn plates keep {show(event.worn_keeps, Kind.SHARE)}")
    if event.breaking is not None:
        values.append(f"a sound joint broke at {show(event.breaking, Kind.WIDTH_FORCE, system)}")
    return f"measured: {', '.join(values) or 'nothing'}"


@event_words.register
def _(event: joint.JointAssessed, system: System) -> str:
    return f"the calculation said: {event.level.value}"


@event_words.register
def _(event: joint.PhoneVerdict, system: System) -> str:
    low, high = (show(m, Kind.SHARE) for m in (event.margin_low, event.margin_high))
    left = f", {event.unsaid} plates not said" if event.unsaid else ""
    return f"the phone showed, without signal: {event.level.value}, margin {low} to {high}{left}"


@event_words.register
def _(event: joint.InspectionClosed, system: System) -> str:
    verdict = {True: "may run", False: "must not run", None: "left open"}[event.can_run]
    again = "" if event.next_after is None else f", next after {show_time(event.next_after)}"
    left = f", not looked at: {event.not_seen}" if event.not_seen else ""
    return f"inspection closed, {verdict}{again}{left}{_more(event.note)}"


@event_words.register
def _(event: joint.DueSet, system: System) -> str:
    when = "not due any more" if event.due is None else f"due {event.due:%Y-%m-%d}"
    return f"{event.task.value} {when}{_more(event.why)}"


@event_words.register
def _(event: joint.ReadingTaken, system: System) -> str:
    return f"{event.what}: {show(event.value, event.measure, system)}{_more(event.note)}"


@event_words.register
def _(event: joint.WearLimitSet, system: System) -> str:
    new = "" if event.new is None else f", {show(event.new, Kind.LENGTH, system)} when new"
    at = show(event.limit, Kind.LENGTH, system)
    return f"{event.what} is worn out at {at}{new}, by {event.source}{_more(event.note)}"


@event_words.register
def _(event: joint.PhotoAdded, system: System) -> str:
    return f"photograph{_more(event.caption)}"


@event_words.register
def _(event: photo.PhotographMeasured, system: System) -> str:
    took = [v for v in event.values if v.taken is not None]
    own = sum(bool(v.typed) for v in took)
    overruled = f", {own} overruled" if own else ""
    lost = f"; missing: plate {', '.join(map(str, event.missing))}" if event.missing else ""
    return f"photograph measured: {len(took)} of {len(event.values)} values taken{overruled}{lost}"


@event_words.register
def _(event: job.JobOpened, system: System) -> str:
    return f"job opened: {event.name}"


@event_words.register
def _(event: job.StepTicked, system: System) -> str:
    line = f", line {event.line}" if event.line else ""
    lot = f", lot {event.lot}" if event.lot else ""
    return f"step {_step(event.step)}{line} {'done' if event.done else 'not done after all'}{lot}"


@event_words.register
def _(event: job.ValueRecorded, system: System) -> str:
    box = f" ({event.box})" if event.box > 1 else ""
    return (
        f"{event.what}{box}: {show(event.value, event.measure, system)}, step {_step(event.step)}"
    )


@event_words.register
def _(event: job.HoldPointSigned, system: System) -> str:
    over = f", with {say_gaps(event.gaps)}, because {event.why}" if event.gaps else ""
    return f"hold point signed, step {_step(event.step)}{over}{_more(event.statement)}"


@event_words.register
def _(event: job.OnePersonAllowed, system: System) -> str:
    allowed = "may" if event.allowed else "may not after all"
    return f"one person {allowed} build and check the joint{_more(event.why)}"


@event_words.register
def _(event: job.DeviationSigned, system: System) -> str:
    box = f" ({event.box})" if event.box > 1 else ""
    value, until = show(event.value, event.measure, system), ""
    if event.until is not None:
        until = f", by {event.until:%Y-%m-%d}"
    return (
        f"deviation signed, step {_step(event.step)}: {event.what}{box} stays at {value}, outside "
        f"{event.limit}, because {event.why}; to do: {event.to_do}{until}"
    )


@event_words.register
def _(event: job.JobCommented, system: System) -> str:
    return f"comment: {event.text}"


@event_words.register
def _(event: job.JobPlannedAgain, system: System) -> str:
    return f"planned again, plan {event.plan}{_more(event.why)}"


@event_words.register
def _(event: job.JobHandedOver, system: System) -> str:
    return f"handed over to {event.to}{_more(event.note)}"


@event_words.register
def _(event: job.SignedOff, system: System) -> str:
    return f"signed as {event.role}{' and closed' if event.closes else ''}{_more(event.statement)}"
