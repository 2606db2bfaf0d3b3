"""Facts: what happened, when, said by whom, from which device; their JSON form and their chain.

A fact is never changed. `Correction` points to the fact it corrects. The JSON form is
canonical (sorted keys, no spaces), so that the same fact always gives the same bytes and
the chain of hashes can be recomputed by anybody with SHA-256.
"""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass, make_dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Any, Literal, get_type_hints
from uuid import UUID

from pydantic import ConfigDict, TypeAdapter, ValidationError
from pydantic_core import ErrorDetails, to_jsonable_python

from splicewright.errors import Fault, InputError, UnitError
from splicewright.quantities import Kind, read, show
from splicewright.quantities.limits import UNBELIEVABLE
from splicewright.quantities.reading import read_kept
from splicewright.store.facts import job_facts, joint_facts, photo_facts, plant_facts
from splicewright.store.facts.kinds import (
    KINDS,
    Moment,
    Name,
    Stream,
    Text,
    What,
    fact_kind,
    kind_of,
)

FORMAT = 1
"""Version of the JSON form of a fact."""
LARGEST = 64_000
"""Bytes of one fact's JSON; plans, files and photographs are kept beside it by their digest."""
IMPORTED = "import of "
"""How the device of an imported fact begins."""
_AT_A_DESK = {"page", "desk", "accounts"}
_AHEAD, _WAITED = timedelta(days=1), timedelta(days=30)
FIRST_HASH = bytes(32)
"""What the first fact's hash is chained to."""

_VALUED = (joint_facts.ReadingTaken, job_facts.ValueRecorded)
_PLACED = (joint_facts.ReadingTaken, joint_facts.PhotoAdded, photo_facts.PhotographMeasured)
_COMPARED = (*_VALUED, *_PLACED, joint_facts.WearLimitSet)
"""Facts whose fields are held against each other; see `_disagreements`."""
_WEARING = {Stream.CONVEYOR, Stream.BELT, Stream.JOINT}
_PLACES_KNOWN = {Stream.CONVEYOR, Stream.BELT, Stream.JOINT, Stream.JOB}


