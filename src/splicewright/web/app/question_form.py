"""A question as a form: its fields as declared, with what was typed and what is wrong with it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, TypeVar
from urllib.parse import urlencode

from splicewright.actions.question import Source
from splicewright.errors import Fault
from splicewright.files.answers import LONGEST, Answer, Number, OneOf, Several, Tick, Whole, Words
from splicewright.files.question import Asked, Question, answers, asked_by, at_door

if TYPE_CHECKING:
    from pydantic import BaseModel

    from splicewright.quantities import System
    from splicewright.web.app.room import Room

_Q = TypeVar("_Q", bound=Question)


@dataclass(frozen=True, slots=True)
class FieldShown:
    """One field as a form shows it.

    name : sent with it; id : in the page; kind : text, date, tick or choice; words : of a choice,
    value and what is said for it; wrong : sentences; most : characters of it
    """

    name: str
    id: str
    label: str
    kind: str
    value: str
    example: str
    hint: str
    keyboard: str
    words: tuple[tuple[str, str], ...]
    wrong: tuple[str, ...]
    most: int


@dataclass(frozen=True, slots=True)
class Form:
    """The fields of a question by name; query : what was typed, for an address."""

    fields: Mapping[str, FieldShown]
    query: str

    @property
    def ids(self) -> dict[str, str]:
        """Where the field of a label is on the page."""
        return {f.label: f.id for f in self.fields.values()}

    def __getitem__(self, name: str) -> FieldShown:
        """One field."""
        return self.fields[name]


def typed_of(model: type[BaseModel], sent: Mapping[str, Any]) -> dict[str, str]:
    """What a page sent for the fields of a question, by their names of today; long texts cut."""
    typed = {}
    for field in asked_by(model, "page"):
        for name in (field.name, *field.ask.formerly):
            if name in sent:
                typed[field.name] = str(sent[name])[: _longest(field.answer)]
                break
    return typed


def _longest(answer: Answer) -> int:
    return max(answer.most, LONGEST) if isinstance(answer, Words) else LONGEST


def form_of(
    model: type[BaseModel],
    typed: Mapping[str, str],
    units: System,
    faults: tuple[Fault, ...] = (),
    prefix: str = "",
    id: str = "f",
    lead: str = "",
) -> Form:
    """The form of a question.

    Parameters
    ----------
    typed : by the names of its fields, `prefix` before them
    faults : by the labels of the page; those of a field stand at it, too
    prefix : before the names of fields, where a page asks one question several times
    id : before the ids of the fields
    lead : before their labels in faults
    """
    shown = {
        field.name: _shown(
            field, typed.get(prefix + field.name, ""), units, faults, prefix, id, lead
        )
        for field in asked_by(model, "page")
    }
    return Form(shown, urlencode({k: v for k, v in typed.items() if v}))


def _shown(
    field: Asked,
    value: str,
    units: System,
    faults: tuple[Fault, ...],
    prefix: str,
    id: str,
    lead: str,
) -> FieldShown:
    ask, answer = field.ask, field.answer
    kind = "tick" if isinstance(answer, Tick) else "choice" if isinstance(answer, OneOf) else "text"
    words = (("", answer.otherwise), *answer.words.items()) if isinstance(answer, OneOf) else ()
    if not value and isinstance(answer, Number | Whole) and field.default not in (None, 0, 1):
        value = field.default_shown
    example = ask.inch if units == "inch" and ask.inch else ask.example
    keyboard = "text" if isinstance(answer, Several) else answer.keyboard
    wrong = tuple(f.sentence for f in faults if f.key == lead + ask.label)
    name = prefix + field.name
    return FieldShown(
        name,
        f"{id}-{name.replace('.', '-')}",
        ask.label,
        kind,
        value,
        example,
        ask.hint,
        keyboard,
        words,
        wrong,
        answer.most if isinstance(answer, Words) else 80,
    )


def labels_of(model: type[BaseModel], path: str, lead: str = "") -> dict[str, str]:
    """Labels of the fields of a table of a file, by their keys there."""
    return {f"{path}.{f.name}": lead + f.ask.label for f in asked_by(model)}


def read_form(model: type[_Q], typed: Mapping[str, str], **more: Any) -> _Q:
    """What was answered on a page, with what the page itself knows.

    Raises
    ------
    InputError
        Answers that cannot be used; every fault, by the label on the page.
    """
    return answers(model, {**typed, **more}, "page")


@contextmanager
def by_labels(model: type[BaseModel]) -> Iterator[None]:
    """Faults of the answer name fields as the page does."""
    with at_door(model, "page"):
        yield


def source_of(room: Room) -> Source:
    """The register of the app, as that which was named."""
    clock: Callable[[], datetime] = room.now
    return Source(lambda: nullcontext(room.register), True, clock)
