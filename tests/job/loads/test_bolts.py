"""Bolts and pulleys of a plan: statics, the ranges' ends, what is stated and what is not."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from sheets.plans import COMPLETE, SITE, WORKS, example, solid
from splicewright.job import BoltWork, JointLoads, OnPulley, loads_of, plan
from splicewright.joint import load_ranges
from splicewright.plant import load_conveyor, load_work
from splicewright.quantities import Line, explain


@cache
def loads_of_example(name: str) -> JointLoads:
    return loads_of(solid() if name == "solid" else example(name))


def changed(**fields: Any) -> JointLoads:
    """The incline's joint with other data of its size."""
    conveyor = load_conveyor(SITE / "conveyors" / "incline.toml")
    work = load_work(SITE / "jobs" / f"{WORKS['incline']}.toml", conveyor)
    [made_by] = load_ranges((SITE / "fasteners" / "hinged.toml",))
    sizes = tuple(replace(size, **fields) for size in made_by.sizes)
    return loads_of(plan(conveyor, work, (replace(made_by, sizes=sizes),)))


def bolts_of(loads: JointLoads) -> BoltWork:
    assert loads.bolts is not None
    return loads.bolts


def pulley_of(loads: JointLoads) -> OnPulley:
    assert loads.pulley is not None
    return loads.pulley


@pytest.mark.parametrize("name", [*COMPLETE, "solid"])
def test_ranges_are_in_order_and_every_figure_is_explained(name: str) -> None:
    loads = loads_of_example(name)
    bolts = bolts_of(loads)
    for spread in (bolts.torque, bolts.nut_factor, bolts.clamp, bolts.settled, bolts.stress,
                   bolts.again, bolts.after_that, bolts.grip, bolts.teeth):  # fmt: skip
        assert spread.low.value <= spread.typical.value <= spread.high.value
        for figure in (spread.low, spread.typical, spread.high):
            assert figure.label in explain(loads.worksheet, figure.key)


def test_torque_is_clamp_times_nut_factor_and_diameter() -> None:
    """T = K d F with high friction for the low clamp force; the range's torque is the torque."""
    bolts = bolts_of(loads_of_example("incline"))
    assert bolts.stated == "torque"
    assert bolts.torque.low.value == bolts.torque.high.value == 38.0
    for force, factor in (
        (bolts.clamp.low, bolts.nut_factor.high),
        (bolts.clamp.typical, bolts.nut_factor.typical),
        (bolts.clamp.high, bolts.nut_factor.low),
    ):
        assert force.value * factor.value * 0.010 == pytest.approx(38.0)


def test_a_stated_clamp_force_and_thread_go_first() -> None:
    bolts = bolts_of(changed(clamp=9e3, seat_torque=None, thread_pitch=1.25e-3, nut_face=15e-3))
    assert bolts.stated == "clamp force"
    assert bolts.clamp.low.value == bolts.clamp.high.value == 9e3
    # K = P/(2π d) + μ (d_2/(2 cos 30°) + D_b/2)/d, written out for μ = 0.15.
    d2 = 10e-3 - 0.75 * math.sqrt(3) / 2 * 1.25e-3
    k = (1.25e-3 / (2 * math.pi) + 0.15 * (d2 / math.sqrt(3) + 7.5e-3)) / 10e-3
    assert bolts.torque.typical.value == pytest.approx(k * 10e-3 * 9e3)
    assert "The range states no torque" in bolts.remarks[0].say()


def test_with_nothing_stated_it_is_reckoned_and_said_to_be_no_setting() -> None:
    loads = changed(seat_torque=None)
    bolts = bolts_of(loads)
    assert bolts.stated == ""
    said = bolts.remarks[0].say()
    assert "this is no setting" in said and bolts.torque.low.show() in said
    assert "bolt.stress" in explain(loads.worksheet, "bolts.torque.typical")
    # 50 to 160 N/mm² on the stress area.
    area = bolts.clamp.typical.value / 100e6
    assert bolts.clamp.low.value == pytest.approx(50e6 * area)
    assert bolts.stress.high.value == pytest.approx(160e6)


