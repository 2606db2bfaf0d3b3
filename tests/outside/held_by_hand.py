"""What a take-up holds, and a loop whose length it holds, in plain sums.

A screw or a locked winch keeps the stretch of the loop: its mean tension. Most stands at a place
when the tension falls away from there, both ways round, as steeply as friction, slope and held
drums allow; the place has that tension with which the mean comes out as it was set. The loop is
walked in some 500 slices, no grid of tensions, no closed form. Where the belt may lie
slack, the place has no more than the tension can rise to from there, both ways.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

from outside.ways_by_hand import G, Pull, Step, friction, material, most, turned, way
from splicewright.job import JointPlan
from splicewright.plant import Conveyor, TakeUpKind
from splicewright.quantities import Line

SLICES = 500
"""Of a loop, by length."""


@dataclass(frozen=True)
class Holding:
    """Largest pull on its strand or mean of its loop [N], whether it holds a length, the most that
    a held drum may have kept [N], and how it was come by."""

    value: float
    fixed: bool
    drum: float
    line: str


def holding(plan: JointPlan) -> Holding:
    """What the take-up holds at most.

    The pulls of running (least that avoids slip and sag, mean of the loop as set, largest pull of
    the drives) are the plan's; they are held against the publications by tests of their own.
    """
    take_up = plan.conveyor.take_up
    fixed, drum = take_up.kind is not TakeUpKind.GRAVITY, _of(plan, "at_rest.drum")
    what = "mean of the loop" if fixed else "pull on its strand"
    if take_up.mass is not None:
        value = take_up.mass.high * G * take_up.reeving.value / take_up.strands
        line = (
            f"Counterweight {take_up.mass.high:.5g} kg x 9.81 x {take_up.reeving.value:.3g} on "
            f"{take_up.strands} strands: {value:.0f} N."
        )
    elif take_up.force is not None:
        spread = (take_up.force.high - take_up.force.value) / take_up.strands
        value = _of(plan, "take_up.mean") + spread
        line = (
            f"Take-up set to {take_up.force.high:.0f} N on {take_up.strands} strands while the "
            f"empty belt ran: {what} {value:.0f} N."
        )
    else:
        needed = _of(plan, "take_up.tension_needed")
        value = take_up.preload.high * needed
        line = (
            f"Pull of the take-up not known: the {what} that avoids slip and sag, {needed:.0f} N, "
            f"times {take_up.preload.high:.3g}, for crews tighten more: {value:.0f} N."
        )
    if fixed:
        line += f" A held drum has kept {drum:.0f} N at most, the largest pull of the drives."
    return Holding(value, fixed, drum, line)


def _of(plan: JointPlan, key: str) -> float:
    found = plan.worksheet.find(key)
    assert isinstance(found, Line)
    return float(found.figure.value)


def acting(plan: JointPlan, holds: Holding, run: str, along: float, loaded: bool) -> Pull:
    """Most at a place of the whole belt while the take-up acts."""
    if holds.fixed:
        return _held(plan, holds, run, along, loaded)
    ways = [way(plan, run, along, side) for side in ("behind", "ahead")]
    pulls = [most(plan.conveyor, w, holds.value, loaded, held=True) for w in ways]
    return min(pulls, key=lambda p: p.value)


def _held(plan: JointPlan, holds: Holding, run: str, along: float, loaded: bool) -> Pull:
    conveyor = plan.conveyor
    load = material(conveyor) if loaded else 0.0
    whole = way(plan, run, along, "behind", round_=True)
    fine = _sliced(whole)
    best = (0.0, 0.0)
    for belt in sorted({conveyor.belt.line_mass.low, conveyor.belt.line_mass.high}):
        walks, low, high = _walks(conveyor, fine, belt, load), 0.0, 1.0
        while _mean(walks, high, holds.drum) < holds.value:
            high *= 2
        for _ in range(40):
            middle = (low + high) / 2
            if _mean(walks, middle, holds.drum) < holds.value:
                low = middle
            else:
                high = middle
        best = max(best, (high, belt))
    top, belt = best
    slack = _from_slack(conveyor, fine, load, holds.drum)
    if slack[0] > top:
        line = f"risen so far from where the belt may lie slack, {slack[1]:.4g} m from the place"
        return Pull(slack[0], len(whole), (line,))
    lines = [
        f"{word}: {line}"
        for word, steps in (("With the travel", whole), ("Against it", turned(whole)))
        for line in _fallen_lines(conveyor, steps, top, belt, load, holds.drum)
    ]
    lines.append(f"Mean of the larger of the two, round the loop: {holds.value:.0f} N")
    return Pull(top, len(whole), tuple(lines))


def _sliced(steps: list[Step]) -> list[Step]:
    total, out = sum(s.along for s in steps), []
    for s in steps:
        count = max(1, round(SLICES * s.along / total))
        part = replace(
            s,
            up=s.up / count,
            along=s.along / count,
            across=s.across / count,
            pressed=s.pressed / count,
        )
        out += [part] * count
    return out


def _fallen(
    f: float, s: Step, t: float, belt: float, load: float, drum: float
) -> tuple[float, float, float]:
    """Least tension beyond a step, once over its pulley, and the mass on it [kg/m]."""
    passed = t / s.gripping
    if s.driven:
        passed = max(passed, t - drum)
    slope = s.up - f * s.across
    q = belt + (load if s.carries and slope < 0 else 0.0)
    return passed + G * (q * slope - f * s.rolls * s.along) - s.pressed, passed, q


def _mean(walks: Walks, top: float, drum: float) -> float:
    """Least mean tension of the loop with so much at the place [N]."""
    ways = []
    for walk in walks:
        t, along = top, [top]
        for ratio, driven, added, _ in walk:
            passed = max(t / ratio, t - drum) if driven else t / ratio
            t = max(0.0, passed + added)
            along.append(t)
        ways.append(along)
    there, back = ways[0], ways[1][::-1]
    # Over a pulley the tension steps; it has no length, so a slice's ends are its own.
    larger = [max(a, b) for a, b in zip(there, back, strict=True)]
    lengths = [length for *_, length in walks[0]]
    area = sum(n * (a + b) / 2 for n, (a, b) in zip(lengths, pairwise(larger), strict=True))
    return area / sum(lengths)


Walks = list[list[tuple[float, bool, float, float]]]
"""Both ways round the loop: of each slice the grip, whether a drive may hold it, what it adds at
least [N], its length [m]."""


def _walks(conveyor: Conveyor, steps: list[Step], belt: float, load: float) -> Walks:
    f = friction(conveyor)
    return [
        [(s.gripping, s.driven, _fallen(f, s, 0.0, belt, load, 0.0)[0], s.along) for s in walk]
        for walk in (steps, turned(steps))
    ]


def _from_slack(
    conveyor: Conveyor, steps: list[Step], load: float, drum: float
) -> tuple[float, float]:
    """Most that the place can have from a slack slice of the loop [N], and where that is [m]."""
    f, masses = friction(conveyor), (conveyor.belt.line_mass.low, conveyor.belt.line_mass.high)

    def risen(walk: list[Step]) -> float:
        t = 0.0
        for s in walk:
            slope = s.up + f * s.across
            passed = min(t * s.gripping, t + drum) if s.driven else t * s.gripping
            added = max(q * slope for q in masses) + (load if s.carries else 0.0) * max(slope, 0.0)
            t = max(0.0, passed + G * (added + f * s.rolls * s.along) + s.pressed)
        return t

    best, along = (0.0, 0.0), 0.0
    back = turned(steps)
    for n in range(0, len(steps), 5):
        value = min(risen(steps[n:]), risen(back[len(steps) - n :]))
        best = max(best, (value, along))
        along += sum(s.along for s in steps[n : n + 5])
    return best


def _fallen_lines(
    conveyor: Conveyor, steps: list[Step], top: float, belt: float, load: float, drum: float
) -> list[str]:
    f, t, out = friction(conveyor), top, []
    for s in steps:
        after, passed, q = _fallen(f, s, t, belt, load, drum)
        if s.along:
            pressed = f" - {s.pressed:.0f} pressed" if s.pressed else ""
            words = (
                f"{s.name}, {s.along:.4g} m, up {s.up:.4g} m: {t:.0f} + 9.81 x ({q:.4g} x "
                f"({s.up:.4g} - {f:.3g} x {s.across:.4g}) - {f:.3g} x {s.rolls:.4g} x "
                f"{s.along:.4g}){pressed} = {after:.0f} N"
            )
        elif passed > t / s.gripping:
            words = f"{s.name}, held by its drive: {t:.0f} - {drum:.0f} = {after:.0f} N"
        else:
            words = f"{s.name}: {t:.0f} / {s.gripping:.4g} = {after:.0f} N"
        if after < 0:
            out.append(f"{words}: slack from here on")
            break
        out.append(words)
        t = after
    return out
