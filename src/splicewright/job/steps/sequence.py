"""Each kind of job as the moves it is made of: the one place that says in which order.

A move is a small function of the job that gives its steps, or none where this job has none of it;
what a step does to the stopped belt stands on it and is refused by `tension.at_rest.state` where it
cannot follow. Orders are common practice, no source (docs/jobs.md says why).
"""

from __future__ import annotations

from splicewright.job.steps import before, closing, ends, looking, new_belt, plates, repairs
from splicewright.job.steps.drafts import Draft, Making, Setting
from splicewright.job.steps.making_safe import clamp_and_release, make_safe
from splicewright.job.steps.piece import piece
from splicewright.job.steps.vulcanised import vulcanise
from splicewright.plant import JobKind, RoundWay

START: tuple[Making, ...] = (before.park, before.permit, before.isolate, before.barricade)
BEFORE: tuple[Making, ...] = (
    *START,
    ends.measure_whole,
    before.survey,
    plates.lay_out,
    ends.mark,
    before.clear_load,
    make_safe,
)
JOINT: tuple[Making, ...] = (
    ends.open_belt,
    ends.cut,
    ends.read_the_cut,
    ends.turn_ends,
    ends.skive,
    plates.punch,
    plates.bring_together,
    plates.seat,
    plates.couple_first,
    plates.couple,
    plates.go_over,
    plates.check,
)
HOT: tuple[Making, ...] = (ends.open_belt, vulcanise)
CLOSE: tuple[Making, ...] = (
    closing.ease,
    closing.tension,
    closing.inch,
    closing.run_in,
    closing.record,
)
EMERGENCY: tuple[Making, ...] = (
    repairs.may_it_run,
    *START,
    before.survey,
    plates.lay_out,
    before.clear_load,
    make_safe,
    repairs.emergency,
    plates.couple,
    plates.go_over,
    plates.check,
    closing.ease,
    closing.tension,
    repairs.limits,
    closing.inch,
    closing.run_in,
    closing.record,
)
ALONG: tuple[Making, ...] = (
    repairs.may_it_run,
    *START,
    before.survey,
    before.clear_load,
    clamp_and_release,
    repairs.cause,
    repairs.along,
    repairs.slack_chains,
    closing.tension,
    repairs.limits,
    closing.inch,
    closing.run_in,
    closing.record,
)
ROUND: tuple[Making, ...] = (
    looking.look_running,
    before.permit,
    looking.each_joint,
    closing.record,
)
ON_FOOT: tuple[Making, ...] = (
    looking.look_running,
    before.permit,
    before.isolate,
    looking.each_joint,
    looking.unlock,
    closing.record,
)
TRACKING: tuple[Making, ...] = (
    before.permit,
    looking.watch,
    before.isolate,
    looking.cause_of_swing,
    looking.unlock,
    closing.record,
)
_WHOLE = {JobKind.ALONG: ALONG, JobKind.INSPECTION: ROUND, JobKind.TRACKING: TRACKING}
"""Kinds that need no joint of plates to be planned."""


def drafts_of(job: Setting) -> list[Draft]:
    """The steps of a job in order; without a joint that fits, those up to the safe belt only."""
    return [draft for move in _moves(job) for draft in move(job)]


def _moves(job: Setting) -> tuple[Making, ...]:
    kind = job.work.job
    if kind is JobKind.INSPECTION and job.work.round_way is RoundWay.FOOT:
        return ON_FOOT
    if kind in _WHOLE:
        return _WHOLE[kind]
    if kind is JobKind.EMERGENCY:
        return (
            EMERGENCY
            if job.plated
            else (repairs.may_it_run, *START, before.survey, before.clear_load, make_safe)
        )
    joining = JOINT if job.plated else HOT if job.step_joint is not None else ()
    close = CLOSE if joining else ()
    if kind in {JobKind.PIECE, JobKind.LENGTHENED}:
        return (piece, *BEFORE, *joining, *close)
    if kind is JobKind.NEW_BELT and joining:
        opened, *rest = joining
        return (
            new_belt.roll,
            *START,
            before.survey,
            before.clear_load,
            make_safe,
            opened,
            new_belt.pull_in,
            ends.measure_whole,
            plates.lay_out,
            ends.mark,
            *rest,
            *close[:-1],
            new_belt.stretch,
            closing.record,
        )
    return (*BEFORE, *joining, *close)