def test_clamp_force_after_the_first_run_and_when_to_go_over_the_nuts() -> None:
    """8 h are 480 times the first minute: log10(481) decades at 2, 5 and 10 %."""
    bolts = bolts_of(loads_of_example("incline"))
    for settled, clamp, share in (
        (bolts.settled.low, bolts.clamp.low, 0.10),
        (bolts.settled.typical, bolts.clamp.typical, 0.05),
        (bolts.settled.high, bolts.clamp.high, 0.02),
    ):
        assert settled.value == pytest.approx(clamp.value * (1 - share * math.log10(481)))
    # A fifth lost at 10 % a decade: two decades after the first minute.
    assert bolts.again.low.value == pytest.approx(99 * 60)
    assert bolts.after_that.low.value == pytest.approx(99 * (60 + 8 * 3600))


def test_friction_and_teeth_together_carry_the_plate() -> None:
    slack = changed(seat_torque=4.0)
    bolts = bolts_of(slack)
    assert bolts.teeth.high.value == pytest.approx(slack.load.high.value - bolts.grip.low.value)
    assert bolts.grip.typical.value == pytest.approx(2 * 0.4 * 3 * bolts.settled.typical.value)
    assert "teeth and bolt shanks take" in bolts.remarks[-1].say()
    assert bolts_of(loads_of_example("incline")).teeth.high.value == 0.0


def test_rivets_have_no_torque() -> None:
    conveyor = load_conveyor(SITE / "conveyors" / "flat.toml")
    work = load_work(SITE / "jobs" / "flat-torn-belt.toml", conveyor)
    made = plan(conveyor, work, load_ranges((SITE / "fasteners" / "riveted.toml",)))
    if made.complete:
        assert loads_of(made).bolts is None


def test_plates_on_the_smallest_pulley_are_chords() -> None:
    """60 mm from pin to back on 400 mm and the belt's thickness; half an arc each side."""
    made = example("incline")
    found = pulley_of(loads_of_example("incline"))
    least = min(p.diameter.value for p in made.demand.passings)
    assert found.diameter.value == least
    assert found.over_diameter.value == pytest.approx(0.060 / least)
    assert found.sagitta.value == pytest.approx(
        least / 2 - math.sqrt(least**2 / 4 - 0.030**2), rel=1e-9
    )
    entry = made.worksheet.find("belt.thickest")
    thick = (entry.figure if isinstance(entry, Line) else entry).value
    assert found.angle is not None
    assert found.angle.value == pytest.approx(2 * math.asin(0.060 / (least + thick)))


def test_the_hinges_own_angle_is_held_against_it() -> None:
    found = pulley_of(changed(hinge_angle=math.radians(10)))
    assert found.smallest is not None
    assert found.smallest.value == pytest.approx(0.060 / math.sin(math.radians(5)))
    assert "MORE THAN the 10° the range states" in found.remarks[-1].say()
    wide = pulley_of(changed(hinge_angle=math.radians(40)))
    assert "within the 40°" in wide.remarks[-1].say()


def test_solid_plates_lie_stiff_across_both_ends() -> None:
    found = pulley_of(loads_of_example("solid"))
    best = solid().fastener
    assert best is not None
    assert found.angle is None
    assert found.stiff.value == pytest.approx(2 * best.size.plate_length)


def test_the_ranges_times_for_going_over_the_nuts_are_kept() -> None:
    from splicewright.sheets.crew_pack.bolts import going_over, torque_row

    loads = changed(retighten_after=(3600.0, 86400.0), seat_torque=None)
    assert [rule.value for rule in bolts_of(loads).rules] == [3600.0, 86400.0]
    [row] = going_over(loads, "metric")
    assert row["when"] == "after 1 h, 24 h of running" and row["why"] == "range data"
    [row] = torque_row(loads, "metric")
    assert row["planned"] == "maker's value"
    assert torque_row(loads_of_example("incline"), "metric") == []
    [row] = going_over(loads_of_example("incline"), "metric")
    assert row["when"] == "within 1 h 39 min of tightening"
