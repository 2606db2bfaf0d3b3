"""Every load case against statics and Newton worked by hand on one small conveyor.

Expected values are expressions of the file's own numbers; g is 9.81 m/s2 as in the standards'
examples. Tolerance 1e-9: rounding of floats.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from proof import proves
from splicewright.plant import Conveyor
from splicewright.quantities import Worksheet
from splicewright.tension import LoadCase, Running, applicable, demand, running
from strategies import conveyor_of, loop_file, pulley, run

pytestmark = proves(
    "Tension of the running belt",
    "Every load case on one small conveyor",
    "C",
    "Empty, full, inclines and declines loaded, starting, coasting, braking, blocked chute, "
    "holdback and two drives on one conveyor of round numbers: each pull, surplus and slip "
    "limit written out by statics and Newton's law.",
    doubt="Exact for the model; friction factor, start factor and braking times are the file's "
    "own.",
    tolerance="1e-9: rounding of floats",
    sketch="incline",
)


G = 9.81
F, C = 0.025, 1.2
BELT, LOAD, ROLLS_UP, ROLLS_BACK = 14.0, 80.0, 11.0, 6.0
SPEED, WEIGHT = 2.5, 2400.0
LEVEL, SLOPE, RISE, BACK = 40.0, 60.0, 9.0, 100.0
T_TAKE_UP = WEIGHT * G / 2


def data(
    rise: float = RISE, resistance: dict[str, Any] | None = None, **changes: Any
) -> dict[str, Any]:
    """Level run, slope, driven head, return; gravity take-up at the tail."""
    drive = {
        "name": "drive", "power": "60 kW", "efficiency": 0.9, "start_factor": 1.5,
        "stopping_time": "4 s", "breakdown_factor": 2.4, "brake": True, "holdback": True,
    }  # fmt: skip
    return loop_file(
        pulley("tail", "tail", wrap="180 deg", loss=1.0),
        run("level", "carry", f"{LEVEL} m", rise="0 m"),
        run("slope", "carry", f"{SLOPE} m", rise=f"{rise} m"),
        pulley("head", "head", wrap="180 deg", drive="drive", loss=1.0),
        run("back", "return", f"{BACK} m", rise=f"{-rise} m"),
        conveyor={"speed": f"{SPEED} m/s"},
        belt={"mass": f"{BELT} kg/m"},
        material={"rate": f"{LOAD * SPEED} kg/s", "line_mass": f"{LOAD} kg/m"},
        idlers={
            "carry": {"line_mass": f"{ROLLS_UP} kg/m"},
            "return": {"line_mass": f"{ROLLS_BACK} kg/m"},
        },
        resistance={"friction": F, "length_coefficient": C, **(resistance or {})},
        drives=[drive],
        take_up={"kind": "gravity", "mass": f"{WEIGHT} kg", "pulley": "tail"},
        **changes,
    )  # fmt: skip


def cos(rise: float, length: float) -> float:
    return math.sqrt(1 - (rise / length) ** 2)


def level(load: float) -> float:
    return C * F * G * LEVEL * (ROLLS_UP + BELT + load)


def slope(load: float, rise: float = RISE) -> float:
    drag = C * F * G * SLOPE * (ROLLS_UP + (BELT + load) * cos(rise, SLOPE))
    return drag + G * rise * (BELT + load)


def back(rise: float = RISE) -> float:
    drag = C * F * G * BACK * (ROLLS_BACK + BELT * cos(rise, BACK))
    return drag - G * rise * BELT


def steady(load: float, rise: float = RISE) -> float:
    return level(load) + slope(load, rise) + back(rise)


MASS = LEVEL * (ROLLS_UP + BELT + LOAD) + SLOPE * (ROLLS_UP + BELT + LOAD) + BACK * (
    ROLLS_BACK + BELT
)  # fmt: skip
BACK_MASS = BACK * (ROLLS_BACK + BELT)


def one(case: LoadCase, conveyor: Conveyor | None = None) -> Running:
    return running(conveyor or conveyor_of(data()), (case,), Worksheet())[0][0]


def tensions(result: Running) -> dict[str, float]:
    return {p.name: p.leaving.value for p in result.points}


def test_which_cases_can_happen() -> None:
    assert applicable(conveyor_of(data())) == (
        LoadCase.EMPTY, LoadCase.FULL, LoadCase.RISING, LoadCase.STARTING, LoadCase.COASTING,
        LoadCase.BRAKING, LoadCase.BLOCKED, LoadCase.HOLDING,
    )  # fmt: skip
    # Turned round, the slope falls: nothing to hold back, falling runs instead of rising ones.
    back_again = applicable(conveyor_of(data()).turned_round())
    assert LoadCase.FALLING in back_again
    assert not {LoadCase.RISING, LoadCase.HOLDING} & set(back_again)


@pytest.mark.parametrize("rise", [0.3, -0.3])
def test_a_run_rises_or_falls_however_little(rise: float) -> None:
    """Loaded alone are runs that rise, or that fall; a level run is neither."""
    runs = conveyor_of(data(rise=rise)).runs()
    rising, falling = (
        [r.name for r in runs if case.loads(r)] for case in (LoadCase.RISING, LoadCase.FALLING)
    )
    assert (rising, falling) == ((["slope"], []) if rise > 0 else ([], ["slope"]))


@pytest.mark.parametrize(
    ("case", "on_level", "on_slope"),
    [
        (LoadCase.EMPTY, 0, 0), (LoadCase.FULL, LOAD, LOAD), (LoadCase.RISING, 0, LOAD),
    ],
)  # fmt: skip
def test_steady_running(case: LoadCase, on_level: float, on_slope: float) -> None:
    found = one(case)
    pull = level(on_level) + slope(on_slope) + back()
    assert found.pull.value == pytest.approx(pull, rel=1e-9)
    assert found.power.value == pytest.approx(pull * SPEED / 0.9, rel=1e-9)
    told = tensions(found)
    assert told["tail"] == pytest.approx(T_TAKE_UP, rel=1e-9)
    assert told["level"] == pytest.approx(T_TAKE_UP + level(on_level), rel=1e-9)
    assert told["slope"] == pytest.approx(T_TAKE_UP + level(on_level) + slope(on_slope), rel=1e-9)
    assert told["head"] == pytest.approx(T_TAKE_UP - back(), rel=1e-9)


def test_starting_gives_every_mass_the_same_acceleration() -> None:
    found = one(LoadCase.STARTING)
    acceleration = 0.5 * steady(LOAD) / MASS
    assert found.pull.value == pytest.approx(1.5 * steady(LOAD), rel=1e-9)
    told = tensions(found)
    carry_mass = MASS - BACK_MASS
    tight = T_TAKE_UP + level(LOAD) + slope(LOAD) + carry_mass * acceleration
    assert told["slope"] == pytest.approx(tight, rel=1e-9)
    behind = T_TAKE_UP - back() - BACK_MASS * acceleration
    assert told["head"] == pytest.approx(behind, rel=1e-9)


def test_coasting_slows_down_by_the_pull_that_is_missing() -> None:
    found = one(LoadCase.COASTING)
    deceleration = steady(LOAD) / MASS
    assert found.pull.value == pytest.approx(0, abs=1e-6)
    told = tensions(found)
    tight = T_TAKE_UP + level(LOAD) + slope(LOAD) - (MASS - BACK_MASS) * deceleration
    # With no pull at the head both its sides are one tension.
    assert told["slope"] == pytest.approx(tight, rel=1e-9)
    assert told["head"] == pytest.approx(tight, rel=1e-9)
    assert told["head"] == pytest.approx(T_TAKE_UP - back() + BACK_MASS * deceleration, rel=1e-9)


def test_a_brake_slower_than_the_belts_own_resistance_does_nothing() -> None:
    assert steady(LOAD) > MASS * SPEED / 4.0
    assert one(LoadCase.BRAKING).pull.value == pytest.approx(0, abs=1e-6)


def test_braking_in_a_given_time() -> None:
    quick = data()
    quick["drives"][0]["stopping_time"] = "1 s"
    found = one(LoadCase.BRAKING, conveyor_of(quick))
    deceleration = SPEED / 1.0
    assert found.pull.value == pytest.approx(steady(LOAD) - MASS * deceleration, rel=1e-9)
    assert found.pull.value < 0
    told = tensions(found)
    assert told["head"] == pytest.approx(T_TAKE_UP - back() + BACK_MASS * deceleration, rel=1e-9)
    assert told["head"] - told["slope"] == pytest.approx(-found.pull.value, rel=1e-9)
    # The brake takes the power that the gear's losses leave.
    assert found.power.value == pytest.approx(found.pull.value * SPEED * 0.9, rel=1e-9)


def test_a_blocked_chute_stalls_the_motors_at_the_discharge() -> None:
    found = one(LoadCase.BLOCKED)
    stalled = 2.4 * 60e3 * 0.9 / SPEED
    assert found.pull.value == pytest.approx(stalled, rel=1e-9)
    told = tensions(found)
    assert told["level"] == pytest.approx(T_TAKE_UP + level(LOAD), rel=1e-9)
    assert told["slope"] == pytest.approx(T_TAKE_UP - back() + stalled, rel=1e-9)


def test_the_holdback_carries_the_load_on_the_slope_and_no_friction_helps() -> None:
    found = one(LoadCase.HOLDING)
    assert found.pull.value == pytest.approx(G * LOAD * RISE, rel=1e-9)
    assert found.power.value == 0
    told = tensions(found)
    assert told["slope"] == pytest.approx(T_TAKE_UP + G * RISE * (BELT + LOAD), rel=1e-9)
    assert told["head"] == pytest.approx(T_TAKE_UP + G * RISE * BELT, rel=1e-9)


def test_load_that_falls_again_is_not_there_when_the_holdback_engages() -> None:
    hill = loop_file(
        pulley("tail", "tail"),
        run("up", "carry", "50 m", rise="8 m"),
        run("down", "carry", "50 m", rise="-7 m"),
        pulley("head", "head", drive="d"),
        run("back", "return", "100 m", rise="-1 m"),
        drives=[{"name": "d", "holdback": True}],
    )
    load = 400 / 3.6 / 2.0
    found = one(LoadCase.HOLDING, conveyor_of(hill))
    assert found.pull.value == pytest.approx(G * load * 8, rel=1e-9)


def two_drives(**second: Any) -> Conveyor:
    """Head drive 60 %, tail drive 40 %: only what `second` says is fitted to the tail drive."""
    made = data()
    first = {**made["drives"][0], "name": "first", "share": "60 %"}
    other = {"name": "second", "power": "20 kW", "efficiency": 0.8, "share": "40 %", **second}
    made["drives"] = [first, other]
    made["loop"][3]["drive"] = "first"
    made["loop"][0]["drive"] = "second"
    made["take_up"] = {"kind": "winch", "pulley": "tail", "force": "30 kN"}
    return conveyor_of(made)


def pulls(result: Running) -> tuple[float, float]:
    head, tail = result.at("head"), result.at("tail")
    return (head.entering.value - head.leaving.value, tail.entering.value - tail.leaving.value)


def test_two_drives_share_what_they_pull_and_only_the_fitted_one_holds() -> None:
    conveyor = two_drives()
    assert pulls(one(LoadCase.FULL, conveyor)) == pytest.approx(
        (0.6 * steady(LOAD), 0.4 * steady(LOAD)), rel=1e-9
    )
    assert pulls(one(LoadCase.HOLDING, conveyor)) == pytest.approx(
        (G * LOAD * RISE, 0), rel=1e-9, abs=1e-6
    )


def test_only_a_braked_drive_brakes_and_the_quickest_brake_counts() -> None:
    alone = two_drives()
    quick = two_drives(brake=True, stopping_time="0.8 s")
    assert pulls(one(LoadCase.BRAKING, alone)) == pytest.approx((0, 0), abs=1e-6)
    force = steady(LOAD) - MASS * SPEED / 0.8
    assert pulls(one(LoadCase.BRAKING, quick)) == pytest.approx((0.6 * force, 0.4 * force))
    made = two_drives(brake=False)
    hard = conveyor_of_quick_head()
    assert pulls(one(LoadCase.BRAKING, hard))[1] == pytest.approx(0, abs=1e-6)
    assert LoadCase.BRAKING in applicable(made)


def conveyor_of_quick_head() -> Conveyor:
    made = data()
    first = {**made["drives"][0], "name": "first", "share": "60 %", "stopping_time": "1 s"}
    made["drives"] = [first, {"name": "second", "share": "40 %"}]
    made["loop"][3]["drive"] = "first"
    made["loop"][0]["drive"] = "second"
    made["take_up"] = {"kind": "winch", "pulley": "tail", "force": "30 kN"}
    return conveyor_of(made)


def test_each_motor_stalls_at_its_own_breakdown_pull() -> None:
    conveyor = two_drives(breakdown_factor=3.0)
    stalled = 2.4 * 60e3 * 0.9 / SPEED + 3.0 * 20e3 * 0.8 / SPEED
    assert one(LoadCase.BLOCKED, conveyor).pull.value == pytest.approx(stalled, rel=1e-9)


def test_slip_limits_of_two_drives_by_hand() -> None:
    # Without a take-up force the take-up is set to the least that grips at both pulleys.
    made = data(resistance={"drum_friction": 0.3, "slip_margin": 1.25, "sag_limit": "50 %"})
    made["drives"] = [{"name": "first", "share": "60 %"}, {"name": "second", "share": "40 %"}]
    made["loop"][3] |= {"drive": "first", "wrap": "190 deg"}
    made["loop"][0] |= {"drive": "second", "wrap": "170 deg"}
    made["take_up"] = {"kind": "winch", "pulley": "tail"}
    found = one(LoadCase.FULL, conveyor_of(made))
    grip = [math.expm1(0.3 * math.radians(w)) for w in (190, 170)]
    at_tail = 1.25 * 0.4 * steady(LOAD) / grip[1]  # wanted behind the tail
    # The walk starts behind the last driven pulley, the head: X = its slack side.
    at_head = 1.25 * 0.6 * steady(LOAD) / grip[0]
    tail_as_x = at_tail - back() + 0.4 * steady(LOAD)
    slip = {n.label: n.value for n in found.needed if "grip" in n.label or "driven" in n.label}
    assert sorted(slip.values()) == pytest.approx(sorted((at_head, tail_as_x)), rel=1e-9)


def test_a_downhill_conveyor_drives_its_motor() -> None:
    rise = -9.0
    conveyor = conveyor_of(data(rise))
    found = one(LoadCase.FULL, conveyor)
    pull = steady(LOAD, rise)
    assert pull < 0
    assert found.pull.value == pytest.approx(pull, rel=1e-9)
    assert found.power.value == pytest.approx(pull * SPEED * 0.9, rel=1e-9)
    told = tensions(found)
    # The tight side lies behind the head pulley.
    assert told["head"] - told["slope"] == pytest.approx(-pull, rel=1e-9)
    # Let go, the load speeds the belt up: the drive gives nothing, every mass gains alike.
    free = one(LoadCase.COASTING, conveyor)
    assert free.pull.value == pytest.approx(0, abs=1e-6)
    gain = -pull / MASS
    assert tensions(free)["head"] == pytest.approx(
        T_TAKE_UP - back(rise) - BACK_MASS * gain, rel=1e-9
    )
    # The brake must take the slope's drive and the momentum.
    braked = one(LoadCase.BRAKING, conveyor)
    assert braked.pull.value == pytest.approx(pull - MASS * SPEED / 4.0, rel=1e-9)
    assert any("must brake" in str(s) for s in demand(conveyor, Worksheet()).findings)


def test_slip_of_a_braked_pulley_wants_its_tight_side_behind_it() -> None:
    rise = -9.0
    made = data(rise, {"drum_friction": 0.3, "slip_margin": 1.0, "sag_limit": "90 %"})
    made["take_up"] = {"kind": "gravity", "pulley": "tail"}
    found = one(LoadCase.FULL, conveyor_of(made))
    pull = -steady(LOAD, rise)
    grip = math.exp(0.3 * math.pi)
    assert found.needed[0].value == pytest.approx(pull * grip / (grip - 1), rel=1e-9)


def test_what_is_rare_does_not_govern_but_is_told() -> None:
    found = demand(conveyor_of(data()), Worksheet())
    assert found.exceptional is not None
    rare = [found.case(c).largest.value for c in (LoadCase.BLOCKED, LoadCase.HOLDING)]
    assert found.exceptional.value == max(rare)
    assert found.running.value < max(rare)
    bare = data()
    bare["drives"] = [{"name": "drive"}]
    assert demand(conveyor_of(bare), Worksheet()).exceptional is None


def test_a_reversing_belt_has_the_cases_of_each_way() -> None:
    made = data()
    made["conveyor"]["reversing"] = True
    made["material"] = {"line_mass": "200 kg/m", "rate": f"{200 * SPEED} kg/s"}
    conveyor = conveyor_of(made)
    sheet = Worksheet()
    found = demand(conveyor, sheet)
    alone = running(conveyor.turned_round(), (LoadCase.FALLING,), Worksheet())[0][0]
    there = sheet.get("reverse.falling_runs_loaded.largest")
    assert there is not None
    assert there.value == pytest.approx(alone.largest.value)
    assert found.running.value >= there.value
