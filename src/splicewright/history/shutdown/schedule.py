"""Will the job fit the window: tasks, crew and tools, with times that are ranges.

Every run draws a time for each task and lets the crew work greedily: whenever people and tools
are free, the first task of the priority list that is ready begins [1]_. The share of runs that
end in time is the chance to finish.

Two things move the answer more than the network does, and are stated with it: the law the times
are drawn from, and merge bias - where branches meet, the latest counts, so that the finish is
later on average than the longest path of average times [2]_.

References
----------
.. [1] Graham, SIAM J. Appl. Math. 17 (1969) 416: a greedy schedule may get longer with more crew
   or shorter tasks (from memory; all four of its schedules are reproduced).
.. [2] Clark, Operations Research 9 (1961) 145: the largest of random times (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.shutdown.tasks import Network
from splicewright.quantities import Kind, formula
from splicewright.quantities.going_on import go_on

Whole = NDArray[np.int64]


@dataclass(frozen=True)
class Schedules:
    """Start and end of every task in every run.

    Attributes
    ----------
    network : the tasks
    start, end : (tasks, runs) [s from the start of the window]
    """

    network: Network
    start: Array
    end: Array

    @property
    def finish(self) -> Array:
        """End of the whole job, (runs,) [s]."""
        return np.asarray(self.end.max(axis=0))


def longest_path_first(network: Network, times: Array) -> tuple[int, ...]:
    """Priority list: the task with the longest average path behind it goes first."""
    mean = times.mean(axis=1)
    behind = mean.copy()
    for i in range(len(network.tasks) - 1, -1, -1):
        for j in network.before[i]:
            behind[j] = max(behind[j], mean[j] + behind[i])
    return tuple(int(i) for i in np.argsort(-behind, kind="stable"))


def most_work_behind_first(network: Network, times: Array) -> tuple[int, ...]:
    """Priority list: the task with the most work that waits for it goes first."""
    mean = times.mean(axis=1)
    waits: list[set[int]] = [set() for _ in network.tasks]
    for i in range(len(network.tasks) - 1, -1, -1):
        for j in network.before[i]:
            waits[j] |= {i} | waits[i]
    work = np.array([mean[i] + sum(mean[k] for k in waits[i]) for i in range(len(waits))])
    return tuple(int(i) for i in np.argsort(-work, kind="stable"))


def work_greedily(
    network: Network, times: Array, crew: Mapping[str, int], order: Sequence[int]
) -> Schedules:
    """Let the crew begin, at every moment, the first ready task of the list that it can [1]_.

    Parameters
    ----------
    network : the tasks
    times : (tasks, runs) [s]
    crew : how many of each kind of people and tools there are
    order : positions of the tasks, first priority first

    Raises
    ------
    InputError
        A task needs more than the crew has.
    """
    _check_crew(network, crew)
    number, runs = times.shape
    kinds = sorted({r for t in network.tasks for r in t.needs})
    need = np.array([[t.needs.get(r, 0) for r in kinds] for t in network.tasks], dtype=np.int64)
    free = np.tile(np.array([[crew[r]] for r in kinds], dtype=np.int64), (1, runs))
    start, end = np.full((number, runs), np.inf), np.full((number, runs), np.inf)
    begun, ended = np.zeros((number, runs), np.bool_), np.zeros((number, runs), np.bool_)
    now = np.zeros(runs)
    while not ended.all():
        go_on()
        for i in order:
            ready = ~begun[i]
            if not ready.any():
                continue
            for j in network.before[i]:
                ready &= ended[j]
            for k in np.flatnonzero(need[i]):
                ready &= free[k] >= need[i, k]
            if not ready.any():
                continue
            begun[i] |= ready
            start[i] = np.where(ready, now, start[i])
            end[i] = np.where(ready, now + times[i], end[i])
            for k in np.flatnonzero(need[i]):
                free[k] -= np.where(ready, need[i, k], 0)
        active = np.where(begun & ~ended, end, np.inf)
        soonest = active.min(axis=0)
        over = np.isinf(soonest)
        now = np.where(over, now, soonest)
        finished = (active <= now) & begun & ~ended
        ended |= finished
        if kinds:
            free += need.T @ finished
    return Schedules(network, start, end)


@formula(
    "e = √(p (1 - p)/N)",
    gives=("e", Kind.SHARE),
    symbols={"share": "p", "runs": "N"},
    source="binomial-error",
)
def simulation_error(share: float, runs: int) -> float:
    """Standard error of a chance that was counted in simulated runs.

    Parameters
    ----------
    share : counted [0..1]
    runs : simulated [-]
    """
    return math.sqrt(share * (1 - share) / runs)


@dataclass(frozen=True, slots=True)
class Chance:
    """A simulated chance with the error of its simulation, sqrt(p (1 - p)/runs)."""

    share: float
    error: float


@dataclass(frozen=True)
class WindowForecast:
    """Whether the job fits.

    Attributes
    ----------
    finish : end of each run, sorted, (runs,) [s]
    path_mean : longest path of average times, with crew without end [s]
    merge_bias : how much later, on average, the branches make it where they meet [s]
    crew_wait : how much later the limits of crew and tools make it [s]
    critical : task -> share of runs in which it held up the finish [0..1]
    rule : priority rule that did best
    schedules : all runs
    """

    finish: Array
    path_mean: float
    merge_bias: float
    crew_wait: float
    critical: Mapping[str, float]
    rule: str
    schedules: Schedules

    @property
    def mean(self) -> float:
        """Mean finish [s]."""
        return float(self.finish.mean())

    def chance_by(self, time: float) -> Chance:
        """Chance to finish by `time` [s]."""
        share = float(np.searchsorted(self.finish, time, side="right")) / self.finish.size
        return Chance(share, simulation_error(share, self.finish.size))

    def time_for(self, chance: float) -> float:
        """Window that is long enough with `chance` [s]."""
        return float(np.quantile(self.finish, chance))


def best_schedule(network: Network, times: Array, crew: Mapping[str, int]) -> tuple[str, Schedules]:
    """The priority rule that ends sooner on average on the same times, and its schedules."""
    rules = {
        "longest path first": longest_path_first(network, times),
        "most work behind first": most_work_behind_first(network, times),
    }
    tried: dict[tuple[int, ...], Schedules] = {}
    for order in rules.values():
        if order not in tried:
            tried[order] = work_greedily(network, times, crew, order)
    rule = min(rules, key=lambda name: float(tried[rules[name]].finish.mean()))
    return rule, tried[rules[rule]]


def forecast_window(network: Network, times: Array, crew: Mapping[str, int]) -> WindowForecast:
    """Simulate the job with a crew and say when it ends, and what holds it up.

    Two priority rules are tried on the same times, and the one that ends sooner on average is
    kept; a greedy crew is not always the best crew, so a skilled foreman may do better.

    Parameters
    ----------
    network : the tasks
    times : drawn times, (tasks, runs) [s]; use the same for all crews that are compared
    crew : how many of each kind of people and tools there are
    """
    if times.ndim != 2 or times.shape[0] != len(network.tasks) or not times.shape[1]:
        sentence = f"have shape {times.shape}; accepted is ({len(network.tasks)}, runs)"
        raise InputError(Fault("times", sentence))
    rule, best = best_schedule(network, times, crew)
    path_mean = float(_unlimited(network, times.mean(axis=1, keepdims=True))[0])
    merged = float(_unlimited(network, times).mean())
    finish = np.sort(best.finish)
    return WindowForecast(
        finish,
        path_mean,
        merged - path_mean,
        float(finish.mean()) - merged,
        _critical_shares(best),
        rule,
        best,
    )


@dataclass(frozen=True, slots=True)
class Gain:
    """What a change of crew or tools buys, on the same drawn times.

    Attributes
    ----------
    before, after : chance to finish within the window
    saved : mean time saved; negative when the greedy schedule got longer [s]
    sooner : share of runs that end sooner [0..1]
    """

    before: Chance
    after: Chance
    saved: float
    sooner: float


def what_more_buys(
    network: Network,
    times: Array,
    crew: Mapping[str, int],
    more: Mapping[str, int],
    window: float,
    faster: Mapping[str, float] | None = None,
) -> Gain:
    """Compare a crew with a larger one, or with one that has better tools.

    Parameters
    ----------
    network, times, crew : as `forecast_window`
    more : what is added, by name, such as {"fitter": 2}
    window : time there is [s]
    faster : task -> share of its time it takes with the better tools [0..1]

    Raises
    ------
    InputError
        A task that is none of the job, or a share that is not above 0 and up to 1.
    """
    larger = {**crew, **{r: crew.get(r, 0) + n for r, n in more.items()}}
    quick = _quickened(network, times, faster or {})
    small = forecast_window(network, times, crew)
    large = forecast_window(network, quick, larger)
    saved = small.schedules.finish - large.schedules.finish
    return Gain(
        small.chance_by(window),
        large.chance_by(window),
        float(saved.mean()),
        float((saved > 1e-9).mean()),
    )


def _quickened(network: Network, times: Array, faster: Mapping[str, float]) -> Array:
    names = [t.name for t in network.tasks]
    faults = [
        Fault(f"task {name}", "takes less time with more, but is no task of this job")
        for name in faster
        if name not in names
    ]
    faults += [
        Fault(f"task {name}", f"takes {share:g} of its time with more; accepted is above 0 up to 1")
        for name, share in faster.items()
        if not 0 < share <= 1
    ]
    if faults:
        raise InputError(*faults)
    return np.asarray(times * np.array([faster.get(name, 1.0) for name in names])[:, None])


def _unlimited(network: Network, times: Array) -> Array:
    """Finish when nobody has to wait for people or tools, (runs,)."""
    end = np.zeros(times.shape)
    for i, before in enumerate(network.before):
        start = end[list(before)].max(axis=0) if before else 0.0
        end[i] = start + times[i]
    return np.asarray(end.max(axis=0))


def _critical_shares(schedules: Schedules) -> dict[str, float]:
    """Follow each run back from its last task through whatever it waited for.

    A task waits for a task before it, or for the people and tools of one that ended as it began.
    """
    start, end = schedules.start, schedules.end
    number, runs = start.shape
    column = np.arange(runs)
    held = np.zeros((number, runs), np.bool_)
    here: Whole = end.argmax(axis=0)
    going = np.ones(runs, np.bool_)
    before = np.zeros((number, number))
    for i, waits in enumerate(schedules.network.before):
        before[i, list(waits)] = 1.0
    for _ in range(number):
        held[here[going], column[going]] = True
        began = start[here, column]
        touches = end == began
        touches &= ~held
        score = touches * (1.0 + before[here].T)
        nearest = score.argmax(axis=0)
        going &= (score[nearest, column] > 0) & (began > 0)
        if not going.any():
            break
        here = np.where(going, nearest, here)
    share = held.mean(axis=1)
    return {t.name: float(s) for t, s in zip(schedules.network.tasks, share, strict=True)}


def _check_crew(network: Network, crew: Mapping[str, int]) -> None:
    faults = [
        Fault(
            f"task {t.name}",
            f"needs {n} of {r}, but the crew has {crew.get(r, 0)}; the job cannot be done so",
        )
        for t in network.tasks
        for r, n in t.needs.items()
        if n > crew.get(r, 0)
    ]
    if faults:
        raise InputError(*faults)
