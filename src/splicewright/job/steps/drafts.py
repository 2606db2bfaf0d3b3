"""A step of the work, what a job's moves are made from, and how they become numbered steps."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from splicewright.job.clamping import Clamping
from splicewright.job.lengths import CutLengths
from splicewright.job.steps import cautions as care
from splicewright.job.steps.hands import Task, Turn, share_out
from splicewright.job.steps.readings import Reading
from splicewright.job.steps.timing import (
    PastShare,
    PastShares,
    Timed,
    time_by_past_jobs,
    time_of,
    ways_of,
)
from splicewright.joint import Candidate, Construction, Layout, MakingLimits, StepGeometry
from splicewright.joint.fasteners.ranges import PLAIN_WORDS, Words
from splicewright.loop import BeltBudget
from splicewright.plant import Conveyor, Run, Side, TakeUpKind, Tools, Work
from splicewright.quantities import Figure, Sentence, Worksheet
from splicewright.tension import AtRest
from splicewright.tension.at_rest import Move


@dataclass(frozen=True, slots=True)
class Step:
    """One step: number, title, what to do, cautions, readings, hold point, time.

    hold_point: what must be true before work goes on; None where there is none.
    moves: of the stopped belt, that this step makes; running: whether the belt may run by its
    drive while it is done; people: the least it takes; tools: names on the tools list;
    outside: done before the stop, so it is not counted in the window.
    hands, start: how many people do it, and when it begins, from the beginning of the window [s];
    0 and None in plans kept from before steps were shared out, and None before the stop.
    waits: keys of the steps that must be done first; assumed: the time where past jobs say another.
    """

    number: int
    key: str
    title: str
    text: tuple[Sentence, ...]
    cautions: tuple[str, ...]
    readings: tuple[Reading, ...]
    hold_point: str | None
    time: Figure
    moves: tuple[Move, ...] = ()
    running: bool = False
    people: int = 1
    tools: tuple[str, ...] = ()
    outside: bool = False
    hands: int = 0
    start: float | None = None
    waits: tuple[str, ...] = ()
    assumed: Figure | None = None

    @property
    def guess(self) -> Figure:
        """Its time as it is assumed, whatever past jobs say."""
        return self.assumed or self.time


@dataclass(frozen=True, slots=True)
class Draft:
    """A step before it has a number and a time; effort: which of `EFFORTS`, with how many.

    given: the time where it is no effort but data of the range; tools: keys of
    the tool box; everyone: the whole crew is there for it.

    after: None for a step that begins when all before it are done and that all after it wait for.
    Else it may be done beside others: it begins when these are done, and `by` is the first step
    that waits for it ("": the next one with `after` None).
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
    moves: tuple[Move, ...] = ()
    running: bool = False
    people: int = 1
    tools: tuple[str, ...] = ()
    outside: bool = False
    everyone: bool = False
    after: tuple[str, ...] | None = None
    by: str = ""


@dataclass(frozen=True, slots=True)
class Setting:
    """What the steps of one job are made from: the job, the belt at rest, the joint.

    candidate, layout, lengths, limits, step_joint : None where there is no such joint
    running : governing running tension of the belt [N/m]
    sheet : takes the times
    """

    conveyor: Conveyor
    work: Work
    stopped: AtRest
    belt: BeltBudget
    clamps: Clamping
    candidate: Candidate | None
    layout: Layout | None
    lengths: CutLengths | None
    limits: MakingLimits | None
    step_joint: StepGeometry | None
    running: Figure
    sheet: Worksheet

    @property
    def words(self) -> Words:
        """Names of the accessories, as the range has them."""
        return self.candidate.words if self.candidate is not None else PLAIN_WORDS

    @property
    def run(self) -> Run:
        """The run of the place of work."""
        return next(r for r in self.conveyor.runs() if r.name == self.work.run)

    @property
    def on_return(self) -> bool:
        """Whether the belt lies with its pulley cover up at the place."""
        return self.run.side is Side.RETURN

    @property
    def weighted(self) -> bool:
        """Whether the take-up is a counterweight."""
        return self.conveyor.take_up.kind is TakeUpKind.GRAVITY

    @property
    def loaded(self) -> bool:
        """Whether load may be left that can run down a slope."""
        return self.stopped.run_back.most.value > 0

    @property
    def plated(self) -> bool:
        """Whether there is a joint of plates, laid out."""
        return self.layout is not None

    @property
    def hinged(self) -> bool:
        """Whether a pin joins the ends."""
        return self.candidate is not None and self.candidate.construction.hinged

    @property
    def riveted(self) -> bool:
        """Whether plates are held by rivets."""
        candidate = self.candidate
        return candidate is not None and candidate.construction is Construction.RIVETED

    @property
    def wrench_care(self) -> str:
        """What can hurt at the nuts, with the tools there are."""
        return care.TOOLS if self.work.tools is Tools.POWER else care.WRENCH

    @property
    def punch_care(self) -> str:
        """What can hurt at the holes, with the tools there are."""
        return care.PUNCH if self.work.tools is Tools.POWER else care.HAND_PUNCH

    @property
    def joints(self) -> int:
        """Joints made in this job."""
        return self.work.joints


