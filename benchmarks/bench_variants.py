"""Many variants of one conveyor at once: all load cases, and an uncertainty run.

Reference in the same run: the same variants worked one by one (a few of them, scaled up).
Aims: 100,000 variants through all load cases 200 times faster than one by one and under 5 s;
an uncertainty run of 4,096 samples under 1 s.
"""

from __future__ import annotations

from functools import partial
from pathlib import Path

import numpy as np

from benchmarks.timing import best_of, report
from splicewright import load_conveyor
from splicewright.quantities import Worksheet
from splicewright.tension import applicable, governing, unknowns
from splicewright.tension.unknowns import from_uniform, open_inputs, variants, with_inputs

SITE = Path(__file__).parents[1] / "examples" / "karst-hollow" / "conveyors"
VARIANTS, ALONE = 100_000, 40


def main() -> None:
    """Measure and print."""
    conveyor = load_conveyor(SITE / "incline.toml")
    inputs = open_inputs(conveyor)
    shares = np.random.default_rng(1).random((len(inputs), VARIANTS))
    values = {g.key: from_uniform(g, s) for g, s in zip(inputs, shares, strict=True)}
    singles = [{key: float(v[n]) for key, v in values.items()} for n in range(ALONE)]

    def one_by_one() -> list[float]:
        return [governing(with_inputs(conveyor, own), Worksheet()).running.value for own in singles]

    found = variants(conveyor, values)[0]
    assert np.allclose(found[:ALONE], one_by_one(), rtol=1e-9)
    together = best_of(3, lambda: variants(conveyor, values))
    alone = best_of(3, one_by_one) * VARIANTS / ALONE
    cases = len(applicable(conveyor))
    report(
        f"{VARIANTS} variants, {cases} cases, {len(inputs)} inputs open (aim 5 s)",
        together, "one by one, scaled up", alone,
    )  # fmt: skip
    print(f"{'':<44} {alone / together:9.0f} times faster than one by one (aim 200)")
    for name in ("incline", "shuttle"):
        plant = load_conveyor(SITE / f"{name}.toml")
        span = best_of(3, partial(unknowns, plant, rank=False))
        ranked = best_of(3, partial(unknowns, plant))
        report(f"4,096 samples, {name} (aim 1 s)", span, "the same with ranking", ranked)


if __name__ == "__main__":
    main()
