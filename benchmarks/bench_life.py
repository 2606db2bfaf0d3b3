"""Speed of the life, fleet and shutdown kernels, as ratios within one run where there is a rival.

    python benchmarks/bench_life.py

Goals: a fit of 100 000 lives, about half suspended, at least 20 times faster than lifelines at the
same estimate; a fleet forecast of 20 000 joints under 5 s; 10 000 runs of a 40-task shutdown
under 1 s.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import lifelines
import numpy as np

from splicewright.history import (
    Task,
    Weibull,
    build_network,
    draw_pert,
    fit_weibull,
    fleet_limits,
    forecast_fleet,
    forecast_window,
    likelihood_region,
    lives_of,
)


def best_of(times: int, work: Callable[[], object]) -> float:
    """Shortest of several runs [s]."""
    spans = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        spans.append(time.perf_counter() - start)
    return min(spans)


def fit_many() -> None:
    """Fit 100 000 lives, against lifelines."""
    rng = np.random.default_rng(1)
    life, stop = 1000 * rng.weibull(1.8, 100_000), rng.uniform(0, 2000, 100_000)
    seen, failed = np.minimum(life, stop), life <= stop

    def ours() -> Weibull:
        return fit_weibull(lives_of(seen, np.where(failed, seen, math.inf))).law

    def theirs() -> lifelines.WeibullFitter:
        return lifelines.WeibullFitter().fit(seen, failed)

    law, other = ours(), theirs()
    same = max(abs(law.shape / other.rho_ - 1), abs(law.scale / other.lambda_ - 1))
    mine, rival = best_of(7, ours), best_of(3, theirs)
    print(
        f"fit of 100 000 lives: {mine * 1e3:.1f} ms, lifelines {rival * 1e3:.0f} ms, "
        f"ratio {rival / mine:.0f}, estimates apart by {same:.1e}"
    )


def forecast_many() -> None:
    """Forecast 20 000 joints with limits."""
    rng = np.random.default_rng(2)
    life = 1000 * rng.weibull(2.2, 60)
    fit = fit_weibull(lives_of(np.minimum(life, 1100), np.where(life < 1100, life, math.inf)))
    ages, further = rng.uniform(0, 900, 20_000), rng.uniform(50, 150, 20_000)

    def work() -> None:
        fleet = forecast_fleet(fit.law, ages, further)
        fleet.worst_first()
        fleet.enough_for(0.95)
        fleet_limits(likelihood_region(fit), ages, further)

    print(f"fleet forecast of 20 000 joints with limits: {best_of(3, work):.2f} s")


def simulate_shutdown() -> None:
    """Simulate 10 000 runs of 40 tasks and a crew of three, two priority rules."""
    rng = np.random.default_rng(3)
    tasks = []
    for i in range(40):
        after = tuple(f"t{j}" for j in rng.choice(i, size=2, replace=False)) if i > 2 else ()
        likely = rng.uniform(600, 3600)
        need = {"fitter": int(rng.integers(1, 3))}
        tasks.append(Task(f"t{i}", 0.7 * likely, likely, 2 * likely, after, need))
    network = build_network(tasks)

    def work() -> None:
        forecast_window(network, draw_pert(network, 10_000), {"fitter": 3})

    print(f"shutdown of 40 tasks, 10 000 runs, two rules: {best_of(3, work):.2f} s")


if __name__ == "__main__":
    fit_many()
    forecast_many()
    simulate_shutdown()
