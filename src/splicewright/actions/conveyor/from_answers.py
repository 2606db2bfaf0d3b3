"""A conveyor from twenty answers, and a recorded one changed answer by answer.

The answers make a conveyor file, which is checked, kept and downloaded as any other: who likes
files goes on with it. What a file holds beyond the answers stays as it is.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from splicewright.errors import Fault, InputError
from splicewright.files.toml_writing import Path, toml_text, with_values
from splicewright.files.typed_file import InMemory

if TYPE_CHECKING:
    from splicewright.plant import Conveyor

Choice = tuple[tuple[str, str], ...]
"""Value in the file and what is said for it; "" leaves it open."""


@dataclass(frozen=True, slots=True)
class AskedOfConveyor:
    """One question of a conveyor.

    field : its name in the form; path : where the answer stands in the file
    label, hint, example, inch : as a person reads them
    choice : accepted answers; empty where a number or a name is typed
    needed : whether nothing can be worked out without it
    """

    field: str
    path: Path
    label: str
    hint: str = ""
    example: str = ""
    inch: str = ""
    choice: Choice = ()
    needed: bool = False


_A = AskedOfConveyor
GROUPS: tuple[tuple[str, tuple[AskedOfConveyor, ...]], ...] = (
    ("Which conveyor", (
        _A("name", ("conveyor", "name"), "Name of the conveyor", "as the site calls it",
           needed=True),
        _A("site", ("conveyor", "site"), "Site", needed=True),
    )),
    ("How it runs", (
        _A("speed", ("conveyor", "speed"), "Belt speed", "a wheel on the belt, or drum and gear",
           "2.0 m/s", "400 ft/min", needed=True),
        _A("reversing", ("conveyor", "reversing"), "Runs both ways",
           choice=(("", "no"), ("yes", "yes"))),
        _A("rate", ("material", "rate"), "Material carried when full", "left out: assumed from the "
           "belt's width", "600 t/h", "660 short ton/h"),
    )),
    ("Length and drive", (
        _A("centre_distance", ("outline", "centre_distance"), "Head to tail, along the belt", "",
           "240 m", "790 ft", needed=True),
        _A("lift", ("outline", "lift"), "Head above tail", "level: 0 m; head below tail: -5 m",
           "34 m", "110 ft", needed=True),
        _A("drive_at", ("outline", "drive_at"), "Where is the drive?",
           choice=(("head", "at the head"), ("tail", "at the tail"))),
        _A("power", ("drives", 0, "power"), "Motor power", "on its plate", "90 kW", "120 hp"),
        _A("holdback", ("drives", 0, "holdback"), "Holdback",
           choice=(("", "nobody has looked"), ("yes", "there is one"), ("no", "there is none"))),
        _A("smallest_pulley", ("outline", "smallest_pulley"), "Smallest pulley, diameter",
           "measure: it decides which fastener can be used", "400 mm", "16 in"),
    )),
    ("Belt", (
        _A("width", ("belt", "width"), "Belt width", "", "1000 mm", "36 in", needed=True),
        _A("marking", ("belt", "marking"), "Marking on the cover", "as printed", "EP 500/3 5+2"),
        _A("thickness", ("belt", "thickness"), "Thickness", "", "11 mm", "7/16 in"),
        _A("trough", ("idlers", "carry", "trough"), "Trough angle of the carry idlers", "",
           "35°"),
    )),
    ("Take-up", (
        _A("take_up", ("take_up", "kind"), "What keeps the belt tight?",
           choice=(("gravity", "a counterweight"), ("screw", "screws at the tail"),
                   ("winch", "a winch")), needed=True),
        _A("mass", ("take_up", "mass"), "Counterweight, with pulley and frame",
           "for a counterweight", "4000 kg", "8800 lb"),
        _A("force", ("take_up", "force"), "Pull on the take-up pulley", "for screws or a winch",
           "30 kN", "6700 lbf"),
        _A("travel", ("take_up", "travel"), "Travel of the take-up", "", "6 m", "20 ft"),
        _A("position", ("take_up", "position"), "Travel used now", "0 at the slack end", "2.5 m",
           "8 ft"),
    )),
)  # fmt: skip
ASKED = tuple(asked for _, group in GROUPS for asked in group)
_TICKED = {"reversing", "holdback"}
_NUMBERED = "drives"


@dataclass(frozen=True, slots=True)
class ConveyorDraft:
    """What the answers give so far.

    text : the conveyor file; conveyor : of it, None where it cannot be used
    faults : one sentence each, by field; the key in the file where it is of no field
    """

    text: str
    conveyor: Conveyor | None
    faults: tuple[Fault, ...]


def asked_of(text: str) -> tuple[AskedOfConveyor, ...]:
    """The questions that fit a file: one with its own loop is not asked for an outline."""
    loop = bool(tomllib.loads(text).get("loop")) if text else False
    return tuple(a for a in ASKED if not (loop and a.path[0] == "outline"))


def answers_in(text: str) -> dict[str, str]:
    """The answers as a file has them, by field; "" where it leaves them open."""
    data = tomllib.loads(text) if text else {}
    return {asked.field: _answer(data, asked) for asked in asked_of(text)}


def draft_conveyor(answers: Mapping[str, str], text: str = "") -> ConveyorDraft:
    """The conveyor file of the answers.

    answers : typed texts by field; blank is not answered, and a named assumption stands in
    text : the file as it is, where one is changed; its other values, and whatever is answered as
        it stands there, stay
    """
    from splicewright.files.toml import load
    from splicewright.plant.conveyor_file import ConveyorFile
    from splicewright.plant.filling.conveyor import fill

    before = answers_in(text)
    changes = {
        asked.path: _to_file(asked, answers.get(asked.field, "").strip())
        for asked in asked_of(text)
        if answers.get(asked.field, "").strip() != before[asked.field]
    }
    if text:
        document = with_values(text, changes)
    else:
        document = "# A conveyor file made of answers; docs/files.md says what else it may hold.\n"
        document += toml_text(_nested({p: v for p, v in changes.items() if v is not None}))
    faults = [
        Fault(a.field, "is missing; it must be given")
        for a in asked_of(text)
        if a.needed and not answers.get(a.field, "").strip()
    ]
    try:
        conveyor = fill(load(InMemory("", document.encode()), ConveyorFile))
    except InputError as error:
        known = {f.key for f in faults}
        field_faults = (_at_field(fault) for fault in error.faults)
        faults += [f for f in field_faults if f.key not in known and not _above(f.key, known)]
        return ConveyorDraft(document, None, tuple(faults))
    return ConveyorDraft(document, conveyor if not faults else None, tuple(faults))


def _answer(data: Mapping[str, Any], asked: AskedOfConveyor) -> str:
    at: Any = data
    for part in asked.path:
        try:
            at = at[part]
        except (KeyError, IndexError, TypeError):
            return "head" if asked.field == "drive_at" else ""
    if isinstance(at, dict):
        at = at.get("value", "")
    if asked.field in _TICKED:
        return "yes" if at else "" if asked.field == "reversing" else "no"
    return str(at)


def _to_file(asked: AskedOfConveyor, answer: str) -> Any:
    if asked.field in _TICKED:
        return None if not answer else answer == "yes"
    return answer or None


def _nested(changes: Mapping[Path, Any]) -> dict[str, Any]:
    """The answers as tables; a drive needs a name where it has anything."""
    data: dict[str, Any] = {}
    for path, value in changes.items():
        at: Any = data
        for part in path[:-1]:
            if part == _NUMBERED:
                at = at.setdefault(part, [{"name": "drive"}])
            else:
                at = at[part] if isinstance(part, int) else at.setdefault(part, {})
        at[path[-1]] = value
    return data


def _at_field(fault: Fault) -> Fault:
    """The fault at the question where it can be mended."""
    for asked in ASKED:
        key = ".".join(str(p + 1) if isinstance(p, int) else p for p in asked.path)
        if fault.key == key:
            return replace(fault, key=asked.field, file="", line=None)
    return replace(fault, file="", line=None)


def _above(key: str, fields: set[str]) -> bool:
    """Whether a fault of a whole table follows from an answer that is missing in it."""
    return any(str(a.path[0]) == key for a in ASKED if a.field in fields)
