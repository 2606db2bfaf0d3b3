"""A question of the whole of a large register, which a page hands on to the background."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from uuid import UUID, uuid4

from splicewright.background.questions import takes_long
from splicewright.errors import Fault, InputError
from splicewright.files.question import Question
from splicewright.web.app.room import Room
from splicewright.web.app.visitor import Role, Visitor

LONG = (
    "the register is large and this question reads all of it, which takes minutes: ask it of one "
    "conveyor, or as a background task"
)


@dataclass(frozen=True, slots=True)
class LongQuestion:
    """What `long-question.html` sends: which question, what was answered; may : whether they may
    ask for it; id : makes asking twice asking once."""

    command: str
    sent: Mapping[str, str]
    may: bool
    id: UUID


def long_question(
    room: Room, who: Visitor, command: str, asked: Question, sent: Mapping[str, str]
) -> LongQuestion | None:
    """The question for the background; None where its page answers it at once.

    Parameters
    ----------
    asked, sent : the question as it was read, and as it was typed
    """
    if room.background is None or not takes_long(room.register, asked):
        return None
    given = {name: value for name, value in sent.items() if value}
    return LongQuestion(command, given, who.may(Role.CREW), uuid4())


def refuse_long(room: Room, asked: Question) -> None:
    """Refuse to work at once what takes minutes.

    Raises
    ------
    InputError
        It reads the whole of a large register.
    """
    if takes_long(room.register, asked):
        raise InputError(Fault("", LONG))
