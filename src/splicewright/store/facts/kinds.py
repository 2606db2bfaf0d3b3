"""How one kind of fact is declared, and what its fields may hold."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, time
from enum import StrEnum
from typing import Annotated, Any, TypeVar
from uuid import UUID

from pydantic import AfterValidator, AwareDatetime, ConfigDict, Field, StringConstraints

from splicewright.quantities.limits import FIRST_DAY, LAST_DAY, UNBELIEVABLE

LONGEST_NAME, LONGEST_TEXT = 120, 4000


class Stream(StrEnum):
    """What a fact is about; the facts about one thing form its stream."""

    SITE = "site"
    CONVEYOR = "conveyor"
    BELT = "belt"
    JOINT = "joint"
    JOB = "job"
    PERSON = "person"


def _printable(text: str) -> str:
    if text.isprintable():  # most are, and this is asked of every text of every fact that is read
        return text
    if any(ord(c) < 32 and c not in "\n\t" for c in text):
        msg = "control characters are not accepted"
        raise ValueError(msg)
    if any(0xD800 <= ord(c) <= 0xDFFF for c in text):
        msg = "half a character (a lone surrogate) is not accepted"
        raise ValueError(msg)
    return text


_Printable = AfterValidator(_printable)
Name = Annotated[
    str, StringConstraints(min_length=1, max_length=LONGEST_NAME, pattern=r"\S"), _Printable
]
"""A short text that must say something."""
Text = Annotated[str, StringConstraints(max_length=LONGEST_TEXT), _Printable]
"""Free text; may be empty."""
Words = Annotated[
    str, StringConstraints(min_length=1, max_length=LONGEST_TEXT, pattern=r"\S"), _Printable
]
"""Free text that must say something."""
Digest = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
"""SHA-256 of a kept content, 64 hexadecimal digits."""
Number = Annotated[float, Field(allow_inf_nan=False)]
"""A finite number."""
Amount = Annotated[float, Field(allow_inf_nan=False, ge=0, le=1e9)]
"""A finite number, zero or more [SI]."""
EARLIEST, LATEST = (datetime.combine(day, time(), UTC) for day in (FIRST_DAY, LAST_DAY))


def _believable(moment: datetime) -> datetime:
    if not EARLIEST <= moment <= LATEST:
        msg = f"{moment.isoformat()} {UNBELIEVABLE}"
        raise ValueError(msg)
    return moment


Moment = Annotated[AwareDatetime, AfterValidator(_believable)]
"""A point in time with its offset from UTC."""


@dataclass(frozen=True, slots=True)
class What:
    """What a fact says; each kind of fact is a subclass made known by `fact_kind`."""

    __pydantic_config__ = ConfigDict(extra="forbid")


@dataclass(frozen=True, slots=True)
class FactKind:
    """How one kind is declared.

    name : its name in JSON
    made_by : its class
    stream, about : what it is about, and the field that holds that thing's id
    begins : whether it makes the thing known to the register
    signed : whether it is a signature, which is never corrected
    names : fields that hold ids of other things, with what they are
    """

    name: str
    made_by: type[What]
    stream: Stream | None
    about: str
    begins: bool
    signed: bool
    names: tuple[tuple[str, Stream], ...]

    def subject(self, event: What) -> UUID:
        """Id of the thing the fact is about."""
        subject: UUID = getattr(event, self.about)
        return subject

    def stream_of(self, event: What) -> Stream:
        """What that thing is."""
        return self.stream if self.stream is not None else Stream(getattr(event, "of"))  # noqa: B009


KINDS: dict[str, FactKind] = {}
"""Every kind of fact by its name."""
_BY_CLASS: dict[type[What], FactKind] = {}
_What = TypeVar("_What", bound=What)


def fact_kind(
    name: str, stream: Stream | None, about: str = "", *, begins: bool = False, signed: bool = False
) -> Callable[[type[_What]], type[_What]]:
    """Declare a kind of fact.

    Parameters
    ----------
    name : its name in JSON
    stream : what it is about; None when the field `of` says so, and the field `about` whom
    about : field with that thing's id; without it the field called as the stream
    begins : whether it makes the thing known
    signed : whether it is a signature
    """

    def _declare(made_by: type[_What]) -> type[_What]:
        field = about or (stream.value if stream is not None else "about")
        others = tuple(
            (other.value, other)
            for other in Stream
            if other.value != field and other.value in _fields(made_by)
        )
        kind = FactKind(name, made_by, stream, field, begins, signed, others)
        KINDS[name] = _BY_CLASS[made_by] = kind
        return made_by

    return _declare


def kind_of(event: What) -> FactKind:
    """The kind a fact's content was declared as."""
    return _BY_CLASS[type(event)]


def _fields(made_by: Any) -> set[str]:
    return set(made_by.__dataclass_fields__)
