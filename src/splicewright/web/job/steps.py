"""What the page of a job shows: the plan's steps as forms, and what its script must know."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from splicewright.actions.job.step_times import PastTime
from splicewright.actions.photographs.proposals import SHOWN_AT
from splicewright.actions.plan.again import MEASURED_AT
from splicewright.job import (
    JointPlan,
    Reading,
    Step,
    acceptance,
    asked_of,
    likely,
    lines_to_tick,
    printed_limits,
)
from splicewright.job.acceptance.judging import CHECK
from splicewright.job.plan_versions import Change, step_changes
from splicewright.quantities import POLICY, Kind, System, show, show_time
from splicewright.quantities.units import AMBIGUOUS
from splicewright.sheets.crew_pack.crew import hands_words
from splicewright.store.facts.job_facts import SIGN_OFFS
from splicewright.store.present.job_view import JobView

ROLES = tuple(SIGN_OFFS.items())
"""As what somebody signs a job off, and the statement they read."""


@dataclass(frozen=True, slots=True)
class Box:
    """One box to write a value into.

    low, high : limits as printed [SI]; pair : the limits judge how far boxes 1 and 2 differ
    unit : what a bare number is taken in; other : what it is shown in beside it, "" where a slip of
        unit is not to be feared
    likely : where the value is expected [SI]
    """

    what: str
    number: int
    kind: Kind
    low: float | None
    high: float | None
    unit: str
    other: str
    likely: tuple[float | None, float | None]


@dataclass(frozen=True, slots=True)
class Asked:
    """One reading: its boxes, its limit in words; `pair` where the two boxes must not differ
    by more than `most` [SI]."""

    what: str
    limit: str
    boxes: tuple[Box, ...]
    pair: str
    most: float | None


@dataclass(frozen=True, slots=True)
class StepForm:
    """A step as it stands on the page.

    hands : how many people do it, beside which steps; past : what past jobs say of its time
    lines : lines to tick within the step
    feeds : whether the plan rests on what is measured there
    photograph : whether a photograph may take the place of the tape there
    """

    step: Step
    text: tuple[str, ...]
    time: str
    hands: str
    past: str
    lines: tuple[str, ...]
    asked: tuple[Asked, ...]
    feeds: bool = False
    photograph: bool = False


def step_forms(plan: JointPlan, system: System, past: dict[str, PastTime]) -> tuple[StepForm, ...]:
    """The steps of a plan as forms."""
    sheet = acceptance(plan)
    hands = hands_words(plan)
    return tuple(
        StepForm(
            step,
            tuple(s.say(system) for s in step.text),
            show_time(step.time.value),
            hands[step.key],
            _said_of_past(past.get(step.key)),
            sheet.lines if sheet is not None and step.key in CHECK else (),
            _asked(asked_of(plan, step), system, plan.conveyor.belt.width.value),
            step.key in MEASURED_AT,
            plan.layout is not None and step.key in SHOWN_AT,
        )
        for step in plan.steps
    )


def _said_of_past(past: PastTime | None) -> str:
    if past is None:
        return ""
    jobs = "1 past job" if past.jobs == 1 else f"{past.jobs} past jobs"
    return (
        f"from {jobs}: {show_time(past.likely)} likely, {show_time(past.enough)} enough in 9 of 10"
    )


def _asked(readings: tuple[Reading, ...], system: System, width: float) -> tuple[Asked, ...]:
    rows: list[Asked] = []
    for reading in readings:
        low, high = printed_limits(reading)
        limit = _in_both(reading, system)
        if reading.of_pair:
            before = rows.pop()
            rows.append(Asked(before.what, before.limit, before.boxes, limit, high))
            continue
        unit = unit_of(reading, system)
        other, span = _OTHER.get(reading.kind, {}).get(unit, ""), likely(reading, width)
        boxes = tuple(
            Box(reading.what, number, reading.kind, low, high, unit, other, span)
            for number in range(1, reading.boxes + 1)
        )
        rows.append(Asked(reading.what, limit, boxes, "", None))
    return tuple(rows)


_OTHER: dict[Kind, dict[str, str]] = {
    Kind.LENGTH: {"mm": "in", "in": "mm"},
    Kind.DISTANCE: {"m": "ft", "ft": "m", "mm": "in", "in": "mm"},
    Kind.TORQUE: {"N m": "lbf ft", "lbf ft": "N m"},
    Kind.TEMPERATURE: {"degC": "degF", "degF": "degC"},
}
"""What a value is shown in beside the crew's own unit, where a tape or gauge of the other kind may
be in the same bag."""


def _in_both(reading: Reading, system: System) -> str:
    """The limit in the crew's units, and its numbers in the others."""
    text = reading.limit.say(system)
    other: System = "inch" if system == "metric" else "metric"
    both = {*_OTHER, Kind.TAPE}
    numbers = [show(v, kind, other) for _, v, kind in reading.limit.numbers if kind in both]
    joined = (" to " if " to " in text else ", ").join(numbers)
    return f"{text} ({joined})" if numbers and joined not in text else text


