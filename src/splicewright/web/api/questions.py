"""API: the questions of the command line, asked by programs; body and schema as declared."""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from datetime import date
from typing import Annotated, Any, cast

from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, WithJsonSchema, create_model

from splicewright.actions.at_rest import AT_REST
from splicewright.actions.conveyor.question import TENSION
from splicewright.actions.decision import DECIDE
from splicewright.actions.fleet.question import FLEET
from splicewright.actions.inspection_interval.question import WHEN
from splicewright.actions.life.question import LIFE
from splicewright.actions.planner import PLANNER
from splicewright.actions.question import Inquiry, OneConveyor, Source
from splicewright.actions.shutdown.question import CHOOSE, SHUTDOWN
from splicewright.actions.squaring import SQUARE
from splicewright.actions.stock.question import STOCK
from splicewright.actions.wear.question import WEAR
from splicewright.errors import Fault, InputError
from splicewright.files.answers import FileOf
from splicewright.files.question import Asked, Question, answers, asked_by, at_door
from splicewright.files.typed_file import sent_file
from splicewright.history.life.study import LifeStudy
from splicewright.history.wear.study import WearStudy
from splicewright.quantities import Record
from splicewright.store import BusyError
from splicewright.store.authority import Scope
from splicewright.web.api.caller import Caller, needs_scope
from splicewright.web.app.long_question import refuse_long
from splicewright.web.app.problems import NeedsScopeError
from splicewright.web.app.visitor import room_of

router = APIRouter(tags=["questions"])
Planner = Annotated[Caller, Depends(needs_scope(Scope.PLAN))]
_AT_ONCE = threading.Semaphore(2)
"""Studies worked at the same time: more would only wait for each other and for the pages."""
_WAIT = 20.0
_RECORD = TypeAdapter(Record)


class Explained(BaseModel):
    """An answer with what explains its numbers."""

    worksheet: list[dict[str, Any]] = Field(
        description="How its numbers came about: formula, inputs by key, sources; inputs with "
        "their origin. Empty where none is kept yet."
    )


class AnswerOut(Explained):
    """An answer: in words, as numbers, and how they came about."""

    words: list[str] = Field(description="The answer, first line first; metric.")
    rests: list[str] = Field(description="What was assumed or left out on the way.")
    cautions: list[str] = Field(description="How far to trust it.")
    invented: bool
    answer: dict[str, Any] = Field(description="As the command gives it with --json; SI.")


class PlaceOut(BaseModel):
    """One place, and when it is worn out; uses in the measure of the table, null: no end."""

    place: str
    answer: str
    chance_first: float = Field(description="That it is the first of all places [1].")
    met: bool = Field(description="It is worn out already.")
    likely: float | None = Field(description="Use at which it is worn out [s, kg or turns].")
    earliest: float | None = Field(description="[s, kg or turns]")
    latest: float | None = Field(description="[s, kg or turns]")
    likely_day: date | None
    earliest_day: date | None
    latest_day: date | None
    no_dates: str = Field(description="Why there are none; empty when there are.")


class WornOut(Explained):
    """All places, the one that goes first at the head."""

    measure: str
    confidence: float
    invented: bool
    places: list[PlaceOut]


class OutlookOut(BaseModel):
    """A running joint."""

    joint: str
    conveyor: str
    age: float = Field(description="[s, kg or turns]")
    chance: float = Field(description="To fail within the use looked ahead over [1].")


class LivesOut(Explained):
    """How long the joints last."""

    number: int
    failures: int
    measure: str
    invented: bool
    words: list[str] = Field(description="The answer, first line first.")
    shape: float | None = Field(description="Of the Weibull law; null where it is not settled [1].")
    scale: float | None = Field(description="Age by which 63.2 % failed [s, kg or turns].")
    tenth: float | None = Field(description="Age by which one in ten failed [s, kg or turns].")
    outlooks: list[OutlookOut]


def _worn(study: WearStudy) -> WornOut:
    places = []
    for place in study.places:
        end, days = place.forecast, place.dates
        places.append(
            PlaceOut(
                place=place.series.place,
                answer=place.answer.say(),
                chance_first=place.chance_first,
                met=end.met,
                likely=_finite(end.likely),
                earliest=_finite(end.earliest),
                latest=_finite(end.latest),
                likely_day=days.likely if days else None,
                earliest_day=days.earliest if days else None,
                latest_day=days.latest if days else None,
                no_dates=place.no_dates,
            )
        )
    return WornOut(
        measure=study.measure.value,
        confidence=study.confidence,
        invented=study.invented,
        places=places,
        worksheet=worksheet_of(WEAR, study),
    )


