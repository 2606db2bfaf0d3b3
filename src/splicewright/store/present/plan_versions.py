"""The versions of a joint's plan, and what of a job's entries still counts by the newest.

A job goes on while its joint is planned again. What was ticked and signed by an earlier version
counts where the step is the same in both (`job.plan_versions`); where it is not, it is kept and
shown, and the step is to be done and signed anew. Measured values stay: they are judged by the
limits of the newest plan.

A phone without signal may go on by an earlier version for days: an entry says itself by which plan
it was made. One that does not say may have been made by any version there was when it arrived; it
counts where its step is the same in all of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from splicewright.store.facts.facts import Stored
from splicewright.store.facts.job_facts import (
    PARTS,
    DeviationSigned,
    HoldPointSigned,
    JobOpened,
    StepTicked,
)
from splicewright.store.facts.joint_facts import JointPlanned
from splicewright.store.present.job_sheet import Entry, JobSheet, answer_of

if TYPE_CHECKING:
    from splicewright.job import JointPlan

PlanOf = Callable[[str], "JointPlan"]
"""Gives the plan of a digest."""


@dataclass(frozen=True, slots=True)
class PlanVersion:
    """One version of a joint's plan.

    number : from 1; seq, when, by : of the fact that recorded it
    """

    number: int
    digest: str
    plan_id: str
    seq: int
    when: datetime
    by: str


def plan_versions(facts: Iterable[Stored]) -> tuple[PlanVersion, ...]:
    """The versions of a joint's plan, the oldest first (`Register.facts_about` of the joint, or of
    a job that makes none).

    The same plan said again, with another label or place, is no version of its own.
    """
    versions: list[PlanVersion] = []
    for stored in facts:
        event = stored.what
        if stored.withdrawn or not isinstance(event, JointPlanned | JobOpened) or not event.plan:
            continue
        if not versions or versions[-1].digest != event.plan:
            versions.append(
                PlanVersion(
                    len(versions) + 1,
                    event.plan,
                    event.plan_id,
                    stored.seq,
                    stored.when,
                    stored.fact.by,
                )
            )
    return tuple(versions)


def version_of(plan: str, versions: Sequence[PlanVersion]) -> PlanVersion | None:
    """The newest version with that plan's id; None when there is none."""
    return next((v for v in reversed(versions) if plan and v.plan_id == plan), None)


def counting(
    sheet: JobSheet, versions: Sequence[PlanVersion], plan_of: PlanOf, by: str = ""
) -> JobSheet:
    """The job with only those ticks and signatures that hold by its newest plan; the others are
    its `overtaken`.

    Parameters
    ----------
    sheet : with every entry
    versions : of the plan of the job's joint
    plan_of : gives a plan by its digest
    by : id of an earlier plan to go by instead; the newest where there is no such version
    """
    newest = version_of(by, versions) or (versions[-1] if versions else None)
    if newest is None or len(versions) == 1:
        return sheet

    from splicewright.job.plan_versions import holds

    def same(before: str, after: str, step: str) -> bool:
        if step == PARTS:
            return plan_of(before).parts == plan_of(after).parts
        return holds(plan_of(before), plan_of(after), step)

    def stays(entry: Entry) -> bool:
        event = entry.what
        assert isinstance(event, StepTicked | HoldPointSigned)
        version = version_of(event.plan, versions)
        made_by = [version] if version is not None else [v for v in versions if v.seq < entry.seq]
        asks = newest.digest
        return all(v.digest == asks or same(v.digest, asks, event.step) for v in made_by)

    def stands(entry: Entry) -> bool:
        """A deviation holds for its value under the limits that its signer read."""
        deviation = entry.what
        assert isinstance(deviation, DeviationSigned)
        now = _limits(plan_of(newest.digest), deviation)
        if deviation.low is None and deviation.high is None:  # from before they were kept
            there = [v for v in versions if v.seq < entry.seq]
            return all(now == _limits(plan_of(v.digest), deviation) for v in there)
        return now is not None and all(
            _alike(*pair) for pair in zip(now, (deviation.low, deviation.high), strict=True)
        )

    ticks, points, overtaken = {}, {}, [e for e in sheet.deviations if not stands(e)]
    for key, answer in sheet.ticks.items():
        there = tuple(e for e in answer.entries if stays(e))
        overtaken += [e for e in answer.entries if e not in there]
        if there:
            ticks[key] = answer_of(list(there))
    for step, signed in sheet.hold_points.items():
        there = tuple(e for e in signed if stays(e))
        overtaken += [e for e in signed if e not in there]
        if there:
            points[step] = there
    return replace(
        sheet,
        ticks=ticks,
        hold_points=points,
        deviations=tuple(e for e in sheet.deviations if e not in overtaken),
        overtaken=tuple(sorted(overtaken, key=lambda e: e.seq)),
    )


def _limits(
    plan: JointPlan, deviation: DeviationSigned
) -> tuple[float | None, float | None] | None:
    """Limits of the value in a plan, as printed [SI]; None where the plan does not ask for it."""
    from splicewright.job import asked_of, printed_limits

    step = next((s for s in plan.steps if s.key == deviation.step), None)
    before = ""
    for reading in asked_of(plan, step) if step is not None else ():
        if (before if reading.of_pair else reading.what) == deviation.what and (
            reading.of_pair == (deviation.box == 0)
        ):
            return printed_limits(reading)
        before = reading.what
    return None


def _alike(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return abs(one - other) <= 1e-9 * max(abs(one), abs(other))
