"""Isolation, lengths, parts, tools, steps and time of one job."""

from __future__ import annotations

import math
import re
from collections import Counter
from dataclasses import replace
from typing import Any

import pytest

from sheets.plans import example
from splicewright import job
from splicewright.job import DEFER, JointPlan
from splicewright.job.steps.timing import EFFORTS, crew_gain
from splicewright.joint import Construction, Material, Range, Size
from splicewright.plant import Environment, Side
from strategies import conveyor_of, loop_file, outline, pulley, run, size, step_size, work_of

HINGED = Range(
    "invented", True, Construction.HINGED, (Material("steel", tuple(Environment), None),),
    (size(pulley_rules=()),), "",
)  # fmt: skip
SOLID = replace(
    HINGED, name="solid", construction=Construction.SOLID,
    sizes=(size(mesh_offset=0.0, curve_depth=None),),
)  # fmt: skip


AT = {"run": "carry run", "distance": "40 m"}
"""Where the work is done: looking for the worst place takes longer than the rest of a plan, and
has its own tests (test_worst_place.py)."""


def planned(*ranges: Range, conveyor: dict[str, Any] | None = None, **work: Any) -> JointPlan:
    tables = conveyor or outline()
    if "outline" in tables:
        work.setdefault("work", AT)
    plant = conveyor_of(tables)
    return job.plan(plant, work_of(plant, **work), ranges or (HINGED,))


def sized(**changes: Any) -> Range:
    made: Size = size(pulley_rules=(), **changes)
    return replace(HINGED, sizes=(made,))


# --- lengths


def test_cut_lengths() -> None:
    made = planned()
    layout, lengths = made.layout, made.lengths
    assert layout is not None
    assert lengths is not None
    joint = (layout.count - 1) * 0.043 + 0.038 + 0.0215
    assert layout.joint_width.value == pytest.approx(joint)
    assert lengths.pin is not None
    assert lengths.liner is not None
    assert lengths.seating_strip is not None
    # By the tape: the pin down to whole 5 mm, what is trimmed up to whole 10 mm.
    assert joint - 2 * 0.015 == pytest.approx(0.7175)
    assert lengths.pin.value == pytest.approx(0.715)
    assert joint + 0.080 == pytest.approx(0.8275)
    assert lengths.liner.value == pytest.approx(0.830)
    assert lengths.seating_strip.value == pytest.approx(0.8 + 0.1)
    assert lengths.span.value == pytest.approx(2 * (0.013 + 0.003))
    assert (lengths.seating_strips, lengths.retainers) == (4, 2)
    # The pin stays inside the plates, liner and strips stand over.
    assert lengths.pin.value < joint < lengths.liner.value
    assert lengths.seating_strip.value > 0.8


def test_a_solid_joint_has_no_pin() -> None:
    lengths = planned(SOLID, joint={"kind": "solid plate"}).lengths
    assert lengths is not None
    assert (lengths.pin, lengths.liner, lengths.seating_strip) == (None, None, None)
    assert lengths.span.value == pytest.approx(2 * 0.013)


# --- parts and tools


@pytest.mark.parametrize("joints", [1, 2])
@pytest.mark.parametrize("kind", ["hinged", "solid plate"])
def test_parts_agree_with_the_layout(joints: int, kind: str) -> None:
    belt = {"cut_out": "3 m", "insert": "3 m"} if joints == 2 else {}
    made = planned(HINGED, SOLID, belt=belt, joint={"kind": kind})
    layout = made.layout
    assert layout is not None
    count = {p.name: p.count for p in made.parts}
    holes = len(layout.leading.holes) + len(layout.trailing.holes)
    assert count["bolt"] == count["nut"] == joints * holes
    ends = 2 * joints if kind == "hinged" else joints
    pieces = Counter(layout.pieces)
    names = {1: "single", 3: "triple"}
    for members, number in pieces.items():
        assert count[f"{names[members]} plate set, top and bottom"] == ends * number
    plates = sum(m * count.get(f"{n} plate set, top and bottom", 0) for m, n in names.items())
    assert plates == ends * layout.count
    assert count.get("hinge pin", 0) == (joints if kind == "hinged" else 0)
    assert count.get("bedding strip", 0) == (4 * joints if kind == "hinged" else 0)
    assert count.get("pin retainer", 0) == (2 * joints if kind == "hinged" else 0)


