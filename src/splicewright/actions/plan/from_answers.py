"""Plan a joint from what a person answered in a form: typed texts, each field on its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.job import JointPlan
    from splicewright.joint import Range
    from splicewright.plant import Conveyor, Reason, Work

Answers = Mapping[str, Sequence[str]]
"""Field -> what was typed into it, several where it may be given several times."""

TABLES = {
    "work": ("name", "reason", "run", "distance"),
    "belt": ("thickness", "width", "cut_out", "insert", "load_left"),
    "joint": ("kind", "travel", "environment", "scrapers", "service_factor", "curve_depth",
              "notch_width"),
    "crew": ("people", "tools", "window", "clamp_factor"),
}  # fmt: skip
"""Tables of a work file and the fields of the form that fill them, called alike."""
FIELDS = tuple(field for fields in TABLES.values() for field in fields)
_TABLE_OF = {field: table for table, fields in TABLES.items() for field in fields}
_LISTS = {"thickness", "environment"}
_MEASURED = {"thickness", "width"}


@dataclass(frozen=True, slots=True)
class Draft:
    """What the answers give so far.

    plan : with the answers that can be used; None when none can be made of them
    faults : one sentence each, by field ("thickness.2" is the second of several)
    """

    plan: JointPlan | None
    faults: tuple[Fault, ...]


def asked_for(reason: Reason) -> frozenset[str]:
    """The fields of belt out and belt in that a reason asks for; others are not looked at."""
    from splicewright.plant import Reason

    return {
        Reason.NEW_BELT: frozenset[str](),
        Reason.WORN_JOINT: frozenset({"cut_out", "insert"}),
        Reason.TORN_BELT: frozenset({"cut_out", "insert"}),
        Reason.SHORTEN: frozenset({"cut_out"}),
        Reason.LENGTHEN: frozenset({"cut_out", "insert"}),
    }[reason]


def plan_from_answers(
    conveyor: Conveyor, answers: Answers, ranges: tuple[Range, ...] = ()
) -> JointPlan:
    """Plan the joint that the answers describe.

    Parameters
    ----------
    conveyor : where it is made
    answers : typed texts by field; blank is not answered, and a named assumption stands in
    ranges : fastener data to choose from

    Raises
    ------
    InputError
        Answers that cannot be used: every fault, its key the field.
    """
    from splicewright.job import plan

    typed = Typed.of(answers, conveyor)
    work = typed.work(conveyor)
    if typed.faults or work is None:
        raise InputError(*typed.faults)
    return plan(conveyor, work, ranges)


def draft_from_answers(
    conveyor: Conveyor, answers: Answers, ranges: tuple[Range, ...] = ()
) -> Draft:
    """Plan with those answers that can be used, and say what is wrong with the others.

    Parameters
    ----------
    conveyor, answers, ranges : as in `plan_from_answers`
    """
    from splicewright.job import plan

    typed = Typed.of(answers, conveyor)
    for _ in range(4):  # faults of the fields, of the work on this conveyor, of both together
        work = typed.work(conveyor)
        if work is not None:
            return Draft(plan(conveyor, work, ranges), tuple(typed.faults))
        typed.leave_out_faulty()
    return Draft(None, tuple(typed.faults))


@dataclass
class Typed:
    """The answers as the tables of a work file, blank ones left out, and what is wrong so far.

    places : of each entry of a list, in which box it was typed, from 1
    """

    data: dict[str, dict[str, Any]]
    places: dict[str, list[int]]
    faults: list[Fault]

    @classmethod
    def of(cls, answers: Answers, conveyor: Conveyor) -> Typed:
        """Sort the answers into tables."""
        from splicewright.plant import Reason

        given = {field: [t.strip() for t in answers.get(field, ())] for field in FIELDS}
        reason = (given["reason"] or [""])[0]
        if reason in list(Reason):
            for field in {"cut_out", "insert"} - asked_for(Reason(reason)):
                given[field] = []
        if not any(given["name"]):
            given["name"] = [f"joint on {conveyor.name}"[:100]]
        made = cls({table: {} for table in TABLES}, {}, [])
        for field, texts in given.items():
            boxes = [(n, text) for n, text in enumerate(texts, 1) if text]
            if boxes:
                made._take(field, boxes)
        return made

    def _take(self, field: str, boxes: list[tuple[int, str]]) -> None:
        first = boxes[0][1]
        values: list[Any] = [text for _, text in boxes]
        if field == "scrapers" and first in {"yes", "no"}:
            values = [first == "yes"]
        if field == "people":
            if not (first.isascii() and first.isdigit() and 1 <= int(first[:4]) <= 40):
                say = f'"{first[:20]}" is no whole number of people; accepted is 1 to 40'
                self.faults.append(Fault(field, say))
                return
            values = [int(first)]
        if field in _MEASURED:
            values = [{"value": text, "measured": True} for text in values]
        self.places[field] = [n for n, _ in boxes]
        self.data[_TABLE_OF[field]][field] = values if field in _LISTS else values[0]

    def work(self, conveyor: Conveyor) -> Work | None:
        """The work; None when something is wrong, which is then among the faults."""
        from splicewright.files.toml import check
        from splicewright.plant.filling.work import fill_work
        from splicewright.plant.work_file import WorkFile

        try:
            return fill_work(check(self.data, WorkFile, ""), conveyor)
        except InputError as error:
            known = {fault.key for fault in self.faults}
            found = [self._at_field(fault) for fault in error.faults]
            self.faults += [fault for fault in found if fault.key not in known]
            return None

    def _at_field(self, fault: Fault) -> Fault:
        """The fault at the field of the form where it can be mended."""
        from splicewright.plant import Reason

        field, _, place = fault.key.partition(".")[2].partition(".")
        if field == "reason":
            mended_at = {Reason.SHORTEN.value: "cut_out", Reason.LENGTHEN.value: "insert"}
            field = mended_at.get(str(self.data["work"].get("reason")), field)
        elif field in _LISTS and place.partition(".")[0].isdigit():
            box = int(place.partition(".")[0])
            field = f"{field}.{self.places[field][box - 1]}"
        return replace(fault, key=field or fault.key, file="", line=None)

    def leave_out_faulty(self) -> None:
        """Take out of the tables what the faults are about."""
        for fault in self.faults:
            field, _, place = fault.key.partition(".")
            table = self.data.get(_TABLE_OF.get(field, ""), {})
            if place and int(place) in self.places.get(field, ()):
                at = self.places[field].index(int(place))
                table[field] = [*table[field][:at], *table[field][at + 1 :]]
                self.places[field] = [n for n in self.places[field] if n != int(place)]
            elif not place:
                table.pop(field, None)
