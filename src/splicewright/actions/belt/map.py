"""The belt map: the loop laid out straight, with pieces, joints, damage and their ages.

Places on the belt are measured from a mark on it in the direction of travel, stations of the
conveyor likewise from the start of the loop. Both lengths are that of the closed belt [m].
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID

from splicewright.errors import Fault, InputError
from splicewright.store.facts.plant_facts import Grade
from splicewright.store.present.present import BeltNow, DamageNow, JointNow, State

if TYPE_CHECKING:
    from splicewright.store.register import Register

_MOST = 2000
"""Joints of one belt on a map."""


@dataclass(frozen=True, slots=True)
class MapPiece:
    """A stretch of one piece, from `start` to `end` [m]; a piece over the mark has two.

    age : since it was made, else since it was placed [s]
    """

    piece: UUID
    name: str
    marking: str
    start: float
    end: float
    age: float


@dataclass(frozen=True, slots=True)
class MapJoint:
    """A joint at its place [m]; age since it was built, None before [s]."""

    joint: UUID
    label: str
    place: float
    state: State
    age: float | None
    can_run: bool | None


@dataclass(frozen=True, slots=True)
class MapDamage:
    """Damage not mended, from `start` to `end` [m]; age since it was found [s]."""

    damage: UUID
    start: float
    end: float
    across: float | None
    grade: Grade
    note: str
    age: float


@dataclass(frozen=True, slots=True)
class BeltMap:
    """One belt laid out straight from its mark, 0 to `length` [m].

    unplaced : joints whose place on the belt nobody stated
    gaps, overlaps : stretches that no piece covers, or more than one (start, end) [m]
    """

    belt: UUID
    name: str
    length: float
    pieces: tuple[MapPiece, ...]
    joints: tuple[MapJoint, ...]
    damage: tuple[MapDamage, ...]
    unplaced: tuple[MapJoint, ...]
    gaps: tuple[tuple[float, float], ...]
    overlaps: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """Where a joint is on the loop, give or take [m]; seen : which joint was seen, and when."""

    station: float
    give_or_take: float
    seen: UUID
    at: datetime


def belt_map(
    register: Register, conveyor: UUID, now: datetime, joints: Sequence[JointNow] | None = None
) -> BeltMap | None:
    """Lay out the belt that lies on a conveyor; None when none is recorded.

    conveyor : whose belt; of several the newest
    now : ages are told at this moment
    joints : joints of the conveyor that were read already; None reads them
    """
    belts = register.belts(conveyor)
    if not belts:
        return None
    belt = belts[0]
    pieces = [
        MapPiece(p.piece, p.name, p.marking, start, end, _age(p.made or p.placed, now))
        for p in register.pieces(belt.belt)
        if p.removed is None
        for start, end in _stretches(p.start, p.length, belt.length)
    ]
    pieces.sort(key=lambda p: (p.start, p.end))
    in_belt = _in_belt(register.joints(conveyor, limit=_MOST) if joints is None else joints, belt)
    mapped = [
        MapJoint(
            j.joint,
            j.label,
            _round(j.place or 0.0, belt.length),
            j.state,
            _age(j.built, now) if j.built is not None else None,
            j.can_run,
        )
        for j in in_belt
    ]
    placed = {j.joint for j in in_belt if j.place is not None}
    covered = [(p.start, p.end) for p in pieces]
    return BeltMap(
        belt.belt,
        belt.name,
        belt.length,
        tuple(pieces),
        tuple(sorted((j for j in mapped if j.joint in placed), key=lambda j: (j.place, j.label))),
        tuple(_map_damage(register.damage(belt.belt), belt.length, now)),
        tuple(j for j in mapped if j.joint not in placed),
        _uncovered(covered, belt.length),
        _doubled(covered),
    )


def where_now(
    joint: JointNow,
    others: tuple[JointNow, ...],
    *,
    belt_length: float,
    speed: float,
    now: datetime,
    speed_doubt: float = 0.02,
    stood: float = 0.0,
) -> Whereabouts | None:
    """Where a joint is now, from the latest sighting of it or of another joint of its belt.

    station = (station seen + place - place seen + v (now - seen - stood)) mod L, with
    give or take v doubt (now - seen - stood). It holds while the belt runs one way at `speed`
    but for the time it `stood`.

    others : other joints of the same belt; used when seen later and both places are known
    belt_length : of the closed belt [m]
    speed_doubt : how far the speed may be off, as a share (2 % is an assumption) [-]
    stood : how long the belt stood still since the sighting [s]
    Returns None when nothing was seen, or so long ago that the joint may be anywhere (give or take
    half the belt or more). Raises InputError: a length, speed, share or time that cannot be.
    """
    for key, value, least in (
        ("belt_length", belt_length, 1e-9),
        ("speed", speed, 0.0),
        ("speed_doubt", speed_doubt, 0.0),
        ("stood", stood, 0.0),
    ):
        if not least <= value < float("inf"):
            accepted = "more than 0" if least else "0 or more"
            raise InputError(Fault(key, f"{value:g} cannot be; accepted is {accepted}"))
    best, shift = None, 0.0
    for other in (joint, *others):
        if other.seen is None or other.seen_station is None or other.seen > now:
            continue
        same = other.joint == joint.joint
        if not same and (other.place is None or joint.place is None or other.belt != joint.belt):
            continue
        if best is None or best.seen is None or other.seen > best.seen:
            best = other
            shift = 0.0 if same else (joint.place or 0.0) - (other.place or 0.0)
    if best is None or best.seen is None or best.seen_station is None:
        return None
    ran = max(0.0, (now - best.seen).total_seconds() - stood)
    give_or_take = speed * speed_doubt * ran
    if give_or_take >= belt_length / 2:
        return None
    station = _round(best.seen_station + shift + speed * ran, belt_length)
    return Whereabouts(station, give_or_take, best.joint, best.seen)


def _in_belt(joints: Sequence[JointNow], belt: BeltNow) -> list[JointNow]:
    """Joints in the belt or planned for it; those that name no belt count to the newest."""
    return [j for j in joints if j.belt in {belt.belt, None} and j.state is not State.REMOVED]


def _map_damage(damages: tuple[DamageNow, ...], length: float, now: datetime) -> list[MapDamage]:
    there = [
        MapDamage(d.damage, start, end, d.across, d.grade, d.note, _age(d.found, now))
        for d in damages
        if d.mended is None
        for start, end in _stretches(d.place, d.length, length)
    ]
    return sorted(there, key=lambda d: d.start)


def _age(since: datetime, now: datetime) -> float:
    return max(0.0, (now - since).total_seconds())


def _round(place: float, length: float) -> float:
    """A place once round the belt, 0 or more and below its length."""
    if length <= 0:
        return place
    once = place % length
    return 0.0 if once == length else once  # -1e-17 % 10 is 10


def _stretches(start: float, length: float, loop: float) -> list[tuple[float, float]]:
    """A stretch of the loop, cut in two where it passes the mark."""
    if length >= loop:
        return [(0.0, loop)]
    begin = _round(start, loop)
    end = begin + length
    return [(begin, end)] if end <= loop else [(begin, loop), (0.0, end - loop)]


def _uncovered(
    covered: list[tuple[float, float]], length: float
) -> tuple[tuple[float, float], ...]:
    gaps, reached = [], 0.0
    for start, end in sorted(covered):
        if start - reached > 1e-6:
            gaps.append((reached, start))
        reached = max(reached, end)
    if covered and length - reached > 1e-6:
        gaps.append((reached, length))
    return tuple(gaps)


def _doubled(covered: list[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    doubled, reached = [], 0.0
    for start, end in sorted(covered):
        if reached - start > 1e-6:
            doubled.append((start, min(reached, end)))
        reached = max(reached, end)
    return tuple(doubled)
