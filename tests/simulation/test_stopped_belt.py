"""The simulated belt against closed forms: statics, Euler-Eytelwein, the wave speed of a bar.

Tolerances: a cell's own weight or friction where a closed form is asked at a point of a mesh.
"""

from __future__ import annotations

from copy import deepcopy
from dataclasses import replace

import numpy as np
import pytest

from depth import sized
from proof import proves

from .conveyors import any_conveyor, made_to_run
from .stopped_belt import (
    SIDES,
    Belt,
    Conveyor,
    G,
    Gear,
    Hold,
    Place,
    Pulley,
    Run,
    StoppedBelt,
    TakeUp,
)

pytestmark = proves(
    "The stopped belt",
    "The simulation itself against closed forms",
    "C",
    "Hanging weight, friction on the level, capstan ratio at a drum, wave speed of a released "
    "strand, energy kept.",
    doubt="Closed forms of statics and of a bar; exact.",
    tolerance=("a cell's own weight or friction where a closed form is asked at a point of a mesh"),
    sketch="stopped",
)


MASS, ROLLS = 12.0, 8.0  # kg/m
STRETCH = 1.2e6  # N


def loop(
    *,
    rise: float = 0.0,
    friction: float = 0.02,
    kind: str = "gravity",
    tension: float = 15e3,
    locked_out: Hold = "free",
) -> Conveyor:
    """300 m up, the drive at the top, 300 m back to a take-up at the tail; work at 140 m."""
    return Conveyor(
        Belt(MASS, STRETCH / 0.8, 0.8),
        (Run(300.0, rise, ROLLS, 1.0), Run(300.0, -rise, ROLLS, 1.0, carry=False)),
        (Pulley(driven=True, locked_out=locked_out), Pulley()),
        TakeUp(1, "held" if kind == "held" else "gravity", tension),
        friction,
        Place(130.0, 138.0, 142.0, 150.0),
    )


def grip(length: float, rise: float = 0.0, load: float = 0.0, friction: float = 0.02) -> float:
    """Friction of the idlers on a straight stretch, N."""
    level = float(np.sqrt(length**2 - rise**2))
    return friction * G * (ROLLS * length + (MASS + load) * level)


def tower(depth: float) -> Conveyor:
    """A level belt with a counterweight in a tower on the way back."""
    return Conveyor(
        Belt(MASS, STRETCH / 0.8, 0.8),
        (
            Run(200.0, 0.0, ROLLS),
            Run(50.0, 0.0, ROLLS, carry=False),
            Run(depth, -depth, carry=False),
            Run(depth, depth, carry=False),
            Run(150.0, 0.0, ROLLS, carry=False),
        ),
        (Pulley(driven=True), Pulley(), Pulley(), Pulley(), Pulley()),
        TakeUp(2, "gravity", 6e3),
        0.02,
        Place(90.0, 98.0, 102.0, 110.0),
    )


def test_strand_hangs_by_its_weight() -> None:
    # Statics: the tension of a hanging strand grows by its weight per metre.
    depth = 20.0
    state = StoppedBelt(tower(depth)).tighten(running=False)
    for top, sign in ((250.0, 1.0), (250.0 + 2 * depth, -1.0)):
        hanging = (sign * (state.station - top) > 0.0) & (sign * (state.station - top) < depth)
        below = depth - sign * (state.station[hanging] - top)
        # The counterweight pulls at the lowest cell of each strand.
        above = below - below.min()
        assert state.tension[hanging] == pytest.approx(6e3 + MASS * G * above, abs=1.0)
    assert state.strands == pytest.approx((6e3, 6e3), abs=1.0)


@pytest.mark.parametrize("kind", ["gravity", "held"])
def test_level_belt_keeps_no_more_than_friction_holds(kind: str) -> None:
    # Statics: from the slack take-up on, tension grows by no more than friction a metre. A belt
    # tight enough moves everywhere, so that it stands at that limit from both sides.
    belt = StoppedBelt(loop(kind=kind))
    belt.tighten()
    belt.stop("free")
    state = belt.release(2.0 * 600.0 * 15e3 / STRETCH)
    distance = np.minimum(state.station, 600.0 - state.station)
    assert max(state.strands) < 1.0
    cell = 1.5 * grip(float(belt.lengths.max()))
    assert np.all(state.tension <= grip(1.0) * distance + 1.0)
    assert state.tension == pytest.approx(grip(1.0) * distance, abs=cell)


def test_force_to_draw_a_strand_is_friction_and_lift() -> None:
    # Statics: the strand below comes up whole once hoists overcome friction and weight.
    rise = 18.0
    belt = StoppedBelt(loop(rise=rise))
    belt.tighten()
    belt.stop("locked")
    belt.set_clamps(both_ways=True)
    belt.clamps["behind"].on = False
    belt.release(16.0)
    drawn = belt.draw(3.0)
    assert drawn.reached
    length = 138.0
    share = length / 300.0
    force = grip(length, rise * share) + MASS * G * rise * share
    cell = force / length * float(belt.lengths.max())
    assert drawn.hoist[-1] == pytest.approx(force, abs=cell)
    assert np.all(drawn.hoist <= drawn.hoist[-1] * 1.001)
    assert drawn.clamp_moved["ahead"] < 0.02


