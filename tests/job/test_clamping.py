"""Where the clamps stand, by the tape."""

from __future__ import annotations

from typing import Any

import pytest

from splicewright.job import Clamping, JointPlan, plan
from splicewright.plant import Conveyor
from strategies import conveyor_of, invented, loop_file, outline, pulley, run, work_of

ROOM, GAP, CLEAR = 1.5, 1.0, 1.0  # the named assumptions [m]


def planned(conveyor: Conveyor, **tables: Any) -> JointPlan:
    return plan(conveyor, work_of(conveyor, **tables))


@pytest.fixture(scope="module")
def job() -> JointPlan:
    return planned(
        invented("incline"), work={"run": "long return", "distance": "20 m"},
        belt={"cut_out": "420 mm"},
    )  # fmt: skip


def test_distances_by_the_tape(job: JointPlan) -> None:
    clamps = job.clamps
    span = job.worksheet.find("lengths.span")
    width = span.figure.value  # type: ignore[union-attr]
    near = (0.42 + width) / 2 + ROOM
    far = near + job.at_rest.movement.hoists.value + GAP
    assert clamps.pulling.value == pytest.approx(near)
    assert clamps.restraining.value == pytest.approx(far)
    assert clamps.free.value == pytest.approx(2 * far)
    assert clamps.idlers.value == 2 * far // 3
    assert clamps.fits
    assert [p.along.value for p in clamps.places] == pytest.approx(
        [20 - far, 20 - near, 20 + near, 20 + far]
    )
    start = job.path.at("long return").start
    assert [p.station.value for p in clamps.places] == pytest.approx(
        [start + 20 - far, start + 20 - near, start + 20 + near, start + 20 + far]
    )
    # Belt each side up to the next pulley: the bend behind, the tail over the level run ahead.
    assert [p.beyond.value for p in clamps.places] == pytest.approx(
        [20 - far, 20 - near, 198 - 20 - near + 30, 198 - 20 - far + 30]
    )
    assert [p.end for p in clamps.places] == ["lower bend"] * 2 + ["tail pulley"] * 2


def test_forces_are_the_largest_of_the_stages(job: JointPlan) -> None:
    by = {p.name: p for p in job.clamps.places}

    def most(key: str) -> float:
        forces = (s.force(key) for s in job.at_rest.stages)
        return max(f.largest.value for f in forces if f is not None)

    assert by["restraining clamp downhill"].force.value == most("clamp_ahead")
    assert by["restraining clamp uphill"].force.value == most("clamp_behind")
    for side in ("downhill", "uphill"):
        assert by[f"pulling clamp {side}"].force.value == most("hoists")
    ratings = job.at_rest.ratings
    for place in by.values():
        wanted = ratings.clamps if place.restraining else ratings.hoists
        assert place.rating.value == wanted.value >= 2 * place.force.value * (1 - 1e-12)
    # The return falls with the travel: what lies ahead is downhill.
    assert not by["restraining clamp downhill"].behind
    assert by["restraining clamp uphill"].behind


def test_a_clamp_may_stand_on_the_next_run(job: JointPlan) -> None:
    made = planned(invented("incline"), work={"run": "incline", "distance": "2 m"})
    first = made.clamps.places[0]
    away = made.clamps.restraining.value
    assert away > 2
    assert (first.run, first.end) == ("loading run", "tail pulley")
    assert first.along.value == pytest.approx(30 + 2 - away)
    assert first.name == "restraining clamp downhill"
    assert made.clamps.fits


def short(distance: str, length: str = "60 m", **head: Any) -> Clamping:
    conveyor = conveyor_of(
        loop_file(
            pulley("tail", "tail"),
            run("carry", "carry", length),
            pulley("head", "head", **head),
            run("back", "return", length),
        )
    )
    return planned(conveyor, work={"run": "carry", "distance": distance}).clamps


def test_too_near_a_pulley_is_said_with_the_place_that_fits() -> None:
    near = short("57 m", transition="0.9 m")
    away = near.restraining.value
    assert not near.fits
    said = [str(s) for s in near.remarks]
    assert said[0] == (
        f"The restraining clamp head side would stand {show(57 + away - 60)} beyond head: 1.9 m "
        "must be free before it."
    )
    last = 60 - away - CLEAR - 0.9
    assert f"and {show(last)} along carry." in said[1]
    assert near.places[-1].stands() == "past head: does not fit"
    assert near.places[-1].goes_on() == "none"
    # What it proposes fits.
    assert short(f"{last - 0.01} m", transition="0.9 m").fits
    # The hoists travel a little less from there: what is proposed errs to the safe side.
    assert not short(f"{last + 0.2} m", transition="0.9 m").fits
    first = float(said[1].split("between ")[1].split(" m ")[0])
    assert short(f"{first + 0.01} m", transition="0.9 m").fits


def show(metres: float) -> str:
    from splicewright.quantities import Kind
    from splicewright.quantities import show as told

    return told(metres, Kind.DISTANCE)


def test_no_place_between_pulleys_too_near() -> None:
    cramped = short("4 m", "8 m")
    assert not cramped.fits
    assert "tail and head stand too near to each other for clamps on both sides" in " ".join(
        str(s) for s in cramped.remarks
    )


def test_what_does_not_fit_is_a_warning_of_the_plan() -> None:
    made = planned(
        conveyor_of(outline(outline={"centre_distance": "9 m", "lift": "0 m"})),
        work={"run": "carry run", "distance": "4 m"},
    )
    assert not made.clamps.fits
    assert made.clamps.remarks[0] in made.warnings


def test_room_is_a_named_assumption(job: JointPlan) -> None:
    assumed = {g.key: g for g in job.worksheet.assumptions()}
    for key in ("clamp.room", "clamp.gap", "clamp.clear"):
        assert "no source" in assumed[key].reason


def test_steps_say_the_distances(job: JointPlan) -> None:
    step = next(s for s in job.steps if s.title == "Set the restraining clamps")
    said = " ".join(str(s) for s in step.text)
    assert (
        f"{job.clamps.restraining.show()} or more from the place of work, one on each side" in said
    )
