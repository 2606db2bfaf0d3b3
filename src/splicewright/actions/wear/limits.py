"""Limits of wear: at which value a place is worn out, who states it; set, shown, taken back."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID, uuid4

from splicewright.errors import Fault, InputError, UnitError
from splicewright.quantities import Kind, read

if TYPE_CHECKING:
    from splicewright.store import Register, Stored, Stream
    from splicewright.store.facts.joint_facts import WearLimitSet

MOST = 4.0
"""Longest limit or new value that is believed [m]."""
PLACES = (
    "carry cover left",
    "carry cover middle",
    "carry cover right",
    "bottom cover",
    "plate",
    "plate loop",
    "hinge pin",
    "bolt head",
)
"""Places that wear, to choose from; any other name is as good."""


@dataclass(frozen=True, slots=True)
class LimitNow:
    """A limit as it stands: the fact that set it, what it said, by whom and when."""

    fact: UUID
    what: WearLimitSet
    by: str
    when: datetime


def limits_of(facts: Iterable[Stored]) -> tuple[LimitNow, ...]:
    """The limits among facts, by name of their place; of two for one place the later counts.

    facts : in the order of arrival, corrections applied; others than limits are passed over
    """
    from splicewright.store.facts.joint_facts import WearLimitSet

    by_place: dict[tuple[UUID, str], LimitNow] = {}
    for stored in facts:
        wear_limit = stored.what
        if isinstance(wear_limit, WearLimitSet) and not stored.withdrawn:
            place = (wear_limit.about, named(wear_limit.what))
            by_place[place] = LimitNow(stored.fact.id, wear_limit, stored.fact.by, stored.when)
    return tuple(sorted(by_place.values(), key=lambda limit: named(limit.what.what)))


def limits_about(register: Register, things: Collection[UUID]) -> tuple[LimitNow, ...]:
    """The limits set for some things, by name of their place."""
    from splicewright.actions.register.facts import facts_of

    return limits_of(facts_of(register, "wear limit set", about=things))


def named(place: str) -> str:
    """The name of a place as it is compared: case and outer spaces say nothing."""
    return place.strip().casefold()


def set_limit(
    register: Register,
    of: Stream,
    about: UUID,
    place: str,
    limit: str,
    source: str,
    *,
    by: str,
    now: datetime,
    new: str = "",
    note: str = "",
    person: UUID | None = None,
    device: str = "",
) -> None:
    """Record at which value a place is worn out; a limit set before for it counts no more.

    limit, new : worn out, and what is read when nothing is worn, as typed with their units
    source : who states it
    by, person, device : who records it; they must be a lead or an admin
    Raises InputError: a field is empty or cannot be read; every fault, its key the field.
    """
    from splicewright.store import Fact
    from splicewright.store.facts.joint_facts import WearLimitSet

    faults: list[Fault] = []
    for key, text, example in (
        ("place", place, "name the place as its readings do, such as hinge pin"),
        ("source", source, "say who states it, such as the maker's instruction or a site rule"),
    ):
        if not text.strip():
            faults.append(Fault(key, f"is empty; {example}"))
    worn = _length("limit", limit, faults)
    start = _length("new", new, faults) if new.strip() else None
    if worn is not None and start is not None and worn == start:
        faults.append(Fault("new", "is the limit itself; accepted is what is read when new"))
    if faults or worn is None:
        raise InputError(*faults)
    wear_limit = WearLimitSet(
        of, about, place.strip(), worn, limit.strip(), source.strip(), start, note.strip()
    )
    register.append(Fact(uuid4(), now, by, wear_limit, person, device))


def withdraw_limit(
    register: Register,
    fact: UUID,
    why: str,
    *,
    by: str,
    now: datetime,
    person: UUID | None = None,
    device: str = "",
) -> None:
    """Take a limit back by a correction; it stays in the history.

    by, person, device : who takes it back; they must be a lead or an admin
    Raises InputError: there is no such limit, or no reason is given.
    """
    from splicewright.store import Correction, Fact
    from splicewright.store.facts.joint_facts import WearLimitSet

    stored = register.fact(fact)
    if stored is None or not isinstance(stored.fact.what, WearLimitSet):
        raise InputError(Fault("limit", "is no limit of the register; reload the page"))
    if not why.strip():
        raise InputError(Fault("why", "is empty; say why the limit is taken back"))
    wear_limit = stored.fact.what
    correction = Correction(wear_limit.of, wear_limit.about, fact, None, why.strip()[:120])
    register.append(Fact(uuid4(), now, by, correction, person, device))


def _length(key: str, typed: str, faults: list[Fault]) -> float | None:
    try:
        value = read(typed, Kind.LENGTH, key)
    except UnitError as error:
        faults.extend(error.faults)
        return None
    if not 0 <= value <= MOST:
        say = f'"{typed[:40]}" is not accepted; accepted is 0 to {MOST:g} m'
        faults.append(Fault(key, say))
        return None
    return value