def test_a_strip_is_one_part_for_each_end() -> None:
    made = planned(sized(strip_widths=(0.8,)))
    count = {p.name: p.count for p in made.parts}
    assert count["fastener strip, one end in one piece"] == 2
    assert not [name for name in count if "plate set" in name]


def test_spares() -> None:
    made = planned()
    parts = {p.name: p for p in made.parts}
    bolt = parts["bolt"]
    assert bolt.spare == max(4, math.ceil(0.05 * bolt.count))
    assert bolt.total == bolt.count + bolt.spare
    assert parts["hinge pin"].spare == 1


def test_bolt_by_the_thickest_place() -> None:
    thin = {p.name: str(p.size) for p in planned(belt={"thickness": ["11 mm"]}).parts}
    thick = {p.name: str(p.size) for p in planned(belt={"thickness": ["11 mm", "13 mm"]}).parts}
    assert thin["bolt"] == "⌀ 10 mm × 40 mm"
    assert thick["bolt"] == "⌀ 10 mm × 48 mm"


def test_tools_carry_the_ratings_of_the_standstill_forces() -> None:
    made = planned()
    tools = {t.name: t for t in made.tools}
    rating = made.at_rest.ratings.clamps.show()
    clamp = tools["restraining clamp, full belt width"]
    assert clamp.count == 2
    assert str(clamp.note) == f"rated {rating} or more each, with anchor chains of the same"
    hoist = str(tools["lever hoist or winch"].note)
    assert hoist.startswith(f"rated {made.at_rest.ratings.hoists.show()} or more each")
    assert tools["lock and tag for each person, lock box"].count == 2


def test_tools_follow_place_and_crew() -> None:
    by_hand = {t.name for t in planned().tools}
    power = {t.name for t in planned(crew={"tools": "power"}).tools}
    mine = {t.name for t in planned(joint={"environment": ["underground"]}).tools}
    screw = {t.name for t in planned(conveyor=outline(take_up={"kind": "screw"})).tools}
    assert "belt punch and hammer" in by_hand
    assert "belt punch with power drive" in power
    assert "gas test and hot-work rules of the mine" in mine - by_hand
    weight = "chain hoist, rated chains and blocks for the counterweight"
    assert weight in by_hand
    assert weight not in screw


@pytest.mark.parametrize(
    ("place", "caution"),
    [
        ("underground", "Underground or in dust: static and sparks ignite."),
        ("hot", "Heat: water, shade, turns; a hot belt burns."),
        ("wet", "Wet: slippery belt and floor"),
    ],
)
def test_hazards_of_a_place_are_talked_over_there_and_nowhere_else(
    place: str, caution: str
) -> None:
    def cautions(**work: Any) -> list[str]:
        talk = next(s for s in planned(**work).steps if s.key == "permit")
        return [c for c in talk.cautions if c.startswith(caution)]

    assert len(cautions(joint={"environment": [place]})) == 1
    assert cautions() == []


# --- isolation


def sources(plan: JointPlan) -> dict[str, bool]:
    return {s.what: s.known for s in plan.isolation}


def two_drives() -> dict[str, Any]:
    return loop_file(
        pulley("tail", "tail", drive="tail drive"),
        run("up", "carry", "150 m", rise="12 m"),
        pulley("head", "head", drive="head drive"),
        run("down", "return", "150 m", rise="-12 m"),
        drives=[
            {"name": "head drive", "power": "75 kW", "holdback": True, "brake": False},
            {"name": "tail drive", "power": "30 kW"},
        ],
        take_up={"kind": "winch", "pulley": "tail"},
    )


def test_isolation_lists_every_drive_holdback_and_brake() -> None:
    found = sources(planned(conveyor=two_drives()))
    assert found["electric drive: head drive"]
    assert found["electric drive: tail drive"]
    assert found["what holds the belt at head drive"]
    assert found["what holds the belt at tail drive"] is False  # nobody said: go and look
    assert found["take-up winch"]
    assert found["load on the slope"]
    assert "second direction of travel" not in found


@pytest.mark.parametrize(
    ("kind", "what"),
    [("gravity", "counterweight"), ("screw", "screw take-up"), ("winch", "take-up winch")],
)
def test_isolation_lists_the_take_up(kind: str, what: str) -> None:
    assert what in sources(planned(conveyor=outline(take_up={"kind": kind})))


def test_isolation_always_asks_for_what_no_file_holds() -> None:
    found = sources(planned())
    for what in (
        "conveyors that feed or take from this one",
        "hydraulic, air and spring energy (brakes, tensioners, gates, cleaners, ploughs)",
        "gauge with a source, metal detector, sprays, belt heating",
    ):
        assert found[what] is False
    assert "tension in the belt" in found


