"""Speed of the life, fleet and shutdown kernels, as ratios within one run where there is a rival.

    python -m benchmarks.bench_life

Goals: a fit of 100 000 lives, about half suspended, at least 20 times faster than lifelines at the
same estimate; a fleet forecast of 20 000 joints under 5 s, register read; 10 000 runs of a 40-task
shutdown under 1 s.
"""

from __future__ import annotations

import math
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import uuid4

import lifelines
import numpy as np

from benchmarks.timing import best_of
from splicewright.actions.fleet.fleet import see_fleet
from splicewright.actions.life.from_register import lives_of_register
from splicewright.actions.register.use import look_into
from splicewright.history.fleet.study import study_fleet
from splicewright.history.life.few_failures import failing_by, scale_of, shape_of, weigh_laws
from splicewright.history.life.lives import lives_of
from splicewright.history.life.weibull import Weibull, fit_weibull
from splicewright.history.shutdown.schedule import forecast_window
from splicewright.history.shutdown.tasks import Task, build_network, draw_pert
from splicewright.quantities import Kind
from splicewright.store import Fact, Register, Stream, What
from splicewright.store.facts.joint_facts import (
    JointPlanned,
    JointPutToWork,
    JointRemoved,
    Mode,
    ReadingTaken,
)
from splicewright.store.facts.plant_facts import ConveyorRecorded, SiteAdded
from splicewright.store.sql.register import open_register


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


def limit_many() -> None:
    """Limits of 100 000 lives, by weighed laws, against the fit."""
    rng = np.random.default_rng(1)
    life, stop = 1000 * rng.weibull(1.8, 100_000), rng.uniform(0, 2000, 100_000)
    seen, failed = np.minimum(life, stop), life <= stop
    lives = lives_of(seen, np.where(failed, seen, math.inf))
    fit = fit_weibull(lives)

    def weighed() -> None:
        laws = weigh_laws(fit)
        laws.limits(shape_of)
        laws.age_limits(scale_of)
        laws.age_limits(failing_by(0.1))

    alone, ours = best_of(3, lambda: fit_weibull(lives)), best_of(3, weighed)
    print(f"limits of 100 000 lives: fit {alone:.2f} s, weighed laws and three limits {ours:.2f} s")


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


def see_a_large_fleet() -> None:
    """The whole list of a register with 20,000 running joints on 1,000 conveyors, file to answer.

    Reference: the same forecast without the register, on the lives alone.
    """
    rng = np.random.default_rng(4)
    now = datetime(2026, 1, 5, 6, 0, tzinfo=UTC)
    with tempfile.TemporaryDirectory() as folder:
        clock = [now - timedelta(days=2000)]
        with open_register(Path(folder) / "fleet.sqlite", clock=lambda: clock[0]) as register:
            _fill(register, rng, clock, now)
            whole = best_of(2, lambda: see_fleet(register, now, use="time"))
            study = see_fleet(register, now, use="time")
            looked = look_into(register, now)
            joints = lives_of_register(looked, kinds=False).joints
    bare = best_of(
        2, lambda: study_fleet(joints, today=now.date(), until=now.date() + timedelta(days=28))
    )
    print(
        f"fleet of {study.running} running joints, {study.failures} failures, "
        f"{len(study.conveyors)} conveyors with meters, from the register: {whole:.2f} s; "
        f"on the lives alone {bare:.2f} s"
    )


def _fill(
    register: Register, rng: np.random.Generator, clock: list[datetime], now: datetime
) -> None:
    site, begin = uuid4(), clock[0]
    facts = [_fact(begin, SiteAdded(site, "Karst Hollow (invented)"))]
    for number in range(1000):
        conveyor = uuid4()
        name = f"K{number}"
        facts.append(_fact(begin, ConveyorRecorded(conveyor, site, name, None, 240.0, 2.0)))
        for year in range(5):
            hours = 6000.0 * year
            taken = ReadingTaken(Stream.CONVEYOR, conveyor, "hour meter", Kind.RUN_TIME,
                                 hours * 3600.0, f"{hours:g} h")  # fmt: skip
            facts.append(_fact(begin + timedelta(days=365 * year), taken))
        lives = 1500 * rng.weibull(2.2, 21)
        for place, life in enumerate(lives):
            joint, start = uuid4(), now - timedelta(days=float(rng.uniform(1, 900)))
            facts += [_fact(start, JointPlanned(joint, conveyor, f"{name}-{place}")),
                      _fact(start, JointPutToWork(joint))]  # fmt: skip
            end = start + timedelta(days=float(life))
            if place and end < now:
                facts.append(_fact(end, JointRemoved(joint, Mode.PULL_OUT)))
    facts.sort(key=lambda fact: fact.at)
    clock[0] = now
    for begun in range(0, len(facts), 5000):
        register.append(*facts[begun : begun + 5000])


def _fact(at: datetime, what: What) -> Fact:
    return Fact(uuid4(), at, "Ada Example", what)


def main() -> None:
    """Run them all."""
    fit_many()
    limit_many()
    simulate_shutdown()
    see_a_large_fleet()


if __name__ == "__main__":
    main()
