"""Work time of each step from counts, people and tools, and the job against the window.

No published work study was found. Every time here is an assumption of this tool with a wide
span, there to be replaced by the crew's own records: where enough past jobs timed a step, their
times take its place (`PastShare`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from splicewright.job.steps.hands import Task, Turn, Way, in_turn, longest_way
from splicewright.plant import Tools, Work
from splicewright.quantities import Figure, Given, Kind, Origin, Worksheet, assumed, formula

SPAN = _LOW, _HIGH = 0.7, 1.6
"""Ends of a time nobody measured, as shares of it [-]."""
_NO_SOURCE = "assumption of this tool, no source; replace by your own times"


@dataclass(frozen=True, slots=True)
class Effort:
    """What one kind of step takes: fixed time and time for each item [s], by hand or power.

    shared: whether more than two people shorten it, as where both ends can be worked at once;
    alone: whether one person does it as fast as two.
    """

    fixed: float
    each_by_hand: float
    each_by_power: float
    shared: bool
    alone: bool = False


EFFORTS: dict[str, Effort] = {
    "park": Effort(1200, 0, 0, False),
    "permit": Effort(1200, 0, 0, False),
    "isolate": Effort(1500, 300, 300, False),
    "open": Effort(600, 0, 0, False),
    "survey": Effort(600, 60, 60, False, alone=True),
    "lay out": Effort(900, 0, 0, False, alone=True),
    "rig": Effort(900, 0, 0, True),
    "turn": Effort(300, 300, 300, True),
    "skive": Effort(300, 900, 600, True),
    "go over": Effort(120, 15, 8, True),
    "ease": Effort(900, 0, 0, False),
    "inch": Effort(900, 0, 0, False),
    "piece": Effort(5400, 145, 85, True),
    "roll": Effort(7200, 0, 0, False),
    "pull in": Effort(3600, 30, 30, False),
    "plates": Effort(600, 300, 240, True),
    "row": Effort(1200, 240, 150, True),
    "patch": Effort(5400, 0, 0, False),
    "trim edge": Effort(1200, 300, 200, False),
    "look": Effort(300, 600, 600, True),
    "turns": Effort(3600, 0, 0, False),
    "round": Effort(300, 1500, 1500, False),
    "clear": Effort(900, 0, 0, True),
    "clamp": Effort(1200, 0, 0, True),
    "release": Effort(1200, 0, 0, False),
    "slack": Effort(900, 0, 0, False),
    "chains": Effort(600, 0, 0, False),
    "measure": Effort(600, 60, 60, True),
    "mark": Effort(1200, 0, 0, False),
    "cut": Effort(300, 600, 420, True),
    "punch": Effort(420, 45, 20, True),
    "seat": Effort(420, 40, 40, True),
    "tighten": Effort(300, 45, 15, True),
    "break": Effort(180, 15, 10, True),
    "rivet": Effort(300, 25, 15, True),
    "strip": Effort(900, 1200, 1200, True),
    "buff": Effort(600, 600, 420, True),
    "cement": Effort(3600, 600, 600, False),
    "coat": Effort(300, 300, 300, True),
    "lay": Effort(1800, 0, 0, False),
    "press": Effort(3600, 0, 0, False),
    "unpress": Effort(2400, 0, 0, False),
    "couple": Effort(1500, 0, 0, False),
    "trim": Effort(420, 0, 0, False, alone=True),
    "check": Effort(900, 0, 0, False),
    "tension": Effort(1500, 0, 0, False),
    "run": Effort(1800, 0, 0, False),
    "record": Effort(600, 0, 0, False, alone=True),
}
"""Assumed efforts by kind of step."""


@dataclass(frozen=True, slots=True)
class Timing:
    """Times of the steps and of the job [s], and how they stand to the window.

    verdict: "fits", "may not fit", "does not fit", "no window given" or, where no joint was chosen
    and the steps are not the whole job, "no verdict".
    work, before : working time of all people together, in the window and before the stop [s]; None
    in plans kept from before it was worked, and where nothing is done before the stop
    learnt : steps whose time is that of past jobs
    """

    likely: Figure
    low: Figure
    high: Figure
    window: Figure | None
    verdict: str
    work: Figure | None = None
    before: Figure | None = None
    learnt: int = 0

    @property
    def words(self) -> str:
        """The verdict as people read it; kept plans hold `verdict` itself."""
        return {
            "may not fit": "may overrun",
            "does not fit": "will overrun",
            "no verdict": "no verdict: no fastener fits, so this is not the whole job",
        }.get(self.verdict, self.verdict)

    @property
    def man_hours(self) -> str:
        """Working time of all people together, as people say it; nothing where it was not worked.

        Whoever waits meanwhile is not counted.
        """
        if self.work is None:
            return ""
        ahead = f", {_in_hours(self.before)} more before the stop" if self.before else ""
        return f"{_in_hours(self.work)} man-hours{ahead}"


def _in_hours(time: Figure) -> str:
    hours = time.value / 3600
    return f"{hours:.0f}" if hours >= 9.5 else f"{hours:.1f}"


@formula(
    "t = k (t_0 + n t_1)/g",
    gives=("t", Kind.TIME),
    symbols={"pace": "k", "fixed": "t_0", "count": "n", "each": "t_1", "gain": "g"},
    source="assumption",
)
def step_time(pace: float, fixed: float, count: float, each: float, gain: float) -> float:
    """Time of one step.

    Parameters
    ----------
    pace : 1 for the likely time, less for the short end, more for the long end [-]
    fixed : however many items [s]
    count : items (holes, bolts, cuts) [-]
    each : for each item [s]
    gain : how much a larger crew shortens it [-]

    Returns
    -------
    float [s]
    """
    return pace * (fixed + count * each) / gain


@formula(
    "t = q t_a",
    gives=("t", Kind.TIME),
    symbols={"share": "q", "assumed_time": "t_a"},
    source="arithmetic",
)
def learnt_time(share: float, assumed_time: float) -> float:
    """Time of a step by past jobs: their share [-] of the time assumed [s]."""
    return share * assumed_time


@dataclass(frozen=True, slots=True)
class PastShare:
    """What past jobs say of a step: time taken over time assumed, by the timers of phones.

    jobs : how many
    likely, low, high : half of the next jobs are below, one in ten is below, one in ten above
    """

    jobs: int
    likely: float
    low: float
    high: float


PastShares = Mapping[str, PastShare]
"""By the key of the step, only those with jobs enough."""


def crew_gain(people: int, shared: bool) -> float:
    """How much `people` shorten a step against two of them [-].

    One person alone takes 1.7 times as long; a third and fourth help only where the work can
    be shared, and never more than twofold (assumption of this tool).
    """
    if people == 1:
        return 1 / 1.7
    return min(2.0, 1 + 0.3 * (people - 2)) if shared else 1.0


MOST_AT_ONE = 6
"""More people do not shorten a step (`crew_gain`)."""


def ways_of(effort: str, count: int, work: Work, least: int, everyone: bool) -> tuple[Way, ...]:
    """How a step may be done: by how many people, in what time [s].

    everyone : whether the whole crew is there for it
    """
    kind = EFFORTS[effort]
    each = kind.each_by_power if work.tools is Tools.POWER else kind.each_by_hand
    if everyone:
        return ((work.crew, (kind.fixed + count * each) / _gain(kind, work.crew)),)
    fewest = max(least, 1 if kind.alone else 2)
    most = max(fewest, min(work.crew, MOST_AT_ONE)) if kind.shared else fewest
    return tuple(
        (people, (kind.fixed + count * each) / _gain(kind, min(people, work.crew)))
        for people in range(fewest, most + 1)
    )


def _gain(kind: Effort, people: int) -> float:
    return 1.0 if kind.alone else crew_gain(people, kind.shared)


def time_of(
    key: str, label: str, effort: str, count: int, work: Work, sheet: Worksheet, people: int
) -> Figure:
    """The time of one step as it is assumed."""
    kind = EFFORTS[effort]
    per_item = kind.each_by_power if work.tools is Tools.POWER else kind.each_by_hand
    fixed = assumed(
        f"timing.{effort}.fixed",
        f"fixed time, {effort}",
        kind.fixed,
        Kind.TIME,
        _NO_SOURCE,
        (_LOW * kind.fixed, _HIGH * kind.fixed),
    )
    each = assumed(
        f"timing.{effort}.each",
        f"time for each item, {effort}, {work.tools.value}",
        per_item,
        Kind.TIME,
        _NO_SOURCE,
        (_LOW * per_item, _HIGH * per_item),
    )
    return sheet.work(
        key,
        f"time: {label}",
        step_time,
        pace=1.0,
        fixed=fixed,
        count=float(count),
        each=each,
        gain=_gain(kind, people),
    )


def time_by_past_jobs(
    key: str, label: str, guess: Figure, past: PastShare, sheet: Worksheet
) -> Figure:
    """The time of a step by past jobs, whose shares are of the time assumed (`guess`)."""
    jobs = "1 past job" if past.jobs == 1 else f"{past.jobs} past jobs"
    share = Given(
        f"learnt.{key}",
        f"time taken over time assumed, {label}",
        past.likely,
        Kind.SHARE,
        Origin.MEASURED,
        f"{jobs}, by the timers of phones; eight of ten in the range",
        past.low,
        past.high,
    )
    return sheet.work(f"time.{key}", f"time: {label}", learnt_time, share=share, assumed_time=guess)


@dataclass(frozen=True, slots=True)
class Timed:
    """A step shared out: its task, its turn, its time, and the shares of that time [-] in which one
    job in ten is done, or not yet."""

    task: Task
    turn: Turn
    time: Figure
    low: float = _LOW
    high: float = _HIGH


def timing(
    steps: Sequence[Timed],
    work: Work,
    sheet: Worksheet,
    *,
    whole: bool = True,
    before: Sequence[tuple[int, Figure]] = (),
) -> Timing:
    """Put the steps together and hold the job against the window.

    The short and long ends take every step short or long together: wider than the truth when
    steps vary on their own.

    steps : those in the window
    whole : whether these are all steps of the job; of a part of it nobody can say that it fits
    before : people and time of each step before the stop
    """
    way = longest_way([step.turn for step in steps])
    likely = sheet.total(
        "time.job",
        "time of the whole job, steps that decide it",
        [steps[n].time for n in way],
        Kind.TIME,
    )
    low, high = _ends(steps, likely, work, sheet)
    hands = _hands(
        "time.hands",
        "working time of all people, in the window",
        [(step.turn.people, step.time) for step in steps],
        sheet,
    )
    ahead = (
        _hands("time.before", "working time of all people, before the stop", before, sheet)
        if before
        else None
    )
    window = sheet.note(work.window) if work.window is not None else None
    if not whole:
        verdict = "no verdict"
    elif window is None:
        verdict = "no window given"
    elif high.value <= window.value:
        verdict = "fits"
    elif likely.value <= window.value:
        verdict = "may not fit"
    else:
        verdict = "does not fit"
    learnt = sum(
        sheet.get(step.time.key.replace("time.", "learnt.", 1)) is not None for step in steps
    )
    return Timing(likely, low, high, window, verdict, hands, ahead, learnt)


def _ends(
    steps: Sequence[Timed], likely: Figure, work: Work, sheet: Worksheet
) -> tuple[Figure, Figure]:
    """The job with every step short, and with every step long."""
    if all((step.low, step.high) == (_LOW, _HIGH) for step in steps):
        low, high = (
            sheet.work(
                f"time.job_{name}",
                f"time of the whole job, {name} end",
                step_time,
                pace=pace,
                fixed=likely,
                count=0.0,
                each=0.0,
                gain=1.0,
            )
            for name, pace in (("short", _LOW), ("long", _HIGH))
        )
        return low, high
    low, high = (
        sheet.found(
            f"time.job_{name}",
            f"time of the whole job, {name} end",
            max(
                turn.end
                for turn in in_turn(
                    [step.task for step in steps],
                    work.crew,
                    [step.turn.people for step in steps],
                    [step.time.value * share for step, share in zip(steps, shares, strict=True)],
                )
            ),
            Kind.TIME,
            f"every step {name}: assumed ones by their span, learnt ones by past jobs",
            [step.time for step in steps],
        )
        for name, shares in (("short", [s.low for s in steps]), ("long", [s.high for s in steps]))
    )
    return low, high


def _hands(key: str, label: str, steps: Sequence[tuple[int, Figure]], sheet: Worksheet) -> Figure:
    value = sum((people * time.value for people, time in steps), 0.0)
    return sheet.found(
        key,
        label,
        value,
        Kind.TIME,
        "time of each step times the people it takes",
        [time for _, time in steps],
    )
