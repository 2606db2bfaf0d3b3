"""What the file leaves open is filled by named assumptions; what it says is kept."""

from __future__ import annotations

import math
from typing import Any

import pytest

from splicewright.plant import (
    Carcass,
    Conveyor,
    Cover,
    Pulley,
    Role,
    Run,
    Side,
    load_conveyor,
    schemas,
)
from splicewright.plant import assumptions as assume
from splicewright.plant.filling.conveyor import length_coefficient, length_coefficient_span
from splicewright.quantities import Given, Kind, Origin
from splicewright.tension.unknowns import inputs_of
from strategies import CONVEYORS, conveyor_of, loop_file, outline, pulley, run, small_loop


def bare() -> dict[str, Any]:
    """The least a crew must know."""
    return {
        "conveyor": {"name": "bare", "speed": "2 m/s"},
        "outline": {"centre_distance": "100 m", "lift": "10 m"},
        "belt": {"width": "800 mm"},
        "take_up": {"kind": "gravity"},
    }


@pytest.mark.parametrize("path", CONVEYORS, ids=lambda p: p.stem)
def test_every_example_loads_and_every_input_tells_its_story(path: Any) -> None:
    for given in inputs_of(load_conveyor(path)):
        assert given.label
        assert given.low <= given.value <= given.high, given
        assert given.reason or given.origin is not Origin.ASSUMED, given


def test_assumed_numbers_carry_reason_and_span() -> None:
    belt = conveyor_of(bare()).belt
    assert belt.thickness == Given(
        "belt.thickness", "belt thickness", 0.011, Kind.LENGTH, Origin.ASSUMED,
        "belt thickness not given and not to be had from the marking: MEASURE IT before any "
        "choice", 0.006, 0.020,
    )  # fmt: skip
    assert belt.carcass is Carcass.POLYESTER
    assert belt.strength.assumed


@pytest.mark.parametrize(
    ("of", "value", "low", "high"),
    [
        (lambda c: c.take_up.travel, 1.5, 1.0, 2.0),  # 1.5 % of the centre distance
        (lambda c: c.take_up.position, 0.75, 0.0, 1.5),  # half of it
        (lambda c: c.belt.modulus, 5e6, 8 * 200e3, 13 * 1600e3),  # 10 times 500 N/mm
        (lambda c: c.belt.line_mass, 1250 * 0.011 * 0.8, 1150 * 0.006 * 0.8, 1350 * 0.02 * 0.8),
        (lambda c: c.runs()[0].idlers.line_mass, 18 * 0.8, 10 * 0.8, 30 * 0.8),
        (lambda c: c.method.length_coefficient, 1.8, 1.7, 2.0),  # (100 + 80)/100, 70 to 100 m
        (lambda c: c.method.drum_friction, 0.25, 0.10, 0.35),
    ],
)
def test_assumptions_that_rest_on_other_numbers(
    of: Any, value: float, low: float, high: float
) -> None:
    given = of(conveyor_of(bare()))
    assert given.assumed
    assert (given.value, given.low, given.high) == pytest.approx((value, low, high))


def test_a_stated_number_takes_the_place_of_the_assumption() -> None:
    data = bare()
    data["belt"] |= {"thickness": {"value": "12 mm", "measured": True, "note": "calliper"}}
    data["take_up"] |= {"travel": "9 ft", "position": "2 to 3 m"}
    made = conveyor_of(data)
    assert made.belt.thickness.origin is Origin.MEASURED
    assert made.belt.thickness.reason == "calliper"
    assert made.take_up.travel.origin is Origin.FILE
    assert made.take_up.travel.value == pytest.approx(9 * 0.3048)
    assert (made.take_up.position.low, made.take_up.position.high) == (2.0, 3.0)


def test_marking_gives_carcass_strength_plies_and_covers() -> None:
    belt = conveyor_of(outline(belt={"marking": "NN 630/4 6+3", "thickness": "14 mm"})).belt
    assert (belt.carcass, belt.plies) == (Carcass.POLYAMIDE, 4)
    assert (belt.strength.value, belt.top_cover.value, belt.bottom_cover.value) == (
        630e3, 0.006, 0.003,
    )  # fmt: skip
    assert belt.strength.origin is Origin.FILE
    assert belt.strength.reason == "from the belt marking"


def test_table_entries_go_before_the_marking() -> None:
    belt = conveyor_of(
        outline(belt={"carcass": "aramid", "plies": 1, "strength": "900 N/mm", "top_cover": "4 mm"})
    ).belt
    assert (belt.carcass, belt.plies, belt.strength.value) == (Carcass.ARAMID, 1, 900e3)
    assert belt.top_cover.value == 0.004


