"""Values that other systems send: a site's mapping says which message is which reading.

One function for every door (`take_message`): the API and the listener of a broker differ only in
how a message reaches it. What is recorded is a reading like any other, under the authority of
whoever sends it; what cannot be used is one sentence in the site's list of what was wrong.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING, Annotated, Any, Literal, NoReturn
from uuid import UUID, uuid5

from pydantic import Field, StringConstraints, field_validator, model_validator
from pydantic_core import PydanticCustomError

from splicewright.actions.register.record_facts import append_once
from splicewright.actions.wear.record_reading import METER, measured
from splicewright.errors import Fault, InputError
from splicewright.files.fields import Table
from splicewright.files.toml import load
from splicewright.files.typed_file import InMemory
from splicewright.quantities import Kind, read
from splicewright.store import Actor, ConflictError, Fact, Stream
from splicewright.store.facts.joint_facts import ReadingTaken
from splicewright.store.incoming import LONGEST_TOPIC, ask_admin

if TYPE_CHECKING:
    from splicewright.store import Register
    from splicewright.store.incoming import Incoming, LastMessage

LARGEST_MESSAGE = 10_000
"""Bytes of one message."""
MOST_VALUES = 2000
"""Entries of one mapping."""
_FROM_MESSAGE = UUID("7d1c9d0e-3f57-5a63-9a55-7b9f3c1f64f2")
_NUMBER = re.compile(r"[+-]?(\d{1,15}(\.\d{0,15})?|\.\d{1,15})([eE][+-]?\d{1,3})?")
_LONGEST_ID = 200
_DAY = timedelta(days=1)
_KNOWN = (datetime(1990, 1, 1, tzinfo=UTC), datetime(2100, 1, 1, tzinfo=UTC))
Verdict = Literal["recorded", "already", "unchanged", "too soon", "refused"]
_Word = Annotated[str, StringConstraints(min_length=1, max_length=120, pattern=r"\S")]


def _refuse(sentence: str) -> NoReturn:
    raise PydanticCustomError("mapping", "{sentence}", {"sentence": sentence})


class Value(Table):
    """One message and the reading it is.

    topic : of the broker, or any name that a program of the API uses
    conveyor, joint : whose reading; without a joint it is the conveyor's
    what : name of the reading; without one it is the meter
    unit : of the number: h, t, kt, turns, mm ...
    field, id, time : where value, identity and moment stand in a message that is JSON, as a.b.c;
        without `field` the message is the number alone
    every : no more than one is recorded in so long
    """

    topic: Annotated[
        str, StringConstraints(min_length=1, max_length=LONGEST_TOPIC, pattern=r"^[^+#\x00]+$")
    ]
    conveyor: _Word
    joint: str = Field(default="", max_length=120)
    what: str = Field(default="", max_length=120)
    unit: Annotated[str, StringConstraints(max_length=20)]
    field: str = Field(default="", max_length=200)
    id: str = Field(default="", max_length=200)
    time: str = Field(default="", max_length=200)
    every: str = Field(default="1 h", max_length=40)

    @field_validator("unit")
    @classmethod
    def _of_a_reading(cls, unit: str) -> str:
        if measured(f"1 {unit}", [])[0] is None:
            _refuse(f'"{unit}" is no unit of a reading; accepted are such as h, t, kt or mm')
        return unit

    @field_validator("every")
    @classmethod
    def _some_time(cls, every: str) -> str:
        try:
            pause = read(every, Kind.TIME)
        except InputError as error:
            _refuse(error.faults[0].sentence)
        if not 0 <= pause <= 366 * 86400:
            _refuse(f'"{every}" cannot be; accepted is 0 s to 366 d')
        return every

    @model_validator(mode="after")
    def _fits(self) -> Value:
        if not self.field and (self.id or self.time):
            _refuse("id and time stand in a JSON message: name `field`, where its value stands")
        if measured(f"1 {self.unit}", [])[0] is Kind.LENGTH and not self.what:
            _refuse("what is empty; name the place that is measured, such as carry cover left")
        return self

    @property
    def pause(self) -> timedelta:
        """The least time between two that are recorded."""
        return timedelta(seconds=read(self.every, Kind.TIME))


class MappingFile(Table):
    """The mapping of one site: which message is which reading."""

    site: _Word
    value: list[Value] = Field(min_length=1, max_length=MOST_VALUES)

    @model_validator(mode="after")
    def _once(self) -> MappingFile:
        seen = set[str]()
        for value in self.value:
            if value.topic in seen:
                _refuse(f'topic "{value.topic}" stands twice')
            seen.add(value.topic)
        return self


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of a message.

    verdict : "already" for one that was recorded before; "unchanged" for a number that says nothing
        new; "too soon" for one within `every` of the last
    sentence : why it was refused; empty otherwise
    fact : id of the reading
    """

    verdict: Verdict
    sentence: str = ""
    fact: UUID | None = None


