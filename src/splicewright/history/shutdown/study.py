"""Whether the work fits the shutdown: chance, what holds it up, what more crew buys, a plan."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np

from splicewright.history.arrays import Array
from splicewright.history.shutdown.past_times import draw_learnt
from splicewright.history.shutdown.schedule import (
    Chance,
    Gain,
    WindowForecast,
    forecast_window,
    longest_path_first,
    most_work_behind_first,
    what_more_buys,
    work_greedily,
)
from splicewright.history.shutdown.tasks import (
    Network,
    Task,
    build_network,
    draw_pert,
    draw_triangular,
    with_common_cause,
)


@dataclass(frozen=True, slots=True)
class More:
    """People or tools that could be added.

    name : of the addition
    crew : how many of whom or what
    faster : task -> share of its time it then takes [0..1]; for all jobs alike without their name
    """

    name: str
    crew: Mapping[str, int]
    faster: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Shutdown:
    """What is to be done in a window.

    name : of the shutdown
    window : time there is [s]
    tasks : names of several jobs are "job: task"
    crew : how many of each kind of people and tools there are
    more : what could be added
    past : task -> times it took in past jobs [s]
    law : "pert" or "triangular", from which times without a past are drawn
    common_cause : spread of what slows or speeds up all tasks of a run together; 0 where nobody
        asked for it: tasks are then independent, the early side [1]
    runs : simulated
    invented : the figures are
    steps : task -> key of the step of a plan it stands for, by which past jobs are found
    notes : what was assumed or left out on the way, to be told with the answer
    begins : when the window does, by the clock of the place; None where that is not stated
    """

    name: str
    window: float
    tasks: tuple[Task, ...]
    crew: Mapping[str, int]
    more: tuple[More, ...] = ()
    past: Mapping[str, tuple[float, ...]] | None = None
    law: str = "pert"
    common_cause: float = 0.0
    runs: int = 5000
    invented: bool = False
    steps: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    begins: datetime | None = None


@dataclass(frozen=True, slots=True)
class Bar:
    """One task of the plan at likely times.

    task, needs : its name, and whom and what it holds
    start, end : when all tasks take their likely times [s]
    late : end that nine runs in ten keep [s]
    critical : share of runs in which it held up the finish [0..1]
    """

    task: str
    needs: Mapping[str, int]
    start: float
    end: float
    late: float
    critical: float


@dataclass(frozen=True, slots=True)
class Bought:
    """What one addition buys."""

    name: str
    gain: Gain


@dataclass(frozen=True)
class ShutdownStudy:
    """Whether the work fits.

    shutdown : what was asked
    chance : to finish within the window
    mean, half, nine_tenths : mean finish, and windows long enough in 50 and 90 % of runs [s]
    path_mean, merge_bias, crew_wait : longest path of average times, and what meeting branches
        and the limits of the crew add to it [s]
    rule : priority rule of the plan
    bars : tasks in the order of their start
    bought : for each addition
    other_law, other_chance : the law not chosen, and the chance by it
    """

    shutdown: Shutdown
    chance: Chance
    mean: float
    half: float
    nine_tenths: float
    path_mean: float
    merge_bias: float
    crew_wait: float
    rule: str
    bars: tuple[Bar, ...]
    bought: tuple[Bought, ...]
    other_law: str
    other_chance: Chance

    def against(self, other: ShutdownStudy) -> Gain:
        """What the way of another study buys; `sooner` is not known, as runs are not kept."""
        return Gain(self.chance, other.chance, self.mean - other.mean, math.nan)

    @property
    def critical(self) -> tuple[Bar, ...]:
        """Tasks that hold up the finish in a tenth of the runs or more, most often first."""
        held = [b for b in self.bars if b.critical >= 0.1]
        return tuple(sorted(held, key=lambda b: -b.critical))


def study_shutdown(shutdown: Shutdown) -> ShutdownStudy:
    """Simulate the shutdown.

    shutdown : window, tasks and crew
    Raises InputError: tasks that cannot be done, as `build_network` and `forecast_window`.
    """
    network = build_network(shutdown.tasks)
    times = _times(network, shutdown, shutdown.law)
    forecast = forecast_window(network, times, shutdown.crew)
    other = "triangular" if shutdown.law == "pert" else "pert"
    by_other = forecast_window(network, _times(network, shutdown, other), shutdown.crew)
    bought = tuple(
        Bought(
            m.name,
            what_more_buys(
                network, times, shutdown.crew, m.crew, shutdown.window, _of_all_jobs(m, network)
            ),
        )
        for m in shutdown.more
    )
    return ShutdownStudy(
        shutdown,
        forecast.chance_by(shutdown.window),
        forecast.mean,
        forecast.time_for(0.5),
        forecast.time_for(0.9),
        forecast.path_mean,
        forecast.merge_bias,
        forecast.crew_wait,
        forecast.rule,
        _bars(network, shutdown, forecast),
        bought,
        other,
        by_other.chance_by(shutdown.window),
    )


def _of_all_jobs(more: More, network: Network) -> dict[str, float]:
    """What gets faster, task by task: a name without its job stands for that task of every job."""
    names = [t.name for t in network.tasks]
    shares: dict[str, float] = {}
    for name, share in more.faster.items():
        meant = [n for n in names if n == name or n.endswith(f": {name}")]
        shares.update(dict.fromkeys(meant or [name], share))
    return shares


def _times(network: Network, shutdown: Shutdown, law: str) -> Array:
    times = draw_learnt(network, shutdown.past or {}, shutdown.runs)
    drawn = (draw_pert if law == "pert" else draw_triangular)(network, shutdown.runs)
    for row, (learnt, task) in enumerate(zip(times, network.tasks, strict=True)):
        if (shutdown.past or {}).get(task.name):
            drawn[row] = learnt
    return with_common_cause(drawn, shutdown.common_cause)


def _bars(network: Network, shutdown: Shutdown, forecast: WindowForecast) -> tuple[Bar, ...]:
    likely = np.array([[t.likely] for t in network.tasks])
    orders: dict[str, Sequence[int]] = {
        "longest path first": longest_path_first(network, likely),
        "most work behind first": most_work_behind_first(network, likely),
    }
    plan = work_greedily(network, likely, shutdown.crew, orders[forecast.rule])
    late = np.quantile(forecast.schedules.end, 0.9, axis=1)
    bars = [
        Bar(
            t.name,
            t.needs,
            float(plan.start[i, 0]),
            float(plan.end[i, 0]),
            float(late[i]),
            forecast.critical[t.name],
        )
        for i, t in enumerate(network.tasks)
    ]
    return tuple(sorted(bars, key=lambda b: (b.start, b.end)))
