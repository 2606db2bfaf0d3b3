"""The stopped belt of every example and published conveyor, re-derived in plain arithmetic.

No published values exist for a stopped belt at a place of work. The derivation is that of
docs/at-rest.md, written a second time without arrays, worksheets or the tool's walks: every place
of the way is tried as the one where the belt hangs slack, every end of the belt's mass, and full
load on every run or on none. Statics, g = 9.81 m/s2; tolerance 1e-9, rounding of floats.

The page's table is read back here: what it prints is what this arithmetic gives.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from proof import proves
from splicewright.job import JointPlan, plan
from splicewright.plant import Conveyor, Run, Side, TakeUpKind, load_conveyor, load_work
from splicewright.quantities import Line
from splicewright.tension import LoadCase
from strategies import CONVEYORS, EXAMPLES, work_of

G = 9.81
PAGE = Path(__file__).parents[2] / "docs" / "at-rest.md"
SITE = EXAMPLES / "karst-hollow"
JOBS = {
    "incline": "incline-worn-joint",
    "flat": "flat-torn-belt",
    "shuttle": "shuttle-new-belt",
}


@dataclass
class Step:
    """One element as walked: up, along, across, rolls, load there, ratios of a pulley, and the
    friction of what presses on the belt."""

    up: float
    along: float
    across: float
    rolls: float
    carries: bool
    turning: float
    gripping: float
    driven: bool
    held: float = 0.0


def way(
    conveyor: Conveyor,
    presses: dict[str, float],
    run: str,
    along: float,
    *,
    behind: bool,
    round_: bool,
) -> list[Step]:
    """Elements from the take-up (or from the place itself, once round) up to the place."""
    loop = list(conveyor.loop)
    if not behind:
        loop.reverse()
    sign = 1.0 if behind else -1.0
    here = next(n for n, e in enumerate(loop) if e.name == run)
    start = (
        here if round_ else next(n for n, e in enumerate(loop) if e.name == conveyor.take_up.pulley)
    )
    count = (here - start) % len(loop) if not round_ else len(loop)
    steps = []
    for n in range(count + 1):
        element = loop[(start + n) % len(loop)]
        if not isinstance(element, Run):
            if n == 0:
                continue  # the take-up itself
            turning = max(1.0, element.loss.high, element.loss.value)
            grip = math.exp(
                max(conveyor.method.drum_friction.high, conveyor.method.drum_friction.value)
                * element.wrap.value
            )
            steps.append(
                Step(
                    0,
                    0,
                    0,
                    0,
                    False,
                    turning,
                    max(turning, grip) if element.drive else turning,
                    bool(element.drive),
                )
            )
            continue
        part = 1.0
        if element.name == run:
            done = along / element.length.value
            to_the_place = done if behind else 1 - done
            part = to_the_place if n == count else 1 - to_the_place
        length, rise = part * element.length.value, part * element.rise.value
        steps.append(
            Step(
                sign * rise,
                length,
                math.sqrt(length**2 - rise**2),
                max(element.idlers.line_mass.high, element.idlers.line_mass.value),
                element.side is Side.CARRY,
                1.0,
                1.0,
                False,
                presses.get(element.name, 0.0),
            )
        )
    return steps


def turned(steps: list[Step]) -> list[Step]:
    """The same way walked back."""
    return [replace(s, up=-s.up) for s in reversed(steps)]


def most(
    conveyor: Conveyor,
    steps: list[Step],
    start: float,
    loaded: bool,
    *,
    held: bool,
    by_weight: bool = False,
) -> float:
    """Largest tension at the end of a way: tried from every place, with every mass of the belt."""
    f = conveyor.method.standing_friction.high
    load = max(conveyor.material.line_mass.high, conveyor.material.line_mass.value)
    masses = {conveyor.belt.line_mass.low, conveyor.belt.line_mass.high}
    best = 0.0
    for belt in masses:
        for first in range(len(steps)):
            t = start if first == 0 else 0.0
            weight = rubs = 0.0
            for s in steps[first:]:
                ratio = s.gripping if held else s.turning
                gain = s.up + f * s.across
                lies = load if loaded and s.carries and gain > 0 else 0.0
                t = (t + G * ((belt + lies) * gain + f * s.rolls * s.along) + s.held) * ratio
                weight = (weight + G * (belt + lies) * s.up) * ratio
                rubs = (
                    rubs + G * f * ((belt + lies) * s.across + s.rolls * s.along) + s.held
                ) * ratio
            if by_weight and weight <= rubs * 0.010 / f:
                continue
            best = max(best, t)
    return best


def by_hand(made: JointPlan, loaded: bool) -> dict[str, float]:
    """The forces of the page's table [N]."""
    found: dict[str, float] = {}
    conveyor, run, along = made.conveyor, made.work.run, made.work.distance.value
    presses = pressing(made)
    ways = {
        side: (
            way(conveyor, presses, run, along, behind=side == "behind", round_=False),
            way(conveyor, presses, run, along, behind=side == "behind", round_=True),
        )
        for side in ("behind", "ahead")
    }
    other = {"behind": "ahead", "ahead": "behind"}
    on_it = {
        s: most(conveyor, turned(ways[other[s]][0]), 0.0, loaded, held=False, by_weight=True)
        for s in ways
    }
    drawn = {
        s: most(conveyor, short, on_it[s], loaded, held=True) for s, (short, _) in ways.items()
    }
    hung = {
        s: most(conveyor, short, 0.0, loaded, held=False, by_weight=True)
        for s, (short, _) in ways.items()
    }
    take_up = conveyor.take_up
    if take_up.kind is TakeUpKind.GRAVITY and take_up.mass is not None:
        pull = take_up.mass.high * G * take_up.reeving.value / take_up.strands
        found["acting"] = min(
            most(conveyor, short, pull, loaded, held=True) for short, _ in ways.values()
        )
    found["released"] = max(min(drawn.values()), *hung.values())
    for side, (_, around) in ways.items():
        found[f"let go, {side}"] = most(conveyor, around, 0.0, loaded, held=False, by_weight=True)
    free = [drawn[s] for s, (short, _) in ways.items() if not any(x.driven for x in short)]
    last = {}
    for side, (_, around) in ways.items():
        cut = max((n for n, x in enumerate(around) if x.driven), default=-1)
        last[side] = most(conveyor, around[cut + 1 :], 0.0, loaded, held=False, by_weight=True)
    found["draw"] = max(*(free or [min(drawn.values())]), *last.values())
    return found