def keep_mapping(
    register: Register,
    incoming: Incoming,
    actor: Actor,
    file: bytes,
    name: str,
    site: UUID | None = None,
    before: str | None = None,
) -> tuple[UUID, int]:
    """Keep a mapping file of a site; gives the site and the number of its entries.

    register : for the actor; every conveyor and joint of the file must be known there
    site : that it must be of; None takes the one it names
    before : the mapping that it replaces, as somebody saw it; None replaces any
    Raises InputError: the file cannot be used; every fault with line and key. Raises
    NotAllowedError: the actor is no admin of that site. Raises ConflictError: another mapping was
    kept meanwhile.
    """
    mapping = load(InMemory(name, file), MappingFile)
    there = [s.site for s in register.sites() if mapping.site in {s.name, str(s.site)}]
    if site is not None:
        there = [s for s in there if s == site]
    if len(there) != 1:
        say = "several sites are called" if there else "there is no site"
        accepted = ", ".join(s.name for s in register.sites()) or "none"
        wording = f'{say} "{mapping.site}"; accepted is the name or id of one of: {accepted}'
        raise InputError(Fault("site", wording, name))
    ask_admin(actor, there[0])
    faults = []
    for number, value in enumerate(mapping.value, 1):
        try:
            _thing(register, there[0], value)
        except InputError as error:
            first = error.faults[0]
            faults.append(Fault(f"value {number}, {first.key}", first.sentence, name))
    if faults:
        raise InputError(*faults)
    incoming.keep_mapping(actor, there[0], file.decode("utf-8-sig"), before)
    return there[0], len(mapping.value)


def values_of(incoming: Incoming, site: UUID) -> Mapping[str, Value]:
    """The entries of a site's mapping by topic; none where it has no mapping."""
    kept = incoming.mapping(site)
    return {} if kept is None else _values(kept.file)


@lru_cache(maxsize=64)
def _values(file: str) -> Mapping[str, Value]:
    mapping = load(InMemory("mapping", file.encode()), MappingFile)
    return {value.topic: value for value in mapping.value}


def take_message(
    register: Register,
    incoming: Incoming,
    actor: Actor,
    site: UUID,
    topic: str,
    payload: object,
    *,
    now: datetime,
    identity: str = "",
    device: str = "",
) -> Taken:
    """Record what a message says, once, or put down in one sentence why not.

    register : for the actor
    site : by whose mapping
    topic : which message
    payload : text, number or JSON as it was sent
    now : when it came
    identity : of this message, as its sender gives it; the same again is the same message
    device : by which door it came
    Raises InputError: there is no such site, or the actor is not let into it. Raises BusyError,
    FullError: the register takes nothing now; taking the same message again is harmless.
    """
    if register.site(site) is None:
        raise InputError(Fault("site", f"there is no site {site}"))
    try:
        return _take(register, incoming, actor, site, topic, payload, now, identity, device)
    except (InputError, ConflictError) as error:
        first = error.faults[0] if isinstance(error, InputError) else Fault("", str(error))
        sentence = f"{first.key}: {first.sentence}" if first.key else first.sentence
        incoming.note_fault(site, topic, sentence)
        return Taken("refused", sentence)


def _take(
    register: Register,
    incoming: Incoming,
    actor: Actor,
    site: UUID,
    topic: str,
    payload: object,
    now: datetime,
    identity: str,
    device: str,
) -> Taken:
    value = values_of(incoming, site).get(topic)
    if value is None:
        raise InputError(Fault("topic", "is not in the mapping of this site"))
    number, own, moment = _read(value, payload, now)
    identity = own or identity
    if len(identity) > _LONGEST_ID:
        raise InputError(Fault("id", f"is longer than {_LONGEST_ID} characters"))
    typed = f"{number} {value.unit}"
    faults: list[Fault] = []
    kind, si = measured(typed, faults)
    if kind is None or faults:
        raise InputError(*faults)
    of, about = _thing(register, site, value)
    reading = ReadingTaken(of, about, value.what or METER, kind, si, typed)
    at, last = moment or now, incoming.last_of(site, topic)
    # Without identity and moment the value itself is the identity: a number that stands still, of
    # which one a day says that it does.
    same = last is not None and last.typed == typed and _too_soon(last, at, max(value.pause, _DAY))
    if same and not identity and moment is None:
        incoming.note_received(site, topic)
        return Taken("unchanged")
    mark = f"id {identity}" if identity else f"at {at.isoformat()}"
    id_ = uuid5(_FROM_MESSAGE, f"{site} {topic} {mark}")
    there = register.fact(id_)
    if there is not None:
        if there.fact.what != reading:
            earlier = getattr(there.fact.what, "typed", "something else")
            say = f'"{mark[3:43]}" was used for {earlier} before, and says {typed} now'
            raise InputError(Fault("id" if identity else "time", say))
        incoming.note_received(site, topic)
        return Taken("already", fact=id_)
    if last is not None and _too_soon(last, at, value.pause):
        incoming.note_received(site, topic)
        return Taken("too soon")
    theirs = register.said_by(actor)
    append_once(theirs, Fact(id_, at, actor.name, reading, actor.account, device))
    incoming.note_recorded(site, topic, at, typed)
    return Taken("recorded", fact=id_)


