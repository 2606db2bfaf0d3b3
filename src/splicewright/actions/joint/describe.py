"""Describe a joint without a plan: one found on the belt, or one that is on file by name only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING
from uuid import UUID, uuid5

from splicewright.actions.register.record_facts import append_once
from splicewright.errors import Fault, InputError, UnitError
from splicewright.quantities import Kind, read

if TYPE_CHECKING:
    from splicewright.job.inspection.joined_belt import JoinedBelt
    from splicewright.job.inspection.joint_without_plan import FoundJoint
    from splicewright.plant import Conveyor
    from splicewright.store import Register
    from splicewright.store.facts.joint_facts import JointDescribed
    from splicewright.store.present.present import ConveyorNow, JointNow

FIELDS = (
    "kind",
    "plates",
    "width",
    "pitch",
    "plate_width",
    "bolts",
    "pin",
    "rated",
    "starting_rated",
    "source",
    "since",
    "note",
)
"""What is asked; only plates must be answered."""
KINDS = {"hinged": "a pin holds the ends together", "solid": "plates in one piece across the ends"}
_LENGTHS = {"width": (0.1, 4.0), "pitch": (0.005, 1.0), "plate_width": (0.005, 1.0),
            "pin": (0.001, 0.1)}  # fmt: skip
_FORCES = ("rated", "starting_rated")
_MOST_FORCE = 5e6


@dataclass(frozen=True, slots=True)
class Known:
    """A joint without a plan, ready to be judged.

    key : tells it from others: the description and the conveyor's file
    description : as it was recorded; joint : the same for the calculation
    conveyor : of its newest file; None where it has none
    missing : what a verdict cannot do without, one sentence each
    """

    key: str
    description: JointDescribed
    joint: FoundJoint
    conveyor: Conveyor | None
    missing: tuple[str, ...]

    def joined(self) -> JoinedBelt:
        """The joint with its belt; only where nothing is missing."""
        from splicewright.job.inspection.joint_without_plan import joined_as_found

        assert self.conveyor is not None  # nothing is missing
        return joined_as_found(self.joint, self.conveyor)


def known_joint(register: Register, joint: JointNow) -> Known | None:
    """What is known of a joint that has no plan; None until somebody described it."""
    from splicewright.actions.register.kept_files import kept_conveyor
    from splicewright.job.inspection.joint_without_plan import missing
    from splicewright.store.facts.joint_facts import JointDescribed

    description = None
    for stored in register.facts_about(joint.joint):
        if isinstance(stored.what, JointDescribed) and not stored.withdrawn:
            description = stored.what
    if description is None:
        return None
    there = register.conveyor(joint.conveyor)
    file = there.file if there is not None else None
    conveyor = kept_conveyor(register, joint.conveyor) if file is not None else None
    found_joint = _joint_described(description)
    # By what it says, not by its fact: a correction changes the one and not the other.
    return Known(
        f"{description!r} {file}",
        description,
        found_joint,
        conveyor,
        missing(found_joint, conveyor),
    )


def _joint_described(description: JointDescribed) -> FoundJoint:
    from splicewright.job.inspection.joint_without_plan import FoundJoint

    return FoundJoint(
        description.plates,
        description.hinged,
        description.width,
        description.pitch,
        description.plate_width,
        description.bolts or None,
        description.pin,
        description.rated,
        description.starting_rated,
    )


def describe_joint(
    register: Register,
    joint: UUID,
    typed: Mapping[str, str],
    *,
    by: str,
    now: datetime,
    sent: UUID,
    person: UUID | None = None,
    device: str = "",
) -> None:
    """Record what a joint without a plan is.

    typed : answers by the names of `FIELDS`; blank ones are not known
    sent : id of the form; the same sent again records nothing
    Raises InputError: answers that cannot be used: every fault, its key the field.
    """
    from splicewright.store import Fact

    there = register.joint(joint)
    if there is None:
        raise InputError(Fault("joint", f"the register knows no joint {joint}"))
    if there.plan is not None:
        raise InputError(Fault("joint", f"{there.label} has a plan, which says what it is"))
    faults: list[Fault] = []
    description = _read(joint, typed, _width(register, there.conveyor), now, faults)
    if faults or description is None:
        raise InputError(*faults)
    once = uuid5(sent, f"{joint} {description!r}")
    if register.fact(once) is None:
        append_once(register, Fact(once, now, by, description, person, device))


def record_found_joint(
    register: Register,
    conveyor: ConveyorNow,
    label: str,
    place: str,
    typed: Mapping[str, str],
    *,
    by: str,
    now: datetime,
    sent: UUID,
    person: UUID | None = None,
    device: str = "",
) -> UUID:
    """Record a joint that was found on the belt, and what can be seen of it.

    It counts as running, since the day that is known; else since the belt was placed, or the
    register first knew the conveyor.

    place : of its pin on the belt, from the mark, as typed; "" when not known
    typed, sent, by, person, device, now : as in `describe_joint`
    Returns its id. Raises InputError: as `describe_joint`; or the name is taken, or the place is
    not on the belt.
    """
    from splicewright.store import Fact
    from splicewright.store.facts.joint_facts import JointPlanned, JointPutToWork

    faults: list[Fault] = []
    name = label.strip()
    belt = next(iter(register.belts(conveyor.conveyor)), None)
    at = _place(place, belt.length if belt is not None else None, faults)
    joint = uuid5(sent, "\n".join(("joint", name, *(typed.get(f, "") for f in FIELDS), place)))
    taken = bool(name) and bool(register.joints(conveyor.conveyor, label=name))
    if register.joint(joint) is not None:
        # Looked for after the name: whoever finds it taken by a double tap finds the joint.
        return joint
    if not name or len(name) > 60 or not name.isprintable():
        faults.append(Fault("label", "is missing; accepted is a name of up to 60 letters"))
    elif taken:
        say = f'"{name}" is a joint of {conveyor.name} already; give another name'
        faults.append(Fault("label", say))
    description = _read(joint, typed, _width(register, conveyor.conveyor), now, faults)
    if faults or description is None:
        raise InputError(*faults)
    since = description.since
    if since is None:
        since = belt.placed if belt is not None else _first_known(register, conveyor.conveyor, now)
    whats = (
        JointPlanned(joint, conveyor.conveyor, name, belt.belt if belt is not None else None, at),
        description,
    )
    ids = [uuid5(joint, word) for word in ("planned", "described", "put to work")]
    facts = [Fact(i, now, by, w, person, device) for i, w in zip(ids, whats, strict=False)]
    work = Fact(ids[2], min(since, now), by, JointPutToWork(joint), person, device)
    append_once(register, *facts, work)
    return joint


def _first_known(register: Register, conveyor: UUID, now: datetime) -> datetime:
    facts = register.facts_about(conveyor)
    return facts[0].when if facts else now


def _width(register: Register, conveyor: UUID) -> float | None:
    """Belt width of the conveyor's file [m]."""
    from splicewright.actions.register.kept_files import kept_conveyor

    there = register.conveyor(conveyor)
    if there is None or there.file is None:
        return None
    return kept_conveyor(register, conveyor).belt.width.value