@fact_kind("correction", None)
@dataclass(frozen=True, slots=True)
class Correction(What):
    """What fact `corrects` should have said.

    of, about : the thing both facts are about
    instead : the right content, of the same kind and about the same thing; None when the fact
        should not have been recorded at all
    """

    of: Stream
    about: UUID
    corrects: UUID
    instead: What | None
    why: Name


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact as a device made it.

    id : made by the device; sending the same fact twice is harmless
    at : when it happened, by the device's clock
    by, person : who says so: the name as it is to be read for ever, and the person's id
    device : which phone or desk
    """

    id: UUID
    at: datetime
    by: str
    what: What
    person: UUID | None = None
    device: str = ""

    @property
    def kind(self) -> str:
        """Name of the kind of fact."""
        return kind_of(self.what).name

    @property
    def subject(self) -> UUID:
        """Id of the thing it is about."""
        return kind_of(self.what).subject(self.what)

    @property
    def stream(self) -> Stream:
        """What that thing is."""
        return kind_of(self.what).stream_of(self.what)

    def to_json(self) -> str:
        """The canonical JSON form; `from_json` gives the fact back without loss.

        Raises
        ------
        InputError
            A field holds what it must not; every fault with its key.
        """
        return canonical(self)[0]

    @classmethod
    def from_json(cls, text: str | bytes) -> Fact:
        """Read a fact.

        Raises
        ------
        InputError
            The text is no fact of this format; every fault with its key.
        """
        if len(text) > LARGEST:
            raise InputError(
                Fault("", f"is {len(text)} bytes long; accepted is up to {LARGEST} for one fact")
            )
        try:
            data = json.loads(text, parse_constant=_no_constant)
        except (ValueError, RecursionError) as error:
            raise InputError(Fault("", f"is no JSON: {error}")) from None
        return from_data(data)


def read_back(text: str) -> Fact:
    """Read a fact that was recorded: as `Fact.from_json`, in about a third of the time.

    What is written by `canonical` is read in one go. Anything else, a correction, and what holds a
    value beside what was typed go the long way, which also says what is wrong.
    """
    match = _KIND.search(text)
    whole = _whole(match[1]) if match is not None else None
    if whole is not None and len(text) <= LARGEST:
        try:
            read = whole.validate_json(text, strict=True)
        except ValidationError:
            return Fact.from_json(text)
        at = read.at.astimezone(UTC)
        return Fact(read.id, at, read.by, read.what, read.person, read.device)
    return Fact.from_json(text)


@dataclass(frozen=True, slots=True)
class Stored:
    """A fact as the register holds it.

    seq : place in the order of arrival, from 1; received : by the register's clock
    hash : chains it to the fact before
    corrected : the content a later correction gave it; withdrawn : a later correction says
        it should not have been recorded
    """

    seq: int
    received: datetime
    hash: bytes
    fact: Fact
    corrected: What | None = None
    withdrawn: bool = False

    @property
    def what(self) -> What:
        """What counts now: the corrected content, else the content as recorded."""
        return self.corrected if self.corrected is not None else self.fact.what

    @property
    def when(self) -> datetime:
        """When it happened, never later than it was received.

        A device whose clock runs ahead cannot push due work into the future.
        """
        return min(self.fact.at, self.received)

    @property
    def odd_date(self) -> bool:
        """Whether its date is far from its arrival: a phone's clock was wrong, or it waited long.

        A table of the years before the register is as it should be, and so is what a page says of
        a day long past.
        """
        ahead, waited = self.fact.at - self.received, self.received - self.fact.at
        device = self.fact.device
        live = device not in _AT_A_DESK and not device.startswith(IMPORTED)
        return live and self.fact.person is not None and (ahead > _AHEAD or waited > _WAITED)

    def amended(self, correction: Correction) -> Stored:
        """The same with a correction applied."""
        return replace(self, corrected=correction.instead, withdrawn=correction.instead is None)


@dataclass(frozen=True, slots=True)
class _Envelope:
    """The fields of a fact besides its content, with what they may hold."""

    id: UUID
    at: Moment
    by: Name
    person: UUID | None = None
    device: Text = ""


def canonical(fact: Fact) -> tuple[str, Fact]:
    """The canonical JSON of a fact, and the fact read back from it, checked.

    Raises
    ------
    InputError
        A field holds what it must not.
    """
    try:
        text = json.dumps(
            to_data(fact),
            sort_keys=True,
            separators=(",", ":"),
            ensure_ascii=False,
            allow_nan=False,
        )
        text.encode()
    except UnicodeEncodeError:
        raise InputError(Fault("", "holds half a character (a lone surrogate)")) from None
    except OverflowError:
        raise InputError(Fault("at", UNBELIEVABLE)) from None
    except ValueError:
        raise InputError(Fault("what", "holds a number that is not finite")) from None
    return text, Fact.from_json(text)


def to_data(fact: Fact) -> dict[str, Any]:
    """A fact as plain data, ready for JSON."""
    return {
        "format": FORMAT,
        "id": str(fact.id),
        "at": fact.at.astimezone(UTC).isoformat() if fact.at.tzinfo else fact.at.isoformat(),
        "by": fact.by,
        "person": str(fact.person) if fact.person is not None else None,
        "device": fact.device,
        "kind": fact.kind,
        "what": _what_data(fact.what),
    }


def from_data(data: Any) -> Fact:
    """Read a fact from plain data.

    Raises
    ------
    InputError
        As `Fact.from_json`.
    """
    if not isinstance(data, dict):
        raise InputError(Fault("", "is no fact; accepted is a JSON object"))
    given = dict(data)
    form, kind, body = given.pop("format", None), given.pop("kind", None), given.pop("what", None)
    if form != FORMAT or isinstance(form, bool):
        raise InputError(Fault("format", f"{_short(form)} is not known; accepted is {FORMAT}"))
    faults: list[Fault] = []
    head = _validated(_Envelope, given, "", faults)
    content = read_what(kind, body, "what", faults)
    if faults or content is None or head is None:
        raise InputError(*faults)
    at = head.at.astimezone(UTC)
    return Fact(head.id, at, head.by, content, head.person, head.device)


def read_what(kind: object, data: Any, key: str, faults: list[Fault]) -> What | None:
    """Read the content of a fact of that kind; what is wrong goes into `faults`."""
    if not isinstance(kind, str) or kind not in KINDS:
        faults.append(
            Fault(
                "kind",
                f"{_short(kind)} is no kind of fact; accepted is one of {', '.join(sorted(KINDS))}",
            )
        )
        return None
    made_by = KINDS[kind].made_by
    if made_by is Correction:
        return _read_correction(data, key, faults)
    event: What | None = _validated(made_by, data, f"{key}.", faults)
    if event is not None:
        faults += _disagreements(event, key)
    return event


def link(before: bytes, seq: int, received: datetime, body: str) -> bytes:
    """The hash that chains a fact to the one before.

    SHA-256 over: hash before (32 bytes), then "seq received" in ASCII (received as whole
    microseconds since 1970), a line feed, and the canonical JSON in UTF-8.
    """
    head = f"{seq} {microseconds(received)}\n".encode("ascii")
    return hashlib.sha256(before + head + body.encode()).digest()


def microseconds(moment: datetime) -> int:
    """A moment as whole microseconds since 1970, without the rounding of floats."""
    since = moment - datetime(1970, 1, 1, tzinfo=UTC)
    return (since.days * 86400 + since.seconds) * 1_000_000 + since.microseconds


def _what_data(event: What) -> dict[str, Any]:
    if isinstance(event, Correction):
        instead = event.instead
        return {
            "of": str(event.of),
            "about": str(event.about),
            "corrects": str(event.corrects),
            "kind": kind_of(instead).name if instead is not None else None,
            "instead": _what_data(instead) if instead is not None else None,
            "why": event.why,
        }
    names = type(event).__dataclass_fields__
    data: dict[str, Any] = to_jsonable_python(
        {name: _utc(getattr(event, name)) for name in names}, inf_nan_mode="constants"
    )
    return data


def _utc(value: Any) -> Any:
    return value.astimezone(UTC).isoformat() if isinstance(value, datetime) else value


@dataclass(frozen=True, slots=True)
class _CorrectionForm:
    of: Stream
    about: UUID
    corrects: UUID
    why: Name


def _read_correction(data: Any, key: str, faults: list[Fault]) -> Correction | None:
    if not isinstance(data, dict):
        faults.append(Fault(key, "is missing; accepted is an object"))
        return None
    given = dict(data)
    kind, instead = given.pop("kind", None), given.pop("instead", None)
    form = _validated(_CorrectionForm, given, f"{key}.", faults)
    content = None
    if kind is not None or instead is not None:
        if kind == "correction":
            faults.append(Fault(key, "corrects a correction; correct the first fact instead"))
            return None
        content = read_what(kind, instead, f"{key}.instead", faults)
        if content is None:
            return None
    if form is None:
        return None
    if content is not None and (
        kind_of(content).subject(content) != form.about
        or kind_of(content).stream_of(content) != form.of
    ):
        faults.append(Fault(f"{key}.instead", "is about another thing than the fact it corrects"))
        return None
    return Correction(form.of, form.about, form.corrects, content, form.why)


def _disagreements(event: What, key: str) -> list[Fault]:
    """What the types of the fields cannot say."""
    if isinstance(event, _VALUED):
        try:
            typed = read_kept(event.typed, event.measure)
        except UnitError as error:
            return [Fault(f"{key}.typed", error.faults[0].sentence)]
        if abs(typed - event.value) > 1e-9 * max(abs(typed), abs(event.value)):
            shown = show(typed, event.measure)
            return [
                Fault(
                    f"{key}.value",
                    f'{event.value:g} is not what was typed: "{event.typed}" '
                    f"is {typed:g} in SI ({shown})",
                )
            ]
    if isinstance(event, joint_facts.WearLimitSet):
        return _limit_disagreements(event, key)
    if isinstance(event, _PLACED) and event.of not in _PLACES_KNOWN:
        accepted = ", ".join(sorted(_PLACES_KNOWN))
        return [Fault(f"{key}.of", f'"{event.of}" has no readings; accepted is {accepted}')]
    return []


def _limit_disagreements(event: joint_facts.WearLimitSet, key: str) -> list[Fault]:
    faults = []
    if event.of not in _WEARING:
        accepted = ", ".join(sorted(_WEARING))
        faults.append(Fault(f"{key}.of", f'"{event.of}" does not wear; accepted is {accepted}'))
    try:
        typed = read_kept(event.typed, Kind.LENGTH)
    except UnitError as error:
        return [*faults, Fault(f"{key}.typed", error.faults[0].sentence)]
    if abs(typed - event.limit) > 1e-9 * max(abs(typed), abs(event.limit)):
        faults.append(
            Fault(
                f"{key}.limit",
                f'{event.limit:g} is not what was typed: "{event.typed}" is {typed:g} in SI',
            )
        )
    return faults


def typed_value(typed: str, measure: Kind, key: str = "") -> float:
    """SI value of what was typed, for `ReadingTaken` and `ValueRecorded`.

    Raises
    ------
    UnitError
        It cannot be read.
    """
    return read(typed, measure, key)


# Before it stand texts in which a quotation mark is written with a backslash, so it is the first.
_KIND = re.compile(r'","format":1,"id":"[0-9a-f-]{36}","kind":"([a-z -]{1,40})","person":')


@cache
def _whole(kind: str) -> TypeAdapter[Any] | None:
    """The checker of a whole fact of that kind; None for those that are read the long way."""
    made_by = KINDS[kind].made_by if kind in KINDS else Correction
    if issubclass(made_by, (Correction, *_COMPARED)):
        return None
    fields = get_type_hints(_Envelope, include_extras=True)
    fields |= {"format": Literal[1], "kind": Literal[kind], "what": made_by}
    strict = {"__pydantic_config__": ConfigDict(extra="forbid")}
    return TypeAdapter(make_dataclass("Whole", fields.items(), namespace=strict, slots=True))


_ADAPTERS: dict[type[Any], TypeAdapter[Any]] = {}


def _adapter(made_by: type[Any]) -> TypeAdapter[Any]:
    """The checker of a class, built once."""
    if made_by not in _ADAPTERS:
        _ADAPTERS[made_by] = TypeAdapter(made_by)
    return _ADAPTERS[made_by]


def _validated(made_by: type[Any], data: Any, prefix: str, faults: list[Fault]) -> Any:
    if not isinstance(data, dict):
        faults.append(Fault(prefix.rstrip("."), "is missing; accepted is an object"))
        return None
    unknown = set(data) - set(made_by.__dataclass_fields__)
    faults += [Fault(f"{prefix}{name}", "is no field of this fact") for name in sorted(unknown)]
    try:
        # JSON mode: texts become ids, moments and words of a list, and nothing else is bent.
        instance = _adapter(made_by).validate_json(json.dumps(data), strict=True)
    except ValidationError as error:
        faults += [
            Fault(prefix + ".".join(str(part) for part in detail["loc"]), sentence_of(detail))
            for detail in error.errors(include_url=False)
            if detail["type"] != "unexpected_keyword_argument"  # said above
        ]
        return None
    return None if unknown else instance


def sentence_of(detail: ErrorDetails) -> str:
    """What is wrong with a field, and what is accepted, by what pydantic found."""
    kind, given, context = detail["type"], _short(detail["input"]), detail.get("ctx", {})
    bounds = {
        name: f"{value:g}" for name, value in context.items() if isinstance(value, int | float)
    }
    accepted = {
        "missing": "is missing; it must be given",
        "missing_argument": "is missing; it must be given",
        "uuid_parsing": f"{given} is no id; accepted is a UUID",
        "uuid_type": f"{given} is no id; accepted is a UUID",
        "string_type": f"{given} is no text",
        "string_too_short": "is empty; a text must be given",
        "string_too_long": f"is longer than {context.get('max_length')} characters",
        "timezone_aware": f"{given} has no offset from UTC; accepted is 2026-05-01T08:00:00+02:00",
        "enum": f"{given} is not known; accepted is {context.get('expected')}",
        "bool_type": f"{given} is neither true nor false",
        "int_type": f"{given} is no whole number",
        "int_from_float": f"{given} is no whole number",
        "float_type": f"{given} is no number",
        "finite_number": "is not a finite number",
        "greater_than_equal": f"{given} is too small; accepted is {bounds.get('ge')} or more",
        "less_than_equal": f"{given} is too large; accepted is up to {bounds.get('le')}",
        "less_than": f"{given} is too large; accepted is less than {bounds.get('lt')}",
    }
    if kind in accepted:
        return accepted[kind]
    if kind == "string_pattern_mismatch":
        if "0-9a-f" in str(context.get("pattern")):
            return f"{given} is no digest; accepted is a SHA-256 of 64 hexadecimal digits"
        return "is blank; a text must be given"
    if kind.startswith("datetime"):
        return f"{given} is no moment; accepted is 2026-05-01T08:00:00+02:00"
    if kind == "value_error":
        return str(context.get("error"))
    return f"{given} cannot be used: {detail['msg'][0].lower()}{detail['msg'][1:]}"


def _short(given: object) -> str:
    text = json.dumps(given, ensure_ascii=True, default=str)
    return text if len(text) <= 60 else text[:57] + "..."


def _no_constant(name: str) -> float:
    msg = f"{name} is not a finite number"
    raise ValueError(msg)


__all__ = [
    "FIRST_HASH",
    "FORMAT",
    "LARGEST",
    "Correction",
    "Fact",
    "Stored",
    "canonical",
    "from_data",
    "job_facts",
    "joint_facts",
    "link",
    "microseconds",
    "plant_facts",
    "sentence_of",
    "to_data",
    "typed_value",
]
