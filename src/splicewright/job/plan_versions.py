"""Two versions of one job's plan, step by step: where what was done still holds, and where not.

A step holds where all that is read, measured and signed at it is the same, as printed. What a
drawing shows stands in no text, so a step at the joint counts as changed when its plates, holes or
cut did, and one at which parts are set when those did; at another place of work every step does.
Renumbered or timed otherwise, it is the same step.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any

from splicewright.job.acceptance.judging import CHECK, ISOLATE, asked_of, printed_limits
from splicewright.job.acceptance.lines import acceptance
from splicewright.job.plan import JointPlan
from splicewright.job.steps.drafts import Step
from splicewright.quantities import Sentence, sentence

_AT_THE_MACHINE = frozenset(
    {
        "park",
        "permit",
        "isolate",
        "place",
        "survey",
        "rig",
        "clamp",
        "release",
        "clear",
        "unload",
        "slack",
        "chains",
        "open",
    }
)
"""Steps that are done before the joint is made, and rest on nothing of it but what their text says;
of any other, unknown is unsafe."""
_BY_DRAWING = frozenset({"whole", "mark", "cut", "measure", "turn", "skive", "punch"})
"""Steps at the joint that rest on its drawings, but on no part that is picked for it."""
_LATELY: dict[str, dict[str, object]] = {}
"""By the plan's id, which alone tells one from another."""
_MOST = 32
_OTHER_DRAWINGS = "The drawings show another joint: go by the new ones."
_DIGITS = 6
"""Decimals [SI] to which drawings are the same: a thousandth of a millimetre."""


class Change(StrEnum):
    """How a step of the new plan stands to the plan before."""

    SAME = "the same"
    CHANGED = "changed"
    NEW = "new"
    GONE = "no longer asked"


@dataclass(frozen=True, slots=True)
class StepChange:
    """One step in both plans.

    step : of the new plan; of the old one where it is gone
    now, before : what stands at it only in the new plan, and only in the old one
    """

    step: Step
    change: Change
    now: tuple[Sentence, ...] = ()
    before: tuple[Sentence, ...] = ()


def holds(before: JointPlan, after: JointPlan, key: str) -> bool:
    """Whether what was done at a step by the plan before still holds by the new one."""
    if before.id == after.id:
        return True
    return _all_of(before).get(key) == _all_of(after).get(key) and key in _all_of(after)


def step_changes(before: JointPlan, after: JointPlan) -> tuple[StepChange, ...]:
    """Every step of the new plan in its order, then those that are no longer asked."""
    old = {step.key: step for step in before.steps}
    changes = []
    for step in after.steps:
        was = old.pop(step.key, None)
        if was is None:
            changes.append(StepChange(step, Change.NEW))
        elif holds(before, after, step.key):
            changes.append(StepChange(step, Change.SAME))
        else:
            now, then = _read_at(after, step), _read_at(before, was)
            differences = _not_among(now, then), _not_among(then, now)
            if _drawn(before, was)[0] != _drawn(after, step)[0]:
                differences = (*differences[0], sentence(_OTHER_DRAWINGS)), differences[1]
            changes.append(StepChange(step, Change.CHANGED, *differences))
    return (*changes, *(StepChange(step, Change.GONE) for step in old.values()))


def _not_among(lines: tuple[Sentence, ...], others: tuple[Sentence, ...]) -> tuple[Sentence, ...]:
    there = {_printed(line) for line in others}
    return tuple(line for line in lines if _printed(line) not in there)


def _printed(line: Sentence) -> tuple[str, str]:
    return line.say("metric"), line.say("inch")


def _all_of(plan: JointPlan) -> dict[str, object]:
    """What counts at each step, by its key; plans are compared again with every read of a job."""
    by_step = _LATELY.get(plan.id)
    if by_step is None:
        by_step = {step.key: _what_counts(plan, step) for step in plan.steps}
        while len(_LATELY) >= _MOST:
            _LATELY.pop(next(iter(_LATELY)), None)
        _LATELY[plan.id] = by_step
    return by_step


def _what_counts(plan: JointPlan, step: Step) -> object:
    work = plan.work
    place = (work.run, work.distance.show("metric"), work.distance.show("inch"))
    read = tuple(_printed(line) for line in _read_at(plan, step))
    limits = [(r.what, r.kind, r.boxes, _rounded(printed_limits(r))) for r in asked_of(plan, step)]
    return (place, step.title, read, limits, step.hold_point, _drawn(plan, step))


def _read_at(plan: JointPlan, step: Step) -> tuple[Sentence, ...]:
    """All that is read at a step: text, cautions, lines to tick, what is measured and its limits,
    the hold point."""
    lines = [*step.text, *(sentence(caution) for caution in step.cautions)]
    if step.key not in _AT_THE_MACHINE | _BY_DRAWING:
        lines += [
            Sentence(f"Part: {p.count} {p.name}, {p.size.template}", p.size.numbers)
            for p in plan.parts
        ]
    if step.key == ISOLATE:
        for source in plan.isolation:
            known = "" if source.known else " (not known: find out)"
            lines += [
                sentence(f"{source.what}{known}{', later' if source.later else ''}"),
                source.how_much,
                source.make_safe,
                source.prove,
            ]
    sheet = acceptance(plan) if step.key in CHECK else None
    lines += [sentence(line) for line in (sheet.lines if sheet is not None else ())]
    for reading in asked_of(plan, step):
        limit = reading.limit
        inch = f"{reading.what}: {limit.inch}" if limit.inch else ""
        lines.append(Sentence(f"{reading.what}: {limit.template}", limit.numbers, inch))
    if step.hold_point is not None:
        lines.append(sentence(f"Hold point: {step.hold_point}"))
    return tuple(lines)


def _drawn(plan: JointPlan, step: Step) -> tuple[object, str]:
    """What a step has from the drawings: the layout, and which fastener it is of."""
    if step.key in _AT_THE_MACHINE:
        return None, ""
    best = plan.fastener
    geometry = (plan.layout, plan.lengths, plan.step_joint)
    drawn = tuple(_rounded(asdict(one)) if one is not None else None for one in geometry)
    return drawn, best.name if best is not None else ""


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        return round(value, _DIGITS)
    if isinstance(value, dict):
        return {key: _rounded(one) for key, one in value.items()}
    return tuple(_rounded(one) for one in value) if isinstance(value, list | tuple) else value
