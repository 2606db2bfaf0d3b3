"""Several planned jobs in one shutdown: tasks straight from their plans, times from past jobs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from splicewright.actions.register.use import conveyor_called, conveyor_labels, look_into
from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from datetime import datetime
    from uuid import UUID

    from splicewright.history.shutdown.study import More, Shutdown, ShutdownStudy
    from splicewright.history.shutdown.tasks import Task
    from splicewright.job import JointPlan, Step
    from splicewright.plant import JobKind
    from splicewright.store import Register
    from splicewright.store.present.job_view import JobView
    from splicewright.store.present.present import JobNow

PEOPLE = "people"
MOST_JOBS = 12
ONCE = ("park", "permit", "isolate", "clear")
FIRST, LAST = (*ONCE, "release"), ("tension", "inch", "run")
"""Steps done once for all jobs of one conveyor: the longest of them counts."""
AT_EACH_PLACE = ("place", "survey", "whole", "mark", "rig", "clamp", "unload")
"""Steps of each job before the take-up of its conveyor is released."""
STEP_TOOLS = {
    "cut": "belt cutter",
    "punch": "punch",
    "tighten": "torque wrench",
    "rivet": "riveting tool",
    "buff": "buffing tool",
}
"""What a step holds that there may be fewer of than jobs (common practice, no source)."""
HELD = {"clamp sets": ("clamp", "check"), "presses": ("press", "unpress")}
"""What a job holds from one of its steps to another."""
_FIXED = frozenset({"cure"})
_WATCHED = 1


@dataclass(frozen=True, slots=True)
class Hands:
    """Who and what there is.

    people : how many work; clamp_sets, presses : sets of restraining clamps, and presses, 0 for
    one to each job; tools : of `STEP_TOOLS`, how many of each; left out, one to each job
    """

    people: int
    clamp_sets: int = 0
    presses: int = 0
    tools: Mapping[str, int] = field(default_factory=dict)

    def held(self, tool: str) -> int:
        """How many of one of `HELD` there are; 0 for one to each job."""
        return self.clamp_sets if tool == "clamp sets" else self.presses

    def with_one_more(self, tool: str) -> Hands:
        """The same with one more of one of `HELD`."""
        if tool == "clamp sets":
            return replace(self, clamp_sets=self.clamp_sets + 1)
        return replace(self, presses=self.presses + 1)


def open_jobs(register: Register) -> tuple[JobNow, ...]:
    """Jobs that are not closed and have a kept plan, their joint's or their own, oldest first."""
    from splicewright.store.present.plan_versions import plan_versions

    rows = []
    for job in register.jobs(open_only=True):
        joint = register.joint(job.joint) if job.joint is not None else None
        planned = (
            joint.plan is not None
            if joint is not None
            else bool(plan_versions(register.facts_about(job.job)))
        )
        if planned and job.closed is None:
            rows.append((job.opened, joint.label if joint is not None else job.name, job))
    return tuple(job for _, _, job in sorted(rows, key=lambda f: f[:2]))


def plan_shutdown(
    register: Register,
    now: datetime,
    jobs: Sequence[UUID],
    window: str,
    hands: Hands,
    *,
    common_cause: float = 0.0,
    begins: datetime | None = None,
) -> ShutdownStudy:
    """Whether planned jobs fit a window side by side.

    The steps of a job follow each other as its plan says, done by the people it is planned for;
    steps already done are left out. Jobs of one conveyor share isolation, clearing, the take-up,
    tensioning and the run-in. Where clamp sets or presses are fewer than jobs, jobs take turns in
    the order given.

    register, now : jobs, their plans, and past jobs whose times count
    jobs : to be done, first one first
    window : time there is, with its unit
    hands : people and tools
    begins : when the window does; None where that is not stated
    Raises InputError: no job, a job without a plan, or fewer people than a plan needs; every fault
    is named.
    """
    from splicewright.history.shutdown.study import Bought, study_shutdown

    views = _views(register, jobs, hands)
    past = _past(register, now, views)
    called = conveyor_labels(register)
    asked = replace(
        _shutdown(views, past, _seconds(window), hands, called),
        common_cause=common_cause,
        begins=begins,
    )
    study = study_shutdown(asked)
    bought = list(study.bought)
    for tool, one in (("clamp sets", "set of clamps"), ("presses", "press")):
        holders = sum(_holds(v, HELD[tool]) for v in views.values())
        if 0 < hands.held(tool) < holders:
            more = hands.with_one_more(tool)
            fewer = replace(
                _shutdown(views, past, asked.window, more, called),
                more=(),
                common_cause=common_cause,
            )
            other = study_shutdown(fewer)
            bought.append(Bought(f"one more {one}", study.against(other)))
    return replace(study, bought=tuple(bought))