def test_assumed_covers_never_eat_up_a_thin_belt() -> None:
    belt = conveyor_of({**bare(), "belt": {"width": "800 mm", "thickness": "6 mm"}}).belt
    assert belt.top_cover.value + belt.bottom_cover.value < belt.thickness.value


def test_belt_mass_from_mass_per_area() -> None:
    belt = conveyor_of(outline(belt={"area_mass": "13 to 14 kg/m2"})).belt
    mass = belt.line_mass
    assert (mass.value, mass.low, mass.high) == pytest.approx((13.5 * 0.8, 13 * 0.8, 14 * 0.8))


def test_load_per_metre_from_rate_and_speed() -> None:
    made = conveyor_of(outline(material={"rate": "360 to 720 t/h"}, conveyor={"speed": "2 m/s"}))
    load = made.material.line_mass
    assert (load.value, load.low, load.high) == pytest.approx((75, 50, 100))
    assert load.reason == "mass flow over belt speed"


def test_idlers_of_a_run_before_those_of_the_side_before_the_assumption() -> None:
    data = small_loop(idlers={"carry": {"spacing": "1.3 m", "trough": "20 deg"}})
    data["loop"][1]["idlers"] = {"spacing": "0.9 m", "set_mass": "18 kg"}
    carry, back = conveyor_of(data).runs()
    assert carry.idlers.spacing.value == 0.9
    assert carry.idlers.line_mass.value == pytest.approx(20)
    assert math.degrees(carry.idlers.trough.value) == pytest.approx(20)
    assert back.idlers.spacing.value == 3.0
    assert back.idlers.trough.value == 0
    assert (carry.idlers.rolls, back.idlers.rolls) == (3, 1)
    data["loop"][1]["idlers"]["rolls"] = 2
    assert conveyor_of(data).runs()[0].idlers.rolls == 2
    data["idlers"]["carry"]["rolls"] = 5
    assert conveyor_of(data).runs()[0].idlers.rolls == 2
    del data["loop"][1]["idlers"]["rolls"]
    assert conveyor_of(data).runs()[0].idlers.rolls == 5


def test_slope_in_place_of_rise() -> None:
    data = small_loop()
    data["loop"][1]["slope"], data["loop"][3]["slope"] = "6 deg", "-6 deg"
    up, down = conveyor_of(data).runs()
    assert up.rise.value == pytest.approx(60 * math.sin(math.radians(6)))
    assert down.rise.value == -up.rise.value


def closed(conveyor: Conveyor) -> float:
    return sum(r.rise.value for r in conveyor.runs())


@pytest.mark.parametrize("kind", ["gravity", "winch", "screw"])
@pytest.mark.parametrize("drive_at", ["head", "tail"])
def test_the_short_form_makes_a_closed_loop(kind: str, drive_at: str) -> None:
    made = conveyor_of(outline(take_up={"kind": kind}, outline={"drive_at": drive_at}))
    assert closed(made) == pytest.approx(0, abs=1e-9)
    back = sum(r.length.value for r in made.runs() if r.side is Side.RETURN)
    hanging = 2 * 3.0 if kind != "screw" else 0.0
    assert back == pytest.approx(120 + hanging)
    assert [p.role for p in made.pulleys() if p.drive] == [Role(drive_at)]
    expected = "tail pulley" if kind == "screw" else "take-up pulley"
    assert made.take_up.pulley == expected


def test_take_up_stands_beside_the_drive_unless_said() -> None:
    near = conveyor_of(outline(outline={"take_up_distance": "30 m"}))
    assert near.runs()[1].length.value == pytest.approx(30)
    at_tail = conveyor_of(outline(outline={"drive_at": "tail"}))
    assert at_tail.runs()[1].length.value == pytest.approx(0.95 * 120)


def test_wrap_and_lagging_belong_to_the_driven_pulley() -> None:
    data = outline(
        outline={"drive_at": "tail", "drive_wrap": "200 deg", "lagging": "ceramic"},
        take_up={"kind": "screw"},
    )
    made = conveyor_of(data)
    tail, head, snub = made.pulleys()
    assert math.degrees(tail.wrap.value) == pytest.approx(200)
    assert math.degrees(head.wrap.value) == pytest.approx(180)
    # More than half a turn needs a snub pulley that turns the belt back: all turns are one round.
    assert math.degrees(snub.wrap.value) == pytest.approx(200 + 180 - 360)
    assert made.method.drum_friction.value == assume.DRUM_FRICTION[tail.lagging].value == 0.35


