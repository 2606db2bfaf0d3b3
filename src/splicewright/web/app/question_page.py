"""A question on a page of its own: read, answered while nothing changes, shown with its form."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from fastapi import Request

from splicewright.actions.question import Inquiry
from splicewright.errors import Fault, InputError
from splicewright.files.question import Question
from splicewright.sheets.pages.document import Document
from splicewright.web.app.answer_cache import LastAnswers, Touches, always
from splicewright.web.app.long_question import LongQuestion, long_question, refuse_long
from splicewright.web.app.question_form import (
    Form,
    by_labels,
    form_of,
    read_form,
    source_of,
    typed_of,
)
from splicewright.web.app.room import Room
from splicewright.web.app.visitor import Visitor, room_of

Q = TypeVar("Q", bound=Question)
A = TypeVar("A")


@dataclass(frozen=True, slots=True)
class Shown(Generic[A]):
    """What a page shows of a question: answer, task for the background, or faults; its form."""

    form: Form
    study: A | None
    document: Document | None
    long: LongQuestion | None
    faults: tuple[Fault, ...]

    @property
    def context(self) -> dict[str, Any]:
        """What every such page's template wants."""
        return {
            "status": 422 if self.faults else 200,
            "form": self.form,
            "forms": self.form.ids,
            "query": f"?{self.form.query}" if self.form.query else "",
            "study": self.study,
            "document": self.document,
            "long": self.long,
            "faults": self.faults,
        }


class QuestionPage(Generic[Q, A]):
    """The same for every question that a page asks of the register.

    `touches` says of an answer which facts may change it.
    """

    def __init__(
        self,
        inquiry: Inquiry[Q, A],
        kept: int = 8,
        touches: Callable[[Room, Q, A], Touches] = lambda *_: always,
    ) -> None:
        self._inquiry, self._touches = inquiry, touches
        self._kept: LastAnswers[A] = LastAnswers(kept)

    def show(self, request: Request, who: Visitor, **more: Any) -> Shown[A]:
        """The answer to what the address asks; `more`: fields that the page itself knows."""
        model, room = self._inquiry.asked, room_of(request)
        faults: tuple[Fault, ...] = ()
        study = long = None
        typed = typed_of(model, request.query_params)
        try:
            asked = read_form(model, typed, **more)
            sent = typed | {k: "yes" if v is True else v or "" for k, v in more.items()}
            long = long_question(room, who, self._inquiry.command, asked, sent)
            if long is None:
                refuse_long(room, asked)  # where nothing works in the background
                study = self._worked(room, asked)
        except InputError as error:
            faults = error.faults
        document = self._inquiry.document(study, who.units) if study is not None else None
        return Shown(form_of(model, typed, who.units, faults), study, document, long, faults)

    def answer(self, request: Request, typed: Mapping[str, str] | None = None) -> A:
        """The answer to what the address asks, or to what was `typed`.

        Raises
        ------
        InputError
            What was asked cannot be, or takes minutes.
        """
        model, room = self._inquiry.asked, room_of(request)
        asked = read_form(model, typed_of(model, request.query_params) if typed is None else typed)
        refuse_long(room, asked)
        return self._worked(room, asked)

    def _worked(self, room: Room, asked: Q) -> A:
        with by_labels(self._inquiry.asked):
            return self._kept.answer(
                room.register,
                room.now().date(),
                asked,
                lambda: self._inquiry.answer(asked, source_of(room)),
                lambda answer: self._touches(room, asked, answer),
            )