def test_isolation_of_special_places() -> None:
    both = outline(conveyor={"reversing": True})
    made = planned(conveyor=both, joint={"environment": ["magnetic separator"]})
    assert {"second direction of travel", "magnetic separator"} <= set(sources(made))
    level = planned(conveyor=outline(outline={"lift": "0 m"}))
    assert "load on the slope" not in sources(level)
    cleared = planned(belt={"load_left": "0 %"})
    assert "load on the slope" not in sources(cleared)


def test_counterweight_with_its_energy() -> None:
    known = planned(conveyor=outline(take_up={"mass": "2000 kg", "travel": "3 m"}))
    unknown = planned()
    much = {m: next(s for s in p.isolation if s.what == "counterweight").how_much
            for m, p in (("known", known), ("unknown", unknown))}  # fmt: skip
    # 2000 kg x 9.81 m/s2 x 3 m
    assert str(much["known"]) == "2000 kg, 58.9 kJ if it falls its whole travel"
    said = str(much["unknown"])
    assert said.startswith("a counterweight of unknown mass: find its plate. Taken as ")
    weight, energy = (float(n) for n in re.findall(r"([\d.]+) k[NJ]", said))
    travel = unknown.conveyor.take_up.travel.high  # assumed, so the high end of its range
    assert energy == pytest.approx(weight * travel, rel=0.01)


def test_deferral_is_one_sentence() -> None:
    assert DEFER == (
        "Local law, site rules and the maker's instructions take precedence; a competent person "
        "must "
        "check these numbers."
    )


# --- steps

SAFE = [
    "park", "permit", "isolate", "place", "whole", "survey", "mark", "clear", "rig", "clamp",
    "unload", "release", "slack", "chains",
]  # fmt: skip
LAID_OUT = [*SAFE[:6], "lay_out", *SAFE[6:]]
ENDS = ["open", "cut", "measure", "turn", "skive", "punch"]
BUILD = ["seat", "tighten", "break"]
PINNED = ["couple", "trim", "again", "check"]
END = ["ease", "tension", "inch", "run", "record"]


@pytest.mark.parametrize(
    ("ranges", "work", "keys"),
    [
        ((HINGED,), {}, [*LAID_OUT, *ENDS, *BUILD, *PINNED, *END]),
        (
            (SOLID,),
            {"joint": {"kind": "solid plate"}},
            [*LAID_OUT, *ENDS, "butt", *BUILD, "again", "check", *END],
        ),
        ((SOLID,), {}, SAFE),  # nothing fits: what must be done to get there all the same
        (
            (HINGED,),
            {"belt": {"load_left": "0 %"}},
            [*(k for k in LAID_OUT if k not in {"clear", "unload"}), *ENDS, *BUILD, *PINNED, *END],
        ),
    ],
)
def test_steps_of_each_construction(
    ranges: tuple[Range, ...], work: dict[str, Any], keys: list[str]
) -> None:
    run = next(r.name for r in conveyor_of(outline()).runs() if r.side is Side.RETURN)
    made = planned(*ranges, **({"work": {"run": run}} | work))
    assert [s.key for s in made.steps] == keys
    assert [s.number for s in made.steps] == list(range(1, len(keys) + 1))


def test_nothing_is_cut_before_the_belt_hangs_slack() -> None:
    made = planned()
    by_key = {s.key: s for s in made.steps}
    held = by_key["chains"].hold_point
    assert held is not None and held.endswith("Only now may the belt be opened.")
    order = [s.key for s in made.steps]
    assert order.index("isolate") < order.index("clamp") < order.index("release")
    assert order.index("slack") < order.index("chains") < order.index("cut")
    for key in ("isolate", "clamp", "release", "slack", "measure", "tighten", "check", "run"):
        assert by_key[key].hold_point


def test_tightening_order_and_stand_out() -> None:
    step = next(s for s in planned().steps if s.key == "tighten")
    told = [str(t) for t in step.text]
    assert told[0] == "Run all nuts down until 3 mm of bolt stands out (range data)."
    assert told[1].startswith("Then one plate in the middle, one at each edge, then all the rest")
    limits = planned().limits
    assert limits is not None
    spread = limits.tightness.smallest.show()
    assert told[2].startswith(f"Then all to 38 N m (range data), each within {spread} of it")
    silent = planned(sized(stand_out=None, seat_torque=None))
    told = [str(t) for t in next(s for s in silent.steps if s.key == "tighten").text]
    assert told[0] == (
        "Run all nuts down until 3 mm of bolt stands out (common practice, no source)."
    )
    assert told[2] == "Then to the torque or seat marks of the maker's instructions."


