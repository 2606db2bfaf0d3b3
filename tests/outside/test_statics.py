"""The belt at rest, against statics worked by hand.

No published example: weight along a slope, friction of the idlers, ropes over a take-up pulley.
Every expected value is an expression written out here from first principles, with the same g of
9.81 m/s2 as the standards' examples use; nothing of the program enters but the conveyor file of
the invented incline. Tolerance: 1e-9, rounding of floats.

The loop, heights in metres above the tail: carry 30 m level, 210 m up to 34.0; return 12 m down to
32.06, 6 m into the take-up at 26.06, 6 m out, 198 m down to 0, 30 m level.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from splicewright.tension.energy import load_energy, strain_energy, weight_energy
from splicewright.tension.run_back import even_pull, left_over, run_back_force
from splicewright.tension.statics import (
    drawing_force,
    strand_weight,
    tension_at_rest,
)

from splicewright.loop import lay_out
from splicewright.plant import Conveyor, Pulley, Work
from splicewright.quantities import Worksheet
from splicewright.tension import Standing, demand, standing
from strategies import conveyor_of, invented, outline, work_of

G = 9.81
BELT = 1250 * 0.0145 * 1.0  # density of the assumption, thickness, width
LOAD = 600 / 3.6 / 2.0
ROLLS = 15 / 3  # return set over its spacing
FRICTION = 0.04  # of a belt drawn by hand
WEIGHT = 5800.0
TIGHT = WEIGHT * G / 2
PLACE = 32.06 * (1 - 50 / 198)  # 50 m down the long return


def standstill(run: str, distance: str, **tables: dict[str, object]) -> tuple[Conveyor, Standing]:
    conveyor = invented("incline")
    work = work_of(conveyor, work={"run": run, "distance": distance}, **tables)
    return conveyor, _standing(conveyor, work)


def _standing(conveyor: Conveyor, work: Work) -> Standing:
    sheet = Worksheet()
    path = lay_out(conveyor, sheet)
    return standing(conveyor, work, path, demand(conveyor, sheet), sheet)


def drag(length: float, rise: float) -> float:
    """Friction of an empty return run: all of its idlers, the belt's weight across them."""
    across = math.sqrt(1 - (rise / length) ** 2)
    return FRICTION * G * length * (ROLLS + BELT * across)


WAY = drag(6, 6) + drag(198, 32.06)  # out of the take-up, then the run of the place


def test_tension_on_the_return_with_the_take_up_acting() -> None:
    _, found = standstill("long return", "50 m")
    weight = G * BELT * (PLACE - 26.06)  # the place lies below the take-up: this is negative
    assert found.acting.value == pytest.approx(TIGHT + weight + WAY, rel=1e-9)
    assert found.acting_per_width.value == pytest.approx(found.acting.value / 1.0)


def test_tension_on_the_return_with_the_take_up_released() -> None:
    # The slack belt hangs from its lowest point, the tail.
    _, found = standstill("long return", "50 m")
    assert found.released.value == pytest.approx(G * BELT * PLACE + WAY, rel=1e-9)


def test_clamps_hold_the_hanging_strand_and_the_take_up() -> None:
    _, found = standstill("long return", "50 m")
    assert found.hold_below.value == pytest.approx(G * BELT * PLACE + TIGHT + WAY, rel=1e-9)
    # With the drum free, belt and load of the carry side pull the upper end over the head.
    load = 600e3 / 3600 / 2.0
    over = G * (BELT + load) * 34
    assert over > G * BELT * (34 - PLACE)
    assert found.hold_above.value == pytest.approx(over + TIGHT + WAY, rel=1e-9)
    largest = max(found.hold_below.value, found.hold_above.value, found.acting.value)
    assert found.hold.value == pytest.approx(largest)
    assert found.clamp_rating.value == pytest.approx(2 * largest)  # the assumed factor


