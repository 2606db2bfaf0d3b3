"""Tasks of a repair, what they wait for and hold, and times drawn from their ranges.

Three laws stand side by side, for the choice moves the answer: beta-PERT and triangular here, and
times learnt from past jobs in `past_times`.

References
----------
.. [1] Malcolm et al., Operations Research 7 (1959) 646, PERT; the beta law's own variance
   (mean - low)(high - mean)/7 is used, not ((high - low)/6)² (from memory).
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array


@dataclass(frozen=True, slots=True)
class Task:
    """One step of the job.

    name : of the task
    low, likely, high : shortest, likeliest and longest time [s]
    after : names of the tasks that must be finished first
    needs : people and tools it holds while it runs, by name; {"fitter": 2, "punch": 1}
    """

    name: str
    low: float
    likely: float
    high: float
    after: tuple[str, ...] = ()
    needs: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Network:
    """Checked tasks in an order in which each comes after those it waits for.

    tasks : in the order of work
    before : for each task, positions of the tasks it waits for
    """

    tasks: tuple[Task, ...]
    before: tuple[tuple[int, ...], ...]


def build_network(tasks: Sequence[Task]) -> Network:
    """Check tasks and put them in an order of work.

    Raises InputError: no task, a name given twice or unknown, times that are no range, a need that
    is no whole number, or tasks that wait for each other in a ring; every fault is named.
    """
    if not tasks:
        raise InputError(Fault("tasks", "there are none; give at least one"))
    names = [t.name for t in tasks]
    faults = []
    for i, t in enumerate(tasks):
        key = f"task {t.name}"
        if t.name in names[:i]:
            faults.append(Fault(key, "is given twice; names must differ"))
        if not (0 <= t.low <= t.likely <= t.high < math.inf):
            faults.append(
                Fault(
                    key,
                    f"times {t.low:g}, {t.likely:g}, {t.high:g} s are no range; accepted is "
                    "0 <= shortest <= likeliest <= longest",
                )
            )
        faults += [
            Fault(key, f"waits for {a}, which is no task of this job")
            for a in t.after
            if a not in names
        ]
        faults += [
            Fault(key, f"needs {n:g} of {r}; accepted is a whole number of one or more")
            for r, n in t.needs.items()
            if n != int(n) or n < 1
        ]
    if faults:
        raise InputError(*faults)
    order: list[Task] = []
    left = list(tasks)
    done: set[str] = set()
    while left:
        free = [t for t in left if done.issuperset(t.after)]
        if not free:
            ring = ", ".join(t.name for t in left)
            raise InputError(Fault("tasks", f"wait for each other in a ring: {ring}"))
        order += free
        done.update(t.name for t in free)
        left = [t for t in left if t.name not in done]
    place = {t.name: i for i, t in enumerate(order)}
    return Network(tuple(order), tuple(tuple(place[a] for a in t.after) for t in order))


def draw_pert(network: Network, runs: int = 10_000, seed: int = 1) -> Array:
    """Times drawn from the beta-PERT law, (tasks, runs) [s].

    alpha = 1 + 4 (likely - low)/(high - low), beta = 1 + 4 (high - likely)/(high - low); mean
    (low + 4 likely + high)/6 [1]_. Its long end is thin: use it where ranges are honest.
    """
    times = np.empty((len(network.tasks), runs))
    for row, t in zip(times, network.tasks, strict=True):
        rng, span = _own_draws(t, seed), t.high - t.low
        if span <= 0:
            row[:] = t.likely
            continue
        a, b = 1 + 4 * (t.likely - t.low) / span, 1 + 4 * (t.high - t.likely) / span
        row[:] = t.low + span * rng.beta(a, b, runs)
    return times


def draw_triangular(network: Network, runs: int = 10_000, seed: int = 1) -> Array:
    """Times drawn from the triangular law, (tasks, runs) [s]; its long end is fatter."""
    times = np.empty((len(network.tasks), runs))
    for row, t in zip(times, network.tasks, strict=True):
        rng = _own_draws(t, seed)
        row[:] = rng.triangular(t.low, t.likely, t.high, runs) if t.high > t.low else t.likely
    return times


def _own_draws(task: Task, seed: int) -> np.random.Generator:
    """A task has the same draws beside whatever others it stands, so that sets can be compared."""
    return np.random.default_rng([seed, zlib.crc32(task.name.encode())])


def with_common_cause(times: Array, spread: float, seed: int = 2) -> Array:
    """The same times, each run slowed or sped up as a whole: weather, access, a tired crew.

    Times are multiplied by exp(spread z), z standard normal and the same for all tasks of a
    run. Without it tasks are independent, which understates the late end.

    times : (tasks, runs) [s]
    spread : standard deviation of the logarithm; 0.1 is one run in six slower by over 10 % [1]
    """
    if not (math.isfinite(spread) and spread >= 0):
        raise InputError(
            Fault("common cause", f"{spread:g} must be a finite number of zero or more")
        )
    rng = np.random.default_rng(seed)
    return np.asarray(times * np.exp(spread * rng.standard_normal(times.shape[1])))