@pytest.mark.parametrize("forward", [True, False])
def test_belt_slips_over_a_drum_at_the_capstan_ratio(forward: bool) -> None:
    # Euler-Eytelwein: T1 / T2 = exp(mu phi) while it slips. Next to no friction elsewhere.
    conveyor = loop(friction=1e-7, kind="held")
    belt = StoppedBelt(conveyor)
    belt.tighten(running=False)
    belt.set_clamps(both_ways=True)
    state = belt.attempt(20.0 if forward else -20.0, "locked")
    before, after = state.tension_at(299.0), state.tension_at(301.0)
    drum = conveyor.pulleys[0]
    ratio = np.exp(drum.friction * drum.wrap)
    assert state.slipped == {0}
    assert (before / after if forward else after / before) == pytest.approx(ratio, rel=1e-4)
    assert state.drum[0] == pytest.approx(before - after, rel=1e-4)


def test_one_way_drum_lets_forward_and_holds_back() -> None:
    # Statics of a holdback: it carries what would run back, and nothing forward.
    for rise, held in ((18.0, True), (-18.0, False)):
        belt = StoppedBelt(loop(rise=rise, friction=0.005))
        belt.tighten()
        load = belt.loads(lambda s: 60.0 if s < 250.0 else 0.0)
        belt.put_load(load)
        state = belt.stop("forward")
        surplus = 60.0 * G * rise * 250.0 / 300.0
        friction = grip(300.0, rise, 50.0, 0.005) + grip(300.0, rise, 0.0, 0.005)
        if held:
            assert surplus - friction <= state.drum[0] <= surplus + friction
        else:
            assert abs(state.drum[0]) < 1e-6
            assert state.runs_away


def test_held_loop_keeps_its_mean_strain() -> None:
    # Geometry: a loop of fixed length has the same mean tension however it is loaded.
    belt = StoppedBelt(loop(rise=10.0, kind="held", tension=30e3))
    belt.tighten()
    load = belt.loads(lambda s: 40.0 if s < 300.0 else 0.0)
    means = []
    cells = belt.lengths[np.argsort(belt.station)]
    for state in (belt.put_load(load), belt.run(), belt.stop("locked")):
        means.append((state.tension @ cells + state.place_tension * 4.0) / 600.0)
    assert means == pytest.approx([STRETCH * 2.0 * belt.x / 600.0] * 3, rel=1e-6)


def test_clamps_on_a_loaded_slope_hold_weight_less_or_more_friction() -> None:
    # Statics: the cut strand below hangs on the lower clamp, less or more its friction; the
    # strand above hangs on the locked drum, and the clamp above has nothing to hold.
    rise, load = 24.0, 50.0
    belt = StoppedBelt(loop(rise=rise, locked_out="locked", tension=40e3))
    belt.tighten()
    belt.put_load(belt.loads(lambda s: load if s < 300.0 else 0.0))
    belt.run()
    belt.stop("locked")
    belt.set_clamps()
    belt.release(30.0)
    belt.draw(1.0)
    belt.take_up_chains()
    belt.ease_hoists()
    state = belt.open_joint()
    length = 138.0
    share = length / 300.0
    weight = (MASS + load) * G * rise * share
    friction = grip(length, rise * share, load)
    # The piece between clamp and pulling clamp may lean on the clamp or rest by friction.
    piece = (MASS + load) * G * rise * 10.0 / 300.0 + grip(10.0, 0.8, load)
    assert weight - friction - piece <= state.clamp["behind"] <= weight + friction + piece
    assert state.place_tension == 0.0


def free_strand(cells: int = 320) -> StoppedBelt:
    """A level belt without friction or clamp mass, its joint open, held by the hoists alone."""
    conveyor = replace(
        loop(friction=1e-7), gear=Gear(chain_stiffness=1e7, hoist_stiffness=1e7, clamp_mass=0.0)
    )
    conveyor = replace(conveyor, runs=tuple(replace(run, roll_mass=0.0) for run in conveyor.runs))
    belt = StoppedBelt(conveyor, cells=cells)
    belt.tighten(running=False)
    belt.rope = belt.gap
    belt.open_joint()
    belt.weight = None
    return belt


def test_end_of_a_released_strand_flies_at_the_wave_speed_of_force() -> None:
    # Impact of bars: v = T / sqrt(m' EA) until the wave is back from the far end.
    belt = free_strand()
    tension = belt.state("before").hoist
    flown = belt.fail("hoist", duration=0.3, damping=0.3)
    speed = tension / np.sqrt(MASS * STRETCH)
    wave = np.sqrt(STRETCH / MASS)
    assert 2.0 * 138.0 / wave > 0.3  # not yet back
    moved = flown.ends[-1] - flown.ends[0]
    seconds = flown.time[-1] - flown.time[0]
    # Half of the four metres between the pulling clamps moves with either end: a mass of 2 m' in
    # front delays it by m / sqrt(m' EA) each.
    late = 2.0 * MASS / np.sqrt(MASS * STRETCH)
    assert moved == pytest.approx([-speed * (seconds - late), speed * (seconds - late)], rel=0.01)
    assert list(flown.end_speed.values()) == pytest.approx([speed, speed], rel=1e-3)


