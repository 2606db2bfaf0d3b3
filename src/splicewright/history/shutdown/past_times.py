"""What past jobs say about how long a task takes.

Times are taken as lognormal. The stated range counts as if it had been seen in two earlier jobs,
so that the first real times already weigh, and the tenth outweighs it by far.

Source of the form: normal law with unknown mean and variance and its conjugate prior (Gelman et
al., Bayesian Data Analysis, ch. 3, from memory). The weight of two jobs is an assumption of this
tool.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.shutdown.tasks import Network, Task, draw_pert

_STATED_JOBS = 2.0  # how many jobs the stated range is worth
_HALF_RANGE = 1.2816  # the range is taken to hold 80 %: its ends are the 10 and 90 % times


@dataclass(frozen=True, slots=True)
class LearntTime:
    """Law of the next time of a task: ln time is Student's t about `centre`.

    centre, scale : of ln time in seconds
    freedom : of Student's t
    longest : times drawn are cut off here, at twice the longest stated or seen [s]
    jobs : how many past jobs it rests on
    """

    centre: float
    scale: float
    freedom: float
    longest: float
    jobs: int

    def time_for(self, chance: float) -> float:
        """Time that is enough with `chance` [s]."""
        from scipy.special import stdtrit

        quantile = float(stdtrit(self.freedom, chance))
        return min(math.exp(self.centre + self.scale * quantile), self.longest)


def learn_time(task: Task, past: Sequence[float]) -> LearntTime:
    """Law of the next time from the stated range and the times of past jobs.

    task : with its range; the shortest must be above zero
    past : times taken in past jobs [s]
    Raises InputError: times that are not above zero.
    """
    faults = [
        Fault(f"task {task.name}", f"took {t:g} s in a past job; accepted is above zero")
        for t in past
        if not (math.isfinite(t) and t > 0)
    ]
    if task.low <= 0:
        faults.append(
            Fault(f"task {task.name}", f"shortest time {task.low:g} s; accepted is above zero")
        )
    if faults:
        raise InputError(*faults)
    before = math.log(task.likely)
    spread = max(math.log(task.high / task.low) / (2 * _HALF_RANGE), 0.02)
    seen = np.log(np.asarray(past, dtype=np.float64))
    jobs, weight = seen.size, _STATED_JOBS + seen.size
    centre = (_STATED_JOBS * before + float(seen.sum())) / weight
    square = _STATED_JOBS * spread**2
    if jobs:
        mean = float(seen.mean())
        square += float(((seen - mean) ** 2).sum())
        square += _STATED_JOBS * jobs / weight * (mean - before) ** 2
    scale = math.sqrt(square / weight * (1 + 1 / weight))
    return LearntTime(centre, scale, weight, 2 * max([task.high, *past]), jobs)


def draw_learnt(
    network: Network, past: Mapping[str, Sequence[float]], runs: int = 10_000, seed: int = 1
) -> Array:
    """Times drawn from past jobs where there are any, else from the beta-PERT law.

    network : the tasks
    past : task name -> times taken in past jobs [s]
    Returns array (tasks, runs) [s].
    """
    unknown = [name for name in past if name not in {t.name for t in network.tasks}]
    if unknown:
        raise InputError(Fault(f"task {unknown[0]}", "has past times, but is no task of this job"))
    times = draw_pert(network, runs, seed)
    rng = np.random.default_rng(seed + 1)
    for row, task in zip(times, network.tasks, strict=True):
        if past.get(task.name):
            law = learn_time(task, past[task.name])
            drawn = law.centre + law.scale * rng.standard_t(law.freedom, runs)
            row[:] = np.minimum(np.exp(np.minimum(drawn, 700.0)), law.longest)
    return times
