"""Timing for the benchmarks: best of several runs, in seconds."""

from __future__ import annotations

import time
from collections.abc import Callable


def best_of(runs: int, work: Callable[[], object]) -> float:
    """The shortest of `runs` timings of `work` [s]: what the code takes, not the machine."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def report(what: str, seconds: float, reference: str, reference_seconds: float) -> None:
    """Print one line: time, reference time and ratio."""
    ratio = seconds / reference_seconds
    print(
        f"{what:<44} {1e3 * seconds:9.2f} ms   {reference:<32} {1e3 * reference_seconds:9.2f} ms"
        f"   ratio {ratio:8.3f}"
    )
