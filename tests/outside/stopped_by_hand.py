"""The stopped belt once more, in plain arithmetic, and written out line by line.

The derivation of docs/at-rest.md without arrays, worksheets or the tool's walks: every place of
the way is tried as the one where the belt hangs slack, every end of the belt's mass, and full load
on every run or on none. Statics, g = 9.81 m/s2. `derivation` writes the numbers it came by; docs
print them for every published conveyor.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from splicewright.job import JointPlan, plan
from splicewright.plant import Conveyor, Run, Side, TakeUpKind, load_conveyor
from splicewright.tension import LoadCase
from strategies import EXAMPLES, work_of

G = 9.81
SIDES = {"behind": "ahead", "ahead": "behind"}
CLAMP, GIVE = 80.0, 0.010
"""Clamp for each metre of belt width [kg/m], give of snug tackle [m]: the tool's assumptions, at
their bad ends."""


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


def presses(made: JointPlan) -> dict[str, float]:
    """What scrapers and skirts press on the runs [N of friction]."""
    full = next(c for c in made.demand.cases if c.case is LoadCase.FULL)
    return {f.run: abs(f.special.value) for f in full.forces if f.special is not None}


def way(made: JointPlan, run: str, along: float, side: str, *, round_: bool = False) -> list[Step]:
    """Elements from the take-up (or from the place itself, once round) up to a place."""
    conveyor, pressed = made.conveyor, presses(made)
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
            length, rise = part * element.length.value, part * element.rise.value
            steps.append(
                Step(
                    element.name,
                    up=rise if side == "behind" else -rise,
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
    return [replace(s, up=-s.up) for s in reversed(steps)]


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
            lines.append(_line(s, before, t, f, q, ratio))
    return t, weight, rubs, tuple(lines)


def _line(s: Step, before: float, after: float, f: float, q: float, ratio: float) -> str:
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


def take_up_pull(conveyor: Conveyor) -> float | None:
    """Pull of a counterweight on its strand [N]; None where its mass is not given."""
    take_up = conveyor.take_up
    if take_up.kind is not TakeUpKind.GRAVITY or take_up.mass is None:
        return None
    return take_up.mass.high * G * take_up.reeving.value / take_up.strands


def by_hand(made: JointPlan, loaded: bool) -> dict[str, Pull]:
    """The forces of a stopped belt at the place of work [N], by the words of docs/at-rest.md."""
    conveyor, run, along = made.conveyor, made.work.run, made.work.distance.value
    short = {s: way(made, run, along, s) for s in SIDES}
    around = {s: way(made, run, along, s, round_=True) for s in SIDES}
    on_it = {
        s: most(conveyor, turned(short[SIDES[s]]), 0.0, loaded, held=False, by_weight=True)
        for s in SIDES
    }
    drawn = {s: most(conveyor, short[s], on_it[s].value, loaded, held=True) for s in SIDES}
    hung = [most(conveyor, short[s], 0.0, loaded, held=False, by_weight=True) for s in SIDES]
    forces: dict[str, Pull] = {}
    pull = take_up_pull(conveyor)
    if pull is not None:
        forces["acting"] = _least(most(conveyor, short[s], pull, loaded, held=True) for s in SIDES)
    forces["released"] = _largest([_least(drawn.values()), *hung])
    for s in SIDES:
        forces[f"let go, {s}"] = most(conveyor, around[s], 0.0, loaded, held=False, by_weight=True)
    free = [drawn[s] for s in SIDES if not any(x.driven for x in short[s])]
    last = []
    for s in SIDES:
        cut = max((n for n, x in enumerate(around[s]) if x.driven), default=-1)
        beyond = around[s][cut + 1 :]
        last.append(most(conveyor, beyond, 0.0, loaded, held=False, by_weight=True))
    forces["draw"] = _largest([*(free or [_least(drawn.values())]), *last])
    return forces


def _least(pulls: Iterable[Pull]) -> Pull:
    return min(pulls, key=lambda p: p.value)


def _largest(pulls: Iterable[Pull]) -> Pull:
    return max(pulls, key=lambda p: p.value)


def sudden(made: JointPlan, loaded: bool, side: str, hold: float) -> Pull:
    """Pull of a strand let go at a stroke: the tight belt beyond every drum that held it."""
    conveyor, run, along = made.conveyor, made.work.run, made.work.distance.value
    pull = take_up_pull(conveyor)
    assert pull is not None
    behind = side == "behind"
    out = turned(way(made, run, along, side, round_=True))
    loop = [*conveyor.loop, *conveyor.loop]
    here = next(n for n, e in enumerate(loop) if e.name == run) + (len(loop) // 2 if behind else 0)
    met = [loop[here - n if behind else here + n] for n in range(len(out))]
    f, load = friction(conveyor), material(conveyor) if loaded else 0.0
    masses = conveyor.belt.line_mass.low, conveyor.belt.line_mass.high
    best, t, lines = Pull(hold), hold, [f"held by the clamp: {hold:.0f} N"]
    for n, s in enumerate(out):
        before, gain = t, s.up + f * s.across
        lies = load if s.carries and gain > 0 else 0.0
        q = max(masses, key=lambda m: m * gain) + lies
        t = max(0.0, s.gripping * t + G * (q * gain + f * s.rolls * s.along) + s.pressed)
        if s.along:
            lines.append(_line(s, before, t, f, q, 1.0))
        else:
            lines.append(
                f"{s.name}, as far as it grips: {before:.0f} x {s.gripping:.4g} = {t:.0f} N"
            )
        beyond = met[min(n + 1, len(met) - 1)]
        if s.driven and isinstance(beyond, Run):
            end = beyond.length.value if behind else 0.0
            stood = min(
                most(conveyor, way(made, beyond.name, end, b), pull, loaded, held=True).value
                for b in SIDES
            )
            lines.append(f"beyond {s.name} the stop left at most {stood:.0f} N")
            if min(t, stood) > best.value:
                best = Pull(min(t, stood), n + 1, tuple(lines))
    return best


def peak(made: JointPlan, strand: float) -> float:
    """Force of snug tackle that catches a strand [N]: the oscillator stepped through in time.

    Classic Runge-Kutta steps, no closed form: m y'' + Z y' + k y = F from rest.
    """
    belt = made.conveyor.belt
    z = math.sqrt(belt.line_mass.low * belt.modulus.low * belt.width.value)
    mass, spring = CLAMP * belt.width.value, strand / GIVE

    def slope(y: float, v: float) -> tuple[float, float]:
        return v, (strand - z * v - spring * y) / mass

    step = 0.02 / max(math.sqrt(spring / mass), z / mass)
    y = v = top = 0.0
    for _ in range(20_000):
        a = slope(y, v)
        b = slope(y + step / 2 * a[0], v + step / 2 * a[1])
        c = slope(y + step / 2 * b[0], v + step / 2 * b[1])
        d = slope(y + step * c[0], v + step * c[1])
        y += step / 6 * (a[0] + 2 * b[0] + 2 * c[0] + d[0])
        v += step / 6 * (a[1] + 2 * b[1] + 2 * c[1] + d[1])
        top = max(top, y)
        if v <= 0:
            break
    return max(strand, spring * top)


def of_plan(made: JointPlan) -> dict[str, float]:
    """The same forces as the tool has them [N]."""
    bounds = made.at_rest.bounds
    return {
        "acting": bounds.acting.largest.value,
        "released": bounds.released.largest.value,
        "draw": bounds.draw.largest.value,
        **{f"let go, {s.way.value}": s.let_go.value for s in bounds.sides},
        **{f"let go at a stroke, {s.way.value}": s.sudden.value for s in bounds.sides},
    }


@cache
def planned(path: Path, loaded: bool) -> JointPlan:
    """A plan at seven tenths of a conveyor's longest run."""
    conveyor = load_conveyor(path)
    run = max(conveyor.runs(), key=lambda r: r.length.value)
    work = work_of(
        conveyor,
        work={"run": run.name, "distance": f"{0.7 * run.length.value} m"},
        belt={"load_left": 1.0 if loaded else 0.0},
    )
    return plan(conveyor, work)