def _lives(study: LifeStudy) -> LivesOut:
    from splicewright.sheets.reports.life import life_answer, life_words

    settled = study.settled
    outlooks = [
        OutlookOut(
            joint=o.record.life.joint,
            conveyor=o.record.conveyor,
            age=o.record.life.good,
            chance=o.chance,
        )
        for o in study.outlooks
    ]
    return LivesOut(
        number=study.number,
        failures=study.failures,
        measure=study.measure.value,
        invented=study.invented,
        words=[*life_answer(study), *life_words(study)],
        shape=settled.law.shape if settled else None,
        scale=settled.law.scale if settled else None,
        tenth=settled.tenth if settled else None,
        outlooks=outlooks,
        worksheet=worksheet_of(LIFE, study),
    )


def worksheet_of(inquiry: Inquiry[Any, Any], answer: Any) -> list[dict[str, Any]]:
    """The worksheet of an answer, as plain data."""
    record = inquiry.worksheet(answer)
    document = _RECORD.dump_python(record, mode="json") if record is not None else {"entries": []}
    entries: list[dict[str, Any]] = document["entries"]
    return entries


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _answer_out(inquiry: Inquiry[Any, Any], answer: Any) -> AnswerOut:
    document = inquiry.document(answer, "metric")
    return AnswerOut(
        words=document.body(),
        rests=list(document.rests),
        cautions=list(document.cautions),
        invented=document.invented,
        answer=inquiry.data(answer),
        worksheet=worksheet_of(inquiry, answer),
    )


def _body(model: type[Question]) -> type[BaseModel]:
    """What a program sends for a question: its fields, files as their texts."""
    fields: dict[str, Any] = {}
    for field in asked_by(model, "program"):
        schema: dict[str, Any] = {"description": _described(field)}
        own = dict(field.answer.schema)
        description = own.pop("description", "")
        schema["description"] = " ".join(
            part for part in (schema["description"], description) if part
        )
        schema |= own if field.required else {"anyOf": [own, {"type": "null"}]}
        default = ... if field.required else None
        fields[field.name] = (Annotated[Any, WithJsonSchema(schema)], default)
    name, config = model.__name__, ConfigDict(extra="forbid")
    return create_model(name, __config__=config, __doc__=model.__doc__, **fields)


def _described(field: Asked) -> str:
    accepted = f" Accepted is {field.answer.accepted}." if field.answer.accepted else ""
    default = f" {field.default_shown} without it." if field.default_shown else ""
    return f"{field.ask.says}{accepted}{default}"


def add_question(
    inquiry: Inquiry[Any, Any],
    out: type[BaseModel] = AnswerOut,
    say: Callable[[Any], BaseModel] | None = None,
    to: APIRouter = router,
) -> None:
    """Put the address of a question to a router; `say` makes `out` of its answer."""
    model = inquiry.asked

    def ask(request: Request, caller: Planner, sent: Any) -> BaseModel:
        room = room_of(request)
        given = {name: getattr(sent, name) for name in type(sent).model_fields}
        texts = {f.name: f for f in asked_by(model) if isinstance(f.answer, FileOf)}
        files = {
            n: sent_file(_text(f, given.pop(n)), f"{n}.{cast('FileOf', f.answer).ending}")
            for n, f in texts.items()
            if given.get(n) not in _NO_FILE
        }
        if not files and issubclass(model, OneConveyor) and not caller.may(Scope.READ):
            say_why = 'without a file it goes by the register, which needs the scope "read"'
            raise NeedsScopeError(say_why)
        source = Source(lambda: nullcontext(room.register), not files, room.now)
        with one_of_few(), at_door(model, "program"):
            asked = answers(model, {**given, **files}, "program")
            if not files:
                refuse_long(room, asked)
            answer = inquiry.answer(asked, source)
        return say(answer) if say is not None else _answer_out(inquiry, answer)

    ask.__annotations__["sent"] = _body(model)
    ask.__annotations__["return"] = out
    words = (model.__doc__ or "").partition("\n")[0]
    router.post(f"/{inquiry.command}", name=inquiry.command, description=words)(ask)


_NO_FILE = (None, "")


def _text(field: Asked, text: Any) -> str:
    most = FileOf.most
    if not isinstance(text, str):
        raise InputError(Fault(field.name, "is no text; accepted is the text of a file"))
    if len(text) > most:
        raise InputError(Fault(field.name, f"is too long; accepted is up to {most} characters"))
    return text


@contextmanager
def one_of_few() -> Iterator[None]:
    """Work of which few may be done at once.

    Raises
    ------
    BusyError
        Others are at it for long.
    """
    if not _AT_ONCE.acquire(timeout=_WAIT):
        msg = "other studies are being worked; try again"
        raise BusyError(msg)
    try:
        yield
    finally:
        _AT_ONCE.release()


add_question(WEAR, WornOut, _worn)
add_question(LIFE, LivesOut, _lives)
for _one in (WHEN, STOCK, SHUTDOWN, CHOOSE, DECIDE, FLEET, PLANNER, AT_REST, SQUARE, TENSION):
    add_question(_one)
