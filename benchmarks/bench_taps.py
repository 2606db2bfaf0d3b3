"""Speed of "can it run?" at a tap, and of the answer a plan's form gives, as ratios within one run.

    python -m benchmarks.bench_taps

1. a tap on a joint whose belt end is factored, against the first answer with nothing kept;
2. the same findings again; 3. a draft from answers against the plan inside it.
"""

from __future__ import annotations

import itertools
import time
from pathlib import Path

from benchmarks.timing import best_of, report
from splicewright.actions.inspection.assess_taps import assess_taps, read_taps, tapped_by_plan
from splicewright.actions.plan.from_answers import draft_from_answers
from splicewright.actions.plan.plan import plan_joint
from splicewright.job import plan
from splicewright.joint import load_ranges

SITE = Path(__file__).parents[1] / "examples" / "karst-hollow"


def main() -> None:
    """Measure and print."""
    made = plan_joint(SITE / "conveyors/incline.toml", SITE / "jobs/incline-worn-joint.toml")
    assert made.layout is not None
    plates = made.layout.count

    def tap(number: int) -> None:
        taps = {f"leading.{number}": ["lost"], "trailing.9": ["cracked"]}
        assess_taps(tapped_by_plan("kept", made), read_taps(taps, plates, "J1"))

    start = time.perf_counter()
    tap(1)
    first = time.perf_counter() - start
    numbers = iter(range(2, plates))
    report("a tap, belt end kept", best_of(5, lambda: tap(next(numbers))), "first answer", first)
    core = []
    for number in itertools.islice(numbers, 5):
        begin = time.process_time()
        tap(number)
        core.append(time.process_time() - begin)
    report("the same, of one core", min(core), "first answer", first)
    report("the same findings again", best_of(5, lambda: tap(1)), "first answer", first)
    ranges = load_ranges((SITE / "fasteners",))
    answers = {"reason": ["worn joint"], "thickness": ["11.2 mm", "7/16 in"], "window": ["8 h"]}
    report(
        "answers of a form",
        best_of(5, lambda: draft_from_answers(made.conveyor, answers, ranges)),
        "the plan inside",
        best_of(5, lambda: plan(made.conveyor, made.work, ranges)),
    )


if __name__ == "__main__":
    main()