WORDS = {
    "acting": "Belt at the place, counterweight acting",
    "released": "May remain at the place once the take-up is released",
    "draw": "Force to draw slack",
    "let go, behind": "Strand behind, no drive trusted to hold",
    "let go, ahead": "Strand ahead, no drive trusted to hold",
}


def derivation(made: JointPlan, loaded: bool) -> str:
    """The forces of one place written out, as a section of docs."""
    conveyor, work = made.conveyor, made.work
    load = f"{material(conveyor):.4g} kg/m left on it" if loaded else "empty"
    out = [
        f"**{work.distance.value:.4g} m along {work.run}, {load}.** Belt "
        f"{conveyor.belt.line_mass.low:.4g} to {conveyor.belt.line_mass.high:.4g} kg/m, friction "
        f"{friction(conveyor):.3g}.",
        "",
    ]
    take_up, pull = conveyor.take_up, take_up_pull(conveyor)
    if pull is not None and take_up.mass is not None:
        out.append(
            f"- Counterweight {take_up.mass.high:.5g} kg x 9.81 x {take_up.reeving.value:.3g} on "
            f"{take_up.strands} strands: {pull:.0f} N."
        )
    for name, force in by_hand(made, loaded).items():
        none = "" if force.value else ", for nothing runs down by its weight there"
        out += [f"- {WORDS[name]}: **{force.value / 1e3:.3g} kN**{none}.", *_below(force)]
    if pull is not None:
        for side in made.at_rest.bounds.sides:
            force = sudden(made, loaded, side.way.value, side.hold.largest.value)
            out += [
                f"- Clamp {side.way.value} lets go: a pull of {force.value / 1e3:.3g} kN at a "
                f"stroke, at its peak **{peak(made, force.value) / 1e3:.3g} kN** in snug tackle.",
                *_below(force),
            ]
    return "\n".join(out) + "\n"


