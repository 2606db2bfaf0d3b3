"""The belt at rest as a crew meets it: hand calculations, and what must hold for every job.

Hand calculations are statics with g = 9.81 m/s2 on the known belts of `stopping`: belt 12 kg/m,
load 80 kg/m, carry rolls 14 and return rolls 5 kg/m, standing friction 0.04. Tolerance 1e-9 where
nothing else is said: rounding of floats.
"""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from proof import proves
from splicewright.job import JointPlan, plan
from splicewright.plant import Conveyor
from splicewright.quantities import Worksheet
from splicewright.tension import demand
from splicewright.tension.at_rest import AtRest, Move, read_sag
from splicewright.tension.at_rest.lets_go import LetsGo
from splicewright.tension.at_rest.movement import belt_in_sag
from strategies import conveyor_of, invented, outline, work_of
from tension.at_rest.stopping import (
    BELT,
    CARRY_ROLLS,
    FRICTION,
    LOAD,
    RETURN_ROLLS,
    G,
    known,
    level,
    pulley,
    run,
    slope,
    stopped,
    two_drives,
)

pytestmark = proves(
    "The stopped belt",
    "The belt at rest as a crew meets it",
    "C",
    "Take-up acting, released, drawing in, reeved weight, measured sag: by hand on a belt of "
    "round numbers.",
    doubt="Statics; exact.",
    tolerance="rounding of floats where nothing else is said",
    sketch="stopped",
)


TIGHT = 2000 * G / 2  # counterweight of 2 t on two strands


def rub(length: float, rise: float = 0.0, load: float = 0.0, rolls: float = CARRY_ROLLS) -> float:
    """Friction of a run by hand: rolls along it, belt and load across it."""
    across = math.sqrt(length**2 - rise**2)
    return FRICTION * G * (rolls * length + (BELT + load) * across)


def test_a_level_belt_with_the_take_up_acting() -> None:
    """From the take-up at the tail 150 m of carry side; the other way is longer and gives less."""
    for load in (0.0, 1.0):
        found, _ = stopped(level(), "carry", 150.0, load)
        friction = rub(150.0, 0.0, LOAD * load)
        assert found.bounds.acting.largest.value == pytest.approx(TIGHT + friction)
        assert found.bounds.acting.least.value == pytest.approx(TIGHT - friction)


def test_a_level_belt_keeps_tension_where_friction_holds_it() -> None:
    """Take-up released: slack there is not slack here; up to the friction of the way remains."""
    found, _ = stopped(level(), "carry", 150.0, 1.0)
    remains = rub(150.0, 0.0, LOAD)
    assert found.movement.remains.value == pytest.approx(remains)
    assert found.bounds.released.least.value == 0
    # Sag seen at that tension on carry idlers of 1.2 m: q g a²/8T.
    assert found.movement.seen.value == pytest.approx(BELT * G * 1.2**2 / (8 * remains))
    assert any("Slack comes to the take-up first" in s.say() for s in found.remarks)


def test_the_force_to_draw_holds_the_weight_of_what_is_drawn() -> None:
    """150 m up a slope of 30 m in 200, belt and load drawn up from the slack tail: the weight of
    22.5 m of both, and their friction. With the drum turning, load above the place may hang over
    the head on the take-up too, and is then drawn against."""
    found, _ = stopped(slope(), "carry", 150.0, 1.0)
    drawn = G * (BELT + LOAD) * 22.5 + rub(150.0, 22.5, LOAD)
    hangs = G * (BELT * (7.5 - 30.0) + LOAD * 7.5) + rub(50.0, 7.5, LOAD)
    hangs += rub(200.0, 30.0, rolls=RETURN_ROLLS)
    assert hangs > 0
    assert found.bounds.draw.largest.value == pytest.approx(drawn + hangs)
    assert found.ratings.hoists.value >= 2 * found.bounds.draw.largest.value
    # Empty, the return belt outweighs what lies above the place: nothing hangs over the head.
    bare, _ = stopped(slope(), "carry", 150.0, 0.0)
    assert bare.bounds.draw.largest.value == pytest.approx(G * BELT * 22.5 + rub(150.0, 22.5))


