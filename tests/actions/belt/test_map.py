"""The belt map and where a joint is now, against cases worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import timedelta
from uuid import UUID, uuid4

import pytest
from hypothesis import given
from hypothesis import strategies as st

from splicewright.actions.belt.map import belt_map, where_now
from splicewright.errors import InputError
from splicewright.store import State
from splicewright.store.facts.joint_facts import JointBuilt, JointRemoved, Mode
from splicewright.store.facts.plant_facts import (
    BeltPlaced,
    DamageFound,
    DamageMended,
    Grade,
    PiecePlaced,
    PieceRemoved,
)
from splicewright.store.present.present import JointNow
from splicewright.store.sql.register import SqlRegister
from store.making import DAY, HOUR, START, Plant


def test_a_loop_laid_out(register: SqlRegister, plant: Plant) -> None:
    main, insert, old, tear, hole = (uuid4() for _ in range(5))
    built, gone = plant.joint(register, "J1", 60.0), plant.joint(register, "J0", 10.0)
    plant.joint(register, "J2", None)
    register.append(
        plant.fact(PiecePlaced(plant.belt, main, "main", 70.0, 220.0)),  # 50 m past the mark
        plant.fact(PiecePlaced(plant.belt, insert, "insert", 50.0, 25.0)),
        plant.fact(PiecePlaced(plant.belt, old, "old", 0.0, 240.0)),
        plant.fact(PieceRemoved(plant.belt, old)),
        plant.fact(DamageFound(plant.belt, tear, 239.0, 3.0, Grade.STOP)),
        plant.fact(DamageFound(plant.belt, hole, 100.0, 0.1, Grade.WATCH)),
        plant.fact(DamageMended(plant.belt, hole)),
        plant.fact(JointBuilt(built)),
        plant.fact(JointRemoved(gone, Mode.RENEWED)),
    )
    plant.clock.pass_(10 * DAY)
    laid = belt_map(register, plant.conveyor, plant.clock())
    assert laid is not None and laid.length == 240.0
    assert [(p.name, p.start, p.end) for p in laid.pieces] == [
        ("main", 0.0, 50.0), ("insert", 50.0, 75.0), ("main", 70.0, 240.0),
    ]  # fmt: skip
    assert {p.age for p in laid.pieces} == {10 * DAY}
    assert laid.gaps == () and laid.overlaps == ((70.0, 75.0),)
    assert [(j.label, j.place, j.age) for j in laid.joints] == [("J1", 60.0, 10 * DAY)]
    assert [j.label for j in laid.unplaced] == ["J2"]
    assert [(d.start, d.end) for d in laid.damage] == [(0.0, 2.0), (239.0, 240.0)]


def test_gaps_are_told(register: SqlRegister, plant: Plant) -> None:
    register.append(
        plant.fact(PiecePlaced(plant.belt, uuid4(), "a", 10.0, 90.0)),
        plant.fact(PiecePlaced(plant.belt, uuid4(), "b", 120.0, 60.0)),
    )
    laid = belt_map(register, plant.conveyor, plant.clock())
    assert laid is not None
    assert laid.gaps == ((0.0, 10.0), (100.0, 120.0), (180.0, 240.0))


def test_what_is_as_long_as_the_loop_goes_all_round(register: SqlRegister, plant: Plant) -> None:
    """Of 240 m nothing is left bare, wherever the piece was begun; worked by hand."""
    register.append(
        plant.fact(PiecePlaced(plant.belt, uuid4(), "whole", 60.0, 240.0)),
        plant.fact(DamageFound(plant.belt, uuid4(), 5.0, 300.0, Grade.WATCH)),
    )
    laid = belt_map(register, plant.conveyor, plant.clock())
    assert laid is not None
    assert [(p.start, p.end) for p in laid.pieces] == [(0.0, 240.0)]
    assert [(d.start, d.end) for d in laid.damage] == [(0.0, 240.0)]
    assert laid.gaps == () and laid.overlaps == ()


def test_no_belt_no_map_and_the_newest_belt_counts(register: SqlRegister, plant: Plant) -> None:
    assert belt_map(register, uuid4(), plant.clock()) is None
    plant.clock.pass_(HOUR)
    register.append(plant.fact(BeltPlaced(uuid4(), plant.conveyor, "new belt", 250.0)))
    laid = belt_map(register, plant.conveyor, plant.clock())
    assert laid is not None and laid.name == "new belt"


def _joint(place: float | None, station: float | None, belt: UUID, after: float = 0.0) -> JointNow:
    seen = START + timedelta(seconds=after) if station is not None else None
    return JointNow(
        uuid4(), uuid4(), belt, "J", place, State.RUNNING, None, "", None, None, START,
        seen_station=station, seen=seen,
    )  # fmt: skip


BELT = uuid4()


def test_a_joint_travels_with_the_belt() -> None:
    joint = _joint(60.0, 100.0, BELT)
    # 100 m + 2 m/s x 90 s = 280 m; one turn is 240 m.
    found = where_now(joint, (), belt_length=240.0, speed=2.0, now=START + timedelta(seconds=90))
    assert found is not None
    assert found.station == pytest.approx(40.0)
    assert found.give_or_take == pytest.approx(0.02 * 180.0)
    stood = where_now(
        joint, (), belt_length=240.0, speed=2.0, now=START + timedelta(seconds=90), stood=60.0
    )
    assert stood is not None and stood.station == pytest.approx(160.0)


def test_a_later_sighting_of_another_joint_counts() -> None:
    joint, other = _joint(60.0, 100.0, BELT), _joint(200.0, 30.0, BELT, after=50.0)
    # 30 + (60 - 200) + 2 x 40 = -30, which is 210 on a loop of 240.
    found = where_now(
        joint, (other,), belt_length=240.0, speed=2.0, now=START + timedelta(seconds=90)
    )
    assert found is not None and found.seen == other.joint
    assert found.station == pytest.approx(210.0)
    elsewhere = replace(other, belt=uuid4())
    alone = where_now(
        joint, (elsewhere,), belt_length=240.0, speed=2.0, now=START + timedelta(seconds=90)
    )
    assert alone is not None and alone.seen == joint.joint


def test_unknown_is_said() -> None:
    never = _joint(60.0, None, BELT)
    now = START + timedelta(days=1)
    assert where_now(never, (), belt_length=240.0, speed=2.0, now=now) is None
    seen = _joint(60.0, 100.0, BELT)
    # 2 % of 2 m/s reaches half of 240 m after 3000 s.
    for seconds, known in ((2999, True), (3000, False)):
        found = where_now(
            seen, (), belt_length=240.0, speed=2.0, now=START + timedelta(seconds=seconds)
        )
        assert (found is not None) is known
    early = START - timedelta(seconds=1)
    assert where_now(seen, (), belt_length=240.0, speed=2.0, now=early) is None


@given(
    st.floats(1.0, 1e5), st.floats(0.0, 1.0), st.floats(0.0, 8.0), st.floats(0.0, 1e4),
    st.floats(0.0, 1.0),
)  # fmt: skip
def test_always_on_the_loop(
    length: float, share: float, speed: float, seconds: float, place: float
) -> None:
    joint = _joint(place * length, share * length, BELT)
    found = where_now(
        joint, (), belt_length=length, speed=speed, now=START + timedelta(seconds=seconds),
        speed_doubt=0.0,
    )  # fmt: skip
    assert found is not None and 0.0 <= found.station < length
    turned = (found.station - share * length - speed * seconds) / length
    assert math.isclose(turned, round(turned), abs_tol=1e-6 * (1 + speed * seconds / length))


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"belt_length": 0.0}, "belt_length: 0 cannot be; accepted is more than 0"),
        ({"speed": -1.0}, "speed: -1 cannot be; accepted is 0 or more"),
        ({"speed_doubt": math.nan}, "speed_doubt: nan cannot be; accepted is 0 or more"),
        ({"stood": math.inf}, "stood: inf cannot be; accepted is 0 or more"),
    ],
)
def test_what_cannot_be(wrong: dict[str, float], sentence: str) -> None:
    given_ = {"belt_length": 240.0, "speed": 2.0, **wrong}
    with pytest.raises(InputError) as refused:
        where_now(_joint(1.0, 1.0, BELT), (), now=START, **given_)
    assert str(refused.value) == sentence
