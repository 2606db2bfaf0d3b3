"""The kinds of answers a question takes: how each is read, shown and described."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import TYPE_CHECKING, Any
from uuid import UUID

from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from splicewright.errors import InputError
from splicewright.quantities import POLICY, Kind, read, show
from splicewright.quantities.limits import beyond_days
from splicewright.quantities.measure import Measure, read_use

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
    from pydantic.json_schema import JsonSchemaValue

LONGEST = 200
"""Characters of one answer that are looked at."""
MOST_MONEY = 1e12
_LONGEST_SENTENCE = 500


class Answer:
    """One kind of answer: how what was typed is read, and how that is said to people."""

    metavar = "TEXT"
    keyboard = "text"

    @property
    def accepted(self) -> str:
        """What is accepted, in words; empty where anything is."""
        return ""

    @property
    def schema(self) -> dict[str, Any]:
        """JSON Schema of what a program sends."""
        return {"type": "string", "maxLength": LONGEST}

    def check(self, raw: Any) -> Any:
        """Return the value, or refuse in one sentence (`refused`)."""
        raise TypeError

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Validate with `check`."""
        return core_schema.no_info_plain_validator_function(self.check)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Describe what is accepted."""
        return dict(self.schema)


def refused(sentence: str) -> PydanticCustomError:
    """What a check raises; half a character, which no message can carry, is written out."""
    plain = sentence.encode("utf-8", "backslashreplace").decode()
    short = plain if len(plain) <= _LONGEST_SENTENCE else f"{plain[: _LONGEST_SENTENCE - 3]}..."
    return PydanticCustomError("entry", "{sentence}", {"sentence": short})


@dataclass(frozen=True, slots=True)
class Words(Answer):
    """A text of one line."""

    most: int = 120

    @property
    def schema(self) -> dict[str, Any]:
        """A text."""
        return {"type": "string", "maxLength": self.most}

    def check(self, raw: Any) -> str:
        """The text without blanks around it."""
        if not isinstance(raw, str):
            raise refused(f"{raw!r} is no text")
        if len(raw) > self.most:
            raise refused(f"is longer than {self.most} characters")
        return raw.strip()


@dataclass(frozen=True, slots=True)
class Typed(Answer):
    """A number with its unit, kept as it was typed once it is known to be readable."""

    kind: Kind
    above_zero: bool = False

    @property
    def metavar(self) -> str:  # type: ignore[override]
        """What is asked for, in capitals."""
        return self.kind.noun.split()[-1].upper()

    @property
    def accepted(self) -> str:
        """Such as 3 mm."""
        return f"{self.kind.noun} such as {POLICY[self.kind].example}"

    def check(self, raw: Any) -> str:
        """The text."""
        text = raw.strip() if isinstance(raw, str) else raw
        try:
            value = read(text, self.kind)
        except InputError as error:
            raise refused(error.faults[0].sentence) from None
        if self.above_zero and value <= 0:
            raise refused(f'"{text}" cannot be; accepted is more than zero')
        return str(text)


@dataclass(frozen=True, slots=True)
class TypedUse(Answer):
    """Running time, mass carried or turns of the belt: its unit says which; kept as typed."""

    ahead: bool = False
    metavar = "USE"

    @property
    def accepted(self) -> str:
        """Such as 2000 h."""
        return f"use such as {', '.join(POLICY[m.kind].example for m in Measure)}"

    def check(self, raw: Any) -> str:
        """The text."""
        if not isinstance(raw, str):
            raise refused(f"{raw!r} has no unit; accepted is {self.accepted}")
        try:
            read_use(raw, "")
        except InputError as error:
            wording = error.faults[0].sentence
            if self.ahead and "cannot be" in wording:
                wording = f'"{raw}" lies behind; accepted is more than zero'
            raise refused(wording) from None
        return raw.strip()


@dataclass(frozen=True, slots=True)
class Number(Answer):
    """A plain number within limits; with `kind` SHARE also in per cent."""

    least: float
    most: float
    kind: Kind = Kind.RATIO
    above: bool = False
    metavar = "NUMBER"
    keyboard = "decimal"

    @property
    def accepted(self) -> str:
        """The limits."""
        if self.kind is Kind.SHARE:
            low, high = show(self.least, self.kind), show(self.most, self.kind)
            return f"above {low} and up to {high}" if self.above else f"{low} to {high}"
        return f"{self.least:g} to {self.most:g}"

    @property
    def schema(self) -> dict[str, Any]:
        """A number, or a text that holds one."""
        low = "exclusiveMinimum" if self.above else "minimum"
        number = {"type": "number", low: self.least, "maximum": self.most}
        return {"anyOf": [number, {"type": "string", "maxLength": LONGEST}]}

    def check(self, raw: Any) -> float:
        """The number."""
        try:
            value = read(raw, self.kind)
        except InputError as error:
            raise refused(error.faults[0].sentence) from None
        if not self.least <= value <= self.most or (self.above and value == self.least):
            shown = f'"{raw}"' if isinstance(raw, str) else f"{raw:g}"
            raise refused(f"{shown} is out of range; accepted is {self.accepted}")
        return value


@dataclass(frozen=True, slots=True)
class Whole(Answer):
    """A count within limits."""

    least: int
    most: int
    of: str = "number"
    metavar = "NUMBER"
    keyboard = "numeric"

    @property
    def accepted(self) -> str:
        """The limits."""
        return f"{self.least} to {self.most}"

    @property
    def schema(self) -> dict[str, Any]:
        """A whole number, or a text that holds one."""
        number = {"type": "integer", "minimum": self.least, "maximum": self.most}
        return {"anyOf": [number, {"type": "string", "maxLength": LONGEST}]}

    def check(self, raw: Any) -> int:
        """The count."""
        text = str(raw).strip() if not isinstance(raw, bool | float) else ""
        plain = text.isascii() and text.isdecimal() and len(text) < 10
        if not plain or not self.least <= int(text) <= self.most:
            shown = f'"{raw}"' if isinstance(raw, str) else f"{raw!r}"
            raise refused(f"{shown} is no {self.of}; accepted is {self.accepted}")
        return int(text)


@dataclass(frozen=True, slots=True)
class Money(Answer):
    """An amount, in the one currency of all costs."""

    metavar = "COST"
    keyboard = "decimal"

    @property
    def accepted(self) -> str:
        """Zero or more."""
        return "a number of zero or more, such as 40000"

    @property
    def schema(self) -> dict[str, Any]:
        """A number, or a text that holds one."""
        number = {"type": "number", "minimum": 0, "maximum": MOST_MONEY}
        return {"anyOf": [number, {"type": "string", "maxLength": LONGEST}]}

    def check(self, raw: Any) -> float:
        """The amount; blanks and apostrophes may part its digits."""
        text = raw
        if isinstance(raw, str):
            text = raw.replace(" ", "").replace("\N{NO-BREAK SPACE}", "").replace("'", "")
        try:
            value = float(text) if not isinstance(text, bool) else -1.0
        except (TypeError, ValueError, OverflowError):
            value = -1.0
        if not 0 <= value <= MOST_MONEY:  # nan is none either
            raise refused(f'"{raw}" is no amount; accepted is {self.accepted}')
        return value


@dataclass(frozen=True, slots=True)
class Day(Answer):
    """A day."""

    metavar = "DATE"
    keyboard = "date"

    @property
    def accepted(self) -> str:
        """ISO."""
        return "a day, written like 2026-05-04"

    @property
    def schema(self) -> dict[str, Any]:
        """ISO."""
        return {"type": "string", "format": "date"}

    def check(self, raw: Any) -> date:
        """The day."""
        try:
            day = raw if isinstance(raw, date) else date.fromisoformat(str(raw).strip())
            day = day.date() if isinstance(day, datetime) else day
        except ValueError:
            raise refused(f'"{raw}" is no day; write it like 2026-05-04') from None
        if why := beyond_days(day):
            raise refused(f"{day} {why}")
        return day


@dataclass(frozen=True, slots=True)
class OneOf(Answer):
    """One of several words; each with what a form says for it."""

    words: Mapping[str, str]
    otherwise: str = "any"

    @property
    def accepted(self) -> str:
        """The words."""
        return ", ".join(self.words)

    @property
    def schema(self) -> dict[str, Any]:
        """The words; empty is none of them."""
        return {"type": "string", "enum": ["", *self.words]}

    def check(self, raw: Any) -> str:
        """The word."""
        if not isinstance(raw, str) or raw not in self.words:
            raise refused(f'"{raw}" is not known; accepted are {self.accepted}')
        return str(raw)


@dataclass(frozen=True, slots=True)
class Tick(Answer):
    """Yes or no; no where nothing is said."""

    @property
    def schema(self) -> dict[str, Any]:
        """True or false."""
        return {"type": "boolean"}

    def check(self, raw: Any) -> bool:
        """True for what a ticked box sends."""
        if isinstance(raw, bool):
            return raw
        if not isinstance(raw, str) or raw not in {"yes", "on", "no"}:
            raise refused(f"{raw!r} is neither true nor false")
        return raw != "no"


@dataclass(frozen=True, slots=True)
class Several(Answer):
    """Several answers of one kind; in a form parted by commas."""

    of: Answer
    most: int = 40

    @property
    def metavar(self) -> str:  # type: ignore[override]
        """As one of them."""
        return self.of.metavar

    @property
    def schema(self) -> dict[str, Any]:
        """A list."""
        return {"type": "array", "items": self.of.schema, "maxItems": self.most}

    def check(self, raw: Any) -> tuple[Any, ...]:
        """All of them."""
        parts = [p for p in raw.split(",") if p.strip()] if isinstance(raw, str) else raw
        if not isinstance(parts, Sequence) or len(parts) > self.most:
            raise refused(f"accepted are {self.most} at most, parted by commas")
        return tuple(self.of.check(part) for part in parts)


@dataclass(frozen=True, slots=True)
class Pairs(Several):
    """Several pairs of answers; `of` and `second` of each.

    called : what stands for a pair on the command line
    """

    second: Answer = field(default_factory=Words)
    called: str = "ONE OTHER"

    @property
    def metavar(self) -> str:  # type: ignore[override]
        """Two words."""
        return self.called

    @property
    def schema(self) -> dict[str, Any]:
        """A list of lists of two."""
        pair = {
            "type": "array",
            "prefixItems": [self.of.schema, self.second.schema],
            "minItems": 2,
            "maxItems": 2,
        }
        return {"type": "array", "items": pair, "maxItems": self.most}

    def check(self, raw: Any) -> tuple[Any, ...]:
        """All of them."""
        if not isinstance(raw, list | tuple) or not all(
            isinstance(pair, list | tuple) and len(pair) == 2 for pair in raw
        ):
            raise refused("are no pairs; accepted is a list of two each")
        if len(raw) > self.most:
            raise refused(f"accepted are {self.most} pairs at most")
        return tuple((self.of.check(one), self.second.check(two)) for one, two in raw)


@dataclass(frozen=True, slots=True)
class Id(Answer):
    """The id of a thing of the register."""

    @property
    def accepted(self) -> str:
        """A UUID."""
        return "an id such as 0b7f3c1e-5f0a-4a52-9d5e-0f6a1c2b3d4e"

    @property
    def schema(self) -> dict[str, Any]:
        """A UUID."""
        return {"type": "string", "format": "uuid"}

    def check(self, raw: Any) -> UUID:
        """The id."""
        try:
            return UUID(raw)
        except (AttributeError, TypeError, ValueError):
            raise refused(f'"{raw}" is no id; accepted is {self.accepted}') from None


@dataclass(frozen=True, slots=True)
class FileOf(Answer):
    """A file: a path on the command line, its text in a program's request.

    ending : "csv" or "toml", by which its loader knows it
    """

    ending: str
    metavar = "FILE"
    most = 1_000_000

    @property
    def schema(self) -> dict[str, Any]:
        """Its text."""
        descriptions = {"csv": "Text of a CSV table.", "toml": "Text of a TOML file."}
        return {"type": "string", "maxLength": self.most, "description": descriptions[self.ending]}

    def check(self, raw: Any) -> Any:
        """As it is; its loader reads it."""
        return raw
