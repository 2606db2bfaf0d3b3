"""Plan a joint from what a person answered in a form: typed texts, each field on its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.job import JointPlan
    from splicewright.job.steps.timing import PastShares
    from splicewright.joint import Range
    from splicewright.plant import Conveyor, JobKind, Work

Answers = Mapping[str, Sequence[str]]
"""Field -> what was typed into it, several where it may be given several times."""

TABLES = {
    "work": ("name", "run", "distance"),
    "belt": ("thickness", "width", "cut_out", "insert", "load_left"),
    "joint": (
        "kind",
        "travel",
        "environment",
        "scrapers",
        "service_factor",
        "curve_depth",
        "notch_width",
    ),
    "crew": ("people", "tools", "window", "clamp_factor"),
}
"""Tables of a work file and the fields of the form that fill them, called alike."""
PLACE = {field: (table, field) for table, fields in TABLES.items() for field in fields} | {
    "job": ("work", "kind"),
    "round_way": ("work", "round_way"),
    "damage": ("damage", "what"),
    "damage_length": ("damage", "length"),
    "damage_width": ("damage", "width"),
    "press_length": ("press", "length"),
    "press_width": ("press", "width"),
    "press_bias": ("press", "bias"),
    "press_temperature": ("press", "temperature"),
    "air": ("air", "temperature"),
    "humidity": ("air", "humidity"),
}
"""Each field and where it stands in a work file."""
_FIELD = {place: field for field, place in PLACE.items()}
ROUND = ("round_name", "round_behind")
"""Fields of the joints of a round, given as many times as there are joints."""
FIELDS = (*PLACE, *ROUND)
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


def asked_for(kind: JobKind) -> frozenset[str]:
    """The questions that a kind of job asks of its own; answers to others are not looked at."""
    from splicewright.plant import JobKind

    hurt = {"damage", "damage_length", "damage_width"}
    return frozenset[str](
        {
            JobKind.ANEW: {"cut_out"},
            JobKind.PIECE: {"cut_out", "insert"},
            JobKind.SHORTENED: {"cut_out"},
            JobKind.LENGTHENED: {"cut_out", "insert"},
            JobKind.EMERGENCY: hurt - {"damage_length"},
            JobKind.ALONG: hurt,
            JobKind.INSPECTION: {*ROUND, "round_way"},
        }.get(kind, set())
    )


def damages_of(kind: JobKind) -> tuple[str, ...]:
    """What may be damaged in a kind of job, in the words of a work file."""
    from splicewright.plant.filling.work import DAMAGES

    return tuple(damage.value for damage in DAMAGES.get(kind, ()))


def plan_from_answers(
    conveyor: Conveyor,
    answers: Answers,
    ranges: tuple[Range, ...] = (),
    past: PastShares = MappingProxyType({}),
) -> JointPlan:
    """Plan the joint that the answers describe.

    answers : typed texts by field; blank is not answered, and a named assumption stands in
    past : what past jobs say of the steps' times
    Raises InputError: answers that cannot be used: every fault, its key the field.
    """
    from splicewright.job import plan

    typed = Typed.of(answers, conveyor)
    work = typed.work(conveyor)
    if typed.faults or work is None:
        raise InputError(*typed.faults)
    return plan(conveyor, work, ranges, past)


def draft_from_answers(
    conveyor: Conveyor,
    answers: Answers,
    ranges: tuple[Range, ...] = (),
    past: PastShares = MappingProxyType({}),
) -> Draft:
    """Plan with those answers that can be used, and say what is wrong with the others."""
    from splicewright.job import plan

    typed = Typed.of(answers, conveyor)
    for _ in range(4):  # faults of the fields, of the work on this conveyor, of both together
        work = typed.work(conveyor)
        if work is not None:
            return Draft(plan(conveyor, work, ranges, past), tuple(typed.faults))
        typed.leave_out_faulty()
    return Draft(None, tuple(typed.faults))


@dataclass
class Typed:
    """The answers as the tables of a work file, blank ones left out, and what is wrong so far.

    places : of each entry of a list, in which box it was typed, from 1
    """

    data: dict[str, Any]
    places: dict[str, list[int]]
    faults: list[Fault]

    @classmethod
    def of(cls, answers: Answers, conveyor: Conveyor) -> Typed:
        """Sort the answers into tables."""
        from splicewright.plant import JobKind

        given = {field: [t.strip() for t in answers.get(field, ())] for field in FIELDS}
        job = (given["job"] or [""])[0]
        if job in list(JobKind):
            kind = JobKind(job)
            own = frozenset[str]().union(*(asked_for(k) for k in JobKind))
            for field in own - asked_for(kind):
                given[field] = []
            # A damage ticked for another kind of job is none of this one.
            given["damage"] = [d for d in given["damage"] if d in damages_of(kind)]
            if given["damage"] == ["pin"]:
                given["damage_width"] = []
        if not any(given["name"]):
            given["name"] = [f"joint on {conveyor.name}"[:100]]
        typed = cls({table: {} for table, _ in PLACE.values()}, {}, [])
        typed._take_round(given.pop(ROUND[0]), given.pop(ROUND[1]))
        for field, texts in given.items():
            boxes = [(n, text) for n, text in enumerate(texts, 1) if text]
            if boxes:
                typed._take(field, boxes)
        return typed

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
        table, key = PLACE[field]
        self.data[table][key] = values if field in _LISTS else values[0]

    def _take_round(self, names: list[str], behind: list[str]) -> None:
        """Joints of a round, a name and a length in each row; a row left blank is none."""
        rows = [
            (n, name, far)
            for n, (name, far) in enumerate(zip_longest(names, behind, fillvalue=""), 1)
            if name or far
        ]
        if rows:
            self.places["round"] = [n for n, *_ in rows]
            self.data["round"] = [
                {key: text for key, text in (("name", name), ("behind", far)) if text}
                for _, name, far in rows
            ]

    def work(self, conveyor: Conveyor) -> Work | None:
        """The work; None when something is wrong, which is then among the faults."""
        from splicewright.files.toml import check
        from splicewright.plant.filling.work import fill_work
        from splicewright.plant.work_file import WorkFile

        try:
            whole = {table: rows for table, rows in self.data.items() if rows or table != "damage"}
            return fill_work(check(whole, WorkFile, ""), conveyor)
        except InputError as error:
            known = {fault.key for fault in self.faults}
            faults = [self._at_field(fault) for fault in error.faults]
            # A round left out for its faults is not missing besides.
            if any(key.startswith("round_") for key in known):
                known.add("round_name.1")
            self.faults += [fault for fault in faults if fault.key not in known]
            return None

    def _at_field(self, fault: Fault) -> Fault:
        """The fault at the field of the form where it can be mended."""
        table, _, rest = fault.key.partition(".")
        key, _, place = rest.partition(".")
        if table == "round":
            box = self.places["round"][int(key) - 1] if key.isdigit() else 1
            return replace(fault, key=f"round_{place or 'name'}.{box}", file="", line=None)
        field = _FIELD.get((table, key), key)
        if (table, key) == ("work", "reason"):
            # The reason follows from the kind of job: what contradicts it is a length.
            mended_at = {"shorten": "cut_out", "lengthen": "insert"}
            field = next((at for word, at in mended_at.items() if word in fault.sentence), "job")
        elif field in _LISTS and place.partition(".")[0].isdigit():
            box = int(place.partition(".")[0])
            field = f"{field}.{self.places[field][box - 1]}"
        return replace(fault, key=field or table, file="", line=None)

    def leave_out_faulty(self) -> None:
        """Take out of the tables what the faults are about."""
        for fault in self.faults:
            field, _, place = fault.key.partition(".")
            if field in ROUND or field == "round":
                self.data.pop("round", None)
                continue
            table, key = PLACE.get(field, ("", field))
            rows = self.data.get(table, {})
            if place and int(place) in self.places.get(field, ()):
                at = self.places[field].index(int(place))
                rows[key] = [*rows[key][:at], *rows[key][at + 1 :]]
                self.places[field] = [n for n in self.places[field] if n != int(place)]
            elif not place:
                rows.pop(key, None)
