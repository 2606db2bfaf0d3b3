"""The question of life: how long joints last, and which fails next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from splicewright.actions.question import (
    SHAPE,
    ByRegister,
    Confidence,
    Inquiry,
    Source,
    UseADay,
    plain,
)
from splicewright.files.answers import FileOf, OneOf, TypedUse, Words
from splicewright.files.question import Ask
from splicewright.files.typed_file import Readable

if TYPE_CHECKING:
    from splicewright.history.life.study import LifeStudy
    from splicewright.quantities import Record, System
    from splicewright.sheets.pages.document import Document


class LifeAsked(ByRegister):
    """Say how long the joints in LIVES (CSV) last, by kind and conveyor, and which fails next.

    Without LIVES the joints are those of the register.
    """

    lives: Annotated[
        Readable | None,
        FileOf("csv"),
        Ask("Table of lives (CSV)", option="LIVES", doors=("command", "program")),
    ] = None
    cause: Annotated[
        str,
        Words(),
        Ask("Cause", "Count only this cause as failure; others end the watch.", "pull-out"),
    ] = ""
    by: Annotated[
        str,
        OneOf({"conveyor": "conveyor", "kind": "kind"}),
        Ask(
            "Groups",
            "Groups that lean on each other. Without it: conveyors, where there are several.",
        ),
    ] = ""
    next: Annotated[
        str,
        TypedUse(ahead=True),
        Ask("Look ahead", 'Use ahead for running joints, such as "2000 h".', "2000 h"),
    ] = ""
    shape: Annotated[
        float,
        SHAPE,
        Ask(
            "Shape",
            "Shape assumed where the lives settle none, and the middle of the belief beforehand.",
            "2",
        ),
    ] = 2.0
    confidence: Confidence = 0.9
    use_a_day: UseADay = ""


def answer_life(asked: LifeAsked, source: Source) -> LifeStudy:
    """Study the lives of the joints of a table, or of the register.

    Raises InputError: no joint that has run, or anything wrong in the table or the values.
    """
    from splicewright.actions.life.study import study_lives, study_recorded_lives

    given = asked.model_dump(include={"cause", "by", "confidence", "shape", "use_a_day"})
    source.refuse_beside("lives", asked.lives)
    if asked.lives is not None:
        today = source.now(asked).date()
        return study_lives(asked.lives, further=asked.next, today=today, **given)
    with source.open() as register:
        return study_recorded_lives(
            register,
            source.now(asked),
            conveyor=asked.conveyor,
            use=asked.use,
            further=asked.next,
            **given,
        )


def _document(study: LifeStudy, units: System) -> Document:
    from splicewright.sheets.reports.life import life_report

    return life_report(study, units)


def _record(study: LifeStudy) -> Record:
    from splicewright.history.life.worksheet import record_of_life

    return record_of_life(study)


LIFE: Inquiry[LifeAsked, LifeStudy] = Inquiry(
    "life",
    LifeAsked,
    answer_life,
    _document,
    lambda s: {"life": plain(s)},
    "life",
    "life",
    record=_record,
)