def _below(force: Pull) -> list[str]:
    return [f"  - {line}" for line in force.lines]


def page() -> str:
    """The page of docs: one place of every published conveyor, empty and with its load left."""
    out = [PREAMBLE]
    for path in sorted((EXAMPLES / "published" / "conveyors").glob("*.toml")):
        made = [planned(path, loaded) for loaded in (False, True)]
        out.append(f"## {made[0].conveyor.name}\n")
        out += [derivation(m, loaded) for m, loaded in zip(made, (False, True), strict=True)]
    return "\n".join(out)


PREAMBLE = """# The belt at rest: every published conveyor by hand

One place on the longest run of each conveyor that was taken from a publication (see
[sources.md](sources.md)), with the belt empty and with all its load left. The arithmetic is not the
tool's: tests/outside/stopped_by_hand.py does it in plain sums and writes these lines, and
tests/outside/test_at_rest_by_hand.py holds the tool's forces of these names against them to nine
digits. None of these publications gives the mass of a counterweight: what the belt holds while the
take-up acts, and the pull of a strand let go at a stroke, follow from a held length there and are
not derived on this page; the simulation and tests/tension/at_rest/test_held.py hold them.
What the words mean, and which figures are bounds, stands in [at-rest.md](at-rest.md).

Each line: tension before + 9.81 x (mass for each metre of belt and load x (rise + friction x way
across) + friction x rolls x way) + friction of what presses on the belt = tension after. A line
begins where the belt hangs slack; parts that would only lower the force are left out. What presses
on a run (scrapers, skirts) is taken whole on every part of it. Peaks: clamp 80 kg for each metre of
width, 10 mm of give in snug tackle, both assumed without source; no factor is in them yet.
"""