def _seconds(window: str) -> float:
    from splicewright.quantities import Kind, read

    try:
        seconds = read(window, Kind.TIME)
    except InputError as error:
        raise InputError(Fault("window", error.faults[0].sentence)) from None
    if not 0 < seconds <= 60 * 86400.0:
        raise InputError(Fault("window", f'"{window}" is no time above zero and up to 60 days'))
    return seconds


def _views(register: Register, jobs: Sequence[UUID], hands: Hands) -> dict[str, JobView]:
    """The jobs by the name their tasks bear."""
    from splicewright.actions.job.read import read_job

    faults = []
    for key, number in (
        ("crew", hands.people),
        ("clamp sets", hands.clamp_sets),
        ("presses", hands.presses),
        *hands.tools.items(),
    ):
        if not 0 <= number <= 200 or (key == "crew" and number < 1):
            faults.append(Fault(key, f"{number} cannot be; accepted is 1 to 200"))
    unknown = sorted(set(hands.tools) - set(STEP_TOOLS.values()))
    faults += [
        Fault("tool", f'"{u}" is held by no step; accepted are {", ".join(STEP_TOOLS.values())}')
        for u in unknown
    ]
    if not jobs:
        faults.append(Fault("job", "none is chosen; choose one or more that have a plan"))
    if len(jobs) > MOST_JOBS:
        faults.append(Fault("job", f"{len(jobs)} are chosen; accepted are {MOST_JOBS} at most"))
    if faults:
        raise InputError(*faults)
    called = conveyor_labels(register)
    joints = Counter(_label(register, j) for j in map(register.job, dict.fromkeys(jobs)) if j)
    views: dict[str, JobView] = {}
    for job in dict.fromkeys(jobs):
        view = read_job(register, job)
        if view is None or view.plan is None:
            faults.append(Fault("job", f"{view.job.name if view else job} has no kept plan"))
            continue
        label = view.joint.label if view.joint is not None else view.job.name
        where = called[view.conveyor.conveyor]
        name = label if joints[label] == 1 else f"{label}, {where}"
        name = name if name not in views else f"{name} ({len(views) + 1})"
        views[name] = view
        if view.plan.work.crew > hands.people:
            wording = (
                f"{name} is planned for {view.plan.work.crew}, but {hands.people} are there; plan "
                "it again for fewer"
            )
            faults.append(Fault("crew", wording))
        if not _left(view):
            faults.append(Fault("job", f"{name} has no step left to do"))
    if faults:
        raise InputError(*faults)
    return views


def _left(view: JobView) -> list[Step]:
    """Steps not ticked yet."""
    from splicewright.store.facts.job_facts import StepTicked

    done = set()
    for (step, line), answer in view.sheet.ticks.items():
        event = answer.last.what
        if line == 0 and isinstance(event, StepTicked) and event.done:
            done.add(step)
    assert view.plan is not None  # `_views` refuses jobs without
    # What is prepared before the stop takes none of its window.
    return [s for s in view.plan.steps if s.key not in done and not s.outside]


def _wants_drive(view: JobView) -> JobKind | None:
    """The kind of a job that needs the belt to run between its steps; None of any other."""
    from splicewright.plant import JobKind, RoundWay

    assert view.plan is not None
    work = view.plan.work
    moves = work.job is JobKind.TRACKING or (
        work.job is JobKind.INSPECTION and work.round_way is not RoundWay.FOOT
    )
    return work.job if moves else None


def _clamped(view: JobView) -> bool:
    """Whether a job clamps the belt; else it walks along it."""
    assert view.plan is not None
    return view.plan.work.job.clamped


