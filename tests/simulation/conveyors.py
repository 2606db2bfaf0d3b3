"""Conveyors drawn at random, and how each came to stand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .stopped_belt import Belt, Conveyor, Gear, Hold, Place, Pulley, Run, StoppedBelt, TakeUp

HOLDS: tuple[Hold, ...] = ("free", "forward", "locked")


def any_hold(rng: np.random.Generator) -> Hold:
    return HOLDS[int(rng.integers(3))]


def any_conveyor(rng: np.random.Generator) -> Conveyor:
    """A conveyor of one to four carry runs, its take-up tension not yet chosen (1 N)."""
    width = float(rng.choice([0.65, 0.8, 1.0, 1.2, 1.4]))
    belt = Belt(width * rng.uniform(8.0, 22.0), float(rng.choice([5e5, 1.5e6, 5e6])), width)
    carry_roll, return_roll = width * rng.uniform(10.0, 25.0), width * rng.uniform(6.0, 15.0)
    count = int(rng.integers(1, 5))
    lengths = rng.uniform(30.0, 400.0, count)
    angles = np.radians(rng.choice([0.0, 1.0], count) * rng.uniform(-9.0, 14.0, count))
    carry = [
        Run(float(length), float(length * np.sin(angle)), carry_roll, rng.uniform(1.0, 1.5))
        for length, angle in zip(lengths, angles, strict=True)
    ]
    back = [Run(r.length, -r.rise, return_roll, 3.0, carry=False) for r in reversed(carry)]
    loss, friction = rng.uniform(0.0, 0.01), rng.uniform(0.25, 0.4)

    def plain() -> Pulley:
        return Pulley(loss)

    # One pulley ends each run; those on the way are bends that barely turn.
    pulleys = [Pulley(0.1 * loss) for _ in carry[:-1]]
    wrap = np.radians(rng.uniform(170.0, 220.0))
    pulleys.append(Pulley(loss, True, any_hold(rng), friction, wrap))
    runs = list(carry)
    if rng.random() < 0.3:  # a second drum close behind the first
        runs.append(Run(6.0, 0.0, 0.0, carry=False))
        pulleys.append(replace(pulleys[-1], locked_out=any_hold(rng)))
    if rng.random() < 0.5:  # a tower behind the drive
        depth = rng.uniform(4.0, 12.0)
        runs += [
            Run(5.0, 0.0, return_roll, 3.0, carry=False),
            Run(depth, -depth, carry=False),
            Run(depth, depth, carry=False),
        ]
        pulleys += [plain(), plain(), plain()]
        take_up = len(pulleys) - 2
        pulleys += [Pulley(0.1 * loss) for _ in back[:-1]] + [plain()]
        runs += back
    else:  # at the tail
        runs += back
        pulleys += [Pulley(0.1 * loss) for _ in back[:-1]] + [plain()]
        take_up = len(pulleys) - 1
    side = int(rng.choice([i for i, r in enumerate(runs) if r.length > 25.0]))
    before = sum(r.length for r in runs[:side])
    near = rng.uniform(2.0, 4.0)
    at = before + rng.uniform(10.0, runs[side].length - 10.0)
    far = near + rng.uniform(1.5, 5.0)
    return Conveyor(
        belt,
        tuple(runs),
        tuple(pulleys),
        TakeUp(take_up, "gravity" if rng.random() < 0.6 else "held", 1.0),
        rng.uniform(0.01, 0.035),
        Place(at - far, at - 0.5 * near, at + 0.5 * near, at + far),
        Gear(clamp_mass=60.0 * width),
    )


def made_to_run(
    conveyor: Conveyor, rng: np.random.Generator
) -> tuple[StoppedBelt, Conveyor, np.ndarray[tuple[int], np.dtype[np.float64]]]:
    """The belt running with a load, its take-up tight enough that no drum slips; and the load."""
    carry = sum(r.length for r in conveyor.runs if r.carry)
    full = rng.uniform(0.0, 120.0) * conveyor.belt.width
    start, end = np.sort(rng.uniform(-0.5 * carry, 1.5 * carry, 2))
    weight = 9.81 * conveyor.belt.mass
    drop = max(abs(np.cumsum([r.rise for r in conveyor.runs])))
    idle = StoppedBelt(conveyor)
    idle.put_load(idle.loads(lambda s: full if start < s < end and s < carry else 0.0), steps=1)
    pull = float(idle.grip.sum() + max(0.0, -idle.down.sum()))
    rope = min(float(np.expm1(p.friction * p.wrap)) for p in conveyor.pulleys if p.driven)
    tension = 3.0 * weight + 0.3 * weight * drop + rng.uniform(0.5, 1.2) * pull / rope
    for _ in range(30):
        conveyor = replace(conveyor, take_up=replace(conveyor.take_up, tension=tension))
        belt = StoppedBelt(conveyor)
        load = belt.loads(lambda s: full if start < s < end and s < carry else 0.0)
        states = [belt.tighten(), belt.put_load(load)]
        if not any(s.slipped or s.runs_away for s in states):
            states.append(belt.run())
        runs = belt.all_moved and not any(s.slipped or s.runs_away for s in states)
        if runs and min(s.tension.min() for s in states) > 0.5 * weight:
            return belt, conveyor, load
        tension *= 1.35
    raise ArithmeticError("no take-up tension made the belt run")
