"""Check a file: what is missing, what was assumed for it, which unknown matters most."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError
from splicewright.files.typed_file import Readable
from splicewright.quantities import Given, Kind, Sentence, Worksheet, sentence, show

if TYPE_CHECKING:
    from splicewright.tension.unknowns import Swing

_TABLES = ("conveyor", "range", "work", "inspection", "squaring", "shutdown", "place")
"""The table that tells what a file is."""


@dataclass(frozen=True, slots=True)
class Checked:
    """What a check found.

    kind : "conveyor", "work", "fastener range", "inspection", "squaring", "shutdown" or "decision"
    assumed : inputs nobody gave; matters : how far each moves the demand, largest first
    findings : what does not fit together
    """

    kind: str
    name: str
    assumed: tuple[Given, ...]
    matters: tuple[Sentence, ...]
    findings: tuple[Sentence, ...]


def check_file(path: Readable, on: Readable | None = None) -> Checked:
    """Check any file of ours, told apart by what stands in it.

    Work, inspection and squaring files are checked for themselves; whether an inspection or a
    squaring fits the joint it names is checked when it is used.

    on : conveyor file that a work file is held against: its run, the place along it, the width
    Raises InputError: the file cannot be used; every fault with key and line.
    """
    head = _kind_of(path)
    if head == "range":
        from splicewright.joint import load_range

        loaded = load_range(path)
        remark = sentence(
            f"{len(loaded.sizes) + len(loaded.steps)} sizes, {len(loaded.materials)} materials."
        )
        return Checked("fastener range", loaded.name, (), (), (remark,))
    if head == "shutdown":
        from splicewright.actions.shutdown.judge import judge_shutdown

        return Checked("shutdown", judge_shutdown(path).shutdown.name, (), (), ())
    if head == "place":
        from splicewright.history.decision.file import load_decision

        return Checked("decision", load_decision(path).name, (), (), ())
    if head == "work":
        from splicewright.files.toml import load
        from splicewright.plant import load_conveyor, load_work
        from splicewright.plant.work_file import WorkFile

        if on is not None:
            return Checked("work", load_work(path, load_conveyor(on)).name, (), (), ())
        return Checked("work", load(path, WorkFile).work.name, (), (), ())
    if head == "inspection":
        from splicewright.joint.inspection.file import load_inspection

        seen = load_inspection(path)
        remark = sentence(f"{len(seen.plates)} plates not sound.")
        return Checked("inspection", seen.name, (), (), (remark,))
    if head == "squaring":
        from splicewright.joint.belt_end.file import load_squaring

        measured = load_squaring(path)
        remark = sentence(f"{len(measured.stations)} stations, {len(measured.checks)} checks.")
        return Checked("squaring", measured.name, (), (), (remark,))
    return _check_conveyor(path)


def _check_conveyor(path: Readable) -> Checked:
    from splicewright.loop import lay_out
    from splicewright.plant import load_conveyor
    from splicewright.tension import demand
    from splicewright.tension.unknowns import swings

    conveyor = load_conveyor(path)
    sheet = Worksheet()
    lay_out(conveyor, sheet)
    asked = demand(conveyor, sheet)
    sentences = [
        sentence(
            swing.given.label + ": {low} to {high} moves the running demand from {at_low} to "
            "{at_high}",
            low=(swing.given.low, swing.given.kind),
            high=(swing.given.high, swing.given.kind),
            at_low=(swing.at_low, Kind.WIDTH_FORCE),
            at_high=(swing.at_high, Kind.WIDTH_FORCE),
        )
        for swing in swings(conveyor)
        if _moves(swing)
    ]
    assumed = (*sheet.finish().assumptions(), *_unused(conveyor, sheet))
    return Checked("conveyor", conveyor.name, assumed, tuple(sentences), asked.findings)


def _moves(swing: Swing) -> bool:
    """Whether it moves the demand by as much as anybody can read in it."""
    low, high = (show(v, Kind.WIDTH_FORCE) for v in (swing.at_low, swing.at_high))
    return low != high


def _unused(conveyor: object, sheet: Worksheet) -> list[Given]:
    """Assumptions of the file that demand does not use but the rest of the plan will."""
    from splicewright.tension.unknowns import inputs_of

    used = set(sheet.finish().keys())
    by_key: dict[str, Given] = {}
    for given in inputs_of(conveyor):
        if given.assumed and given.key not in used:
            by_key.setdefault(given.key, given)
    return list(by_key.values())


def _kind_of(path: Readable) -> str:
    """Which file it is by its first table; a file that cannot be read is taken as a conveyor,
    whose loader then says what is wrong."""
    try:
        data = tomllib.loads(path.read_bytes().decode())
    except (OSError, tomllib.TOMLDecodeError, UnicodeDecodeError):
        return "conveyor"
    for table in _TABLES:
        if table in data:
            return table
    listed = ", ".join(f"[{table}]" for table in _TABLES)
    wording = f"holds none of the tables {listed}, by which files are told apart"
    raise InputError(Fault("", wording, path.name))