def _only(view: JobView, begins: str) -> list[Step]:
    """The steps left whose key begins so."""
    return [step for step in _left(view) if step.key.startswith(begins)]


def _holds(view: JobView, held: tuple[str, str]) -> bool:
    assert view.plan is not None
    return any(s.key == held[0] for s in view.plan.steps)


_Past = dict[str, dict[str, tuple[float, ...]]]


def _past(register: Register, now: datetime, views: Mapping[str, JobView]) -> _Past:
    """Times of each job's steps in past jobs: by the timers of phones, else from tick to tick."""
    from splicewright.actions.job.step_times import seen_shares, seen_times
    from splicewright.actions.shutdown.from_register import past_times_of_register

    shares = seen_shares(register, {v.job.job for v in views.values()})
    ticked = past_times_of_register(look_into(register, now))
    by_job: _Past = {}
    for name, view in views.items():
        assert view.plan is not None
        timed = seen_times(shares, view.plan)
        by_job[name] = {
            s.key: timed.get(s.key) or ticked.get(s.key, ())
            for s in view.plan.steps
            if s.key not in _FIXED
        }
    return by_job


def _shutdown(
    views: Mapping[str, JobView],
    past: _Past,
    window: float,
    hands: Hands,
    called: Mapping[UUID, str],
) -> Shutdown:
    """Tasks of all jobs with what they wait for."""
    from splicewright.history.shutdown.study import Shutdown

    making = _Making(hands, past, called)
    # By identity: two conveyors of one name are never isolated as one.
    by_conveyor: dict[UUID, list[str]] = {}
    for name, view in views.items():
        by_conveyor.setdefault(view.conveyor.conveyor, []).append(name)
    for conveyor, names in by_conveyor.items():
        making.conveyor(called[conveyor], {name: views[name] for name in names})
    making.take_turns([*views], views)
    learnt = {task: seen for task, seen in making.past.items() if seen}
    jobs = max(len({t.partition(": ")[2] for t in learnt}), 0)
    notes = [
        "steps of a job follow each other, or are done beside each other, as its plan says and by "
        "the people it gives them; steps already done are left out",
        f"times from past jobs on file for {len(learnt)} of {len(making.tasks)} tasks"
        if jobs
        else "no past job on file has these steps; times are those of the plans, with their spans",
    ]
    if any(len(names) > 1 for names in by_conveyor.values()):
        notes.append(
            "jobs of one conveyor are isolated, cleared, slackened at the take-up, tensioned and "
            "run in once (assumption)"
        )
    notes += making.notes
    plans = [v.plan for v in views.values() if v.plan is not None]
    title = ", ".join(views)
    return Shutdown(
        title if len(title) <= 80 else f"{len(views)} jobs",
        window,
        tuple(making.tasks.values()),
        {PEOPLE: hands.people, **hands.tools},
        _more(hands, views, making),
        learnt,
        runs=2000,
        invented=any(p.conveyor.invented or p.work.invented for p in plans),
        notes=tuple(notes),
    )


