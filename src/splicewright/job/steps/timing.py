"""Work time of each step from counts, crew and tools, and the sum against the window.

No published work study was found. Every time here is an assumption of this tool with a wide
span, there to be replaced by the crew's own records.
"""

from __future__ import annotations

from dataclasses import dataclass

from splicewright.plant import Tools, Work
from splicewright.quantities import Figure, Kind, Worksheet, assumed, formula

_LOW, _HIGH = 0.7, 1.6
_NO_SOURCE = "assumption of this tool, no source; replace by your own times"


@dataclass(frozen=True, slots=True)
class Effort:
    """What one kind of step takes: fixed time and time for each item [s], by hand or power.

    shared: whether more than two people shorten it.
    """

    fixed: float
    each_by_hand: float
    each_by_power: float
    shared: bool


EFFORTS: dict[str, Effort] = {
    "park": Effort(1200, 0, 0, False),
    "permit": Effort(1200, 0, 0, False),
    "isolate": Effort(1500, 300, 300, False),
    "open": Effort(600, 0, 0, False),
    "turn": Effort(300, 300, 300, False),
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
    "clamp": Effort(2100, 0, 0, False),
    "release": Effort(1200, 0, 0, False),
    "slack": Effort(900, 0, 0, False),
    "chains": Effort(600, 0, 0, False),
    "measure": Effort(600, 60, 60, False),
    "mark": Effort(1200, 0, 0, False),
    "cut": Effort(300, 600, 420, False),
    "punch": Effort(420, 45, 20, True),
    "seat": Effort(420, 40, 40, True),
    "tighten": Effort(300, 45, 15, True),
    "break": Effort(180, 15, 10, True),
    "rivet": Effort(300, 25, 15, True),
    "strip": Effort(900, 1200, 1200, False),
    "buff": Effort(600, 600, 420, True),
    "cement": Effort(3600, 600, 600, False),
    "coat": Effort(300, 300, 300, True),
    "lay": Effort(1800, 0, 0, False),
    "press": Effort(3600, 0, 0, False),
    "unpress": Effort(2400, 0, 0, False),
    "couple": Effort(1500, 0, 0, False),
    "trim": Effort(420, 0, 0, False),
    "check": Effort(900, 0, 0, False),
    "tension": Effort(1500, 0, 0, False),
    "run": Effort(1800, 0, 0, False),
    "record": Effort(600, 0, 0, False),
}
"""Assumed efforts by kind of step."""


@dataclass(frozen=True, slots=True)
class Timing:
    """Times of the steps and of the job [s], and how they stand to the window.

    verdict: "fits", "may not fit", "does not fit", "no window given" or, where no joint was chosen
    and the steps are not the whole job, "no verdict".
    """

    likely: Figure
    low: Figure
    high: Figure
    window: Figure | None
    verdict: str

    @property
    def words(self) -> str:
        """The verdict as people read it; kept plans hold `verdict` itself."""
        return {
            "may not fit": "may overrun",
            "does not fit": "will overrun",
            "no verdict": "no verdict: no fastener fits, so this is not the whole job",
        }.get(self.verdict, self.verdict)


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


def crew_gain(people: int, shared: bool) -> float:
    """How much `people` shorten a step against a crew of two [-].

    One person alone takes 1.7 times as long; a third and fourth help only where the work can
    be shared, and never more than twofold (assumption of this tool).
    """
    if people == 1:
        return 1 / 1.7
    return min(2.0, 1 + 0.3 * (people - 2)) if shared else 1.0


def time_of(key: str, label: str, effort: str, count: int, work: Work, sheet: Worksheet) -> Figure:
    """The likely time of one step.

    Parameters
    ----------
    key : of the step; label : its title
    effort : which of `EFFORTS`
    count : items worked on
    work : crew and tools
    sheet : takes the lines
    """
    kind = EFFORTS[effort]
    per_item = kind.each_by_power if work.tools is Tools.POWER else kind.each_by_hand
    fixed = assumed(f"timing.{effort}.fixed", f"fixed time, {effort}", kind.fixed, Kind.TIME,
                    _NO_SOURCE, (_LOW * kind.fixed, _HIGH * kind.fixed))  # fmt: skip
    each = assumed(f"timing.{effort}.each", f"time for each item, {effort}, {work.tools.value}",
                   per_item, Kind.TIME, _NO_SOURCE,
                   (_LOW * per_item, _HIGH * per_item))  # fmt: skip
    return sheet.work(
        f"time.{key}", f"time: {label}", step_time,
        pace=1.0, fixed=fixed, count=float(count), each=each,
        gain=crew_gain(work.crew, kind.shared),
    )  # fmt: skip


def timing(
    times: tuple[Figure, ...], work: Work, sheet: Worksheet, *, whole: bool = True
) -> Timing:
    """Sum the steps and hold the sum against the window.

    The short and long ends take every step short or long together: wider than the truth when
    steps vary on their own. `whole`: whether these are all steps of the job; of a part of it
    nobody can say that the job fits.
    """
    likely = sheet.total("time.job", "time of the whole job", list(times), Kind.TIME)
    ends = [
        sheet.work(f"time.job_{name}", f"time of the whole job, {name} end", step_time,
                   pace=pace, fixed=likely, count=0.0, each=0.0, gain=1.0)
        for name, pace in (("short", _LOW), ("long", _HIGH))
    ]  # fmt: skip
    if not whole:
        window = sheet.note(work.window) if work.window is not None else None
        return Timing(likely, ends[0], ends[1], window, "no verdict")
    if work.window is None:
        return Timing(likely, ends[0], ends[1], None, "no window given")
    window = sheet.note(work.window)
    if ends[1].value <= window.value:
        verdict = "fits"
    elif likely.value <= window.value:
        verdict = "may not fit"
    else:
        verdict = "does not fit"
    return Timing(likely, ends[0], ends[1], window, verdict)
