"""A step of the work, what a job's moves are made from, and how they become numbered steps."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from splicewright.job.clamping import Clamping
from splicewright.job.lengths import CutLengths
from splicewright.job.steps.readings import Reading
from splicewright.job.steps.timing import time_of
from splicewright.joint import Candidate, Construction, Layout, MakingLimits, StepGeometry
from splicewright.joint.fasteners.ranges import PLAIN_WORDS, Words
from splicewright.loop import BeltBudget
from splicewright.plant import Conveyor, Run, Side, TakeUpKind, Work
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


@dataclass(frozen=True, slots=True)
class Draft:
    """A step before it has a number and a time; effort: which of `EFFORTS`, with how many.

    given: the time where it is no effort but data of the range; tools: keys of
    the tool box.
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
        found = self.candidate
        return found is not None and found.construction is Construction.RIVETED

    @property
    def joints(self) -> int:
        """Joints made in this job."""
        return self.work.joints


Making = Callable[[Setting], list[Draft]]
"""One move of a job, or a few that belong together: empty where this job has none of it."""


def numbered(
    drafts: Sequence[Draft], work: Work, sheet: Worksheet, named: dict[str, tuple[str, ...]]
) -> tuple[Step, ...]:
    """The steps in order, each with its time; `named`: tools of each key, as listed."""
    return tuple(
        Step(
            number, d.key, d.title, d.text, d.cautions, d.readings, d.hold_point,
            d.given or time_of(d.key, d.title, d.effort, d.count, work, sheet),
            d.moves, d.running, d.people,
            tuple(name for tool in d.tools for name in named[tool]), d.outside,
        )
        for number, d in enumerate(drafts, 1)
    )  # fmt: skip
