"""How one field of a file is typed, checked and described in the JSON Schema."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel, ConfigDict, GetJsonSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError

from splicewright.errors import UnitError
from splicewright.files.answers import Answer
from splicewright.quantities import POLICY, Kind, read, read_range, show

if TYPE_CHECKING:
    from pydantic.json_schema import JsonSchemaValue


class Table(BaseModel):
    """A table of a file: unknown keys are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


@dataclass(frozen=True, slots=True)
class Entry:
    """What the user wrote in one field: value with its range [SI], measured or stated."""

    value: float
    low: float
    high: float
    measured: bool = False
    note: str = ""
    sd: float = 0.0


@dataclass(frozen=True, slots=True)
class Quantity(Answer):
    """Annotation of a field that holds a number with a unit and its story: an `Entry`.

    kind : what it measures
    least, most : what is physically believable [SI]
    above : the number must be greater than `least`, not just equal

    Accepted in the file: "11.5 mm", "10 to 12 mm", or a table
    { value = "11.5 mm", measured = true, note = "calliper, five places" }.
    """

    kind: Kind
    least: float
    most: float
    above: bool = False

    @property
    def accepted(self) -> str:
        """Its kind, an example, and the believable span."""
        return _describe(self)

    def check(self, raw: Any) -> Any:
        """Turn what stands in the file into an `Entry`, or refuse it in one sentence."""
        if isinstance(raw, Entry):
            return raw
        measured, note, spread = False, "", None
        if isinstance(raw, dict):
            unknown = sorted(set(raw) - {"value", "sd", "measured", "note"})
            if unknown or "value" not in raw:
                wording = f"has the unknown key {unknown[0]!r}" if unknown else "has no value"
                raise _wrong(
                    f"{wording}; accepted are value, sd, measured (true or false) and note"
                )
            spread = raw.get("sd")
            measured, note = raw.get("measured", False), raw.get("note", "")
            if not isinstance(measured, bool) or not isinstance(note, str):
                raise _wrong("accepted are measured = true or false and note = a text")
            raw = raw["value"]
        try:
            value, low, high = read_range(raw, self.kind)
        except UnitError as error:
            raise _wrong(error.faults[0].sentence) from None
        sd = self._deviation(spread, value)
        if sd:
            # Three deviations hold all but a few in a thousand; beyond them the field's own ends.
            low, high = max(value - 3 * sd, self.least), min(value + 3 * sd, self.most)
        _within(raw, low, high, self)
        return Entry(value, low, high, measured, note, sd)

    def _deviation(self, spread: Any, value: float) -> float:
        """A stated standard deviation in SI; 0 when none is stated."""
        if spread is None:
            return 0.0
        try:
            sd = read(spread, self.kind)
        except UnitError as error:
            raise _wrong(f"sd: {error.faults[0].sentence}") from None
        if self.kind is Kind.TEMPERATURE or sd <= 0:
            raise _wrong(f"sd {spread!r} cannot be used; accepted is a spread of more than 0")
        return sd

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Describe the accepted texts."""
        table = {
            "type": "object",
            "properties": {
                "value": {"type": ["string", "number"]},
                "sd": {"type": ["string", "number"]},
                "measured": {"type": "boolean"},
                "note": {"type": "string"},
            },
            "required": ["value"],
            "additionalProperties": False,
        }
        return {"description": _describe(self), "anyOf": [{"type": ["string", "number"]}, table]}


@dataclass(frozen=True, slots=True)
class Plain(Quantity):
    """Annotation of a data field that holds a number with a unit and no story: a float [SI]."""

    def check(self, raw: Any) -> Any:
        """Turn what stands in the file into SI, or refuse it in one sentence."""
        try:
            value = read(raw, self.kind)
        except UnitError as error:
            raise _wrong(error.faults[0].sentence) from None
        _within(raw, value, value, self)
        return value

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Describe the accepted texts."""
        return {"description": _describe(self), "type": ["string", "number"]}


def _within(raw: Any, low: float, high: float, field: Quantity) -> None:
    least, most = show(field.least, field.kind), show(field.most, field.kind)
    if low < field.least or (field.above and low <= field.least):
        bound = f"more than {least}" if field.above else f"{least} or more"
        raise _wrong(f"{raw!r} is too small; accepted is {bound}")
    if high > field.most:
        raise _wrong(f"{raw!r} is too large; accepted is up to {most}")


def _describe(field: Quantity) -> str:
    span = f"{show(field.least, field.kind)} to {show(field.most, field.kind)}"
    return f"{field.kind.noun} such as {POLICY[field.kind].example}; believable: {span}"


def _wrong(sentence: str) -> PydanticCustomError:
    return PydanticCustomError("entry", "{sentence}", {"sentence": sentence})
