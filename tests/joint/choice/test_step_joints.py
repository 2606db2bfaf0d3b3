"""A vulcanised joint judged beside plates, by the same list of requirements."""

from __future__ import annotations

from typing import Any

import pytest

from planned import planned
from splicewright.joint import Choice, Construction, Material, Range, StepSize, choose
from splicewright.plant import Carcass
from splicewright.quantities import Worksheet
from splicewright.tension import demand
from strategies import conveyor_of, outline, size, step_size, work_of

RUBBER = Material("splice rubber", (), None)
PLATES = Range(
    "plates", True, Construction.HINGED, (Material("steel", (), None),),
    (size(pulley_rules=()),), "",
)  # fmt: skip
ROOM = {"take_up": {"kind": "gravity", "travel": "6 m", "position": "3 m"}}


def hot(*steps: StepSize) -> Range:
    return Range("hot", True, Construction.STEP, (RUBBER,), (), "", steps)


def chosen(*ranges: Range, conveyor: dict[str, Any] | None = None, **work: Any) -> Choice:
    plant = conveyor_of(outline(**{**ROOM, **(conveyor or {})}))
    sheet = Worksheet()
    asked = demand(plant, sheet)
    work.setdefault("joint", {"kind": "vulcanised"})
    return choose(ranges, plant, work_of(plant, **work), asked, sheet)


def test_a_joint_that_meets_everything() -> None:
    choice = chosen(hot(step_size()), work={}, crew={"window": "24 h"})
    assert choice.recommended == "hot, 3 plies, step 200 mm"
    best = choice.best
    assert best is not None and best.steps == step_size()
    names = [r.name for r in best.requirements if not r.name.startswith("pulley: ")]
    assert names == [
        "construction", "carcass", "plies", "belt strength", "running tension",
        "starting tension", "belt for the joint", "environment", "scrapers",
        "working temperature", "cure time", "shutdown window",
    ]  # fmt: skip
    assert best.margin == min(r.margin for r in best.requirements if r.margin is not None)
    with pytest.raises(TypeError, match="has no plates"):
        _ = best.size
    assert any("step lines of both ends" in s.say() for s in choice.reasons)
    assert any("other than 3 plies" in s.say() for s in choice.turns)


@pytest.mark.parametrize(
    ("change", "missed"),
    [
        ({"plies": 4}, "plies"),
        ({"strength": (630e3, 1000e3)}, "belt strength"),
        ({"strength": (250e3, 400e3)}, "belt strength"),
        ({"carcass": (Carcass.COTTON,)}, "carcass"),
        ({"safety_factor": 40.0}, "running tension"),
        ({"starting_safety_factor": 40.0}, "starting tension"),
        ({"step_length": 4.0}, "belt for the joint"),
        ({"work_temperature": (263.15, 268.15)}, "working temperature"),
        ({"cooling_time": 24 * 3600.0}, "shutdown window"),
    ],
)
def test_each_requirement_alone(change: dict[str, Any], missed: str) -> None:
    choice = chosen(hot(step_size(**change)), crew={"window": "8 h"})
    assert choice.best is None
    (candidate,) = choice.candidates
    assert [r.name for r in candidate.missed] == [missed]


@pytest.mark.parametrize(
    ("window", "margin"),
    [((500e3, 800e3), None), ((400e3, 500e3), None),
     ((625e3, 800e3), 500 / 625 - 1), ((250e3, 400e3), 1 - 500 / 400)],
)  # fmt: skip
def test_how_far_a_belt_of_500_n_to_the_mm_lies_outside_the_data(
    window: tuple[float, float], margin: float | None
) -> None:
    """At either end of the data it lies within; beyond, by the share of the end it is off."""
    (candidate,) = chosen(hot(step_size(strength=window))).candidates
    (said,) = (r for r in candidate.requirements if r.name == "belt strength")
    assert said.met == (margin is None)
    assert said.margin == (margin if margin is None else pytest.approx(margin))


def test_pulleys_are_judged_one_by_one() -> None:
    choice = chosen(hot(step_size(smallest_pulley=0.9)))
    assert choice.candidates[0].missed
    assert all(r.name.startswith("pulley: ") for r in choice.candidates[0].missed)


def test_unknown_plies_are_not_guessed() -> None:
    belt = {"width": "800 mm", "strength": "500 N/mm", "thickness": "11 mm"}
    data = outline(**ROOM)
    data["belt"] = belt
    plant = conveyor_of(data)
    sheet = Worksheet()
    asked = demand(plant, sheet)
    work = work_of(plant, joint={"kind": "vulcanised"})
    (candidate,) = choose((hot(step_size()),), plant, work, asked, sheet).candidates
    (missed,) = candidate.missed
    assert missed.reason.say() == ("number of plies not known; data for 3: read the marking")


def test_asked_for_either_the_pack_is_for_plates_and_says_so() -> None:
    strong = step_size(safety_factor=1.0, starting_safety_factor=1.0, smallest_pulley=0.1)
    choice = chosen(PLATES, hot(strong), joint={"kind": "either"})
    assert choice.recommended.startswith("plates, ")
    assert choice.runner_up == ""
    said = choice.reasons[-1].say()
    assert said.startswith("hot, 3 plies, step 200 mm meets every requirement too")
    assert said.endswith('covers plates only. Ask for kind = "vulcanised" to plan it.')
    alone = chosen(hot(strong), joint={"kind": "either"})
    assert alone.best is None and alone.candidates[0].passes
    assert 'Ask for kind = "vulcanised"' in alone.reasons[-1].say()


def test_asked_for_a_hinge_a_vulcanised_joint_is_not_it() -> None:
    choice = chosen(PLATES, hot(step_size()), joint={"kind": "hinged"})
    assert choice.recommended.startswith("plates, ")
    other = next(c for c in choice.candidates if c.range_name == "hot")
    assert "construction" in [r.name for r in other.missed]


def test_a_riveted_hinge_is_a_hinge() -> None:
    riveted = Range(
        "rivets", True, Construction.RIVETED, PLATES.materials, PLATES.sizes, ""
    )  # fmt: skip
    assert chosen(riveted, joint={"kind": "hinged"}).recommended.startswith("rivets, ")
    assert chosen(riveted, joint={"kind": "riveted hinge"}).recommended.startswith("rivets, ")
    assert chosen(PLATES, joint={"kind": "riveted hinge"}).best is None


def test_new_belt_is_ordered_longer() -> None:
    choice = chosen(hot(step_size(step_length=1.2)), work={"reason": "new belt"})
    (candidate,) = choice.candidates
    found = next(r for r in candidate.requirements if r.name == "belt for the joint")
    assert found.met and "order 2.69 m more than the loop" in found.reason.say()


def test_the_window_counts_every_heat() -> None:
    """Reproduced: a joint of two heats was held against the window with one. The plan that is made
    then says how long it is in the press."""
    made = planned("incline", "incline-vulcanised")
    assert made.fastener is not None and made.step_joint is not None
    [asked] = [r for r in made.fastener.requirements if r.name == "shutdown window"]
    assert made.step_joint.curing is not None and made.step_joint.curing.heats.value == 2
    assert asked.needed == pytest.approx(made.step_joint.press_time.value)
