"""A step of the work, and how drafts become numbered steps with times."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from splicewright.job.steps.readings import Reading
from splicewright.job.steps.timing import time_of
from splicewright.plant import Work
from splicewright.quantities import Figure, Sentence, Worksheet


@dataclass(frozen=True, slots=True)
class Step:
    """One step: number, title, what to do, cautions, readings, hold point, time.

    hold_point: what must be true before work goes on; None where there is none.
    """

    number: int
    key: str
    title: str
    text: tuple[Sentence, ...]
    cautions: tuple[str, ...]
    readings: tuple[Reading, ...]
    hold_point: str | None
    time: Figure


@dataclass(frozen=True, slots=True)
class Draft:
    """A step before it has a number and a time; effort: which of `EFFORTS`, with how many.

    given: the time where it is no effort but data of the range.
    """

    key: str
    effort: str
    count: int
    title: str
    text: tuple[Sentence, ...]
    cautions: tuple[str, ...] = ()
    readings: tuple[Reading, ...] = ()
    hold_point: str | None = None
    given: Figure | None = None


def numbered(drafts: Sequence[Draft], work: Work, sheet: Worksheet) -> tuple[Step, ...]:
    """The steps in order, each with its time."""
    return tuple(
        Step(
            number, d.key, d.title, d.text, d.cautions, d.readings, d.hold_point,
            d.given or time_of(d.key, d.title, d.effort, d.count, work, sheet),
        )
        for number, d in enumerate(drafts, 1)
    )  # fmt: skip
