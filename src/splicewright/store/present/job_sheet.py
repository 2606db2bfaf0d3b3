"""A job and an inspection as they stand, from their facts; two answers to one question both show.

Phones work apart for hours. Where two devices wrote different things into one box, nothing is
dropped and nothing is chosen silently: the later arrival counts, and the conflict is told until
somebody corrects one of the two.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar
from uuid import UUID

from splicewright.joint.inspection.verdict import PlateState
from splicewright.joint.layout import End
from splicewright.store.facts.facts import Stored
from splicewright.store.facts.job_facts import (
    DeviationSigned,
    HoldPointSigned,
    JobCommented,
    JobHandedOver,
    JobPlannedAgain,
    OnePersonAllowed,
    SignedOff,
    StepTicked,
    StepTimed,
    ValueRecorded,
)
from splicewright.store.facts.joint_facts import (
    EndInspected,
    InspectionClosed,
    JointAssessed,
    JointMeasured,
    PhoneVerdict,
    PhotoAdded,
    PlateInspected,
    PlateJudged,
)
from splicewright.store.facts.kinds import What
from splicewright.store.facts.photo_facts import PhotographMeasured

W = TypeVar("W", bound=What)
_WORST = (PlateState.LOST, PlateState.CRACKED, PlateState.WORN, PlateState.OK)


@dataclass(frozen=True, slots=True)
class Entry:
    """What one fact said: by whom, when, from which device.

    person : the account it was said under; None for the console
    """

    fact: UUID
    seq: int
    by: str
    when: datetime
    device: str
    what: What
    person: UUID | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """All that was said about one thing, in the order of arrival; the last counts."""

    entries: tuple[Entry, ...]
    conflict: bool

    @property
    def last(self) -> Entry:
        """What counts."""
        return self.entries[-1]


@dataclass(frozen=True, slots=True)
class JobSheet:
    """A job as it stands.

    ticks : by step and line; values : by step, name of the value and box
    times : by step, how long it took [s]
    one_person : who last said whether one person may build and check it; None when nobody did
    planned_again : who planned the job again while it was in hand, and why
    overtaken : ticks and signatures by an earlier plan, at steps that the newest asks otherwise;
        they count for nothing and are shown (`store.present.plan_versions`)
    measured : measurings by photograph that somebody signed
    """

    ticks: dict[tuple[str, int], Answer]
    values: dict[tuple[str, str, int], Answer]
    hold_points: dict[str, tuple[Entry, ...]]
    photos: tuple[Entry, ...]
    times: dict[str, float]
    handed_over: tuple[Entry, ...]
    signatures: tuple[Entry, ...]
    deviations: tuple[Entry, ...]
    one_person: Entry | None = None
    comments: tuple[Entry, ...] = ()
    planned_again: tuple[Entry, ...] = ()
    overtaken: tuple[Entry, ...] = ()
    measured: tuple[UUID, ...] = ()

    @property
    def alone(self) -> bool:
        """Whether who built the joint may also check it."""
        event = self.one_person.what if self.one_person is not None else None
        return isinstance(event, OnePersonAllowed) and event.allowed

    @property
    def conflicts(self) -> tuple[Answer, ...]:
        """The boxes and ticks in which two devices disagree."""
        answers = (*self.ticks.values(), *self.values.values())
        return tuple(answer for answer in answers if answer.conflict)


@dataclass(frozen=True, slots=True)
class Inspection:
    """One round of looking at a joint; `closed` is None while it goes on.

    plates, judged : by end and number, counted from the left: how each was found, and how much
        of it is left where somebody said; worst : the worst state found
    looked : plates of each end that was looked at as a whole
    measured, assessed, closed : what was said last; None when nobody did
    photos : taken at it, in the order of arrival
    on_phone : the verdict that a phone showed without signal; None when none did
    """

    inspection: UUID
    started: datetime
    plates: dict[tuple[End, int], Answer]
    judged: dict[tuple[End, int], Answer]
    looked: dict[End, int]
    measured: Entry | None
    assessed: Entry | None
    closed: Entry | None
    photos: tuple[Entry, ...] = ()
    on_phone: Entry | None = None

    @property
    def whole(self) -> bool:
        """Whether every plate of both ends was said, one by one or all others at once."""
        counts = dict.fromkeys(End, 0) | self.looked
        by_end = [{n for of, n in self.plates if of is end} for end in End]
        most = max([*counts.values(), *(max(numbers, default=0) for numbers in by_end)])
        return most > 0 and all(
            end in self.looked or len(numbers) == most
            for end, numbers in zip(End, by_end, strict=True)
        )

    @property
    def worst(self) -> PlateState | None:
        """The worst state of any plate; None before the first."""
        states = {_entry_of(answer.last, PlateInspected).state for answer in self.plates.values()}
        if self.looked:
            states.add(PlateState.OK)
        return next((state for state in _WORST if state in states), None)


def job_sheet(facts: Iterable[Stored]) -> JobSheet:
    """Put a job's facts together (`Register.facts_about` of the job)."""
    ticks: dict[tuple[str, int], list[Entry]] = {}
    values: dict[tuple[str, str, int], list[Entry]] = {}
    holds: dict[str, list[Entry]] = {}
    photos, timed, handed, signed, deviations = [], [], [], [], []
    one_person, comments, again = None, [], []
    entries = list(_entries(facts))
    for entry in entries:
        event = entry.what
        if isinstance(event, StepTicked):
            ticks.setdefault((event.step, event.line), []).append(entry)
        elif isinstance(event, ValueRecorded):
            values.setdefault((event.step, event.what, event.box), []).append(entry)
        elif isinstance(event, HoldPointSigned):
            holds.setdefault(event.step, []).append(entry)
        elif isinstance(event, PhotoAdded):
            photos.append(entry)
        elif isinstance(event, StepTimed):
            timed.append(entry)
        elif isinstance(event, JobHandedOver):
            handed.append(entry)
        elif isinstance(event, SignedOff):
            signed.append(entry)
        elif isinstance(event, DeviationSigned):
            deviations.append(entry)
        elif isinstance(event, JobCommented):
            comments.append(entry)
        elif isinstance(event, JobPlannedAgain):
            again.append(entry)
        elif isinstance(event, OnePersonAllowed):
            one_person = entry
    return JobSheet(
        {key: answer_of(group) for key, group in ticks.items()},
        {key: answer_of(group) for key, group in values.items()},
        {key: tuple(group) for key, group in holds.items()},
        tuple(photos),
        _times(timed),
        tuple(handed),
        tuple(signed),
        tuple(deviations),
        one_person,
        tuple(comments),
        tuple(again),
        measured=tuple(
            entry.what.measuring for entry in entries if isinstance(entry.what, PhotographMeasured)
        ),
    )


