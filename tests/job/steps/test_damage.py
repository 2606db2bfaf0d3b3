"""What a repair takes, by hand and by counting."""

from __future__ import annotations

import pytest

from planned import SITE, planned
from splicewright.files.toml import check
from splicewright.job import plan
from splicewright.job.steps.damage import plates_across, share_left, tension_on_rest
from splicewright.plant import load_conveyor
from splicewright.plant.filling.work import fill_work
from splicewright.plant.filling.work_tables import work_tables
from splicewright.plant.work_file import WorkFile
from splicewright.tension.at_rest import Move


@pytest.mark.parametrize("length", [0.1, 0.25, 0.26, 1.0, 4.2, 17.3])
def test_no_gap_along_a_rip_is_wider_than_the_spacing(length: float) -> None:
    """Counting: plates at both ends, evenly between, one more in the first gap at each end."""
    evenly = 2
    while length / (evenly - 1) > 0.25 + 1e-9:
        evenly += 1
    assert plates_across(length, 0.25) == evenly + 2


def test_width_lost_by_hand() -> None:
    # 1000 mm less 50 mm: 95 % is left and carries 71.2/0.95 = 74.95 N/mm.
    assert share_left(1.0, 0.05) == pytest.approx(0.95)
    assert tension_on_rest(71.2e3, 1.0, 0.05) == pytest.approx(74.947e3, rel=1e-4)


def test_parts_of_the_example_repairs() -> None:
    rip = planned("incline", "incline-rip")
    # 4.2 m every 0.25 m: 17 gaps, 18 plates, and one more at each end.
    assert [p.count for p in rip.parts] == [20]
    plates = planned("incline", "incline-emergency-plates")
    count = {p.name: p.count for p in plates.parts}
    size = plates.fastener.size if plates.fastener is not None else None
    assert size is not None
    # 130 mm at a pitch of 43 mm: 3.02, so 4 plates.
    assert count["single plate set, top and bottom"] == 4
    assert count["bolt"] == count["nut"] == 4 * size.bolts_per_plate
    assert count["hinge pin"] == 1
    pin = planned("flat", "flat-emergency-pin")
    assert {p.name for p in pin.parts} == {"hinge pin", "wear sleeve", "pin retainer"}


def test_an_emergency_ends_with_limits_and_an_expiry() -> None:
    for name in ("flat-emergency-pin", "incline-emergency-plates"):
        keys = [s.key for s in planned(name.partition("-")[0], name).steps]
        assert keys[0] == "may"
        assert keys.index("check") < keys.index("limits") < keys.index("inch")


def test_plates_are_replaced_over_the_width_that_is_hurt() -> None:
    made = planned("incline", "incline-emergency-plates")
    (step,) = (s for s in made.steps if s.key == "plates")
    # As its file says: 130 mm; the belt is 998 mm wide.
    assert step.text[0].say().startswith("Up to 4 plates (130 mm of width).")
    may = next(s for s in made.steps if s.key == "may")
    assert may.people == 2


def test_a_round_on_foot_is_locked_once_and_never_inches() -> None:
    """Joints in the order they are walked to; the belt is not moved between them."""
    plant = load_conveyor(SITE / "conveyors" / "incline.toml")
    joints = [{"name": "far", "behind": "300 m"}, {"name": "near", "behind": "20 m"}]
    data = {
        "work": {"name": "round", "kind": "inspection round", "round_way": "foot"},
        "round": joints,
    }
    made = plan(plant, fill_work(check(data, WorkFile, ""), plant), ())
    assert [s.title for s in made.steps if s.key.startswith("joint_")] == [
        "Joint near", "Joint far",
    ]  # fmt: skip
    locked = [s.key for s in made.steps if Move.LOCK_OUT in s.moves]
    assert locked == ["isolate"]
    said = " ".join(t.say() for s in made.steps for t in s.text)
    assert "inch" not in said.replace("inches", "") and "Walk 280 m on to far" in said
    assert work_tables(made.work)["work"]["round_way"] == "foot"


def test_the_round_brings_joints_in_the_order_they_come() -> None:
    made = planned("incline", "incline-round")
    told = [s for s in made.steps if s.key.startswith("joint_")]
    assert [s.title for s in told] == ["Joint J1", "Joint J2", "Joint J3"]
    on = [next(value for name, value, _ in s.text[0].numbers if name == "ahead") for s in told]
    assert on == pytest.approx([12.0, 166.0 - 12.0, 310.0 - 166.0])