def test_the_least_force_to_draw_is_that_of_an_empty_belt_whatever_lies_on_it() -> None:
    """How much load is left is not known so well that the lower end may count on any."""
    left, swept = (
        stopped(slope(), "carry", 150.0, load)[0].bounds.draw.least.value for load in (1.0, 0.0)
    )
    assert left == pytest.approx(swept)
    assert swept == pytest.approx(G * BELT * 22.5 + rub(150.0, 22.5))


def test_belt_in_the_sag_is_the_length_of_the_parabolas_between_the_idlers() -> None:
    """A span a sagging by y a is longer by (8/3) y^2 a (parabola, from memory), and y = q g a/(8 T)
    up to where it lies on what is below: summed span by span over tension that rises along each
    run. One run hangs freely, one lies below throughout, one for part of its length."""
    belt, spacing, most = 14.0, 3.0, 0.02
    length = np.array([100.0, 80.0, 60.0])
    entering, leaving = np.array([5000.0, 900.0, 4000.0]), np.array([9000.0, 100.0, 1000.0])
    at = (np.arange(100_000) + 0.5) / 100_000
    tension = entering[:, None] + (leaving - entering)[:, None] * at
    sag = np.minimum(most, belt * G * spacing / (8 * tension))
    wanted = float((8 / 3 * length * (sag**2).mean(axis=1)).sum())
    found = belt_in_sag(most, belt, spacing, length, entering, leaving)
    assert found == pytest.approx(wanted, rel=1e-6)
    knee = belt * G * spacing / 8 / most
    assert 900.0 < knee < 4000.0 and 1000.0 < knee < 5000.0


def test_the_incline_left_loaded_is_drawn_with_all_that_lies_on_it() -> None:
    """Checked by hand from outside: 83.3 kg/m of load over 30.8 m alone are 25.1 kN along the
    slope; with friction and the strand 43.5 kN at the least."""
    conveyor = invented("incline")
    found, _ = stopped(conveyor, "incline", 190.0)
    assert found.bounds.draw.largest.value >= 43.5e3
    assert found.bounds.released.largest.value >= 43.5e3
    assert found.ratings.hoists.value >= 2 * 43.5e3
    assert found.movement.stretches.value > 0


def test_a_place_between_two_driven_pulleys_gets_its_friction() -> None:
    """Half the carry side has to be dragged, whatever the drives do: statics by hand."""
    for load in (0.0, 1.0):
        found, _ = stopped(two_drives(), "carry", 150.0, load)
        half = rub(150.0, 0.0, LOAD * load)
        assert found.bounds.draw.largest.value >= half
        assert found.bounds.released.largest.value >= half


def test_a_held_length_keeps_its_mean_and_friction_gathers_it() -> None:
    """Screw of 60 kN: by hand the largest tension after an empty stop lies above the mean by the
    mean of what friction takes off round the loop (as in test_held), here a fine sum."""
    found, sheet = stopped(_screwed("60 kN"), "carry", 150.0, 0.0)
    mean = sheet.get("take_up.mean")
    assert mean is not None
    total = rub(300.0) + rub(300.0, rolls=RETURN_ROLLS)
    assert found.bounds.acting.largest.value >= mean.value + 0.9 * total / 4
    assert found.bounds.acting.least.value <= mean.value - 0.9 * total / 4
    # And not absurd: never above what friction of the whole loop and the drive could gather.
    drive = sheet.get("at_rest.drum")
    assert drive is not None
    assert found.bounds.acting.largest.value <= mean.value + total / 2 + drive.value


def test_a_measured_sag_says_what_the_take_up_pulls() -> None:
    """15 mm over 3 m of the return belt, by hand: T = q g a²/8y.

    Half-widths of independent inputs add as squares, each times how fast T changes with its input
    (law of propagation, JCGM 100:2008, 5.1.2, from memory): T goes as a² and as 1/y; the belt's
    mass is known here. The sag may be anywhere along the run, so that up to the friction of all
    of it lies between there and the two strands of the take-up, either way.
    """
    conveyor, sheet = level(), Worksheet()
    back = next(r for r in conveyor.runs() if r.name == "back")
    every = demand(conveyor, sheet).every()
    pull, doubt, least, largest = read_sag(conveyor, every, back, 0.015, 3.0, sheet)
    by_hand = BELT * G * 3.0**2 / (8 * 0.015)
    give_or_take = by_hand * math.hypot(2 * 0.01 / 3.0, 0.002 / 0.015)
    friction = rub(300.0, rolls=RETURN_ROLLS)
    assert pull.value == pytest.approx(by_hand)
    assert doubt.value == pytest.approx(give_or_take)
    assert least.value == pytest.approx(2 * (by_hand - give_or_take - friction))
    assert largest.value == pytest.approx(2 * (by_hand + give_or_take + friction))


