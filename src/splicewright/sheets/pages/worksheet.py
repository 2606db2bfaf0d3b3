"""The worksheet appendix: every number with formula, inputs, origin and source, by room.

Lines that repeat the same formulas run by run for a load case that does not decide anything are
left out and counted; plan.json and `splicewright explain` have them.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from splicewright.plant import slug
from splicewright.quantities import Given, Line, Record, System, key_of, show
from splicewright.sheets.drawings.worked import Worked
from splicewright.tension import LoadCase

_ROOMS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "Running tension",
        (
            *(case.key for case in LoadCase),
            "partial",
            "worst",
            "reverse",
            "load",
            "take_up.tension",
        ),
    ),
    ("Demand", ("nameplate", "passing", "demand")),
    ("Second look", ("second",)),
    ("Standing still", ("at_rest", "run_back", "load_rest", "clamp")),
    ("Joint", ("choice", "layout", "lengths", "belt.thinnest", "belt.thickest")),
    ("Loop, belt and take-up", ("loop", "belt", "take_up")),
    ("Time", ("time",)),
)
_CASES = tuple(case.key for case in LoadCase)
_PARTS = (".climb", ".load_climb", ".friction", ".tension", ".tension.high", ".least", ".bound")
"""Ends of keys of the belt at rest told in the line that uses them, or in the stage table."""


def worksheet(worked: Worked, system: System, file: str) -> dict[str, Any]:
    """Assumptions first, then given inputs, then every line worked, grouped by room.

    Parameters
    ----------
    file : that holds what is left out
    """
    record = worked.worksheet
    kept, dropped = _kept(worked)
    sources: dict[str, int] = {}
    shown: set[str] = set()
    table = {key_of(entry): entry for entry in record.entries}
    rooms: dict[str, list[dict[str, Any]]] = {name: [] for name, _ in _ROOMS}
    for line in kept:
        rooms[_room(line.figure.key)].append(_line(line, table, sources, shown, system))
    givens = [e for e in record.entries if isinstance(e, Given)]
    return {
        "assumed": [_given(g, system) for g in givens if g.assumed and not _timing(g)],
        "times": [_given(g, system) for g in givens if g.assumed and _timing(g) and g.value],
        "given": [_given(g, system) for g in givens if not g.assumed],
        "rooms": [{"name": name, "lines": lines} for name, lines in rooms.items() if lines],
        "sources": [{"number": str(n), "text": text} for text, n in sources.items()],
        "dropped": dropped,
        "left_out": "repeat these formulas run by run for load cases that do not govern, are parts "
        "of a line that is here, or stand in a table of their own,",
        "file": file,
        "total": len(record.entries),
    }


def part(
    record: Record,
    starts: tuple[str, ...],
    system: System,
    file: str,
    left_out: Callable[[str], bool] = lambda key: False,
) -> dict[str, Any]:
    """The same for a result of its own: its lines, and the inputs they rest on at first hand.

    Parameters
    ----------
    starts : what the keys of its lines begin with
    file : that holds what is left out
    left_out : keys of lines of one plate each, which stand in a table already
    """
    own = [
        entry
        for entry in record.entries
        if isinstance(entry, Line) and entry.figure.key.split(".")[0] in starts
    ]
    kept = [line for line in own if not left_out(line.figure.key)]
    table = {key_of(entry): entry for entry in record.entries}
    used = {name for line in own for _, name in line.inputs}
    givens = [e for e in record.entries if isinstance(e, Given) and e.key in used]
    sources: dict[str, int] = {}
    shown: set[str] = set()
    lines = [_line(line, table, sources, shown, system) for line in kept]
    return {
        "assumed": [_given(g, system) for g in givens if g.assumed],
        "times": [],
        "given": [_given(g, system) for g in givens if not g.assumed],
        "rooms": [{"name": "Worked", "lines": lines}],
        "sources": [{"number": str(n), "text": text} for text, n in sources.items()],
        "dropped": len(own) - len(kept),
        "left_out": "repeat these formulas plate by plate",
        "file": file,
        "total": len(record.entries),
    }


def _timing(given: Given) -> bool:
    return given.key.startswith("timing.")


def _kept(worked: Worked) -> tuple[list[Line], int]:
    lines = [e for e in worked.worksheet.entries if isinstance(e, Line)]
    governing = _governing_case(worked)
    runs = {slug(run.name) for run in worked.conveyor.runs()}
    kept = [line for line in lines if not _repeats(line.figure.key, governing, runs)]
    return kept, len(lines) - len(kept)


def _governing_case(worked: Worked) -> str:
    """Prefix of the load case whose run-by-run lines are printed: the most tense steady one."""
    cases = [(r, "") for r in worked.demand.cases] + [
        (r, "reverse.") for r in worked.demand.reverse_cases
    ]
    steady = [(r, prefix) for r, prefix in cases if r.case.value in {"empty", "full"}]
    result, prefix = max(steady, key=lambda pair: pair[0].largest.value)
    return f"{prefix}{result.case.value.replace(' ', '_')}."


def _told_elsewhere(rest: str, runs: set[str]) -> bool:
    """Whether a line of the belt at rest is a part of another, or stands in a table of its own."""
    first, *after = rest.split(".")
    if first == "lets_go":  # only what ratings come from
        return rest.endswith(".loose.peak") or not rest.endswith((".peak", ".force"))
    if first == "energy":  # of each run; the sum shows them
        return True
    return rest.endswith(_PARTS) or (first in runs and after[:1] in (["acting"], ["released"]))


def _repeats(key: str, governing: str, runs: set[str]) -> bool:
    plain = key.removeprefix("reverse.")
    case, _, rest = plain.partition(".")
    if case in {"unknowns", "moved"}:  # in their own tables
        return True
    if case == "clamp":  # where each stands, what it carries: in the table of clamps
        return "." in rest or rest.startswith("reach_")
    if case == "run_back":
        return rest.endswith(".rise")
    if case == "limit":  # guided or not: in the table of what alone costs a tenth of the margin
        return rest.endswith((".held", ".loose"))
    if case == "time":  # of each step: beside the step, from the assumed times
        return not rest.startswith("job")
    if case == "at_rest":
        return _told_elsewhere(rest, runs)
    if case in {"partial", "worst"}:
        return rest not in {"largest", "largest_force"}
    return case in _CASES and "." in rest and not key.startswith(governing)


def _room(key: str) -> str:
    plain = key.removeprefix("reverse.")
    best, length = "Loop, belt and take-up", -1
    for name, starts in _ROOMS:
        for start in starts:
            if (plain == start or plain.startswith(start + ".")) and len(start) > length:
                best, length = name, len(start)
    return best


def _line(
    line: Line,
    table: dict[str, Line | Given],
    sources: dict[str, int],
    shown: set[str],
    system: System,
) -> dict[str, Any]:
    first = line.formula not in shown
    shown.add(line.formula)
    numbers = [str(sources.setdefault(text, len(sources) + 1)) for text in line.sources]
    return {
        "key": line.figure.key,
        "label": line.figure.label,
        "value": line.figure.show(system),
        "text": line.text,
        "inputs": _inputs(line, table, system),
        "limits": line.limits if first else "",
        "sources": ", ".join(numbers),
    }


def _inputs(line: Line, table: dict[str, Line | Given], system: System) -> str:
    """The inputs by symbol; parts of a sum or of a comparison by their values alone."""
    return ", ".join(_input(s, name, table, system) for s, name in line.inputs)


def _input(symbol: str, name: str, table: dict[str, Line | Given], system: System) -> str:
    if name.startswith("="):
        return f"{symbol} = {float(name[1:]):.6g}"
    entry = table[name]
    figure = entry.figure if isinstance(entry, Line) else entry
    if symbol.isdigit():
        return figure.show(system)
    return f"{symbol} = {figure.show(system)}"


def _given(given: Given, system: System) -> dict[str, Any]:
    span = ""
    if given.low != given.high:
        low, high = (show(v, given.kind, system) for v in (given.low, given.high))
        span = f"{low} to {high}"
    return {
        "key": given.key,
        "label": given.label,
        "value": given.show(system),
        "span": span,
        "origin": given.origin.value,
        "reason": given.reason,
    }
