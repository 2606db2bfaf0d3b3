"""Which figures of a plan have a case of the verification book behind them, and which have none.

A figure counts as compared where a case held its very value (traced by formula or worksheet key)
against a reference; as run where its formula gave a number inside a case whose result was compared;
as put together where it is a sum, largest or smallest of figures that have cases.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from splicewright.quantities import Line, Record

SITE = Path(__file__).parent.parent / "examples" / "karst-hollow"
_JOBS = {
    "incline": "incline-worn-joint",
    "flat": "flat-torn-belt",
    "shuttle": "shuttle-new-belt",
}
_CASES_SHOWN = 6


@dataclass(frozen=True, slots=True)
class FigureRow:
    """Figures of one formula, or of one place in the worksheet.

    Attributes
    ----------
    label : of one of them
    formula : its id, or the key where figures are put together
    count : of such figures in the plans
    state : "compared", "run", "put together" or "none"
    cases : numbers of the cases, in words
    """

    label: str
    formula: str
    count: int
    state: str
    cases: str


@dataclass(frozen=True, slots=True)
class Figures:
    """The matrix, those without a case first."""

    rows: tuple[FigureRow, ...]
    summary: str


def plans_of_the_examples() -> list[Record]:
    """Worksheets of three planned jobs, plate loads, bolts and pulleys with them."""
    from splicewright.job import loads_of, plan
    from splicewright.joint import load_ranges
    from splicewright.plant import load_conveyor, load_work

    ranges = load_ranges((SITE / "fasteners",))
    found = []
    for name, job in _JOBS.items():
        conveyor = load_conveyor(SITE / "conveyors" / f"{name}.toml")
        made = plan(conveyor, load_work(SITE / "jobs" / f"{job}.toml", conveyor), ranges)
        found.append(loads_of(made).worksheet if made.complete else made.worksheet)
    return found


def _place(key: str) -> str:
    """A worksheet key without the names of runs and pulleys and of load cases."""
    from splicewright.tension import LoadCase

    first, *rest = key.split(".")
    cases = {c.name.lower() for c in LoadCase}
    start = "case" if first in cases else first
    return f"{start}...{rest[-1]}" if rest else start


def coverage(
    plans: Sequence[Record], written: Sequence[Mapping[str, Any]], titles: Mapping[str, int]
) -> Figures:
    """Hold the figures of plans against what cases compared.

    Parameters
    ----------
    plans : finished worksheets
    written : records of the cases; failed ones count for nothing
    titles : case -> its number in the book
    """
    compared: dict[str, set[int]] = defaultdict(set)
    run: dict[str, set[int]] = defaultdict(set)
    for record in written:
        if not record["passed"]:
            continue
        number = titles[record["case"]["title"]]
        for name in record["direct"]:
            compared[_of(name)].add(number)
        if record["rows"]:
            for name in record["ran"]:
                run[_of(name)].add(number)
    groups: dict[str, list[Line]] = defaultdict(list)
    states: dict[str, tuple[str, set[int]]] = {}
    for plan in plans:
        has: dict[str, bool] = {}
        for entry in plan.entries:
            if isinstance(entry, Line):
                plain = not entry.formula.startswith("arithmetic.")
                name = entry.formula if plain else "key:" + _place(entry.figure.key)
                groups[name].append(entry)
                state = _state(entry, compared[name], run[name], has)
                has[entry.figure.key] = state[0] != "none"
                if states.get(name, ("put together",))[0] == "put together":
                    states[name] = state
    order = ("none", "run", "put together", "compared")
    rows = [
        FigureRow(lines[0].figure.label, name.removeprefix("key:"), len(lines), states[name][0],
                  _said(*states[name]))
        for name, lines in groups.items()
    ]  # fmt: skip
    rows.sort(key=lambda r: order.index(r.state))
    counts = {s: sum(r.count for r in rows if r.state == s) for s in order}
    total = sum(counts.values())
    said = (
        f"Three planned jobs print {total} figures that are worked out. {counts['compared']} are "
        "of a kind that a case compares with its reference; "
        f"{counts['run']} are of a formula that only ran inside a case whose result was compared: "
        "they were not compared themselves; "
        f"{counts['put together']} are sums, largest or smallest of such figures; "
        + (
            f"{counts['none']} have no case and are listed first. "
            if counts["none"]
            else "none is without a case. "
        )
        + "Cases are traced by value in the run that made this book."
    )
    return Figures(tuple(rows), said)


def _state(
    line: Line, compared: set[int], run: set[int], has: Mapping[str, bool]
) -> tuple[str, set[int]]:
    """State of one figure, and the cases."""
    if compared:
        return "compared", compared
    summed = line.formula in {"arithmetic.Σ", "arithmetic.max", "arithmetic.min"}
    if summed and all(has.get(part, True) for _, part in line.inputs):  # inputs are given
        return "put together", set()
    return ("run", run) if run else ("none", set())


def _of(name: str) -> str:
    return "key:" + _place(name.removeprefix("key:")) if name.startswith("key:") else name


def _said(state: str, cases: set[int]) -> str:
    if state == "put together":
        return "of figures that have cases"
    if state == "none":
        return "none"
    shown = ", ".join(str(n) for n in sorted(cases)[:_CASES_SHOWN])
    more = f" and {len(cases) - _CASES_SHOWN} more" if len(cases) > _CASES_SHOWN else ""
    return f"{'compared in' if state == 'compared' else 'only run in'} {shown}{more}"