def _screwed(force: str | None) -> Conveyor:
    take_up: dict[str, Any] = {"kind": "screw", "pulley": "tail"}
    if force is not None:
        take_up["force"] = force
    return known(
        pulley("tail", "tail"),
        run("carry", "carry", 300.0),
        pulley("head", "head", drive="d"),
        run("back", "return", 300.0),
        take_up=take_up,
    )


def test_a_pull_nobody_knows_is_taken_at_its_high_end_and_asked_for() -> None:
    found, sheet = stopped(_screwed(None), "carry", 150.0, 0.0)
    needed, largest = sheet.get("take_up.tension_needed"), sheet.get("at_rest.take_up.largest")
    assert needed is not None and largest is not None
    assert largest.value == pytest.approx(1.5 * needed.value)  # crews tighten more: assumption
    assert found.bounds.acting.largest.value >= 1.5 * needed.value
    assert [d.key for d in found.doubts] == ["take_up.force"]
    assert "MEASURE" in found.doubts[0].ask.say()


def test_the_shipped_flat_example_asks_for_its_take_up_on_page_one() -> None:
    conveyor = invented("flat")
    made = plan(conveyor, work_of(conveyor))
    said = [w.say() for w in made.questions]
    assert any("Pull of the take-up not known" in s for s in said)
    assert made.at_rest.bounds.acting.largest.value > 11.5e3  # was printed as "not more than"


def test_inputs_nobody_stated_stand_at_their_bad_end() -> None:
    """The same incline with friction and belt mass stated at their high ends needs no more."""
    tables = outline()
    open_ = conveyor_of(tables)
    mass, friction = open_.belt.line_mass, open_.method.standing_friction
    assert mass.assumed and friction.assumed
    stated = conveyor_of(
        {
            **tables,
            "belt": {**tables["belt"], "mass": f"{mass.low} to {mass.high} kg/m"},
            "resistance": {"standing_friction": f"{friction.low} to {friction.high}"},
        }
    )
    place = open_.runs()[0].name
    ratings = [stopped(c, place, 5.0)[0].ratings.clamps.value for c in (open_, stated)]
    assert ratings[0] == pytest.approx(ratings[1], rel=0.02)  # demand moves with the mean mass
    lighter = conveyor_of({**tables, "resistance": {"standing_friction": friction.low}})
    assert stopped(lighter, place, 5.0)[0].ratings.clamps.value < ratings[0]


def test_the_take_up_gives_the_stretch_too() -> None:
    """Belt stretched by T has to be let shorten before it is slack: by hand T L/(M B) of the mean
    tension, both strands of the pulley sharing it."""
    found, _ = stopped(level(), "carry", 150.0, 0.0)
    moved = found.movement
    shrinks = TIGHT * 600.0 / (5e6 * 1.0)
    friction = (rub(300.0) + rub(300.0, rolls=RETURN_ROLLS)) / 4 * 600.0 / 5e6
    assert shrinks < moved.shrinks.value < shrinks + 1.5 * friction
    gives = moved.slack.value + moved.sag.value + moved.shrinks.value
    assert moved.take_up.value == pytest.approx(gives)
    assert moved.lift.value == pytest.approx(gives / 2)
    assert moved.hoists.value == pytest.approx(
        moved.slack.value + moved.sag.value + moved.stretches.value
    )
    assert moved.lift.value * 2 >= moved.slack.value + moved.shrinks.value


def test_a_hoist_too_short_is_said_with_what_to_do() -> None:
    short, _ = stopped(level(), "carry", 150.0, 0.0, crew={"hoist_travel": "0.3 m"})
    long, _ = stopped(level(), "carry", 150.0, 0.0, crew={"hoist_travel": "20 m"})
    said = [s.say() for s in short.remarks]
    assert any("hook the hoists again" in s for s in said)
    assert not any("hook the hoists again" in s.say() for s in long.remarks)