def sudden(made: JointPlan, loaded: bool, side: str, hold: float) -> float:
    """Pull of a strand let go at a stroke: the tight belt beyond every drum that held it."""
    conveyor, run, along = made.conveyor, made.work.run, made.work.distance.value
    behind = side == "behind"
    out = turned(way(conveyor, pressing(made), run, along, behind=behind, round_=True))
    loop = [*conveyor.loop, *conveyor.loop]
    here = next(n for n, e in enumerate(loop) if e.name == run) + (len(loop) // 2 if behind else 0)
    met = [loop[here - n if behind else here + n] for n in range(len(out))]
    f = conveyor.method.standing_friction.high
    load = max(conveyor.material.line_mass.high, conveyor.material.line_mass.value)
    masses = conveyor.belt.line_mass.low, conveyor.belt.line_mass.high
    take_up = conveyor.take_up
    assert take_up.mass is not None
    pull = take_up.mass.high * G * take_up.reeving.value / take_up.strands
    best = t = hold
    for n, s in enumerate(out):
        gain = s.up + f * s.across
        lies = load if loaded and s.carries and gain > 0 else 0.0
        belt = max(q * gain for q in masses)
        t = max(0.0, s.gripping * t + G * (belt + lies * gain + f * s.rolls * s.along) + s.held)
        beyond = met[min(n + 1, len(met) - 1)]
        if s.driven and isinstance(beyond, Run):
            end = beyond.length.value if behind else 0.0
            stood = min(
                most(
                    conveyor,
                    way(conveyor, pressing(made), beyond.name, end, behind=b, round_=False),
                    pull,
                    loaded,
                    held=True,
                )
                for b in (True, False)
            )
            best = max(best, min(t, stood))
    return best


def pressing(made: JointPlan) -> dict[str, float]:
    """What scrapers and skirts press on the runs [N of friction]."""
    full = next(c for c in made.demand.cases if c.case is LoadCase.FULL)
    return {f.run: abs(f.special.value) for f in full.forces if f.special is not None}


def of_plan(made: JointPlan) -> dict[str, float]:
    bounds = made.at_rest.bounds
    return {
        "acting": bounds.acting.largest.value,
        "released": bounds.released.largest.value,
        "draw": bounds.draw.largest.value,
        **{f"let go, {s.way.value}": s.let_go.value for s in bounds.sides},
        **{f"let go at a stroke, {s.way.value}": s.sudden.value for s in bounds.sides},
    }


def planned(path: Path, loaded: bool) -> JointPlan:
    conveyor = load_conveyor(path)
    run = max(conveyor.runs(), key=lambda r: r.length.value)
    work = work_of(
        conveyor,
        work={"run": run.name, "distance": f"{0.7 * run.length.value} m"},
        belt={"load_left": 1.0 if loaded else 0.0},
    )
    return plan(conveyor, work)


def let_go_at_the_place(made: JointPlan, side: str) -> bool:
    """Whether the strand was taken at the place itself, not at its clamp."""
    figure = made.worksheet.find(f"at_rest.strand_{side}.let_go")
    assert isinstance(figure, Line)
    return "at the place" in figure.figure.label


@proves(
    "The stopped belt",
    "Every example and published conveyor, stopped",
    "C",
    "Largest forces at clamps, hoists and strands for eleven conveyors, empty and loaded: the "
    "derivation written a second time in plain arithmetic, every place tried as the one where "
    "the belt hangs slack.",
    doubt=(
        "No published values exist for a stopped belt. The derivation is by the same hand "
        "as the tool: an error of thought would stand in both, which is why a simulation "
        "stands beside it."
    ),
    tolerance="rounding of floats: both sides are the same relation written twice",
    sketch="stopped",
)
@pytest.mark.parametrize("loaded", [False, True], ids=["empty", "loaded"])
@pytest.mark.parametrize("path", CONVEYORS, ids=lambda p: p.stem)
def test_every_conveyor_of_the_examples(path: Path, loaded: bool) -> None:
    made = planned(path, loaded)
    expected = by_hand(made, loaded)
    found = of_plan(made)
    for name, value in expected.items():
        if name.startswith("let go") and not let_go_at_the_place(made, name.split(", ")[1]):
            assert found[name] >= value * (1 - 1e-9)
            continue
        assert found[name] == pytest.approx(value, rel=1e-9, abs=1e-6), name
    take_up = made.conveyor.take_up
    if take_up.kind is TakeUpKind.GRAVITY and take_up.mass is not None:
        for side in made.at_rest.bounds.sides:
            again = sudden(made, loaded, side.way.value, side.hold.largest.value)
            assert side.sudden.value == pytest.approx(again, rel=1e-9), side.way


ROW = re.compile(r"^\| (incline|flat|shuttle) \| ([^|]+) \| ([0-9.]+) kN \|", re.MULTILINE)


def test_the_page_prints_what_the_packs_print() -> None:
    rows = ROW.findall(PAGE.read_text("utf-8"))
    assert len(rows) >= 12
    plans: dict[str, JointPlan] = {}
    for name, job in JOBS.items():
        conveyor = load_conveyor(SITE / "conveyors" / f"{name}.toml")
        plans[name] = plan(conveyor, load_work(SITE / "jobs" / f"{job}.toml", conveyor))
    for name, what, value in rows:
        figure = of_plan(plans[name]) | {
            "clamps": plans[name].at_rest.ratings.clamps.value,
            "hoists": plans[name].at_rest.ratings.hoists.value,
        }
        assert figure[what.strip()] / 1e3 == pytest.approx(float(value), rel=6e-3), (name, what)
