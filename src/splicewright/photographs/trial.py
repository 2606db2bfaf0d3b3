"""The field trial: real photographs against a steel rule, and what its result allows to be said.

The measurement was made on simulated photographs. Until a trial with this version is on file that
passes, every answer says that it is to be confirmed with the tape.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from splicewright.errors import Fault, InputError
from splicewright.files.table import read_table
from splicewright.photographs.measuring import Bars
from splicewright.quantities import Kind, percent
from splicewright.version import __version__

UNCONFIRMED = "To be confirmed with the tape: no field trial of this version is on file."
MEASURES = ("width", "out of square", "curve depth", "chalk left", "chalk right")
"""Columns that may be measured with the rule; key of the same measure with underscores."""
MUST = ("photograph", "phone", "bar")
MAY = ("cross bar", "rule", *MEASURES, "note")
FEWEST_PHOTOGRAPHS, FEWEST_PHONES = 20, 2
RULE = 0.5e-3
"""How far a reading with the steel rule may be off, 95 %, where the table does not say [m]."""
LEAST_WITHIN = 0.9
"""Share of the readings that must lie within the stated range. With 95 % stated, 20 photographs
or more fall below it by chance about once in 14 times: 1 less the binomial sum to 2 of 20 [1]."""


@dataclass(frozen=True, slots=True)
class Row:
    """One photograph of the trial: its file, phone, bars, and what the rule said [m]."""

    photograph: str
    phone: str
    bars: Bars
    rule: float
    by_rule: dict[str, float]


def load_trial(path: Path) -> tuple[tuple[Row, ...], bool]:
    """The rows of a trial's table (CSV), and whether it is marked as invented.

    Raises
    ------
    InputError
        Anything wrong in the table; each fault with line and column.
    """
    table = read_table(path, MUST, MAY)
    rows = []
    for row in table.rows:
        for column in MUST:
            if not row.text(column):
                table.fault(row.line, column, "is empty; it must be given")
        bar = row.number("bar", Kind.LENGTH, most=1.0)
        cross = row.number("cross bar", Kind.LENGTH, most=1.0) if table.has("cross bar") else None
        rule = row.number("rule", Kind.LENGTH, most=0.01) if table.has("rule") else None
        measures = {
            column.replace(" ", "_"): value
            for column in MEASURES
            if table.has(column)
            and (value := row.number(column, Kind.LENGTH, least=-0.5, most=5.0)) is not None
        }
        if not measures:
            table.fault(row.line, MEASURES[0], f"give one of {', '.join(MEASURES)}")
        if bar is not None:
            bars = Bars(bar, cross)
            rows.append(
                Row(row.text("photograph"), row.text("phone"), bars, rule or RULE, measures)
            )
    table.settle()
    return tuple(rows), table.invented


@dataclass(frozen=True, slots=True)
class Line:
    """One reading of the rule against the photograph's value and 95 % half-width [m].

    within : they agree as far as both are uncertain
    """

    photograph: str
    phone: str
    key: str
    rule: float
    value: float
    half_width: float
    within: bool


@dataclass(frozen=True, slots=True)
class Trial:
    """What a trial came to.

    lines : every comparison; refused : photographs that were not measured, and why
    phones, photographs : how many measured; within : share of the comparisons that agree
    passed : enough of both, nothing invented, and enough agree; version : of the program
    """

    lines: tuple[Line, ...]
    refused: tuple[tuple[str, str], ...]
    phones: int
    photographs: int
    within: float
    passed: bool
    invented: bool
    version: str = __version__

    def errors(self) -> dict[str, tuple[int, float, float]]:
        """Of each measure: how often, mean and root mean square of photograph less rule [m]."""
        by_measure = {}
        for key in dict.fromkeys(line.key for line in self.lines):
            off = [line.value - line.rule for line in self.lines if line.key == key]
            rms = math.sqrt(sum(o * o for o in off) / len(off))
            by_measure[key] = (len(off), sum(off) / len(off), rms)
        return by_measure

    def to_json(self) -> str:
        """The trial as a file that `measure --trial` reads."""
        return json.dumps({"trial": asdict(self)}, indent=1, ensure_ascii=False)


def judge(lines: Sequence[Line], refused: Sequence[tuple[str, str]], invented: bool) -> Trial:
    """What the comparisons come to; the one place that says whether a trial passes."""
    phones = len({line.phone for line in lines})
    photographs = len({line.photograph for line in lines})
    within = sum(line.within for line in lines) / len(lines) if lines else 0.0
    enough = photographs >= FEWEST_PHOTOGRAPHS and phones >= FEWEST_PHONES
    passed = enough and within >= LEAST_WITHIN and not invented
    return Trial(tuple(lines), tuple(refused), phones, photographs, within, passed, invented)


def standing(trial: bytes | None, name: str = "") -> str:
    """What every answer says of its own standing, from the trial on file or without one.

    Parameters
    ----------
    trial : what `Trial.to_json` wrote; its comparisons are judged anew
    name : of that file

    Raises
    ------
    InputError
        It is no such file.
    """
    if trial is None:
        return UNCONFIRMED
    try:
        held: dict[str, Any] = json.loads(trial)["trial"]
        lines = [Line(**line) for line in held["lines"]]
        again = judge(lines, [], bool(held["invented"]))
        version = str(held["version"])
    except (ValueError, KeyError, TypeError):
        say = "is no result of photo-trial; give the file that its --out wrote"
        raise InputError(Fault("", say, name)) from None
    if version != __version__:
        return f"{UNCONFIRMED} The one given is of version {version}."
    if not again.passed:
        return "To be confirmed with the tape: the field trial on file did not pass."
    return (
        f"Field trial on file: {again.photographs} photographs by {again.phones} phones, "
        f"{percent(again.within)} of the readings within the stated range. Check one "
        "measure in each "
        "job with the tape."
    )