class _Making:
    """Tasks while they are put together."""

    def __init__(self, hands: Hands, past: _Past, called: Mapping[UUID, str]) -> None:
        self.hands, self.known, self.called = hands, past, called
        self.tasks: dict[str, Task] = {}
        self.past: dict[str, tuple[float, ...]] = {}
        self.keys: dict[str, tuple[str, str]] = {}
        self.notes: list[str] = []

    def conveyor(self, conveyor: str, jobs: Mapping[str, JobView]) -> None:
        """All jobs of one conveyor; with one job its steps in a row.

        A belt that is clamped brings no joint past: a round that needs its drive goes first, a look
        at how it tracks last.
        """
        from splicewright.plant import JobKind

        moved = {name: _wants_drive(view) for name, view in jobs.items()}
        last: tuple[str, ...] = ()
        for name in (n for n, kind in moved.items() if kind is JobKind.INSPECTION):
            last = self._row(name, jobs[name], _left(jobs[name]), last)
        beside = {name: view for name, view in jobs.items() if moved[name] is None}
        if len(beside) > 1 or (beside and len(jobs) > 1):
            last = self._beside(conveyor, beside, last)
        else:
            for name, view in beside.items():
                last = self._row(name, view, _left(view), last)
        for name in (n for n, kind in moved.items() if kind is JobKind.TRACKING):
            last = self._row(name, jobs[name], _left(jobs[name]), last)

    def _beside(
        self, conveyor: str, jobs: Mapping[str, JobView], last: tuple[str, ...]
    ) -> tuple[str, ...]:
        """Jobs of one conveyor that share locks, take-up and run-in, begun after `last`; what ends
        them."""
        walks = {n: v for n, v in jobs.items() if not _clamped(v)}
        for name, view in walks.items():  # heard while it still runs
            last = self._row(name, view, _only(view, "listen"), last) or last
        shared: dict[str, str] = {}
        for key in ONCE:
            longest = self._longest(jobs, key)
            if longest is not None:
                shared[key] = self._add(conveyor, *longest, tuple(shared.values())[-1:] or last)
        ready = tuple(shared.values())[-1:] or last
        # On foot along the locked belt: done before it moves as the take-up is released.
        ends: list[str] = []
        for name, view in walks.items():
            ends += self._row(name, view, _only(view, "joint_"), ready)
        walked = tuple(ends)
        released = self._longest(jobs, "release")
        for name, view in jobs.items():
            if name in walks:
                continue
            steps = [s for s in _left(view) if s.key not in {*FIRST, *LAST, "record"}]
            early = [s for s in steps if s.key in AT_EACH_PLACE]
            clamped = self._row(name, view, early, ready)
            if released is not None and "release" not in shared:
                wait = (*(clamped or ready), *walked)
                shared["release"] = self._add(conveyor, *released, wait)
            waits = (*clamped, *([shared["release"]] if "release" in shared else []))
            ends += self._row(
                name, view, [s for s in steps if s.key not in AT_EACH_PLACE], waits or ready
            )
        last = tuple(dict.fromkeys(ends)) or ready
        for key in LAST:
            longest = self._longest(jobs, key)
            if longest is not None:
                last = (self._add(conveyor, *longest, last),)
        for name, view in jobs.items():
            self._row(name, view, _only(view, "record"), last)
        return last

    def take_turns(self, names: Sequence[str], views: Mapping[str, JobView]) -> None:
        """Let jobs wait for clamps and presses where there are fewer than jobs."""
        for tool, (first, last) in HELD.items():
            there = self.hands.held(tool)
            # jobs of one conveyor after each other: it keeps its clamps until it is tensioned
            where = {n: views[n].conveyor.conveyor for n in names}
            order = list(dict.fromkeys(where.values()))
            holders = [n for n in names if _holds(views[n], HELD[tool])]
            holders.sort(key=lambda n: order.index(where[n]))
            if not there or there >= len(holders):
                continue
            for before, name in zip(holders, holders[there:], strict=False):
                begins, ends = self._task(name, first), self._end(views, before, name, last)
                if begins is not None and ends is not None:
                    task = self.tasks[begins]
                    self.tasks[begins] = replace(task, after=(*task.after, ends))
            self.notes.append(
                f"{there} of {len(holders)} {tool} that the jobs need: they take turns in the "
                "order given, those of one conveyor after each other"
            )

    def _task(self, job: str, key: str) -> str | None:
        return next((t for t, at in self.keys.items() if at == (job, key)), None)

    def _end(self, views: Mapping[str, JobView], job: str, after: str, key: str) -> str | None:
        """The task with which a job lets go of what another waits for.

        Clamps move along the belt when a joint is checked; to another belt only once they are
        released and theirs is tensioned.
        """
        conveyor, other = views[job].conveyor, views[after].conveyor
        if key == "check" and conveyor.conveyor != other.conveyor:
            return self._task(job, "tension") or self._task(
                self.called[conveyor.conveyor], "tension"
            )
        return self._task(job, key)

    def _row(
        self, name: str, view: JobView, steps: Sequence[Step], after: tuple[str, ...]
    ) -> tuple[str, ...]:
        """Steps in the order of their plan; what the next has to wait for."""
        by_step: dict[str, str] = {}
        open_ends: dict[str, None] = {}
        for step in steps:
            before = [by_step[key] for key in step.waits if key in by_step]
            if not step.hands:  # kept from before steps were shared out: one after another
                before = [*by_step.values()][-1:]
            by_step[step.key] = self._add(name, name, view, step, tuple(before) or after)
            for task in before:
                open_ends.pop(task, None)
            open_ends[by_step[step.key]] = None
        return tuple(open_ends)

    def _longest(self, jobs: Mapping[str, JobView], key: str) -> tuple[str, JobView, Step] | None:
        steps = [(n, v, s) for n, v in jobs.items() for s in _left(v) if s.key == key]
        return max(steps, key=lambda s: s[2].time.value, default=None)

    def _add(self, owner: str, job: str, view: JobView, step: Step, after: tuple[str, ...]) -> str:
        from splicewright.history.shutdown.tasks import Task
        from splicewright.job.steps.timing import SPAN

        plan = view.plan
        assert plan is not None
        name = f"{owner}: {step.title}"
        likely = step.guess.value  # what past jobs say of it is counted once, below
        low, high = (1.0, 1.0) if step.key in _FIXED else SPAN
        needs = {PEOPLE: _WATCHED if step.key in _FIXED else step.hands or plan.work.crew}
        tool = STEP_TOOLS.get(step.key)
        if tool is not None and tool in self.hands.tools:
            needs[tool] = 1
        self.tasks[name] = Task(name, low * likely, likely, high * likely, after, needs)
        self.past[name] = self.known[job].get(step.key, ())
        self.keys[name] = (owner, step.key)
        return name