def test_counts_in_the_steps_are_those_of_the_layout() -> None:
    made = planned()
    layout = made.layout
    assert layout is not None
    punch = next(s for s in made.steps if s.key == "punch")
    assert str(punch.text[1]).startswith(f"{len(layout.leading.holes)} holes ⌀ 11 mm in each end")
    seat = next(s for s in made.steps if s.key == "seat")
    singles = layout.pieces.count(1)
    assert f"from the left 1 triple, {singles} singles, 1 triple." in str(seat.text[1])


def test_thickness_boxes_carry_the_window() -> None:
    step = next(s for s in planned().steps if s.key == "measure")
    leading, trailing = step.readings
    assert (leading.low, leading.high, leading.boxes) == (0.008, 0.016, 5)
    assert (trailing.low, trailing.high) == (0.008, 0.016)
    edges = next(s for s in planned().steps if s.key == "whole").readings[0]
    assert (edges.low, edges.high, edges.boxes) == (0.008, 0.016, 2)
    bare = next(s for s in planned(SOLID).steps if s.key == "whole")
    assert bare.readings[0].low is None


def test_unknown_travel_is_asked_for() -> None:
    step = next(s for s in planned(joint={"travel": "unknown"}).steps if s.key == "whole")
    said = [str(text) for text in step.text]
    assert "Direction of travel not known: find it out. If you cannot, notch both ends." in said


def test_on_the_return_side_left_and_right_are_explained() -> None:
    for name, told in (("return run, take-up to tail", True), ("carry run", False)):
        work = {"run": name, "distance": "5 m"}
        step = next(s for s in planned(work=work).steps if s.key == "whole")
        assert any("carry cover faces down" in str(text) for text in step.text) is told


def test_screw_and_weight_are_released_in_their_own_way() -> None:
    titles = {
        kind: next(
            s.title for s in planned(conveyor=outline(take_up={"kind": kind})).steps
            if s.key == "release"
        )
        for kind in ("gravity", "screw", "winch")
    }  # fmt: skip
    assert titles == {
        "gravity": "Lift and secure the counterweight",
        "screw": "Slack the take-up",
        "winch": "Slack the take-up",
    }


# --- time


def test_a_crew_of_one_does_one_step_after_the_other() -> None:
    made = planned(crew={"people": 1})
    assert made.timing.likely.value == pytest.approx(sum(s.time.value for s in made.steps))
    assert made.timing.work is not None
    assert made.timing.work.value == pytest.approx(made.timing.likely.value)
    assert made.timing.low.value == pytest.approx(0.7 * made.timing.likely.value)
    assert made.timing.high.value == pytest.approx(1.6 * made.timing.likely.value)


@pytest.mark.parametrize(
    ("window", "verdict", "warned"),
    [
        (None, "no window given", False),
        (1.61, "fits", False),
        (1.1, "may not fit", True),
        (0.9, "does not fit", True),
    ],
)
def test_verdicts_on_the_window(window: float | None, verdict: str, warned: bool) -> None:
    likely = planned().timing.likely.value
    crew = {} if window is None else {"window": f"{window * likely / 3600} h"}
    made = planned(crew=crew)
    assert made.timing.verdict == verdict
    assert any("; window" in str(w) for w in made.warnings) is warned


def test_time_of_one_step_by_hand() -> None:
    made = planned(crew={"people": 2})
    layout = made.layout
    assert layout is not None
    punch = next(s for s in made.steps if s.key == "punch").time.value
    effort = EFFORTS["punch"]
    assert punch == pytest.approx(
        effort.fixed + 2 * len(layout.leading.holes) * effort.each_by_hand
    )


def test_times_that_nobody_measured_are_round_and_never_longer_by_power() -> None:
    """They are guesses: minutes of a step and steps of 5 s for an item pretend to no more."""
    for key, effort in EFFORTS.items():
        assert effort.fixed > 0 and effort.fixed % 60 == 0, key
        assert 0 <= effort.each_by_power <= effort.each_by_hand, key
        for each in (effort.each_by_hand, effort.each_by_power):
            assert each % 5 == 0 or 5 < each < 10, key
        assert not (effort.shared and effort.alone), key