def _read(
    joint: UUID, typed: Mapping[str, str], width: float | None, now: datetime, faults: list[Fault]
) -> JointDescribed | None:
    from splicewright.store.facts.joint_facts import JointDescribed

    before = len(faults)
    given = {field: typed.get(field, "").strip() for field in FIELDS}
    if given["kind"] not in KINDS:
        faults.append(Fault("kind", "is not known; accepted is a pin, or plates in one piece"))
    plates = _count("plates", given["plates"], 1, 400, faults)
    bolts = _count("bolts", given["bolts"], 1, 12, faults) if given["bolts"] else None
    lengths = {f: _measure(f, given[f], Kind.LENGTH, *span, faults) for f, span in _LENGTHS.items()}
    forces = {f: _measure(f, given[f], Kind.WIDTH_FORCE, 1.0, _MOST_FORCE, faults) for f in _FORCES}
    if forces["rated"] is not None and not given["source"]:
        faults.append(Fault("source", "is empty; say where the rated tension is from"))
    if forces["starting_rated"] is not None and forces["rated"] is None:
        faults.append(Fault("rated", "is missing; the starting rating alone is of no use"))
    since = _day(given["since"], now, faults)
    if len(faults) > before or plates is None:
        return None
    description = JointDescribed(
        joint,
        plates,
        given["kind"] == "hinged",
        lengths["width"],
        lengths["pitch"],
        lengths["plate_width"],
        bolts,
        lengths["pin"],
        forces["rated"],
        forces["starting_rated"],
        given["source"][:400],
        since,
        given["note"][:2000],
    )
    belt = description.width or width
    try:
        # Without any width the plates themselves say how wide the belt is.
        _joint_described(description).centres(belt if belt is not None else 1e3)
    except InputError as error:
        faults.extend(error.faults)
        return None
    return description


def _count(key: str, text: str, low: int, high: int, faults: list[Fault]) -> int | None:
    if text.isascii() and text.isdigit() and len(text) <= 4 and low <= int(text) <= high:
        return int(text)
    wording = f'"{text[:20]}" is no such number' if text else "is missing"
    faults.append(Fault(key, f"{wording}; accepted is {low} to {high}"))
    return None


def _measure(
    key: str, text: str, kind: Kind, low: float, high: float, faults: list[Fault]
) -> float | None:
    if not text:
        return None
    try:
        value = read(text, kind, key)
    except UnitError as error:
        faults.extend(error.faults)
        return None
    if not low <= value <= high:
        faults.append(Fault(key, f'"{text[:40]}" is not believable; look again'))
        return None
    return value


def _place(text: str, length: float | None, faults: list[Fault]) -> float | None:
    if not text.strip():
        return None
    if length is None:
        faults.append(Fault("place", "stands without a belt; record the belt first"))
        return None
    try:
        value = read(text, Kind.DISTANCE, "place")
    except UnitError as error:
        faults.extend(error.faults)
        return None
    if not 0 <= value <= length:
        say = f'"{text[:40]}" is not on this belt; accepted is 0 to {length:g} m'
        faults.append(Fault("place", say))
        return None
    return value


def _day(text: str, now: datetime, faults: list[Fault]) -> datetime | None:
    if not text:
        return None
    try:
        day = date.fromisoformat(text)
    except ValueError:
        faults.append(Fault("since", f'"{text[:20]}" is no date; write it like 2019-05-04'))
        return None
    if not date(1950, 1, 1) <= day <= now.date() + timedelta(days=1):
        faults.append(Fault("since", f"{day} is not believable; accepted is 1950 to today"))
        return None
    return datetime(day.year, day.month, day.day, tzinfo=UTC)