def test_smallest_pulley_stands_for_those_not_given() -> None:
    made = conveyor_of(outline(outline={"head_pulley": "800 mm", "smallest_pulley": "320 mm"}))
    sizes = {p.name: p.diameter.value for p in made.pulleys()}
    assert sizes.pop("head pulley") == 0.8
    assert set(sizes.values()) == {0.32}


def test_bends_touch_the_carry_cover() -> None:
    touching = {p.role: p.touches for p in conveyor_of(outline()).pulleys()}
    assert touching[Role.BEND] is Cover.CARRY
    assert touching[Role.TAIL] is touching[Role.TAKE_UP] is Cover.PULLEY


def driven(*elements: dict[str, Any], drives: int = 1) -> list[str]:
    names = [{"name": f"drive {n}"} for n in range(1, drives + 1)]
    loop = [
        pulley("tail", "tail"), run("up", "carry", "50 m"), *elements, run("back", "return", "50 m")
    ]  # fmt: skip
    return [f"{p.name}: {p.drive}" for p in conveyor_of(loop_file(*loop, drives=names)).pulleys()
            if p.drive]  # fmt: skip


def test_where_the_drives_go() -> None:
    head = pulley("head", "head")
    first, second = pulley("first", "drive"), pulley("second", "drive")
    assert driven(head) == ["head: drive 1"]
    assert driven(head, first) == ["first: drive 1"]
    assert driven(head, first, second) == ["first: drive 1", "second: drive 1"]
    assert driven(head, first, second, drives=2) == ["first: drive 1", "second: drive 2"]
    named = {**head, "drive": "drive 1"}
    assert driven(named, first) == ["head: drive 1"]


def test_a_lagged_head_goes_before_a_lagged_tail() -> None:
    data = small_loop()
    for place in (0, 2):
        data["loop"][place]["lagging"] = "rubber, grooved"
    assert [p.name for p in conveyor_of(data).pulleys() if p.drive] == ["head"]


def test_cleaners_and_ploughs_stand_on_the_return_side() -> None:
    data = small_loop(
        special=[
            {"kind": "cleaner", "area": "50 cm2", "pressure": "50 kPa", "friction": 0.6},
            {"kind": "plough", "per_width": "1.5 N/mm"},
            {"kind": "skirts", "friction": 0.6, "length": "3 m", "between": "0.5 m"},
        ]
    )
    assert [s.run for s in conveyor_of(data).specials] == ["back", "back", "carry"]


def test_length_coefficient_below_its_range_says_so() -> None:
    assert length_coefficient(200)[0] == pytest.approx(1.4)
    value, reason = length_coefficient(40)
    assert value == pytest.approx(3.0)
    assert "below 80 m" in reason
    assert length_coefficient(2)[0] == 9  # published for belts of a few metres
    assert length_coefficient_span(2) == (9, 9)


def test_turned_round() -> None:
    data = loop_file(
        pulley("tail", "tail"),
        run("up", "carry", "50 m", rise="3 m"),
        run("level", "carry", "20 m"),
        pulley("head", "head"),
        run("down", "return", "70 m", rise="-3 m"),
    )
    forward = conveyor_of(data)
    back = forward.turned_round()
    assert [e.name for e in back.loop] == ["head", "level", "up", "tail", "down"]
    rises = {r.name: r.rise.value for r in back.runs()}
    assert rises == {"level": 0, "up": -3, "down": 3}
    assert [p.drive for p in back.pulleys()] == ["head drive", ""]
    # A turned number is another number: it must not explain itself by the forward one.
    keys = {r.rise.key for r in back.runs()} & {r.rise.key for r in forward.runs()}
    assert not keys
    again = {r.name: r.rise.value for r in back.turned_round().runs()}
    assert again == {r.name: r.rise.value for r in forward.runs()}


def test_turned_round_starts_with_a_pulley() -> None:
    back = conveyor_of(outline()).turned_round()
    assert isinstance(back.loop[0], Pulley)
    assert isinstance(back.loop[-1], Run)


def test_schemas_describe_both_files() -> None:
    made = schemas()
    assert set(made) == {"conveyor", "work"}
    assert "take_up" in made["conveyor"]["required"]
    idlers = made["conveyor"]["$defs"]["IdlersTable"]["properties"]
    assert set(idlers) == {"carry", "return"}