def test_a_reeved_counterweight_pulls_lifts_and_falls_with_its_rope() -> None:
    """Two parts of rope pull the pulley for one that carries the weight: twice the tension, twice
    the lift, twice the fall."""
    plain, _ = stopped(level(), "carry", 150.0, 0.0)
    roped, _ = stopped(level(reeving=2.0), "carry", 150.0, 0.0)
    friction = rub(150.0)
    assert roped.bounds.acting.largest.value == pytest.approx(2 * TIGHT + friction)
    assert roped.movement.weight is not None
    assert roped.movement.weight.value == pytest.approx(2 * roped.movement.lift.value)
    assert roped.energies.weight is not None and plain.energies.weight is not None
    assert roped.energies.weight.value == pytest.approx(2 * plain.energies.weight.value)


def _tackle_row(found: AtRest) -> LetsGo:
    return next(row for row in found.lets_go if row.key == "take_up_tackle")


def test_a_counterweight_that_falls_is_as_fast_as_a_free_fall() -> None:
    """Fault found: the speed of a strand let go, 4.1 m/s, stood as the most of a weight that falls
    freely. Stepped by the equation of motion to the end of its travel, and by its energy."""
    for conveyor in (level(), level(reeving=2.0), slope()):
        found, _ = stopped(conveyor, "carry", 50.0, 0.0)
        row = _tackle_row(found)
        height = conveyor.take_up.travel.value * conveyor.take_up.reeving.value
        fallen = speed = 0.0
        step = 1e-5
        while fallen < height:
            speed += G * step
            fallen += speed * step
        assert row.travel.value == pytest.approx(height)
        assert row.speed.value == pytest.approx(speed, rel=1e-4)
        mass = conveyor.take_up.mass
        assert mass is not None
        assert row.energy.value == pytest.approx(mass.value * row.speed.value**2 / 2)


@pytest.mark.parametrize("give", [0.010, 0.015, 0.030])
@pytest.mark.parametrize("per_metre", [1.0, 30.0, 80.0])
def test_what_lets_go_comes_no_further_and_no_faster_than_said(
    give: float, per_metre: float
) -> None:
    """Fault found: the stiff end of the tackle's give, 10 mm, and the heaviest clamp stood behind
    "at most". Stepped by the equation of motion, m x'' = F - Z x' - F x / give: a strand of wave
    resistance Z, held by F, caught by a tackle of any give and a clamp of any mass assumed."""
    for conveyor in (level(), slope()):
        found, sheet = stopped(conveyor, "carry", 50.0, 0.0)
        resistance = sheet.get("at_rest.wave_resistance")
        assert resistance is not None
        z, mass = resistance.value, per_metre * conveyor.belt.width.value
        for row in found.lets_go:
            if row.key not in {"drive", "clamp_behind", "clamp_ahead"}:
                continue
            name = row.key.removeprefix("clamp_")
            of = "at_rest.lets_go.drive" if name == "drive" else f"at_rest.strand_{name}.sudden"
            force = sheet.get(of)
            assert force is not None
            way = speed = fastest = furthest = 0.0
            step = 2e-6
            for _ in range(100_000):
                speed += step * (force.value - z * speed - force.value * way / give) / mass
                way += step * speed
                fastest, furthest = max(fastest, speed), max(furthest, way)
                if speed < 0:
                    break
            assert fastest <= row.speed.value
            # Drives: the clamps were pulled on before; what they give is that of a steady pull.
            assert row.key == "drive" or furthest <= row.travel.value
            assert row.travel.value >= give


def test_a_counterweight_is_hung_and_falls_at_the_high_end_of_its_mass() -> None:
    """Fault found: of 1800 to 2200 kg the middle was taken. By hand: 2 x 2200 g, 2200 g x."""
    conveyor = level(mass="1800 to 2200 kg")
    found, _ = stopped(conveyor, "carry", 150.0, 0.0)
    assert found.ratings.tackle is not None
    assert found.ratings.tackle.value == pytest.approx(2 * 2200 * G)
    travel = conveyor.take_up.travel.value
    assert _tackle_row(found).energy.value == pytest.approx(2200 * G * travel)


