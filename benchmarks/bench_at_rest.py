"""The belt at rest: one job, and a fleet of 10,000 conveyors in one call.

Reference in the same run: a few conveyors of the fleet worked one by one, scaled up; for one job,
the demand of the same conveyor. Aims: all stages and single failures of a job under 20 ms warm.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from benchmarks.timing import best_of, report
from splicewright import load_conveyor, load_work
from splicewright.loop import budget, lay_out
from splicewright.plant import Conveyor
from splicewright.quantities import Given, Worksheet
from splicewright.tension import demand, governing
from splicewright.tension.at_rest import at_rest
from splicewright.tension.at_rest.bounds import bounds_at
from splicewright.tension.at_rest.model import stopped

SITE = Path(__file__).parents[1] / "examples" / "karst-hollow"
FLEET, ALONE = 10_000, 20


def _known(given: Given, value: float) -> Given:
    return replace(given, value=value, low=value, high=value)


def _fleet(conveyor: Conveyor, belt: float, load: float, friction: float) -> Conveyor:
    return replace(
        conveyor,
        belt=replace(conveyor.belt, line_mass=_known(conveyor.belt.line_mass, belt)),
        material=replace(conveyor.material, line_mass=_known(conveyor.material.line_mass, load)),
        method=replace(
            conveyor.method, standing_friction=_known(conveyor.method.standing_friction, friction)
        ),
    )


def main() -> None:
    """Measure and print."""
    conveyor = load_conveyor(SITE / "conveyors" / "incline.toml")
    work = load_work(SITE / "jobs" / "incline-worn-joint.toml", conveyor)
    run = next(r for r in conveyor.runs() if r.name == work.run)

    def asked() -> Worksheet:
        sheet = Worksheet()
        demand(conveyor, sheet)
        return sheet

    def job() -> None:
        sheet = Worksheet()
        path, found = lay_out(conveyor, sheet), demand(conveyor, sheet)
        belt = budget(conveyor, work, path.belt_length, sheet.note(work.cut_out), sheet)
        at_rest(conveyor, work, path, found, belt.slack_needed, belt.slack_there, sheet)

    whole, before = best_of(20, job), best_of(20, asked)
    report("stages and failures of one job (aim 20 ms)", whole - before, "its demand", before)

    rng = np.random.default_rng(1)
    values = [rng.uniform(a, b, FLEET) for a, b in ((12, 22), (40, 120), (0.02, 0.06))]

    def clamps(plant: Conveyor) -> float:
        sheet = Worksheet()
        found = governing(plant, sheet)
        rest = stopped(plant, work.load_left, found.forward, sheet)
        bounds = bounds_at(rest, run, work.distance, 10.0, sheet)
        return bounds.sides[0].hold.largest.value

    singles = [_fleet(conveyor, *(float(v[n]) for v in values)) for n in range(ALONE)]
    many = _fleet(conveyor, *values)  # type: ignore[arg-type]  # arrays go the same way
    assert np.allclose(np.asarray(clamps(many))[:ALONE], [clamps(s) for s in singles], rtol=1e-9)
    together = best_of(3, lambda: clamps(many))
    alone = best_of(3, lambda: [clamps(s) for s in singles]) * FLEET / ALONE
    report(f"{FLEET} stopped conveyors in one call", together, "one by one, scaled up", alone)
    print(f"{'':<44} {alone / together:9.0f} times faster than one by one")


if __name__ == "__main__":
    main()
