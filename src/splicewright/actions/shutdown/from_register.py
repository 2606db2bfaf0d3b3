"""How long each step took in past jobs: from one tick to the next on the same job.

A step's time is taken from the tick before it, whoever made it, to its own. That holds where the
steps are ticked as they are done; ticks made minutes or nights apart say nothing, so spans under a
minute or over a shift are left out (assumptions of this tool).
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING
from uuid import UUID

if TYPE_CHECKING:
    from datetime import datetime

    from splicewright.actions.register.use import Looked

SHORTEST, LONGEST = 60.0, 12 * 3600.0


def past_times_of_register(looked: Looked) -> dict[str, tuple[float, ...]]:
    """Times of each step by its key in the plan, the oldest first [s]."""
    from splicewright.store.facts.job_facts import JobOpened, StepTicked

    mine: set[UUID] = set()
    ticks: dict[UUID, dict[str, datetime]] = {}
    for stored in looked.facts("job opened", "step ticked"):
        event = stored.what
        if isinstance(event, JobOpened) and event.conveyor in looked.conveyors:
            mine.add(event.job)
        elif isinstance(event, StepTicked) and event.job in mine and event.line == 0:
            done = ticks.setdefault(event.job, {})
            if event.done:
                done.setdefault(event.step, stored.when)
            else:
                done.pop(event.step, None)
    by_step: dict[str, list[float]] = {}
    for steps in ticks.values():
        ordered = sorted(steps.items(), key=lambda item: item[1])
        for (_, before), (step, after) in pairwise(ordered):
            took = (after - before).total_seconds()
            if SHORTEST <= took <= LONGEST:
                by_step.setdefault(step, []).append(took)
    return {step: tuple(times) for step, times in by_step.items()}
