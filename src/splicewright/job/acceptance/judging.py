"""Judging what was measured at a step against the limits of the plan: the one place for it.

A limit that a sheet prints counts as it is printed, in metric or in inch, whichever is wider:
whoever measures what the sheet allows has kept the limit, on paper and on the phone alike. The
difference is the rounding of the print. A limit told otherwise (within a share of a torque) counts
as it is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from splicewright.job.acceptance.lines import acceptance
from splicewright.job.plan import JointPlan
from splicewright.job.steps.drafts import Step
from splicewright.job.steps.readings import Reading
from splicewright.quantities import System, read, show

_SYSTEMS: tuple[System, ...] = ("metric", "inch")
ISOLATE = "isolate"
"""The step whose lines are those of the isolation sheet."""
CHECK = ("check", "check_second")
"""Key of the step at which the acceptance sheet is filled in."""


class AgainstLimits(StrEnum):
    """How a value stands to its limits."""

    WITHIN = "within"
    LOW = "too small"
    HIGH = "too large"
    OPEN = "no limit"


@dataclass(frozen=True, slots=True)
class Answered:
    """One judged value of a step.

    what, box : which box, numbered from 1; for a difference of two boxes that of their reading
    value : SI
    """

    what: str
    box: int
    reading: Reading
    value: float
    verdict: AgainstLimits


def printed_limits(reading: Reading) -> tuple[float | None, float | None]:
    """Lowest and highest value that keep the limits as printed [SI]; None where there is none."""
    low, high = reading.low, reading.high
    return (
        None if low is None else min(low, *_prints(low, reading)),
        None if high is None else max(high, *_prints(high, reading)),
    )


def _prints(limit: float, reading: Reading) -> list[float]:
    """The limit itself, and what the sheet prints of it in each system [SI]."""
    texts = [(show(limit, reading.kind, system), system) for system in _SYSTEMS]
    printed = (text for text, system in texts if text in reading.limit.say(system))
    return [limit, *(read(text, reading.kind) for text in printed)]


def judge(reading: Reading, value: float) -> AgainstLimits:
    """How a value [SI] stands to the limits of its reading."""
    low, high = printed_limits(reading)
    if low is not None and value < low:
        return AgainstLimits.LOW
    if high is not None and value > high:
        return AgainstLimits.HIGH
    return AgainstLimits.OPEN if low is None and high is None else AgainstLimits.WITHIN


def lines_to_tick(plan: JointPlan, step: Step) -> int:
    """How many lines must be ticked before the hold point of a step is signed.

    Those of the isolation sheet that are locked now, and those of the acceptance sheet.
    """
    if step.key == ISOLATE:
        return sum(source.lockable for source in plan.isolation)
    sheet = acceptance(plan) if step.key in CHECK else None
    return len(sheet.lines) if sheet is not None else 0


def asked_of(plan: JointPlan, step: Step) -> tuple[Reading, ...]:
    """The readings of a step; at the acceptance check those of the acceptance sheet too."""
    sheet = acceptance(plan) if step.key in CHECK else None
    return step.readings + (sheet.measured if sheet is not None else ())


def judge_step(
    readings: tuple[Reading, ...], values: Mapping[tuple[str, int], float]
) -> tuple[Answered, ...]:
    """Judge what was written down at a step.

    readings : as `asked_of` gives them
    values : what was written, by name and box [SI]
    Returns one for every value, and one for every difference whose two boxes are filled; values
    whose name the readings do not hold are left out.
    """
    answers = []
    for before, reading in zip((None, *readings), readings, strict=False):
        if reading.of_pair and before is not None:
            pair = [values.get((before.what, box)) for box in (1, 2)]
            if pair[0] is not None and pair[1] is not None:
                apart = abs(pair[0] - pair[1])
                answers.append(Answered(before.what, 0, reading, apart, judge(reading, apart)))
            continue
        for box in range(1, reading.boxes + 1):
            value = values.get((reading.what, box))
            if value is not None:
                answers.append(Answered(reading.what, box, reading, value, judge(reading, value)))
    return tuple(answers)