def test_a_counterweight_nobody_weighed_is_not_taken_as_none() -> None:
    """Fault found: its energy stood as 0 kJ, and its tackle had no rating. What two strands carry
    that are tightened as far as crews tighten them."""
    conveyor = level(mass=None)
    found, sheet = stopped(conveyor, "carry", 150.0, 0.0)
    pull = sheet.get("at_rest.take_up.largest")
    assert pull is not None and pull.value > 0
    assert found.ratings.tackle is not None
    assert found.ratings.tackle.value == pytest.approx(2 * 2 * pull.value)
    assert _tackle_row(found).energy.value > 0


def test_what_a_drive_is_decides_what_is_said_of_its_hold() -> None:
    def hold_sentence(**drive: Any) -> str:
        conveyor = known(
            pulley("tail", "tail"),
            run("carry", "carry", 100.0, 10.0),
            pulley("head", "head", drive="d"),
            run("back", "return", 100.0, -10.0),
            take_up={"kind": "gravity", "mass": "2000 kg", "pulley": "tail"},
            drives=[{"name": "d", **drive}],
        )
        return stopped(conveyor, "carry", 50.0)[0].holds[0].say()

    assert "what holds it is not stated" in hold_sentence()
    assert "holdback stops the belt running back" in hold_sentence(holdback=True)
    assert "worm gear may hold" in hold_sentence(gear="worm gear")
    assert "fluid coupling holds nothing" in hold_sentence(coupling="fluid coupling")
    assert "only drag" in hold_sentence(gear="plain gearbox", brake=False, holdback=False)


def test_stored_energy_counts_every_case() -> None:
    """A belt may have stopped from its start: energy goes with the square of the tension."""
    found, sheet = stopped(slope(), "carry", 150.0)
    full = sheet.get("full.pull")
    assert full is not None
    assert found.energies.belt.value > TIGHT**2 * 400.0 / (2 * 5e6)


places = st.tuples(st.sampled_from(["carry", "back"]), st.floats(10.0, 190.0))


def _force(found: AtRest, move: Move, key: str) -> float:
    stage = next(s for s in found.stages if s.move is move)
    force = stage.force(key)
    assert force is not None
    return force.largest.value


shares = st.integers(0, 1000).map(lambda n: n / 1000)
"""Of the full load."""
rises = st.floats(-25.0, 35.0).map(lambda rise: round(rise, 4))
"""Of a run, as a survey gives them [m]."""
_AT_WORK = (Move.OPEN, Move.BRING_TOGETHER, Move.PIN)
STANDS = {
    "drive": tuple(m for m in Move if m not in {Move.LOCK_OUT, Move.CLAMPS_OFF, Move.LOCKS_OFF}),
    "take_up_tackle": (Move.RELEASE, Move.SET_HOISTS, Move.DRAW, Move.TAKE_UP_CHAINS, *_AT_WORK),
    "clamp": _AT_WORK,
    "hoist": (Move.DRAW, Move.TAKE_UP_CHAINS, *_AT_WORK),
}
"""The moves after which each thing stands that may let go."""


@settings(max_examples=25, deadline=None)
@given(places, shares, rises)
def test_what_holds_for_every_job(place: tuple[str, float], load: float, rise: float) -> None:
    found, sheet = stopped(slope(200.0, rise), *place, load)
    factor = 2.0
    for stage in found.stages:
        for force in stage.forces:
            assert 0 <= force.least.value <= force.largest.value + 1e-9
            rated = found.ratings.hoists if force.key == "hoists" else found.ratings.clamps
            if force.key != "belt":
                assert factor * force.largest.value <= rated.value * (1 + 1e-12)
    for row in found.lets_go:
        for other in row.others:
            rated = found.ratings.hoists if "hoist" in other.key else found.ratings.clamps
            assert factor * other.force.value <= rated.value * (1 + 1e-12)
    # One thing less that holds never lowers what another carries.
    for row in found.lets_go:
        for other in row.others:
            for stage in found.stages:
                held = stage.force(other.key)
                if held is None or stage.move not in STANDS.get(row.key, STANDS["clamp"]):
                    continue
                # What stands for hoists at a stage has a failure of either clamp in it already.
                before = found.bounds.draw if other.key == "hoists" else held
                assert other.force.value >= before.largest.value * (1 - 1e-12), (row.key, stage)
    # A hoist across the open place carries a strand whose clamp slips.
    for side in found.bounds.sides:
        assert _force(found, Move.OPEN, "hoists") >= side.hold.largest.value
    # More load never lowers a rating; nor does one thing less that holds.
    more, _ = stopped(slope(200.0, rise), *place, 1.0)
    assert more.ratings.clamps.value >= found.ratings.clamps.value * (1 - 1e-9)
    for side in found.bounds.sides:
        assert side.hold.largest.value >= side.let_go.value
        assert side.acting.value >= side.hold.largest.value
    for figure in (found.ratings.clamps, found.bounds.draw.largest, found.movement.take_up):
        assert sheet.finish().below(figure.key)  # every number can be explained