def _too_soon(last: LastMessage, at: datetime, pause: timedelta) -> bool:
    """Whether one of almost the same moment was recorded; what comes late is not too soon."""
    return timedelta(0) <= at - last.at < pause


def _thing(register: Register, site: UUID, value: Value) -> tuple[Stream, UUID]:
    """The conveyor or joint that an entry names."""
    named = [
        c.conveyor for c in register.conveyors(site) if value.conveyor in {c.name, str(c.conveyor)}
    ]
    if len(named) != 1:
        say = f'"{value.conveyor}" is no conveyor of this site'
        if named:
            say = f'"{value.conveyor}" is the name of several conveyors here; accepted is an id'
        raise InputError(Fault("conveyor", say))
    if not value.joint:
        return Stream.CONVEYOR, named[0]
    joints = [j.joint for j in register.joints(named[0], label=value.joint)]
    if len(joints) != 1:
        say = f'"{value.joint}" is no joint of {value.conveyor}'
        if joints:
            say = f'"{value.joint}" is the label of several joints of {value.conveyor}'
        raise InputError(Fault("joint", say))
    return Stream.JOINT, joints[0]


def _read(value: Value, payload: object, now: datetime) -> tuple[str, str, datetime | None]:
    """Number, identity and moment of a message; "" and None for those it does not hold."""
    if isinstance(payload, bytes):
        if len(payload) > LARGEST_MESSAGE:
            say = f"is {len(payload)} bytes; accepted is up to {LARGEST_MESSAGE}"
            raise InputError(Fault("message", say))
        try:
            payload = payload.decode("utf-8")
        except UnicodeDecodeError:
            raise InputError(Fault("message", "is no text; accepted is UTF-8")) from None
    if not value.field:
        return _number(payload, "message"), "", None
    if isinstance(payload, str):
        try:
            payload = json.loads(payload)
        except (ValueError, RecursionError):
            say = f'is no JSON; accepted is an object that holds "{value.field}"'
            raise InputError(Fault("message", say)) from None
    number = _number(_inside(payload, value.field), value.field)
    identity, moment = "", None
    if value.id:
        raw = _inside(payload, value.id)
        if isinstance(raw, bool) or not isinstance(raw, str | int) or raw == "":
            raise InputError(Fault(value.id, "is no identity; accepted is a text or whole number"))
        identity = str(raw)
    if value.time:
        moment = _moment(_inside(payload, value.time), value.time)
    return number, identity, moment


def _inside(payload: object, path: str) -> Any:
    """What stands at a.b.c of an object."""
    there: Any = payload
    for part in path.split("."):
        if not isinstance(there, dict) or part not in there:
            raise InputError(Fault(path, "is not in the message"))
        there = there[part]
    return there


def _number(raw: object, key: str) -> str:
    """A number as it was sent."""
    if isinstance(raw, str) and _NUMBER.fullmatch(raw.strip()):
        return raw.strip()
    plain = isinstance(raw, int | float) and not isinstance(raw, bool)
    if not plain or not math.isfinite(raw):  # type: ignore[arg-type]
        raise InputError(Fault(key, f"{str(raw)[:40]!r} is no number; accepted is such as 3420.5"))
    return repr(raw)


def _moment(raw: object, key: str) -> datetime:
    """A moment: ISO 8601 with its offset, or seconds since 1970."""
    accepted = "accepted is 2026-05-04T06:00:00+02:00 or seconds since 1970"
    try:
        if isinstance(raw, str):
            moment = datetime.fromisoformat(raw)
        elif isinstance(raw, int | float) and not isinstance(raw, bool):
            moment = datetime.fromtimestamp(raw, UTC)
        else:
            raise ValueError
    except (ValueError, OverflowError, OSError):
        raise InputError(Fault(key, f"{str(raw)[:40]!r} is no moment; {accepted}")) from None
    if moment.tzinfo is None:
        raise InputError(Fault(key, f"{str(raw)[:40]!r} has no offset from UTC; {accepted}"))
    if not _KNOWN[0] <= moment <= _KNOWN[1]:
        say = f"{str(raw)[:40]!r} is not believable; accepted is 1990 to 2100"
        raise InputError(Fault(key, say))
    return moment.astimezone(UTC)