def done_beside(steps: Sequence[Step]) -> dict[str, tuple[int, ...]]:
    """Of each step, the numbers of those that are done at the same time, for longer than a minute.

    None before the stop, and none in plans kept from before steps were shared out.
    """
    spans = [(s, s.start, s.start + s.time.value) for s in steps if s.start is not None]
    return {
        one.key: tuple(
            other.number
            for other, begin, finish in spans
            if other is not one and min(end, finish) - max(start, begin) > _A_MINUTE
        )
        for one, start, end in spans
    }


_A_MINUTE = 60.0
Making = Callable[[Setting], list[Draft]]
"""One move of a job, or a few that belong together: empty where this job has none of it."""


def numbered(
    drafts: Sequence[Draft],
    work: Work,
    sheet: Worksheet,
    named: dict[str, tuple[str, ...]],
    past: PastShares,
) -> tuple[tuple[Step, ...], tuple[Timed, ...]]:
    """The steps in order, each with its people and time, and those of the window shared out.

    named : tools of each key, as listed
    past : what past jobs say of a step's time
    """
    outside = [draft for draft in drafts if draft.outside]
    inside = [draft for draft in drafts if not draft.outside]
    waits = _waits(inside)
    tasks = tuple(
        Task(_ways(draft, work, past), wait) for draft, wait in zip(inside, waits, strict=True)
    )
    turns: dict[str, Turn] = {}
    for draft in outside:
        people, needed = _ways(draft, work, past)[-1]  # everybody who shortens it
        turns[draft.key] = Turn(0.0, needed, min(people, work.crew))
    shared = share_out(tasks, work.crew)
    turns |= {draft.key: turn for draft, turn in zip(inside, shared, strict=True)}
    by_key = {
        draft.key: tuple(inside[n].key for n in wait)
        for draft, wait in zip(inside, waits, strict=True)
    }
    steps = []
    for number, d in enumerate(drafts, 1):
        turn = turns[d.key]
        time, guess = _time(d, turn.people, work, sheet, past.get(d.key))
        steps.append(
            Step(
                number,
                d.key,
                d.title,
                d.text,
                d.cautions,
                d.readings,
                d.hold_point,
                time,
                d.moves,
                d.running,
                d.people,
                tuple(name for tool in d.tools for name in named[tool]),
                d.outside,
                turn.people,
                None if d.outside else turn.start,
                by_key.get(d.key, ()),
                guess,
            )
        )
    there = {step.key: step for step in steps}
    timed = tuple(
        Timed(
            task,
            turn,
            there[draft.key].time,
            *(
                (seen.low / seen.likely, seen.high / seen.likely)
                if (seen := _past_share(draft, past)) is not None
                else ()
            ),
        )
        for draft, task, turn in zip(inside, tasks, shared, strict=True)
    )
    return tuple(steps), timed


def _past_share(draft: Draft, past: PastShares) -> PastShare | None:
    """What past jobs say of a step; nothing of a time that the range's data give."""
    return past.get(draft.key) if draft.given is None else None


def _ways(draft: Draft, work: Work, past: PastShares) -> tuple[tuple[int, float], ...]:
    if draft.given is not None:
        return ((draft.people, draft.given.value),)
    seen = _past_share(draft, past)
    share = seen.likely if seen is not None else 1.0
    return tuple(
        (people, share * time)
        for people, time in ways_of(draft.effort, draft.count, work, draft.people, draft.everyone)
    )


def _time(
    draft: Draft, people: int, work: Work, sheet: Worksheet, seen: PastShare | None
) -> tuple[Figure, Figure | None]:
    """The time of a step, and what was assumed where past jobs say another."""
    if draft.given is not None:
        return draft.given, None
    inputs = (draft.title, draft.effort, draft.count, work, sheet, people)
    if seen is None:
        return time_of(f"time.{draft.key}", *inputs), None
    guess = time_of(f"assumed.{draft.key}", *inputs)
    return time_by_past_jobs(draft.key, draft.title, guess, seen, sheet), guess


def _waits(drafts: Sequence[Draft]) -> list[tuple[int, ...]]:
    """Of each step, the positions of those it waits for."""
    keys = [draft.key for draft in drafts]
    until = [_awaited(drafts, keys, n) for n in range(len(drafts))]
    waits: list[tuple[int, ...]] = []
    for number, draft in enumerate(drafts):
        named = [keys.index(key) for key in draft.after or () if key in keys[:number]]
        if not named:
            named = [n for n in range(number) if until[n] <= number]
        waits.append(tuple(named))
    return waits


def _awaited(drafts: Sequence[Draft], keys: list[str], number: int) -> int:
    """Position of the first step that waits for this one."""
    if drafts[number].after is None:
        return number + 1
    if drafts[number].by in keys[number + 1 :]:
        return keys.index(drafts[number].by)
    later = range(number + 1, len(drafts))
    return next((n for n in later if drafts[n].after is None), len(drafts))