def inspections(facts: Iterable[Stored]) -> tuple[Inspection, ...]:
    """The inspections among a joint's facts, the oldest first."""
    by_inspection: dict[UUID, list[Entry]] = {}
    photos: dict[UUID, list[Entry]] = {}
    for entry in _entries(facts):
        event = entry.what
        if isinstance(event, _OF_AN_INSPECTION):
            by_inspection.setdefault(event.inspection, []).append(entry)
        elif isinstance(event, PhotoAdded) and event.inspection is not None:
            photos.setdefault(event.inspection, []).append(entry)
    # A photograph alone says nothing of any plate: it makes no inspection.
    rounds = (
        _round(id_, group, tuple(photos.get(id_, ()))) for id_, group in by_inspection.items()
    )
    return tuple(sorted(rounds, key=lambda i: i.started))


_OF_AN_INSPECTION = (
    EndInspected,
    PlateInspected,
    PlateJudged,
    JointMeasured,
    JointAssessed,
    PhoneVerdict,
    InspectionClosed,
)


def _round(inspection: UUID, group: list[Entry], photos: tuple[Entry, ...]) -> Inspection:
    plates: dict[tuple[End, int], list[Entry]] = {}
    judged: dict[tuple[End, int], list[Entry]] = {}
    looked: dict[End, int] = {}
    last: dict[type[What], Entry] = {}
    for entry in group:
        event = entry.what
        if isinstance(event, PlateInspected | PlateJudged):
            kept = plates if isinstance(event, PlateInspected) else judged
            kept.setdefault((event.end, event.plate), []).append(entry)
        elif isinstance(event, EndInspected):
            looked[event.end] = event.plates
        last[type(event)] = entry
    return Inspection(
        inspection,
        min(entry.when for entry in group),
        {key: answer_of(entries) for key, entries in plates.items()},
        {key: answer_of(entries) for key, entries in judged.items()},
        looked,
        last.get(JointMeasured),
        last.get(JointAssessed),
        last.get(InspectionClosed),
        photos,
        last.get(PhoneVerdict),
    )


def _entries(facts: Iterable[Stored]) -> Iterable[Entry]:
    for stored in facts:
        if not stored.withdrawn:
            fact = stored.fact
            yield Entry(
                fact.id, stored.seq, fact.by, stored.when, fact.device, stored.what, fact.person
            )


def _times(timed: list[Entry]) -> dict[str, float]:
    """Stretches of one device add up; of several at the same step the longest sum counts."""
    sums: dict[str, dict[str, float]] = {}
    for entry in timed:
        event = _entry_of(entry, StepTimed)
        by_device = sums.setdefault(event.step, {})
        by_device[entry.device] = by_device.get(entry.device, 0.0) + event.took
    return {step: max(by_device.values()) for step, by_device in sums.items()}


def answer_of(entries: list[Entry]) -> Answer:
    """A later word from the same device replaces its own earlier one; another's does not."""
    by_device = {(entry.device, entry.by): entry.what for entry in entries}
    return Answer(tuple(entries), conflict=len({repr(event) for event in by_device.values()}) > 1)


def _entry_of(entry: Entry, kind: type[W]) -> W:
    assert isinstance(entry.what, kind)
    return entry.what
