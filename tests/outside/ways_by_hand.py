"""Ways along a stopped belt, and what tension they lead to, in plain arithmetic.

No arrays, worksheets or walks of the tool's: the one element after the other, every place of a way
tried as the one where the belt hangs slack, every end of the belt's mass. Statics, g = 9.81 m/s2.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from splicewright.job import JointPlan
from splicewright.plant import Conveyor, Run, Side
from splicewright.tension import LoadCase

G = 9.81
SIDES = {"behind": "ahead", "ahead": "behind"}


@dataclass(frozen=True)
class Step:
    """One element as walked: up, along, across [m], rolls [kg/m], whether load can lie there,
    ratios of a pulley turning and gripping, friction of what presses on the belt [N]."""

    name: str
    up: float = 0.0
    along: float = 0.0
    across: float = 0.0
    rolls: float = 0.0
    carries: bool = False
    turning: float = 1.0
    gripping: float = 1.0
    driven: bool = False
    pressed: float = 0.0


@dataclass(frozen=True)
class Pull:
    """A largest tension [N], how many steps lead to it, and their lines."""

    value: float
    steps: int = 0
    lines: tuple[str, ...] = ()


def presses(plan: JointPlan) -> dict[str, float]:
    """What scrapers and skirts press on the runs [N of friction]."""
    full = next(c for c in plan.demand.cases if c.case is LoadCase.FULL)
    return {f.run: abs(f.special.value) for f in full.forces if f.special is not None}


def way(plan: JointPlan, run: str, along: float, side: str, *, round_: bool = False) -> list[Step]:
    """Elements from the take-up (or from the place itself, once round) up to a place."""
    conveyor, pressed = plan.conveyor, presses(plan)
    loop = list(conveyor.loop)
    if side == "ahead":
        loop.reverse()
    here = next(n for n, e in enumerate(loop) if e.name == run)
    start = next(n for n, e in enumerate(loop) if e.name == conveyor.take_up.pulley)
    count = len(loop) if round_ else (here - start) % len(loop)
    first = here if round_ else start
    steps = []
    for n in range(count + 1):
        element = loop[(first + n) % len(loop)]
        if isinstance(element, Run):
            part = 1.0
            if element.name == run:
                done = along / element.length.value
                reached = done if side == "behind" else 1 - done
                part = reached if n == count else 1 - reached
            length, rise = part * element.length.value, part * element.rise.value + 0.0
            steps.append(
                Step(
                    element.name,
                    up=rise if side == "behind" else 0.0 - rise,
                    along=length,
                    across=math.sqrt(length**2 - rise**2),
                    rolls=max(element.idlers.line_mass.high, element.idlers.line_mass.value),
                    carries=element.side is Side.CARRY,
                    pressed=pressed.get(element.name, 0.0),
                )
            )
        elif n or round_:  # the take-up itself turns nothing it does not pull
            turning = max(1.0, element.loss.high, element.loss.value)
            drum = conveyor.method.drum_friction
            grip = math.exp(max(drum.high, drum.value) * element.wrap.value)
            driven = bool(element.drive)
            steps.append(
                Step(
                    element.name,
                    turning=turning,
                    gripping=max(turning, grip) if driven else turning,
                    driven=driven,
                )
            )
    return steps


def turned(steps: list[Step]) -> list[Step]:
    """The same way walked back."""
    return [replace(s, up=0.0 - s.up) for s in reversed(steps)]


def friction(conveyor: Conveyor) -> float:
    return conveyor.method.standing_friction.high


def material(conveyor: Conveyor) -> float:
    return max(conveyor.material.line_mass.high, conveyor.material.line_mass.value)


def walked(
    conveyor: Conveyor,
    steps: list[Step],
    start: float,
    belt: float,
    load: float,
    held: bool,
    *,
    write: bool,
) -> tuple[float, float, float, tuple[str, ...]]:
    """Tension at the end, its part by weight, the friction on the way [N], and the lines."""
    f, t, weight, rubs, lines = friction(conveyor), start, 0.0, 0.0, []
    for s in steps:
        before, ratio = t, s.gripping if held else s.turning
        gain = s.up + f * s.across
        q = belt + (load if s.carries and gain > 0 else 0.0)
        t = (t + G * (q * gain + f * s.rolls * s.along) + s.pressed) * ratio
        weight = (weight + G * q * s.up) * ratio
        rubs = (rubs + G * f * (q * s.across + s.rolls * s.along) + s.pressed) * ratio
        if write and t:
            lines.append(line_of(s, before, t, f, q, ratio))
    return t, weight, rubs, tuple(lines)


def line_of(s: Step, before: float, after: float, f: float, q: float, ratio: float) -> str:
    if not s.along:
        held = "held by its drive" if s.driven and ratio > s.turning else "turning"
        return f"{s.name}, {held}: {before:.0f} x {ratio:.4g} = {after:.0f} N"
    pressed = f" + {s.pressed:.0f} pressed" if s.pressed else ""
    return (
        f"{s.name}, {s.along:.4g} m, up {s.up:.4g} m: {before:.0f} + 9.81 x ({q:.4g} x "
        f"({s.up:.4g} + {f:.3g} x {s.across:.4g}) + {f:.3g} x {s.rolls:.4g} x {s.along:.4g})"
        f"{pressed} = {after:.0f} N"
    )


def most(
    conveyor: Conveyor,
    steps: list[Step],
    start: float,
    loaded: bool,
    *,
    held: bool,
    by_weight: bool = False,
) -> Pull:
    """Largest tension at the end of a way: tried from every place, with every mass of the belt."""
    f, load = friction(conveyor), material(conveyor) if loaded else 0.0
    best = (0.0, len(steps), 0.0)
    for belt in sorted({conveyor.belt.line_mass.low, conveyor.belt.line_mass.high}):
        for first in range(len(steps)):
            begun = start if first == 0 else 0.0
            t, weight, rubs, _ = walked(
                conveyor, steps[first:], begun, belt, load, held, write=False
            )
            if (not by_weight or weight > rubs * 0.010 / f) and t > best[0]:
                best = (t, first, belt)
    value, first, belt = best
    if value <= 0:
        return Pull(0.0)
    begun = start if first == 0 else 0.0
    *_, lines = walked(conveyor, steps[first:], begun, belt, load, held, write=True)
    return Pull(value, len(steps) - first, lines)
