"""Correct a recorded fact by a later one: say it otherwise, or take it back; who and why stay."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from datetime import UTC, datetime
from enum import Enum
from typing import TYPE_CHECKING, Any, get_type_hints

from splicewright.errors import Fault, InputError
from splicewright.quantities import Kind, System, read, show

if TYPE_CHECKING:
    from collections.abc import Mapping
    from uuid import UUID

    from splicewright.store import Register, Stored, What

_KINDS = {
    **dict.fromkeys(("station", "start", "place"), Kind.DISTANCE),
    **dict.fromkeys(
        (
            "pin_now",
            "pin_new",
            "torn_left",
            "torn_right",
            "width",
            "pitch",
            "plate_width",
            "pin",
            "new",
            "across",
        ),
        Kind.LENGTH,
    ),
    **dict.fromkeys(("rated", "starting_rated", "breaking"), Kind.WIDTH_FORCE),
    **dict.fromkeys(("took", "planned", "next_after"), Kind.TIME),
    **dict.fromkeys(("share_kept", "worn_keeps"), Kind.SHARE),
}
"""What the numbers of facts are, by field."""
_OF_TYPED = {"value", "limit", "measure"}
"""Follow from what was typed."""
_CAN = {True: "yes", False: "no", None: "not decided"}
_NOT = {"step", "what", "statement", "line", "item", "plan_id", "construction", "typed_of"}
"""What a fact is about; another is another fact."""


@dataclass(frozen=True, slots=True)
class Correctable:
    """One field of a fact that may be said otherwise.

    text : as it stands, as somebody would type it; choices : what is accepted, empty for any text
    """

    name: str
    text: str
    choices: tuple[str, ...] = ()

    @property
    def word(self) -> str:
        """The field as a page calls it."""
        return self.name.replace("_", " ").capitalize()


def correctable(event: What, system: System) -> tuple[Correctable, ...]:
    """The fields of a fact that a page can say otherwise; other facts are only taken back."""
    correctables = []
    for name, hint in get_type_hints(type(event)).items():
        text = _text(event, name, system)
        if text is None or name in _NOT:
            continue
        correctables.append(Correctable(name, text, _choices(getattr(event, name), hint)))
    return tuple(correctables)


def why_not(stored: Stored) -> str:
    """Why a fact is not corrected; "" where it can be."""
    from splicewright.store import Correction
    from splicewright.store.facts.kinds import kind_of

    event = stored.fact.what
    if isinstance(event, Correction):
        return "It is a correction itself: correct the first entry again."
    if kind_of(event).signed:
        return "It is a signature, which is never changed: sign again."
    return "It was withdrawn; record it again." if stored.withdrawn else ""


def correct(
    register: Register,
    stored: Stored,
    typed: Mapping[str, str] | None,
    why: str,
    *,
    by: str,
    person: UUID,
    now: datetime,
    system: System,
    sent: UUID,
) -> None:
    """Record the correction of a fact.

    register : said by whoever corrects
    stored : what is corrected, as it counts now
    typed : its fields said otherwise; None takes it back
    why : the reason, which stays in the history
    sent : id of the form; sent twice, it is recorded once
    Raises InputError: no reason, or what was typed cannot be read or recorded; every fault with its
    field.
    """
    from splicewright.store import Correction, Fact

    faults = []
    if not why.strip():
        faults.append(Fault("why", "is empty; say why it is corrected"))
    if why_not(stored):
        faults.append(Fault("", why_not(stored)))
    instead = None
    if typed is not None:
        try:
            instead = _said_otherwise(stored.what, typed, system)
        except InputError as error:
            faults += error.faults
        if instead == stored.what:
            faults.append(Fault("", "nothing is said otherwise; change a field, or withdraw it"))
    if faults:
        raise InputError(*faults)
    fact = stored.fact
    correction = Correction(fact.stream, fact.subject, fact.id, instead, why.strip())
    register.append(Fact(sent, now, by, correction, person, "page"))


def _said_otherwise(event: What, typed: Mapping[str, str], system: System) -> What:
    changed: dict[str, Any] = {}
    faults = []
    for field in correctable(event, system):
        text = typed.get(field.name, field.text).strip()
        if text == field.text:
            continue
        try:
            changed |= _read(event, field, text)
        except InputError as error:
            faults += [Fault(field.name, f.sentence) for f in error.faults]
    if faults:
        raise InputError(*faults)
    return replace(event, **changed)


def _read(event: Any, field: Correctable, text: str) -> dict[str, Any]:
    name, old = field.name, getattr(event, field.name)
    if field.choices and text not in field.choices:
        raise InputError(Fault(name, f'"{text[:40]}" is not known; choose one of the list'))
    if name == "typed":
        of = {f.name for f in fields(event)}
        kind = event.measure if "measure" in of else Kind.LENGTH
        # Another value is not the one of which somebody said that it is right.
        unsure = {"sure": False} if "sure" in of else {}
        value = "value" if "value" in of else "limit"
        return unsure | {"typed": text, value: read(text, kind, name)}
    if isinstance(old, Enum):
        return {name: type(old)(text)}
    if field.choices:
        return {name: next(value for value, word in _CAN.items() if word == text)}
    if isinstance(old, datetime):
        try:
            return {name: datetime.fromisoformat(text).replace(tzinfo=UTC)}
        except ValueError:
            say = f'"{text[:40]}" is no date; write it like 2026-05-04'
            raise InputError(Fault(name, say)) from None
    if name in _KINDS:
        return {name: read(text, _KINDS[name], name) if text else None}
    if isinstance(old, int | float):
        try:
            return {name: type(old)(text)}
        except ValueError:
            raise InputError(Fault(name, f'"{text[:40]}" is no number')) from None
    return {name: text}


def _text(event: Any, name: str, system: System) -> str | None:
    value = getattr(event, name)
    names = {f.name for f in fields(event)}
    if name in _OF_TYPED and "typed" in names:
        return None
    if isinstance(value, Enum):
        return None if name in {"of", "measure"} else str(value.value)
    if name in {"can_run", "done", "allowed", "hinged"}:
        return _CAN[value]
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d}"
    if name in _KINDS:
        return "" if value is None else show(value, _KINDS[name], system)
    if name in {"count", "plates", "bolts_missing"}:
        return f"{value:g}"
    digest = name in {"photo", "plan", "file", "assessment"}
    return value if isinstance(value, str) and not digest else None


def _choices(value: object, hint: Any) -> tuple[str, ...]:
    if isinstance(value, Enum):
        return tuple(str(each.value) for each in type(value))
    if value is None and hint == (bool | None):
        return tuple(_CAN.values())
    if isinstance(value, bool):
        return tuple(_CAN.values())[: 3 if hint == (bool | None) else 2]
    return ()
