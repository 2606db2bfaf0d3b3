"""A question declared once: a frozen model whose fields say what is asked, in what, within what.

Command line, page and API are made from the declaration: options, form fields and body, their help,
what is accepted, and the faults, which name a field by the label that stands at that door.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal, TypeVar

from pydantic import BaseModel, ConfigDict
from pydantic import ValidationError as ModelError
from pydantic_core import PydanticUndefined

from splicewright.errors import Fault, InputError
from splicewright.files.answers import Answer, Number, Words
from splicewright.files.toml import sentence_of
from splicewright.quantities import Kind, show

if TYPE_CHECKING:
    from pydantic.fields import FieldInfo

Door = Literal["command", "page", "program"]
_FIELD = re.compile(r"\{(\w+)\}")


class Question(BaseModel):
    """What is asked, once for every door; its docstring is the help and the description."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    def faults(self) -> list[Fault]:
        """What does not go together: keys are fields; `{field}` in a sentence becomes its label.

        Asked of what is known, too, where something is wrong: a required field is then None.
        """
        return []


@dataclass(frozen=True, slots=True)
class Ask:
    """How a field is asked for.

    label : as it stands in a form, and in faults there
    help : one sentence, on the command line and in the API; the label where it is empty
    hint : what a form says below the field
    example, inch : what one would type; `inch` where it differs for those who read inches
    option : its option on the command line where that is not the field's name; in capitals it is
        an argument
    doors : where it is asked
    formerly : names by which pages once sent it
    """

    label: str
    help: str = ""
    example: str = ""
    inch: str = ""
    option: str = ""
    doors: tuple[Door, ...] = ("command", "page", "program")
    formerly: tuple[str, ...] = ()
    hint: str = ""

    @property
    def says(self) -> str:
        """The help; the label where nothing else is said."""
        return self.help or f"{self.label}."


@dataclass(frozen=True, slots=True)
class Asked:
    """A field as it is declared: name, how it is asked for, kind of answer, and what counts else.

    default : what counts where nothing is typed; `required` where nothing does
    """

    name: str
    ask: Ask
    answer: Answer
    default: Any
    required: bool

    @property
    def default_shown(self) -> str:
        """What counts where nothing is typed, as a person types it; empty for nothing."""
        if self.default in (None, "", (), False) and not isinstance(self.default, float):
            return ""
        if isinstance(self.answer, Number) and self.answer.kind is Kind.SHARE:
            return show(self.default, Kind.SHARE)
        return f"{self.default:g}" if isinstance(self.default, float) else str(self.default)

    def label(self, door: Door) -> str:
        """What stands at the field at a door."""
        if door == "page":
            return self.ask.label
        if door == "program":
            return self.name
        option = self.ask.option or self.name.replace("_", "-")
        return option if option.isupper() else f"--{option}"


def asked_by(model: type[BaseModel], door: Door | None = None) -> tuple[Asked, ...]:
    """The fields of a question that are asked at a door, in their order; without one all."""
    fields = []
    for name, info in model.model_fields.items():
        ask = _only(info, Ask)
        answer = _only(info, Answer)
        if ask is not None and (door is None or door in ask.doors):
            default = None if info.default is PydanticUndefined else info.default
            fields.append(Asked(name, ask, answer or Words(), default, info.is_required()))
    return tuple(fields)


_Sort = TypeVar("_Sort")


def _only(info: FieldInfo, sort: type[_Sort]) -> _Sort | None:
    return next((one for one in info.metadata if isinstance(one, sort)), None)


_Question = TypeVar("_Question", bound=Question)


def answers(model: type[_Question], given: Mapping[str, Any], door: Door) -> _Question:
    """What was answered at a door; blanks count as not answered.

    Raises InputError: answers that cannot be used; every fault, by the label at that door.
    """
    answered = {name: value for name, value in given.items() if not _blank(value)}
    with at_door(model, door):
        try:
            asked = model.model_validate(answered)
        except ModelError as error:
            wrong = {str(d["loc"][0]) for d in error.errors() if d["loc"]}
            # What the others lack is said at once, too.
            known = {f.name: None for f in asked_by(model) if f.required}
            known |= {n: v for n, v in answered.items() if n not in wrong}
            rest = model.model_construct(**known)
            lacks = [f for f in rest.faults() if f.key not in wrong] if wrong else []
            raise InputError(
                *(
                    Fault(str(d["loc"][0]) if d["loc"] else "", _needed(model, d), "")
                    for d in error.errors(include_url=False)
                ),
                *lacks,
            ) from None
        faults = asked.faults()
        if faults:
            raise InputError(*faults)
        return asked


def _needed(model: type[BaseModel], detail: Any) -> str:
    if detail["type"] == "missing":
        field = next((f for f in asked_by(model) if f.name == detail["loc"][0]), None)
        accepted = field.answer.accepted if field is not None else ""
        return "is not given" + (f"; accepted is {accepted}" if accepted else "")
    if detail["type"] == "extra_forbidden":
        return f"is not asked here; asked are {', '.join(f.name for f in asked_by(model))}"
    return sentence_of(detail)


def _blank(value: Any) -> bool:
    return value is None or value in ("", ()) or (isinstance(value, str) and not value.strip())


@contextmanager
def at_door(model: type[BaseModel], door: Door) -> Iterator[None]:
    """Let faults that name a field of the question name it by its label at this door.

    So does `{field}` in a sentence.
    """
    try:
        yield
    except InputError as error:
        labels = {field.name: field.label(door) for field in asked_by(model)}

        def relabelled(fault: Fault) -> Fault:
            if fault.file or fault.line is not None:
                return fault
            key = labels.get(fault.key.replace(" ", "_"), fault.key)
            wording = _FIELD.sub(lambda match: labels.get(match[1], match[0]), fault.sentence)
            return replace(fault, key=key, sentence=wording)

        raise InputError(*map(relabelled, error.faults)) from None
