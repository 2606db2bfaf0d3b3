"""Decide on a torn or worn place: from its file, or what was typed, to the ways in order."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated

from splicewright.actions.question import Inquiry, Source, plain
from splicewright.files.answers import FileOf
from splicewright.files.question import Ask, Question
from splicewright.files.typed_file import Readable

if TYPE_CHECKING:
    from splicewright.history.decision.study import DecisionStudy
    from splicewright.quantities import Record, System
    from splicewright.sheets.pages.document import Document


class DecideAsked(Question):
    """Set the ways in OPTIONS (TOML) to put a place right beside each other, best first."""

    options: Annotated[
        Readable,
        FileOf("toml"),
        Ask("Decision file (TOML)", option="OPTIONS", doors=("command", "program")),
    ]


def decide_place(options: Readable) -> DecisionStudy:
    """Judge the ways in a file.

    Raises InputError: anything wrong in the file.
    """
    from splicewright.history.decision.file import load_decision
    from splicewright.history.decision.study import study_decision

    return study_decision(load_decision(options))


def decide_typed(typed: Mapping[str, object]) -> DecisionStudy:
    """Judge the ways in the same tables, as they were typed into a form.

    Raises InputError: anything wrong; keys are those of a decision file.
    """
    from splicewright.files.toml import check
    from splicewright.history.decision.file import DecisionFile, decision_of
    from splicewright.history.decision.study import study_decision

    return study_decision(decision_of(check(dict(typed), DecisionFile, "")))


def _answer(asked: DecideAsked, source: Source) -> DecisionStudy:
    return decide_place(asked.options)


def _document(study: DecisionStudy, units: System) -> Document:
    from splicewright.sheets.reports.decision import decision_report

    return decision_report(study, units)


def _record(study: DecisionStudy) -> Record:
    from splicewright.history.decision.worksheet import record_of_decision

    return record_of_decision(study)


DECIDE: Inquiry[DecideAsked, DecisionStudy] = Inquiry(
    "decide",
    DecideAsked,
    _answer,
    _document,
    lambda s: {"decide": plain(s)},
    "decision",
    "decide",
    record=_record,
)
