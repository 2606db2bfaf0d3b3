"""The pull of a new belt drawn in, against a belt of small pieces that knows none of the formulas.

Independent model: the belt as beads of 0.25 m, each with its own weight and friction, moved round
the loop bead by bead; the tension of every bead summed from the roll onwards, drum by drum. Statics
only: g = 9.81 m/s2, no source needed.
"""

from __future__ import annotations

import pytest

from planned import planned
from proof import proves
from splicewright.job.pulling_in import brake_needed, largest_pull, pulling_in, way_round
from splicewright.plant import Pulley, Run
from splicewright.plant import assumptions as assume
from splicewright.quantities import Worksheet

pytestmark = proves(
    "The stopped belt",
    "A new belt drawn in, bead by bead",
    "B",
    "The belt as beads of 0.25 m with weight and friction of their own, moved round the "
    "loop from the roll onwards: largest pull at the winch, drawn by the old belt and by a "
    "rope, and the brake on the roll.",
    doubt="Statics exact; beads of 0.25 m against runs of many metres.",
    tolerance="1 % of the pull: what a bead of 0.25 m weighs and rubs",
    sketch="roll",
)


_BEAD = 0.25
_G = 9.81


def beads(name: str, job: str, *, with_travel: bool) -> list[tuple[float, float, float, bool]]:
    """Length, climb, idler mass of each bead of the loop from the place, and drums between."""
    plan = planned(name, job)
    loop, found = list(plan.conveyor.loop), []
    at = next(n for n, e in enumerate(loop) if e.name == plan.work.run)
    start = plan.work.distance.value
    for element in (*loop[at:], *loop[:at]):
        if isinstance(element, Pulley):
            found.append((0.0, 0.0, 0.0, True))
            continue
        assert isinstance(element, Run)
        slope = element.rise.value / element.length.value
        rolls = max(element.idlers.line_mass.value, element.idlers.line_mass.high)
        count = round(element.length.value / _BEAD)
        step = element.length.value / count
        found += [(step, slope * step, rolls, False)] * count
    first = next(n for n in range(len(found)) if sum(b[0] for b in found[: n + 1]) > start)
    found = found[first:] + found[:first]
    return found if with_travel else [(a, -b, c, d) for a, b, c, d in reversed(found)]


def by_beads(chain: list[tuple[float, float, float, bool]], new: float, old: float, brake: float,
             friction: float) -> float:  # fmt: skip
    """Largest tension anywhere while ever more beads of the loop are new belt."""
    most = brake
    for front in range(0, len(chain) + 1, 3):
        tension = brake
        for n, (step, climb, rolls, drum) in enumerate(chain):
            if drum:
                tension *= 1.04
                continue
            mass = new if n < front else old
            tension += _G * (mass * climb + friction * (mass + rolls) * step)
            most = max(most, tension)
    return most


@pytest.mark.parametrize("with_travel", [True, False])
@pytest.mark.parametrize("old_share", [1.0, 0.0])
@pytest.mark.parametrize(
    ("name", "job"), [("shuttle", "shuttle-new-belt"), ("incline", "incline-worn-joint")]
)
def test_pull_against_beads(name: str, job: str, old_share: float, with_travel: bool) -> None:
    plan = planned(name, job)
    new = plan.conveyor.belt.line_mass.high
    pieces = way_round(plan.conveyor, plan.work, with_travel=with_travel, turns=1.04)
    pull, _ = largest_pull(pieces, new, old_share * new, 1000.0, 0.06)
    chain = beads(name, job, with_travel=with_travel)
    assert pull == pytest.approx(by_beads(chain, new, old_share * new, 1000.0, 0.06), rel=0.01)


def test_the_brake_keeps_every_bead_tight() -> None:
    """With the brake set no length of the new belt pulls itself away from the roll."""
    plan = planned("incline", "incline-worn-joint")
    new = plan.conveyor.belt.line_mass.high
    chain = beads("incline", "incline-worn-joint", with_travel=False)
    pieces = way_round(plan.conveyor, plan.work, with_travel=False, turns=1.0)
    brake = brake_needed(pieces, new, 0.010)
    lowest, tension = 0.0, 0.0
    for step, climb, rolls, _ in chain:
        tension += _G * (new * climb + 0.010 * (new + rolls) * step)
        lowest = min(lowest, tension)
    assert brake > 0
    assert brake == pytest.approx(-lowest, rel=0.01)


def test_by_hand() -> None:
    """One slope of 100 m rising 10 m, 20 kg/m, idlers 5 kg/m, friction 0.05, then down again.

    Drawn up by a rope: 9.81 x (20 x 10 + 0.05 x 25 x 100) = 3188.25 N at the top. Drawn down it
    runs: 20 x 10 less 0.010 x 25 x 100, times 9.81 = 1716.75 N to be braked.
    """
    from splicewright.job.pulling_in import Piece

    up, down = Piece(100, 10, 5, 1.0), Piece(100, -10, 5, 1.0)
    assert largest_pull([up, down], 20.0, 0.0, 0.0, 0.05)[0] >= 3188.25
    assert largest_pull([up], 20.0, 0.0, 0.0, 0.05)[0] == pytest.approx(3188.25)
    assert brake_needed([down, up], 20.0, 0.010) == pytest.approx(1716.75)


def test_the_easier_way_round_is_told_by_old_belt_and_by_rope() -> None:
    """A rope weighs nothing here; idlers and belt rub at the high end of what is assumed."""
    name, job = "shuttle", "shuttle-new-belt"
    plan = planned(name, job)
    made = pulling_in(plan.conveyor, plan.work, Worksheet())
    new, rubs = plan.conveyor.belt.line_mass.high, assume.STANDING_FRICTION.high
    by: dict[float, list[float]] = {new: [], 0.0: []}
    for with_travel in (True, False):
        chain = beads(name, job, with_travel=with_travel)
        pieces = way_round(plan.conveyor, plan.work, with_travel=with_travel, turns=1.04)
        brake = brake_needed(pieces, new, 0.010)
        for old, pulls in by.items():
            pulls.append(by_beads(chain, new, old, brake, rubs))
    assert made.pull.value == pytest.approx(min(by[new]), rel=0.01)
    assert made.by_rope.value == pytest.approx(min(by[0.0]), rel=0.01)


def test_what_the_plan_says() -> None:
    plan = planned("shuttle", "shuttle-new-belt")
    made = pulling_in(plan.conveyor, plan.work, Worksheet())
    assert made.rating.value == pytest.approx(
        plan.work.clamp_factor.value * max(made.pull.value, made.by_rope.value)
    )
    step = next(s for s in plan.steps if s.key == "pull_in")
    assert any(made.rating.show() in said.say() for said in step.text)
    assert any(str(step.number) in str(w) and "4 people" in str(w) for w in plan.warnings)
