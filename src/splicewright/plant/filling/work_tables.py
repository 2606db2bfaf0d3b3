"""A work as the tables of a work file again: what was stated, exactly; what was assumed, blank.

So a job can be planned again with one answer changed and every other as it was.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from splicewright.plant.work import RoundWay, Work
from splicewright.quantities import POLICY, Given, Origin


def work_tables(work: Work) -> dict[str, dict[str, Any]]:
    """The tables that `fill_work` makes this very work of, on the same conveyor.

    Numbers are told in SI to the last digit. A place that nobody gave stays open, so a new plan
    looks for the worst one anew.
    """
    fields: dict[str, Any] = {
        "kind": None if work.job_why else work.job.value,
        "reason": work.reason.value,
        "run": "" if work.anywhere else work.run,
        "distance": entry_of(work.distance),
    }
    tables: dict[str, dict[str, Any]] = {
        "work": {"name": work.name, "invented": work.invented} | fields,
        "belt": {
            "thickness": [entry_of(t) for t in work.thickness],
            "width": entry_of(work.belt_width),
            "cut_out": entry_of(work.cut_out),
            "insert": entry_of(work.insert),
            "load_left": entry_of(work.load_left),
        },
        "joint": {
            "kind": work.kind.value,
            "travel": work.travel.value,
            "environment": [e.value for e in work.environment],
            "scrapers": work.scrapers,
            "service_factor": entry_of(work.service_factor),
            "curve_depth": entry_of(work.curve_depth),
            "notch_width": entry_of(work.notch_width),
        },
        "crew": {
            "people": work.crew,
            "tools": work.tools.value,
            "window": entry_of(work.window),
            "clamp_factor": entry_of(work.clamp_factor),
            "hoist_travel": entry_of(work.hoist_travel),
        },
        "press": {
            "length": entry_of(work.press_length),
            "width": entry_of(work.press_width),
            "bias": entry_of(work.press_bias),
            "temperature": entry_of(work.press_temperature),
        },
        "air": {"temperature": entry_of(work.air), "humidity": entry_of(work.humidity)},
    }
    whole: dict[str, Any] = {name: _stated(table) for name, table in tables.items()}
    whole = {name: table for name, table in whole.items() if table}
    if work.damage is not None:
        sides = {"length": entry_of(work.damage_length), "width": entry_of(work.damage_width)}
        whole["damage"] = {"what": work.damage.value} | _stated(sides)
    if work.round_way is not RoundWay.BELT:
        whole.setdefault("work", {})["round_way"] = work.round_way.value
    if work.round:
        whole["round"] = [{"name": j.name, "behind": entry_of(j.behind)} for j in work.round]
    return whole


def entry_of(given: Given | None) -> dict[str, Any] | None:
    """One number as a file states it; None for what nobody stated."""
    if given is None or given.assumed:
        return None
    unit = next((u.name for u in POLICY[given.kind].accepted if (u.factor, u.offset) == (1, 0)), "")
    entry: dict[str, Any] = {"value": _text(given.value, unit)}
    if given.sd:
        entry["sd"] = _text(given.sd, unit)
    elif (given.low, given.high) != (given.value, given.value):
        entry["value"] = f"{_text(given.low, unit)} to {_text(given.high, unit)}"
    if given.origin is Origin.MEASURED:
        entry["measured"] = True
    if given.reason:
        entry["note"] = given.reason
    return entry


def _text(value: float, unit: str) -> str:
    return f"{Decimal(repr(float(value))):f} {unit}".strip()


def _stated(table: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in table.items() if value not in (None, "", [])}