def _more(hands: Hands, views: Mapping[str, JobView], making: _Making) -> tuple[More, ...]:
    """A second crew, and power tools where the plans count on hands."""
    from splicewright.history.shutdown.study import More
    from splicewright.plant import Tools

    options = [More("a second crew", {PEOPLE: hands.people})]
    faster: dict[str, float] = {}
    for task, (owner, key) in making.keys.items():
        view = views.get(owner)
        plan = view.plan if view is not None else None
        if plan is not None and plan.work.tools is Tools.HAND:
            share = _with_power(plan, key)
            if share < 1:
                faster[task] = share
    if faster:
        options.append(More("power tools", {}, faster))
    return tuple(options)


def _with_power(plan: JointPlan, key: str) -> float:
    """Share of its time that a step takes with power tools, by the plan's own efforts."""
    from splicewright.job.steps.timing import EFFORTS, crew_gain

    effort = EFFORTS.get(key)
    if effort is None or effort.each_by_power >= effort.each_by_hand:
        return 1.0
    step = next(s for s in plan.steps if s.key == key)
    all_of_it = step.guess.value * crew_gain(step.hands or plan.work.crew, effort.shared)
    count = max(all_of_it - effort.fixed, 0.0) / effort.each_by_hand
    return (effort.fixed + count * effort.each_by_power) / all_of_it if all_of_it > 0 else 1.0


def jobs_called(register: Register, names: Collection[str], conveyor: str = "") -> list[UUID]:
    """Open planned jobs by their names, or by the labels of their joints.

    Without names all of them, the oldest first.

    Raises InputError: a name that none bears, or several do; or there is no open job with a plan.
    """
    there = open_jobs(register)
    if conveyor:
        only = conveyor_called(register, conveyor)
        there = tuple(j for j in there if j.conveyor == only)
    labels = {j.job: _label(register, j) for j in there}
    if not there:
        raise InputError(Fault("job", "no open job with a kept plan is on file; record one first"))
    if not names:
        return [j.job for j in there]
    chosen, faults = [], []
    for name in names:
        meant = [j.job for j in there if name in {labels[j.job], j.name, str(j.job)}]
        if len(meant) == 1:
            chosen.append(meant[0])
        else:
            accepted = ", ".join(dict.fromkeys(labels.values()))
            wording = "is the name of several" if meant else "is no open job with a plan"
            faults.append(Fault("job", f'"{name}" {wording}; accepted are {accepted}'))
    if faults:
        raise InputError(*faults)
    return chosen


def _label(register: Register, job: JobNow) -> str:
    joint = register.joint(job.joint) if job.joint is not None else None
    return joint.label if joint is not None else job.name