def test_a_loaded_strand_weighs_on_the_clamps() -> None:
    _, full = standstill("incline", "105 m")
    _, half = standstill("incline", "105 m", belt={"load_left": "50 %"})
    # With the drum free all load above the cut hangs on the lower end too, over the head and round
    # the tail. Half the load, 120 m of it, may lie on the steepest 120 m.
    for found, loaded, way in ((full, 210, way_up(1, 1)), (half, 120, way_up(0.5, 1))):
        hanging = G * (BELT * 17 + LOAD * 34 * loaded / 210)
        assert found.hold_below.value == pytest.approx(hanging + TIGHT + way, rel=1e-9)


def way_up(level: float, steep: float) -> float:
    """Friction from the take-up down the return, round the tail and up the loaded carry side.

    level, steep: shares of full load on the loading run and on the incline up to 105 m.
    """
    rolls, across = 17 / 1.2, math.sqrt(1 - (34 / 210) ** 2)
    carry = 30 * (rolls + BELT + LOAD * level) + 210 * (rolls + (BELT + LOAD * steep) * across)
    return WAY + drag(30, 0) + FRICTION * G * carry


def test_tension_on_the_carry_side_carries_the_load_below_it() -> None:
    # 105 m up the incline: 17 m above its foot, where the take-up stands 26.06 m high.
    _, full = standstill("incline", "105 m")
    weight = G * BELT * (17 - 26.06) + G * LOAD * 17
    assert full.acting.value == pytest.approx(TIGHT + weight + way_up(1, 1), rel=1e-9)
    _, empty = standstill("incline", "105 m", belt={"load_left": "0 %"})
    bare = G * BELT * (17 - 26.06)
    assert empty.acting.value == pytest.approx(TIGHT + bare + way_up(0, 0), rel=1e-9)


def test_a_place_cut_off_by_driven_pulleys_may_keep_what_it_had_running() -> None:
    data = outline(outline={"drive_at": "head"})
    data["drives"] = [{"name": "head drive"}]
    conveyor = conveyor_of(data)
    work = work_of(conveyor, work={"run": "carry run", "distance": "5 m"})
    both = replace(
        conveyor,
        loop=tuple(
            replace(e, drive="head drive") if isinstance(e, Pulley) and e.name == "tail pulley"
            else e
            for e in conveyor.loop
        ),
    )  # fmt: skip
    asked = demand(both, Worksheet())
    points = [c.at("carry run") for c in (*asked.cases, *asked.other_cases)]
    most = max(t.value for p in points for t in (p.entering, p.leaving))
    assert _standing(both, work).acting.value == pytest.approx(most)


def test_run_back_of_the_load_alone() -> None:
    # The belt balances itself round the loop; the load hangs on one side of it.
    _, full = standstill("long return", "50 m")
    _, none = standstill("long return", "50 m", belt={"load_left": "0 %"})
    slope = math.asin(34 / 210)
    assert full.run_back.value == pytest.approx(LOAD * 210 * G * math.sin(slope), rel=1e-9)
    assert none.run_back.value == 0


def test_run_back_of_a_belt_loaded_in_part() -> None:
    # A third of the load, 80 m of it, may lie on the slope; spread evenly it would pull a third.
    _, found = standstill("long return", "50 m", belt={"load_left": f"{100 / 3} %"})
    back = found.running_back
    assert back.back.pull.value == pytest.approx(G * LOAD * 80 * 34 / 210, rel=1e-9)
    assert back.even.value == pytest.approx(G * LOAD * 34 / 3, rel=1e-9)
    assert back.forward.pull.value == 0
    assert back.back.loaded == "38 % of incline"
    # Friction both ways: least 0.012 and most 0.04 of all belt and rolls, and of that load.
    masses = 240 * (17 / 1.2 + BELT) + 252 * (15 / 3 + BELT)
    across = 80 * math.sqrt(1 - (34 / 210) ** 2)
    for left, f in ((back.back.may_move, 0.012), (back.back.sure_to_move, 0.04)):
        expected = G * (LOAD * (80 * 34 / 210 - f * across) - f * masses)
        assert expected > 0
        assert left.value == pytest.approx(expected, rel=1e-9)