def test_energy_is_kept() -> None:
    # Conservation: kinetic, elastic, potential and what damping took add up to what there was.
    flown = free_strand().fail("hoist", duration=0.3)
    assert np.abs(flown.energy - flown.energy[0]).max() < 1e-3 * flown.kinetic.max()


@pytest.mark.parametrize("damping", [0.0, 0.05])
def test_energy_is_kept_with_friction_and_chains(damping: float) -> None:
    # The same where friction turns about and chains are caught: each such kink costs up to a step.
    belt = StoppedBelt(loop(rise=15.0, friction=0.02, locked_out="locked"))
    belt.tighten()
    belt.put_load(belt.loads(lambda s: 30.0 if s < 300.0 else 0.0))
    belt.stop("locked")
    belt.set_clamps()
    belt.release(6.0)
    belt.draw(0.5)
    flown = belt.fail("hoist", damping=damping)
    assert flown.kinetic.max() > 100.0
    assert np.abs(flown.energy - flown.energy[0]).max() < 0.05 * flown.kinetic.max()


def test_nothing_lets_go_nothing_moves() -> None:
    belt = StoppedBelt(loop(rise=15.0, locked_out="locked"))
    belt.tighten()
    belt.stop("locked")
    belt.set_clamps()
    still = belt.fail("hoist", duration=0.5)  # there is none yet
    assert max(still.end_travel.values()) < 1e-4


@pytest.mark.parametrize("seed", range(sized(3, deep=30)))
def test_every_cell_is_in_equilibrium_within_its_friction(seed: int) -> None:
    # Statics: what friction has to hold at a mass is no more than its capacity, after each move.
    rng = np.random.default_rng(seed)
    belt, conveyor, _ = made_to_run(any_conveyor(rng), rng)
    aside = {*belt.pulley_nodes, 0, belt.count - 1, *(c.node for c in belt.clamps.values())}
    plain = [i for i in range(belt.count) if i not in aside]
    states = [
        belt.stop("locked"),
        belt.set_clamps(),
        belt.release(0.02 * conveyor.length),
        belt.draw(1.0).state,
        belt.take_up_chains(),
        belt.ease_hoists(),
        belt.open_joint(),
        belt.close_joint(0.2).state,
        belt.ease_hoists(),
        belt.restore(0.02 * conveyor.length),
        belt.take_off_clamps(),
    ]
    round_from_place = np.argsort(np.argsort(belt.station))
    for state in states:
        tension = state.tension[round_from_place]
        out = np.append(tension, 0.0) - np.append(0.0, tension) + belt.down
        # Slack belt that leans on its neighbours (down a slope) is no tension: leave it out.
        taut = np.append(tension, 0.0) * np.append(0.0, tension) > 0.0
        nodes = [i for i in plain if taut[i]]
        assert np.all(np.abs(out[nodes]) <= belt.grip[nodes] + 1e-3 * conveyor.take_up.tension)
        for side in SIDES:
            assert state.clamp[side] >= 0.0  # a chain cannot push


def test_the_mesh_converges() -> None:
    # What stays at the place after the take-up is released, on meshes twice and four times as
    # fine again: the coarse one is off by more than the fine one.
    kept = []
    for cells in (60, 120, 240, 480):
        belt = StoppedBelt(loop(rise=6.0, locked_out="locked"), cells=cells)
        belt.tighten()
        belt.stop("locked")
        belt.lock_out()
        kept.append(belt.release(5.0).place_tension)
    errors = np.abs(np.array(kept[:-1]) - kept[-1])
    assert errors[-1] < 0.01 * kept[-1]
    assert errors[-1] <= 0.6 * errors[0] + 0.001 * kept[-1]


@pytest.mark.parametrize("seed", [2, 9])
def test_history_does_not_depend_on_the_steps(seed: int) -> None:
    # Coulomb friction knows no rate: the same move in more steps ends in the same forces. In these
    # two a strand falls slack on the way.
    rng = np.random.default_rng(seed)
    belt, conveyor, _ = made_to_run(any_conveyor(rng), rng)
    belt.stop("locked")
    belt.lock_out()
    belt.set_clamps()
    ends = []
    for steps in (6, 24):
        other = deepcopy(belt)
        state = other.release(0.02 * conveyor.length, steps=steps)
        ends.append((state.place_tension, *state.clamp.values(), *state.drum.values()))
    assert ends[0] == pytest.approx(ends[1], abs=0.01 * conveyor.take_up.tension)