def test_more_hands_and_power_tools_save_time() -> None:
    likely = {
        (people, tools): planned(crew={"people": people, "tools": tools}).timing.likely.value
        for people in (1, 2, 4) for tools in ("hand", "power")
    }  # fmt: skip
    assert likely[1, "hand"] > likely[2, "hand"] > likely[4, "hand"]
    for people in (1, 2, 4):
        assert likely[people, "power"] < likely[people, "hand"]


@pytest.mark.parametrize(
    ("people", "shared", "gain"),
    [
        (1, True, 1 / 1.7),
        (1, False, 1 / 1.7),
        (2, True, 1),
        (4, True, 1.6),
        (4, False, 1),
        (9, True, 2),
    ],
)
def test_what_a_larger_crew_gains(people: int, shared: bool, gain: float) -> None:
    assert crew_gain(people, shared) == pytest.approx(gain)


def test_follow_up_is_assumed_and_said_so() -> None:
    made = planned()
    assert made.follow_up.retighten_after.value == 8 * 3600
    assert made.follow_up.inspect_after.value == 7 * 86400
    found = {g.key: g.reason for g in made.worksheet.assumptions()}
    assert "no source" in found["follow_up.retighten"]
    assert "no published interval" in found["follow_up.inspect"]


# --- other constructions


def test_a_riveted_hinge_has_rivets_and_nothing_to_tighten() -> None:
    riveted = replace(
        HINGED, construction=Construction.RIVETED,
        sizes=(size(pulley_rules=(), seat_torque=None, stand_out=None),),
    )  # fmt: skip
    made = planned(riveted)
    assert made.fastener is not None and made.lengths is not None
    assert made.lengths.pin is not None
    names = {part.name for part in made.parts}
    assert "rivet" in names and not names & {"bolt", "nut"}
    keys = [step.key for step in made.steps]
    assert "rivet" in keys and not set(keys) & {"tighten", "break"}
    assert {"couple", "trim"} <= set(keys)
    bolted = planned(HINGED)
    rivets = next(p.count for p in made.parts if p.name == "rivet")
    assert rivets == next(p.count for p in bolted.parts if p.name == "bolt")


def test_a_vulcanised_joint_takes_belt_and_has_steps_of_its_own() -> None:
    """EP 500/3 on 800 mm: 2 steps of 200 mm and 800 tan(0.35), the loop shorter by both."""
    hot = replace(
        HINGED, construction=Construction.STEP, sizes=(), steps=(step_size(),),
    )  # fmt: skip
    plant = outline(take_up={"kind": "gravity", "travel": "6 m", "position": "3 m"})
    made = planned(
        hot, HINGED, conveyor=plant, joint={"kind": "vulcanised"}, belt={"cut_out": "0 m"}
    )
    assert made.fastener is not None and made.fastener.steps == step_size()
    assert made.layout is None and made.lengths is None and not made.complete
    assert made.step_joint is not None
    needed = 2 * 0.2 + 0.8 * math.tan(0.35)
    assert made.step_joint.belt_needed.value == pytest.approx(needed)
    assert made.belt.change.value == pytest.approx(-needed)
    assert made.belt.position_after.value == pytest.approx(3 - needed / 2)
    keys = [step.key for step in made.steps]
    order = ["cut", "strip", "buff", "cement", "lay", "press", "cure", "unpress", "check"]
    assert [key for key in keys if key in order] == order
    assert not set(keys) & {"punch", "tighten", "couple"}
    cure = next(step for step in made.steps if step.key == "cure")
    assert cure.time.value == step_size().press_time
    cautions = " ".join(c for step in made.steps for c in step.cautions)
    for danger in ("vapour", "hot press", "catch fire", "knives"):
        assert danger in cautions
    assert any("past the outermost step" in s.say() for step in made.steps for s in step.text)
    warned = [s.say() for s in made.warnings]
    assert any(s.startswith("Vulcanised joint: its maker's") for s in warned)
    asked = [s.say() for s in made.questions]
    assert any(s.startswith("Press not given: one heat is counted") for s in asked)
    assert not any(s.startswith("No fastener chosen") for s in warned)
    assert JointPlan.from_json(made.to_json()) == made


def test_diagonals_are_checked_while_the_corners_are_there() -> None:
    cut = next(step for step in example("incline").steps if step.key == "cut")
    said = [line.say() for line in cut.text]
    notched = next(i for i, line in enumerate(said) if line.startswith("Notch both corners"))
    checked = next(i for i, line in enumerate(said) if "both diagonals" in line)
    assert checked < notched