def test_drawing_the_ends_together() -> None:
    # Uphill over the whole drop of its run, and every idler on the way turns.
    _, found = standstill("long return", "50 m")
    assert found.pull_together.value == pytest.approx(G * BELT * 32.06 + WAY, rel=1e-9)
    assert found.hoist_rating.value == pytest.approx(2 * found.pull_together.value)


def test_energy_of_weight_and_load() -> None:
    _, found = standstill("long return", "50 m")
    assert found.weight_energy is not None
    assert found.weight_energy.value == pytest.approx(WEIGHT * G * 6)
    # The load is spread evenly: its middle lies half the lift above the foot.
    assert found.load_energy.value == pytest.approx(LOAD * 210 * G * 34 / 2, rel=1e-9)


def test_stored_strain_is_no_less_than_that_of_a_belt_as_tight_as_its_slackest_place() -> None:
    conveyor, found = standstill("long return", "50 m")
    points = [p for c in demand(conveyor, Worksheet()).cases[1:2] for p in c.points]
    tensions = [t.value for p in points for t in (p.entering, p.leaving)]
    length = sum(r.length.value for r in conveyor.runs())
    soft = conveyor.belt.modulus.low
    least, most = (t**2 * length / (2 * soft * 1.0) for t in (min(tensions), max(tensions)))
    assert least < found.belt_energy.value < most


def test_single_relations() -> None:
    assert tension_at_rest(1000, 10, 7, 3, 20, 50) == pytest.approx(1000 + 10 * G * 4 + 70)
    assert tension_at_rest(0, 10, 0, 30, 0, 50) == 0  # a belt cannot push
    assert strand_weight(10, 60, 3, 4, 500, 30) == pytest.approx(G * (10 * 4 + 60 * 3) + 530)
    assert strand_weight(10, 60, 0, -4, 500, 0) == 500  # belt that rises away hangs on nothing
    assert run_back_force(60, 9) == pytest.approx(60 * 9 * G)
    assert run_back_force(60, -9) == 0
    assert even_pull(60, 0.5, -9) == pytest.approx(-30 * 9 * G)
    assert left_over(60, 9, 0.02, 5000) == pytest.approx(G * (60 * 9 - 100))
    assert left_over(60, 1, 0.02, 5000) == 0
    assert drawing_force(10, 4, 70) == pytest.approx(10 * 4 * G + 70)
    assert drawing_force(10, -4, 70) == 70  # downhill only friction is left, never less
    assert weight_energy(200, 3) == pytest.approx(200 * G * 3)
    assert load_energy(60, 100, 5) == pytest.approx(60 * 100 * G * 5)
    # A spring of stiffness M B/l stretched by T: T^2/(2 stiffness).
    assert strain_energy(4000, 50, 5e6, 0.8) == pytest.approx(4000**2 / 2 / (5e6 * 0.8 / 50))


def test_a_belt_said_to_be_empty_tells_what_the_clamps_need_should_it_not_be() -> None:
    _, empty = standstill("long return", "50 m", belt={"load_left": "0 %"})
    _, loaded = standstill("long return", "50 m", belt={"load_left": "100 %"})
    # Over the top the load on all 34 m of the rise hangs on the clamp; twice by its factor.
    more = loaded.clamp_rating.value - empty.clamp_rating.value
    assert more == pytest.approx(2 * G * LOAD * 34, rel=1e-9)
    told = [said.say() for said in empty.remarks if "Fully loaded" in said.say()]
    assert len(told) == 1 and told[0].endswith(f"needs a rating of {loaded.clamp_rating.show()}.")
    assert not any("Fully loaded" in said.say() for said in loaded.remarks)
