"""The stopped belt once more, in plain arithmetic, and written out line by line.

The derivation of docs/at-rest.md without arrays, worksheets or the tool's walks: every place of
the way is tried as the one where the belt hangs slack, every end of the belt's mass, and full load
on every run or on none. Statics, g = 9.81 m/s2. `derivation` writes the numbers it came by; docs
print them for every published conveyor.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import cache
from pathlib import Path

from outside.held_by_hand import acting, holding
from outside.ways_by_hand import SIDES, G, Pull, friction, line_of, material, most, turned, way
from splicewright.job import JointPlan, plan
from splicewright.plant import Run, load_conveyor
from strategies import EXAMPLES, work_of

CLAMP, GIVE = 80.0, 0.010
"""Clamp for each metre of belt width [kg/m], give of snug tackle [m]: the tool's assumptions, at
their bad ends."""


def by_hand(joint_plan: JointPlan, loaded: bool) -> dict[str, Pull]:
    """The forces of a stopped belt at the place of work [N], by the words of docs/at-rest.md."""
    conveyor, run, along = joint_plan.conveyor, joint_plan.work.run, joint_plan.work.distance.value
    short = {s: way(joint_plan, run, along, s) for s in SIDES}
    around = {s: way(joint_plan, run, along, s, round_=True) for s in SIDES}
    on_it = {
        s: most(conveyor, turned(short[SIDES[s]]), 0.0, loaded, held=False, by_weight=True)
        for s in SIDES
    }
    drawn = {s: most(conveyor, short[s], on_it[s].value, loaded, held=True) for s in SIDES}
    hung = [most(conveyor, short[s], 0.0, loaded, held=False, by_weight=True) for s in SIDES]
    forces = {"acting": acting(joint_plan, holding(joint_plan), run, along, loaded)}
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


def sudden(joint_plan: JointPlan, loaded: bool, side: str, hold: float) -> Pull:
    """Pull of a strand let go at a stroke: the tight belt beyond every drum that held it."""
    conveyor, run, along = joint_plan.conveyor, joint_plan.work.run, joint_plan.work.distance.value
    holds, behind = holding(joint_plan), side == "behind"
    out = turned(way(joint_plan, run, along, side, round_=True))
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
            lines.append(line_of(s, before, t, f, q, 1.0))
        else:
            lines.append(
                f"{s.name}, as far as it grips: {before:.0f} x {s.gripping:.4g} = {t:.0f} N"
            )
        beyond = met[min(n + 1, len(met) - 1)]
        if s.driven and isinstance(beyond, Run):
            end = beyond.length.value if behind else 0.0
            stood = acting(joint_plan, holds, beyond.name, end, loaded).value
            lines.append(f"beyond {s.name} the stop left at most {stood:.0f} N")
            if min(t, stood) > best.value:
                best = Pull(min(t, stood), n + 1, tuple(lines))
    return best


def peak(joint_plan: JointPlan, strand: float) -> float:
    """Force of snug tackle that catches a strand [N]: the oscillator stepped through in time.

    Classic Runge-Kutta steps, no closed form: m y'' + Z y' + k y = F from rest.
    """
    belt = joint_plan.conveyor.belt
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


def of_plan(joint_plan: JointPlan) -> dict[str, float]:
    """The same forces as the tool has them [N]."""
    bounds = joint_plan.at_rest.bounds
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
    "acting": "Belt at the place, take-up acting",
    "released": "May remain at the place once the take-up is released",
    "draw": "Force to draw slack",
    "let go, behind": "Strand behind, no drive trusted to hold",
    "let go, ahead": "Strand ahead, no drive trusted to hold",
}


def derivation(joint_plan: JointPlan, loaded: bool) -> str:
    """The forces of one place written out, as a section of docs."""
    conveyor, work = joint_plan.conveyor, joint_plan.work
    load = f"{material(conveyor):.4g} kg/m left on it" if loaded else "empty"
    out = [
        f"**{work.distance.value:.4g} m along {work.run}, {load}.** Belt "
        f"{conveyor.belt.line_mass.low:.4g} to {conveyor.belt.line_mass.high:.4g} kg/m, friction "
        f"{friction(conveyor):.3g}.",
        "",
    ]
    out.append(f"- {holding(joint_plan).line}")
    for name, force in by_hand(joint_plan, loaded).items():
        none = "" if force.value else ", for nothing runs down by its weight there"
        out += [f"- {WORDS[name]}: **{force.value / 1e3:.3g} kN**{none}.", *_below(force)]
    for side in joint_plan.at_rest.bounds.sides:
        force = sudden(joint_plan, loaded, side.way.value, side.hold.largest.value)
        out.append(
            f"- Clamp {side.way.value} lets go: a pull of {force.value / 1e3:.3g} kN at a "
            f"stroke, at its peak **{peak(joint_plan, force.value) / 1e3:.3g} kN** in snug tackle."
            if force.value
            else f"- Clamp {side.way.value} lets go: nothing pulled on it."
        )
        out += _below(force)
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
tool's: tests/outside/stopped_by_hand.py and its neighbours do it in plain sums and write these
lines, and tests/outside/test_at_rest_by_hand.py holds the tool's forces of these names against
them: to nine digits, or, where a take-up holds the length of the loop, from nothing to 1 % above,
for the tool solves that in 36 pieces and takes the safe end of its last step. None of these
publications gives the mass of a counterweight or the pull of a screw: each is taken as an unknown
one is, at the high end of what crews tighten to. The pulls of running that this starts from are the
plan's, held against these publications by tests of their own.
What the words mean, and which figures are bounds, stands in [at-rest.md](at-rest.md).

Each line: tension before + 9.81 x (mass for each metre of belt and load x (rise + friction x way
across) + friction x rolls x way) + friction of what presses on the belt = tension after. A line
begins where the belt hangs slack; parts that would only lower the force are left out. What presses
on a run (scrapers, skirts) is taken whole on every part of it. Peaks: clamp 80 kg for each metre of
width, 10 mm of give in snug tackle, both assumed without source; no factor is in them yet.

Held length: the tension falls away from the place both ways round; a line that subtracts friction
says so. The larger of the two ways counts at every point of the loop, and the tension at the place
is the one with which its mean is what the take-up holds.
"""