def unit_of(reading: Reading, system: System) -> str:
    """The unit in which a bare number is taken: the one its limit is shown in."""
    if reading.kind is Kind.TIME and reading.low is None and reading.high is None:
        return "h"  # how long it may run, not how long a thing takes
    shown = POLICY[reading.kind].shown(system).unit
    if reading.kind is Kind.DISTANCE and system == "metric":
        # A short distance is shown in the unit of lengths.
        shown = show(reading.high or reading.low or 1.0, reading.kind, system).rsplit(" ", 1)[-1]
    return "degC" if shown == "°C" else "degF" if shown == "°F" else shown


def script_data(
    view: JobView, forms: tuple[StepForm, ...], state: dict[str, Any]
) -> dict[str, Any]:
    """What the page's script works with, beside the page itself."""
    kinds = {box.kind for form in forms for asked in form.asked for box in asked.boxes}
    return {
        "job": str(view.job.job),
        "joint": str(view.joint.joint) if view.joint is not None else None,
        "name": view.job.name,
        "plan": state["plan"],
        "otherwise": _otherwise(view),
        "steps": [_script_step(form, view) for form in forms],
        "kinds": unit_table(kinds),
        "state": state,
    }


def _otherwise(view: JobView) -> dict[str, list[str]]:
    """Steps that the newest plan asks otherwise than an earlier version, by that one's id: what
    this phone said of them by that version does not count."""
    if view.plan is None:
        return {}
    return {
        before.id: [
            c.step.key for c in step_changes(before, view.plan) if c.change is not Change.SAME
        ]
        for before in view.earlier
        if before.id != view.plan.id
    }


def _script_step(form: StepForm, view: JobView) -> dict[str, Any]:
    step = form.step
    return {
        "key": step.key,
        "number": step.number,
        "title": step.title,
        "hold": step.hold_point,
        "planned": step.guess.value,
        "lines": lines_to_tick(view.plan, step) if view.plan is not None else 0,
        "boxes": [
            {
                "what": b.what,
                "box": b.number,
                "kind": b.kind.value,
                "low": b.low,
                "high": b.high,
                "unit": b.unit,
                "other": b.other,
                "likely": b.likely,
            }
            for asked in form.asked
            for b in asked.boxes
        ],
        "pairs": [{"what": asked.what, "most": asked.most} for asked in form.asked if asked.pair],
    }


def unit_table(kinds: set[Kind]) -> dict[str, Any]:
    """The one unit policy, as far as these kinds need it, for reading typed values in a page."""
    return {
        kind.value: {
            "noun": kind.noun,
            "example": POLICY[kind].example,
            "accepted": [[u.name, u.factor, u.offset] for u in POLICY[kind].accepted],
            "several": kind in {Kind.LENGTH, Kind.DISTANCE, Kind.TIME},
            "offset": kind is Kind.TEMPERATURE,
        }
        for kind in sorted(kinds)
    } | {"ambiguous": AMBIGUOUS}
