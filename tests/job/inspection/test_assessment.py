"""Can it run? Equilibrium, sides, and the promises of the answer."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from splicewright.errors import InputError
from splicewright.files.toml import check
from splicewright.job.inspection.assessment import as_tables, assess
from splicewright.job.inspection.joined_belt import (
    ALL_ROUND,
    JoinedBelt,
    joined_by_hand,
    joined_by_plan,
)
from splicewright.job.inspection.joint_assessment import JointAssessment
from splicewright.job.plan import plan
from splicewright.joint import End
from splicewright.joint.inspection.damage import DECISION
from splicewright.joint.inspection.file import InspectionFile, build
from splicewright.joint.inspection.verdict import Verdict
from splicewright.joint.loads.hinge import STEEL
from splicewright.joint.loads.stiffness import PIN_OF_WIRES
from splicewright.plant import Carcass
from splicewright.quantities import Given, Kind, Line, explain, show, stated
from strategies import conveyor_of, example_ranges, loop_file, pulley, run, work_of

MEASURED = stated("belt.modulus", "belt modulus", 4e6, Kind.WIDTH_FORCE)


def seen(*plates: dict[str, Any], **tables: Any) -> Any:
    head = {"inspection": {"name": "test", "plan": "x"}}
    return build(check({**head, "plates": list(plates), **tables}, InspectionFile, "s.toml"))


def joined(**changes: Any) -> JoinedBelt:
    """Eight plates on a belt of 500 mm that runs flat, 20 N/mm of 50 rated."""
    centres = tuple(0.06 * (3.5 - n) for n in range(8))
    from splicewright.joint.loads.places import Place

    given: dict[str, Any] = {
        "width": 0.5,
        "carcass": Carcass.POLYESTER,
        "modulus": MEASURED,
        "centres": tuple((end, centres) for end in End),
        "plate_width": 0.055,
        "bolts": 2,
        "pin": 0.008,
        "curve_depth": 0.0,
        "hinged": True,
        "rated": 50e3,
        "starting_rated": None,
        "evenness": stated("range.evenness", "", 1.0, Kind.RATIO),
        "running": 20e3,
        "starting": 28e3,
        "places": ((ALL_ROUND, Place("flat", 20e3)),),
        "transitions": (),
        "conveyor": None,
        "assumptions": (),
    }
    return JoinedBelt(**{**given, **changes})


@cache
def left_lost() -> JointAssessment:
    return assess(seen({"number": 1, "state": "lost"}), joined())


def test_the_plates_carry_the_pull_and_no_more() -> None:
    """Equilibrium: 20 N/mm on 500 mm is 10 kN."""
    loads = [p.load for p in left_lost().plates if p.load is not None]
    assert sum(loads) == pytest.approx(10e3, rel=1e-9)
    assert len(loads) == 7 and left_lost().plates[0].load is None


def test_left_is_left_and_right_is_right() -> None:
    right = assess(seen({"number": 8, "state": "lost"}), joined())
    left = left_lost()
    assert (left.next_plate, right.next_plate) == (2, 7)
    assert [p.load for p in left.plates][1:] == pytest.approx(
        [p.load for p in reversed(right.plates)][1:], rel=1e-6
    )
    assert left.margin == pytest.approx(right.margin, rel=1e-6)


def test_at_the_largest_tension_the_margin_is_one() -> None:
    from splicewright.joint.loads.places import Place

    carried = left_lost().largest
    less = joined(running=carried, starting=carried, places=((ALL_ROUND, Place("flat", carried)),))
    # The cases that are straightened by the belt's own pull change with it; a little is left.
    again = assess(seen({"number": 1, "state": "lost"}), less)
    assert again.margin[0] == pytest.approx(1.0, abs=0.02)


def test_damage_costs_margin_and_the_sound_joint_is_shown_beside_it() -> None:
    found = left_lost()
    sound = assess(seen(), joined())
    assert sound.margin == sound.sound_margin == found.sound_margin
    assert found.margin[0] < sound.margin[0]
    # Shared evenly the margin is 50/20; nothing can be better than that.
    assert sound.margin[1] <= 2.5 * (1 + 1e-9)


def test_the_end_that_is_worse_off_is_judged() -> None:
    found = assess(
        seen(
            {"number": 4, "bolts_missing": 1, "end": "leading end"},
            {"number": 1, "state": "lost", "end": "trailing end"},
        ),
        joined(),
    )
    assert found.end is End.TRAILING
    assert found.trailing[0].load is None and found.plates[0].load is not None
    alone = assess(seen({"number": 1, "state": "lost", "end": "trailing end"}), joined())
    assert alone.end is End.TRAILING and alone.next_end is End.TRAILING
    assert alone.margin == pytest.approx(left_lost().margin, rel=1e-6)


def test_both_ends_are_worked_as_one() -> None:
    """Both carry the pull; lost in opposite corners is another joint than facing each other."""
    here = {"number": 1, "state": "lost", "end": "leading end"}
    facing = assess(seen(here, {"number": 1, "state": "lost", "end": "trailing end"}), joined())
    corners = assess(seen(here, {"number": 8, "state": "lost", "end": "trailing end"}), joined())
    for found in (facing, corners):
        for end in End:
            loads = [p.load for p in found.of(end) if p.load is not None]
            assert sum(loads) == pytest.approx(10e3, rel=1e-9)
    assert corners.margin[0] != pytest.approx(facing.margin[0], rel=1e-3)
    one, other = ([p.load or 0.0 for p in facing.of(end)] for end in End)
    assert one == pytest.approx(other, rel=1e-6)


def test_halves_left_on_opposite_sides_are_stopped() -> None:
    """Each end alone could still hang by its half where the belt is guided: together not."""
    halves = [
        {"number": n, "state": "lost", "end": end}
        for end, plates in (("leading end", range(1, 5)), ("trailing end", range(5, 9)))
        for n in plates
    ]
    found = assess(seen(*halves), joined(running=5e3, starting=5e3))
    assert found.verdict is Verdict.STOP
    assert found.largest == 0.0 and found.margin == (0.0, 0.0)
    assert all(p.load is None for p in (*found.plates, *found.trailing))


def test_solid_plates_are_one_piece_across_both_ends() -> None:
    """Lost on either end they are lost; no pin levers, so the end on a straight pin is exact."""
    here = {"number": 1, "state": "lost", "end": "leading end"}
    there = {"number": 1, "state": "lost", "end": "trailing end"}
    solid = {"hinged": False, "pin": None}
    one, other = assess(seen(here), joined(**solid)), assess(seen(there), joined(**solid))
    assert one.margin == other.margin and one.plates == one.trailing == other.plates
    assert one.margin[0] > left_lost().margin[0]
    assert "Plate 2 from the left fails next." in [s.say() for s in one.reasons]
    worn = {"number": 1, "state": "worn", "share_kept": "60 %", "end": "trailing end", "slack":
            "1 mm"}  # fmt: skip
    both = assess(seen({**worn, "share_kept": "80 %", "end": "leading end"}, worn), joined(**solid))
    assert both.plates[0].kept == pytest.approx(0.6)
    with pytest.raises(InputError, match="pin: does not go with solid plates, which have none"):
        assess(seen(pin={"now": "7 mm", "new": "8 mm"}), joined(**solid))


def test_the_construction_of_a_typed_in_joint() -> None:
    data: dict[str, Any] = {
        "inspection": {"name": "x"},
        "belt": {"width": "500 mm", "strength": "400 N/mm"},
        "fastener": {"plates": 8, "pitch": "60 mm", "plate_width": "55 mm", "bolts": 2,
                     "rated_tension": "50 N/mm", "construction": "solid plate"},
        "pull": {"running": "20 N/mm"},
    }  # fmt: skip
    typed = build(check(data, InspectionFile, "s.toml"), "s.toml").typed
    assert typed is not None and not joined_by_hand(typed).hinged
    data["fastener"]["construction"] = "vulcanised step"
    with pytest.raises(InputError, match=r"fastener\.construction: has no plates to judge"):
        build(check(data, InspectionFile, "s.toml"), "s.toml")


def test_the_end_of_a_torn_edge_can_be_named() -> None:
    torn = assess(seen(edge={"torn_right": "60 mm", "end": "trailing end"}), joined())
    assert torn.torn == ((0.0, 0.0), (0.0, 0.06))
    assert torn.trailing[-1].load is None and torn.plates[-1].load is not None
    assert torn.trailing[-1].state == "no belt under it"
    guessed = assess(seen(edge={"torn_right": "60 mm"}), joined())
    assert guessed.torn == ((0.0, 0.06), (0.0, 0.0))
    said = "Torn edge without a belt end is taken as being on the leading end."
    assert said in [s.say() for s in guessed.assumptions]


def test_every_number_is_explained_and_the_file_gives_it_back() -> None:
    found = assess(
        seen({"number": 2, "state": "worn", "share_kept": "70 %", "bolts_missing": 1},
             pin={"now": "7.5 mm"}), joined())  # fmt: skip
    assert JointAssessment.from_json(found.to_json()) == found
    told = explain(found.worksheet, "assess.margin.lowest")
    for part in (
        "assess.pin_kept",
        "assess.leading.plate_2.judged",
        "belt.modulus",
        "assess.leading.plate_2.bolts_kept",
        "assess.plate_rating",
        "plate.stiffness",
    ):
        assert part in told
    for key, value in (
        ("assess.margin.lowest", found.margin[0]),
        ("assess.carries", found.largest),
        ("assess.leading.plate_3.high", found.plates[2].high),
        ("assess.leading.plate_2.kept", 0.7 * 0.5 * (7.5 / 8) ** 3),
    ):
        entry = found.worksheet.find(key)
        figure = entry.figure if isinstance(entry, Line) else entry
        assert figure.value == pytest.approx(value)
    with pytest.raises(InputError, match="is no assessment"):
        JointAssessment.from_json("{}")


def test_a_pin_that_nobody_knows_is_assumed_with_a_range() -> None:
    """Of plates 60 mm apart: 22 % of the pitch, two fifths less or more. Steel to 5 %, and a pin of
    wires, worked as well, bends a hundredth as hard: both ends are those of what is worked."""
    found = assess(seen({"number": 2, "state": "lost"}), joined(pin=None)).worksheet
    pin, steel = found.find("assess.pin"), found.find("assess.pin_modulus")
    assert isinstance(pin, Given) and isinstance(steel, Given)
    assert pin.assumed and steel.assumed
    assert (pin.low, pin.value, pin.high) == pytest.approx((0.00792, 0.0132, 0.01848))
    assert (steel.low, steel.value) == pytest.approx((PIN_OF_WIRES * STEEL, STEEL))
    assert STEEL < steel.high <= 1.05 * STEEL


def test_answer_says_what_was_assumed_and_who_decides_and_never_safe() -> None:
    found = assess(
        seen({"number": 2, "state": "cracked"}, pin={"now": "7.5 mm"}, edge={"torn_left": "9 mm"}),
        joined(),
    )
    assert found.decision == DECISION
    said = [s.say() for s in (*found.reasons, *found.assumptions)]
    words = " ".join([found.verdict.sentence, found.decision, *said]).lower()
    assert "safe" not in words
    evenly = (
        f"A sound plate may carry {show(50e3 * 0.5 / 8, Kind.FORCE)}: 1 times the "
        f"{show(50e3 * 0.5 / 8, Kind.FORCE)} of the rated tension 50 N/mm shared evenly"
    )
    assert any(s.startswith(evenly) for s in said)
    assert "No breaking figure given: sound plates taken to fail at 100 N/mm." in said
    assert "Tonnage not worked out: belt and pull were typed in; name a conveyor." in said
    assert any(s.startswith("Plate by plate it ") for s in said)
    told = as_tables(found)
    assert told["level"] == found.verdict and len(told["plates"]) == 8


def test_three_levels() -> None:
    assert left_lost().verdict is Verdict.WATCH
    from splicewright.joint.loads.places import Place

    hard = joined(running=45e3, starting=45e3, places=((ALL_ROUND, Place("flat", 45e3)),))
    stated_break = {"fastener": {"breaking": "400 N/mm"}}
    assert assess(seen(**stated_break), hard).verdict in {Verdict.REDUCE, Verdict.WATCH}
    lost = seen({"number": 1, "state": "lost"}, **stated_break)
    assert assess(lost, hard).verdict is Verdict.REDUCE
    halved = seen(*({"number": n, "state": "lost"} for n in (1, 2, 3, 4)))
    assert assess(halved, hard).verdict is Verdict.STOP


def test_findings_that_leave_nothing_give_a_sentence_and_no_number() -> None:
    with pytest.raises(InputError) as caught:
        assess(seen(*({"number": n, "state": "lost"} for n in range(1, 9))), joined())
    assert str(caught.value) == (
        "plates: all 8 plates are lost: nothing holds the belt, there is no load to work out"
    )


def test_a_tear_as_wide_as_the_belt_is_refused() -> None:
    with pytest.raises(InputError) as caught:
        assess(seen(edge={"torn_left": "0.3 m", "torn_right": "0.2 m"}), joined())
    assert str(caught.value) == ("edge: 500 mm torn in all is not less than the belt's 500 mm")


def test_a_breaking_figure_below_the_rating_is_refused() -> None:
    with pytest.raises(InputError) as caught:
        assess(seen(fastener={"breaking": "40 N/mm"}), joined())
    assert str(caught.value) == (
        "fastener.breaking: 40 N/mm is less than the rated 50 N/mm: a joint breaks above its rating"
    )


def test_typed_in_plates_must_fit_the_belt() -> None:
    data = {
        "inspection": {"name": "x"},
        "belt": {"width": "500 mm", "strength": "400 N/mm"},
        "fastener": {"plates": 9, "pitch": "60 mm", "plate_width": "55 mm", "bolts": 2,
                     "rated_tension": "50 N/mm"},
        "pull": {"running": "20 N/mm"},
    }  # fmt: skip
    typed = build(check(data, InspectionFile, "s.toml"), "s.toml").typed
    assert typed is not None
    with pytest.raises(InputError) as caught:
        joined_by_hand(typed)
    assert str(caught.value) == (
        "fastener.plates: 9 plates of 55 mm at a pitch of 60 mm do not fit side by side on a belt "
        "of 500 mm"
    )
    fitting = joined_by_hand(replace(typed, plates=8))
    assert dict(fitting.centres)[End.LEADING][0] == pytest.approx(0.21)
    assert fitting.running == fitting.starting == 20e3


def troughed() -> Any:
    idlers = {"carry": {"spacing": "1.2 m", "trough": "35 deg", "rolls": 3, "set_mass": "15 kg"}}
    return conveyor_of(
        loop_file(
            pulley("tail", "tail"),
            run("carry", "carry", "80 m", rise="8 m"),
            pulley("head", "head", transition="2 m", raised="30 mm"),
            run("back", "return", "80 m", rise="-8 m"),
            idlers=idlers,
        )
    )


def test_places_are_the_largest_pull_and_the_transitions() -> None:
    conveyor = troughed()
    made = plan(conveyor, work_of(conveyor), example_ranges())
    belt = joined_by_plan(made)
    assert [pulley for pulley, _ in belt.places] == [ALL_ROUND, "tail", "head"]
    assert dict(belt.places)[ALL_ROUND].width_tension == made.demand.running.value
    text = " ".join(s.say() for s in belt.assumptions)
    assert "transition at tail: " in text and "transition at head" not in text


def test_a_belt_worn_narrower_pulls_harder_per_width_and_the_tonnage_is_the_same_pull() -> None:
    conveyor = troughed()
    made = plan(conveyor, work_of(conveyor, belt={"width": "790 mm"}), example_ranges())
    belt = joined_by_plan(made)
    assert belt.running * 0.79 == pytest.approx(made.demand.running.value * 0.8)
    found = assess(seen(), belt)
    assert found.tonnage is not None
    if found.tonnage.share < 1:
        assert found.tonnage.tension <= found.running * 0.79 / 0.8


def test_a_plan_without_a_joint_is_refused() -> None:
    conveyor = troughed()
    without = plan(conveyor, work_of(conveyor), ())
    with pytest.raises(InputError) as caught:
        joined_by_plan(without)
    assert str(caught.value) == (
        "inspection.plan: holds no joint with plates: no fastener was chosen; name the fasteners "
        "of this joint, or type it in"
    )


def test_a_planned_joint_gets_its_tonnage() -> None:
    conveyor = troughed()
    made = plan(conveyor, work_of(conveyor), example_ranges())
    belt = joined_by_plan(made)
    assert made.layout is not None
    assert belt.plates == made.layout.count
    assert dict(belt.centres)[End.LEADING][0] == made.layout.leading.plates[0].y
    found = assess(seen({"number": 2, "bolts_missing": 1}), belt)
    assert found.full_rate == pytest.approx(
        conveyor.material.line_mass.value * conveyor.speed.value
    )
    assert found.tonnage is not None and 0 < found.tonnage.share <= 1
    light = replace(belt, rated=10 * belt.rated)  # then the whole load may run, and it says so
    whole = assess(seen({"number": 2, "bolts_missing": 1}), light)
    assert whole.tonnage is not None and whole.tonnage.share == 1
    said = [reason.say() for reason in whole.reasons]
    assert any(s.startswith("The full load of") and "keeps every plate" in s for s in said)
    assert not any("of the full" in s for s in said)


def test_a_sound_joint_and_one_nearly_torn_off_are_worked_too() -> None:
    """Taking off what pushes may leave too few plates to hold each other in between."""
    from pathlib import Path

    from splicewright.actions.plan.plan import plan_joint

    site = Path(__file__).parents[3] / "examples" / "karst-hollow"
    made = plan_joint(site / "conveyors/incline.toml", site / "jobs/incline-worn-joint.toml")
    belt = joined_by_plan(made)
    nothing = assess(seen(), belt)
    # A joint without findings is the joint without damage.
    assert nothing.margin == pytest.approx(nothing.sound_margin, rel=1e-9)
    few = [{"number": n, "end": "leading end", "state": "lost"} for n in range(1, 19)]
    assert assess(seen(*few), belt).verdict is Verdict.STOP