@settings(max_examples=25, deadline=None)
@given(places, shares.filter(lambda share: share < 1), rises)
def test_what_is_said_of_a_full_belt_is_what_a_full_belt_is_rated_for(
    place: tuple[str, float], load: float, rise: float
) -> None:
    some, _ = stopped(slope(200.0, rise), *place, load)
    full, _ = stopped(slope(200.0, rise), *place, 1.0)
    assert some.ratings.loaded is not None
    assert some.ratings.loaded.value == pytest.approx(full.ratings.clamps.value, rel=1e-12)


def test_summary_is_the_figures_and_stands_in_the_plan() -> None:
    conveyor = slope()
    made = plan(conveyor, work_of(conveyor, work={"run": "carry", "distance": "150 m"}))
    told = made.at_rest.summary
    assert [s.move for s in told.stages] == [s.move.value for s in made.at_rest.stages]
    opened = next(s for s in told.stages if s.move == "open the belt")
    hold = made.at_rest.bounds.sides[0].hold
    assert opened.forces["clamp_behind"].largest >= hold.largest.value
    assert told.ratings["clamps"] == made.at_rest.ratings.clamps.value
    assert set(told.lets_go) == {"drive", "take_up_tackle", "clamp_behind", "clamp_ahead", "hoist"}
    again = JointPlan.from_json(made.to_json())
    assert asdict(again.at_rest.summary) == asdict(told)


def test_a_stated_range_of_the_take_up_stands_at_both_its_ends() -> None:
    """1.8 to 2.2 t on two strands: 9.81 x 2200/2 at most, x 1800/2 least."""
    found, _ = stopped(level(mass="1800 to 2200 kg"), "carry", 150.0, 0.0)
    friction = rub(150.0)
    assert found.bounds.acting.largest.value == pytest.approx(G * 1100 + friction)
    assert found.bounds.acting.least.value == pytest.approx(G * 900 - friction)
    screw, sheet = stopped(_screwed("54 to 66 kN"), "carry", 150.0, 0.0)
    mean, largest = sheet.get("take_up.mean"), sheet.get("at_rest.take_up.largest")
    assert mean is not None and largest is not None
    assert largest.value == pytest.approx(mean.value + 3e3)  # 6 kN more, each strand its half
    assert screw.bounds.acting.largest.value > largest.value


def test_what_is_asked_for_is_what_moves_the_forces_by_more_than_a_tenth() -> None:
    """An unstated load decides on a slope; a belt's mass known within a twelfth does not."""
    conveyor = slope()
    asked = plan(conveyor, work_of(conveyor, work={"run": "carry", "distance": "150 m"}))
    # Taken as full, yet the job's first step runs it empty: the most that one answer can change.
    assert [d.key for d in asked.at_rest.doubts] == ["work.load_left"]
    tables = outline(take_up={"mass": "2000 kg"})
    open_ = conveyor_of(tables)
    place = open_.runs()[0].name
    keys = {d.key for d in stopped(open_, place, 5.0, 1.0)[0].doubts}
    assert "belt.line_mass" not in keys
    rough = conveyor_of({**tables, "resistance": {"standing_friction": 0.02}})
    assert not stopped(rough, place, 5.0, 1.0)[0].doubts
    far = conveyor_of(
        outline(outline={"centre_distance": "600 m", "lift": "0 m"}, take_up={"mass": "500 kg"})
    )
    assert "resistance.standing_friction" in {
        d.key for d in stopped(far, "carry run", 400.0, 1.0)[0].doubts
    }
