"""The second look against the modules' own relations, number by number, and what it says."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from proof import proves
from splicewright.plant import Conveyor, slug
from splicewright.quantities import Worksheet, explain
from splicewright.quantities.units import POUND_FORCE
from splicewright.tension import LoadCase, SecondLook, demand, second_look, study
from splicewright.tension.across.curves import concave_radius, convex_radius, lift_off_radius
from splicewright.tension.across.transition import (
    LEAST_LENGTH_FACTOR,
    least_transition,
    length_for_edge,
    length_for_middle,
)
from splicewright.tension.across.width import trough_depth
from splicewright.tension.running.demand import Demand
from splicewright.tension.second_look.handbook import (
    belt_part,
    handbook_feed,
    idler_friction,
    idler_part,
    load_part,
)
from splicewright.tension.second_look.pulleys import group_of, least_pulley
from strategies import CONVEYORS, conveyor_of, invented, loop_file, outline, published, pulley, run

pytestmark = proves(
    "Transition, trough and curves",
    "Pulleys, transitions and curves of whole conveyors",
    "D",
    "Every pulley, transition, crown and vertical curve of a conveyor: tensions are taken from its "
    "load cases and each number is worked again from them, edges of a transition and of a curve by "
    "fibres and section.",
    doubt="Mostly this tool's own relations, which other cases hold against rules, quadrature and "
    "force polygons: here only that a plan puts the right tensions, widths and angles into them.",
    tolerance="rounding of floats; 1e-6 where the belt is cut into 20,000 fibres",
    sketch="transition",
)


def looked(conveyor: Conveyor) -> tuple[Demand, SecondLook]:
    sheet = Worksheet()
    asked = demand(conveyor, sheet)
    return asked, second_look(conveyor, asked, sheet)


@pytest.fixture(scope="module")
def incline() -> tuple[Conveyor, Demand, SecondLook]:
    conveyor = invented("incline")
    return conveyor, *looked(conveyor)


def findings_text(look: SecondLook) -> str:
    return "\n".join(str(s) for s in look.findings)


def test_handbook_beside_the_resistance_method(incline: Any) -> None:
    conveyor, asked, look = incline
    full = asked.case(LoadCase.FULL)
    load, speed = conveyor.material.line_mass.value, 2.0
    # Two tight pulleys' worth for the driven head; tail and take-up slack; three others.
    pulleys = POUND_FORCE * (200 * 1 + 150 * 2 + 100 * 3)
    belt = conveyor.belt.line_mass.value
    moving = idler_part(240, 1.0, idler_friction(belt, load, 1.8 * POUND_FORCE, 1.2))
    moving += belt_part(240, 1.0, 0.03, belt) + load_part(load, 240, 0.03, 0.0)
    moving += pulleys + handbook_feed(load * speed, speed, 0.0)
    lift = load_part(load, 0.0, 0.03, 34)
    sums = [
        sum(getattr(f, name).value for f in full.forces) for name in ("main", "secondary", "slope")
    ]
    expected = {
        "moving along": (moving, sums[0] + sums[1]), "lift": (lift, sums[2]),
        "accessories": (0.0, 0.0), "all": (moving + lift, sum(sums)),
    }  # fmt: skip
    assert [opinion.group for opinion in look.opinions] == list(expected)
    for opinion in look.opinions:
        handbook, resistance = expected[opinion.group]
        assert opinion.handbook.value == pytest.approx(float(handbook), rel=1e-12)
        assert opinion.resistance.value == pytest.approx(float(resistance), rel=1e-12)
        assert opinion.reason


def test_lift_is_the_same_statics_in_both(incline: Any) -> None:
    lift = next(o for o in incline[2].opinions if o.group == "lift")
    assert lift.handbook.value == pytest.approx(lift.resistance.value * 9.80665 / 9.81, rel=1e-9)


def test_secondary_terms_of_the_feed(incline: Any) -> None:
    conveyor, asked, look = incline
    rate = conveyor.material.line_mass.value * 2.0
    [brought] = look.terms.feeds
    assert brought.value == pytest.approx(rate * 2.0)  # Q (v - 0)
    main = sum(f.main.value for f in asked.case(LoadCase.FULL).forces)
    assert look.terms.equal_coefficient is not None
    assert look.terms.equal_coefficient.value == pytest.approx(1 + look.terms.total.value / main)
    assert len(look.terms.wraps) == len(conveyor.pulleys())


def test_pulleys_by_the_table() -> None:
    conveyor, sheet = invented("incline"), Worksheet()
    asked = demand(conveyor, sheet)
    look, belt = second_look(conveyor, asked, sheet), conveyor.belt
    carcass = belt.thickness.value - belt.top_cover.value - belt.bottom_cover.value
    for one, p, passing in zip(look.pulleys, conveyor.pulleys(), asked.passings, strict=True):
        use = passing.running.value / (0.1 * belt.strength.value)
        group = group_of(
            bool(p.drive), passing.running.value > 0.6 * asked.running.value, p.wrap.value
        )
        assert one.group == group.value
        if use > 1:
            assert one.least is None
            assert "% of the permitted tension lies outside" in str(one.remark)
            continue
        assert one.least is not None
        assert one.least.value == pytest.approx(
            least_pulley(belt.carcass, carcass, group, use).diameter
        )
        point = asked.case(LoadCase.FULL).at(p.name)
        force = point.entering.value + point.leaving.value  # 2 T with T the mean
        pressure = force / (p.diameter.value * belt.width.value)
        assert one.pressure.value == pytest.approx(pressure)
        mean = sheet.get(f"second.{slug(p.name)}.mean")
        assert mean is not None and mean.value == pytest.approx(force / 2)


@pytest.mark.parametrize(
    ("conveyor", "width"),
    [
        (invented("incline"), 1.0),
        (conveyor_of(outline(idlers={"carry": {"trough": "35 deg"}})), 0.8),
    ],
    ids=["incline", "0.8 m"],
)
def test_transitions(conveyor: Conveyor, width: float) -> None:
    asked, look = looked(conveyor)
    belt = conveyor.belt
    assert belt.width.value == width
    cases = [r for r in (*asked.cases, *asked.other_cases) if r.case.steady or r.case.transient]
    assert len(look.transitions) == 2
    for turn in look.transitions:
        forces = [
            f.value for r in cases for f in (r.at(turn.pulley).entering, r.at(turn.pulley).leaving)
        ]
        shape = (belt.modulus.value, width, 0.38 * width, math.radians(35), 0.0)
        permitted = 1.3 * 0.1 * belt.strength.value
        edge = float(length_for_edge(permitted, max(forces) / width, *shape))
        middle = float(length_for_middle(0.0, min(forces) / width, *shape))
        rule = float(
            least_transition(
                LEAST_LENGTH_FACTOR[belt.carcass.textile],
                trough_depth(width, 0.38 * width, math.radians(35)),
            )
        )
        assert turn.by_edge is not None and turn.by_middle is not None and turn.needed is not None
        assert turn.by_edge.value == pytest.approx(edge)
        assert turn.by_middle.value == pytest.approx(middle)
        assert turn.by_rule.value == pytest.approx(rule)
        assert turn.needed.value == pytest.approx(max(edge, middle, rule))
        assert turn.stated is None
        # In the shortest transition one of edge and slackest fibre stands at its limit, or the rule
        # keeps both off.
        assert turn.edges is not None and turn.slackest is not None
        assert (
            max(forces) / width < turn.edges.value <= 1.3 * 0.1 * belt.strength.value * (1 + 1e-9)
        )
        assert -1e-3 <= turn.slackest.value < min(forces) / width


def test_edges_in_a_stated_transition_by_the_fibres() -> None:
    """Straight fibres from a flat pulley to the trough: edge against the mean of many fibres."""
    conveyor = bent((0.0, 12.0))
    asked, look = looked(conveyor)
    turn = next(t for t in look.transitions if t.pulley == "tail")
    assert turn.stated is not None and turn.stated.value == 0.6 and turn.edges is not None
    wing, trough = (0.8 - 0.38 * 0.8) / 2, conveyor.runs()[0].idlers.trough.value
    out = (np.arange(20000) + 0.5) / 20000 * wing
    fibres = np.sqrt(
        0.36 + (out * np.sin(trough)) ** 2 + (out * (1 - np.cos(trough))) ** 2
    )  # fmt: skip
    mean = (0.38 * 0.8 * 0.6 + 2 * wing * fibres.mean()) / 0.8
    edge = math.sqrt(0.36 + (wing * math.sin(trough)) ** 2 + (wing * (1 - math.cos(trough))) ** 2)
    cases = [r for r in asked.every() if r.case.steady or r.case.transient]
    top = max(f.value for r in cases for f in (r.at("tail").entering, r.at("tail").leaving)) / 0.8
    modulus = conveyor.belt.modulus.value
    assert turn.edges.value == pytest.approx((modulus + top) * edge / mean - modulus, rel=1e-6)
    least = min(f.value for r in cases for f in (r.at("tail").entering, r.at("tail").leaving)) / 0.8
    assert turn.slackest is not None  # the fibres on the middle roll run straight: 0.6 m
    assert turn.slackest.value == pytest.approx((modulus + least) * 0.6 / mean - modulus, rel=1e-6)


def bent(rises: tuple[float, float], belt: dict[str, str] | None = None, **first: Any) -> Conveyor:
    lift = sum(rises)
    return conveyor_of(
        loop_file(
            pulley("tail", "tail", transition="0.6 m"),
            run("one", "carry", "80 m", rise=f"{rises[0]} m", **first),
            run("two", "carry", "80 m", rise=f"{rises[1]} m"),
            pulley("head", "head", drive="d"),
            run("back", "return", "160 m", rise=f"{-lift} m"),
            drives=[{"name": "d"}],
            belt=belt or {},
        )
    )


@pytest.mark.parametrize(
    ("rises", "concave", "marking"),
    [
        ((0.0, 12.0), True, "EP 500/3 5+2"),
        ((12.0, 2.0), False, "EP 500/3 5+2"),
        ((12.0, 2.0), False, "EP 1600/4 5+2"),  # strong: slack in the middle comes first
    ],
)
def test_vertical_curves(rises: tuple[float, float], concave: bool, marking: str) -> None:
    conveyor = bent(rises, belt={"marking": marking}, curve_radius="20 m")
    asked, look = looked(conveyor)
    [bend] = look.curves
    assert bend.between == "one to two"
    assert bend.concave is concave
    belt = conveyor.belt
    cases = [r for r in (*asked.cases, *asked.other_cases) if r.case.steady or r.case.transient]
    here = [r.at("one").leaving.value for r in cases]
    shape: dict[str, float] = {
        "smallest": min(here) / 0.8, "largest": max(here) / 0.8,
        "permitted": 1.3 * 0.1 * belt.strength.value, "least": 0.0,
        "modulus": belt.modulus.value, "width": 0.8, "middle": 0.38 * 0.8,
        "trough": conveyor.runs()[0].idlers.trough.value,
    }  # fmt: skip
    slope = math.asin(max(rises) / 80)
    if concave:
        assert bend.lift_off is not None
        lift = lift_off_radius(max(here), belt.line_mass.value, slope)
        assert bend.lift_off.value == pytest.approx(float(lift))
        radius, least = (
            float(concave_radius(**shape, belt=belt.line_mass.value, slope=slope, empty=e / 0.8))
            for e in (max(here), 0.0)
        )
    else:
        assert bend.lift_off is None
        radius = least = float(convex_radius(**shape))
    assert bend.needed is not None
    assert bend.needed.value == pytest.approx(radius)
    assert bend.stated is not None and bend.stated.value == 20
    # The radius needed is where a fibre meets its limit; the stated one is tighter or wider.
    assert bend.tightest is not None and bend.slackest is not None
    kept = bend.tightest.value <= shape["permitted"] and bend.slackest.value >= 0
    assert kept is (least <= 20)
    assert bend.tightest.value > max(here) / 0.8 > min(here) / 0.8 > bend.slackest.value
    # Centroid of the troughed section over its middle, and edges over that: two wings, each with
    # its own middle at half its height.
    wing, trough = 0.31 * 0.8, shape["trough"]
    centroid = 2 * wing * (wing * math.sin(trough) / 2) / 0.8
    rims = wing * math.sin(trough) - centroid
    out, within = (centroid, rims) if concave else (rims, centroid)
    strained = belt.modulus.value / 20
    assert bend.tightest.value == pytest.approx(max(here) / 0.8 + strained * out)
    assert bend.slackest.value == pytest.approx(min(here) / 0.8 - strained * within)
    tight = bend.stated.value < bend.needed.value
    assert ("The curve from one to two of 20 m radius is tighter" in findings_text(look)) is tight
    assert tight or not concave


def test_each_transition_is_that_of_the_trough_beside_its_pulley() -> None:
    """Flat at the tail, troughed at the head: no fibre is stretched at the tail alone."""
    conveyor = bent((0.0, 12.0), idlers={"trough": "0 deg", "rolls": 1})
    _, look = looked(conveyor)
    tail, head = (
        next(t for t in look.transitions if t.pulley == name) for name in ("tail", "head")
    )
    assert tail.needed is not None and head.needed is not None
    assert tail.needed.value == pytest.approx(0.0, abs=1e-9)
    assert head.needed.value > 0.3
    assert head.by_rule.value > tail.by_rule.value


def test_a_transition_too_short_is_said() -> None:
    _, look = looked(bent((0.0, 12.0)))
    assert "The transition at tail of 600 mm is shorter than the " in findings_text(look)


def test_a_belt_with_nothing_to_spare_has_no_transition_long_enough() -> None:
    conveyor = conveyor_of(
        outline(belt={"marking": "EP 200/2 3+1"}, take_up={"kind": "gravity", "mass": "8000 kg"})
    )
    _, look = looked(conveyor)
    assert any(t.needed is None for t in look.transitions)
    assert "no transition is long enough" in findings_text(look)


def test_flat_carry_side_and_no_friction_are_worked_too() -> None:
    flat = conveyor_of(outline(idlers={"carry": {"trough": "0 deg", "rolls": 1}}))
    _, look = looked(flat)
    for turn in look.transitions:
        assert turn.needed is not None and turn.needed.value == pytest.approx(0, abs=1e-9)
    _, smooth = looked(conveyor_of(outline(resistance={"friction": 0})))
    assert smooth.terms.equal_coefficient is None


@pytest.mark.parametrize(
    ("ambient", "highest", "why"),
    [
        ("1 °C", 1.0, "1 above freezing"),
        ("0 °C", 1.0, "1 above freezing"),
        (
            "-1 °C",
            1.5,
            "below freezing K_t is above 1 and read from a chart: ask; 1 taken, too low",
        ),
    ],
)
def test_frost_raises_the_handbooks_cold_factor_and_is_said(
    ambient: str, highest: float, why: str
) -> None:
    """K_t is 1 above freezing and more below (handbook, from memory): 1 is the low end."""
    sheet = Worksheet()
    conveyor = conveyor_of(outline(conveyor={"ambient": ambient}))
    second_look(conveyor, demand(conveyor, sheet), sheet)
    record = sheet.finish()
    [cold] = [g for g in record.assumptions() if g.key == "handbook.cold"]
    assert (cold.value, cold.low, cold.high, cold.reason) == (1.0, 1.0, highest, why)
    assert why in explain(record, "second.t_x")


def test_the_handbooks_pulleys_may_be_half_as_much_or_half_more() -> None:
    """200, 150 and 100 lbf are from memory of the handbook; the span is an assumption of ours."""
    sheet = Worksheet()
    conveyor = invented("incline")
    second_look(conveyor, demand(conveyor, sheet), sheet)
    [pulleys] = [g for g in sheet.finish().assumptions() if g.key == "handbook.pulleys"]
    taken = POUND_FORCE * (200 * 1 + 150 * 2 + 100 * 3)
    wanted = (taken, taken / 2, taken + taken / 2)
    assert (pulleys.value, pulleys.low, pulleys.high) == pytest.approx(wanted)


def test_c_beyond_its_range_is_marked() -> None:
    _, short = looked(invented("shuttle"))
    assert "on 24 m of carry side is beyond its range, which begins at 80 m" in findings_text(short)
    _, long = looked(invented("incline"))
    assert "beyond its range" not in findings_text(long)


def test_c_of_a_sheet_without_secondary_resistances_is_questioned() -> None:
    _, look = looked(published("bottom-ash-960"))
    assert "equal C = " in findings_text(look)


@pytest.mark.parametrize("path", CONVEYORS, ids=lambda p: p.stem)
def test_every_example_can_be_studied(path: Any) -> None:
    from splicewright.plant import load_conveyor

    found = study(load_conveyor(path), 60e3, samples=64)
    assert found.unknowns.running.low <= found.unknowns.running.median
    assert found.unknowns.running.median <= found.unknowns.running.high
    assert found.worksheet.find("second.handbook")


def crowned(**tail: Any) -> Conveyor:
    return conveyor_of(
        loop_file(
            pulley("tail", "tail", **tail),
            run("carry", "carry", "80 m", rise="6 m"),
            pulley("head", "head", drive="d"),
            run("back", "return", "80 m", rise="-6 m"),
            drives=[{"name": "d"}],
        )
    )


@pytest.mark.parametrize(
    ("shape", "fullness"),
    [
        ({}, 0.5),
        ({"crown_shape": "cones", "crown_flat": "300 mm"}, (1 + 0.3 / 0.8) / 2),
        ({"crown_shape": "arc"}, 2 / 3),
    ],
    ids=["cones", "cones and a cylinder", "arc"],
)
def test_across_a_crown_by_hand(shape: dict[str, str], fullness: float) -> None:
    """Every fibre stretched as the radius of its middle to the mean of all."""
    conveyor = crowned(crown="4 mm", **shape)
    asked, look = looked(conveyor)
    [crown] = look.crowns
    assert crown.pulley == "tail"
    modulus, width, thick = conveyor.belt.modulus.value, 0.8, 0.011
    cases = [r for r in asked.every() if r.case.steady or r.case.transient]
    here = [f.value / width for r in cases for f in (r.at("tail").entering, r.at("tail").leaving)]
    mean = 0.5 + 2 * 0.004 * fullness + thick
    middle = (modulus + max(here)) * (0.508 + thick) / mean - modulus
    edge = (modulus + min(here)) * (0.5 + thick) / mean - modulus
    assert crown.mean.value == pytest.approx(max(here), rel=1e-9)
    assert crown.middle.value == pytest.approx(middle, rel=1e-9)
    assert crown.edge.value == pytest.approx(edge, rel=1e-9)
    assert crown.permitted.value == pytest.approx(0.13 * conveyor.belt.strength.value)
    assert crown.edge.value < min(here) <= max(here) < crown.middle.value


def test_a_crown_that_costs_margin_is_said() -> None:
    _, slight = looked(crowned(crown="0.2 mm"))
    assert "crown" not in findings_text(slight)
    asked, some = looked(crowned(crown="2 mm"))
    [look] = some.crowns
    assert asked.running.value < look.middle.value < look.permitted.value
    assert "The crown of 2 mm on tail may pull the middle of the belt with " in findings_text(some)
    assert "middle plates lose that much of the joint's margin" in findings_text(some)
    _, much = looked(crowned(crown="8 mm"))
    assert "more than the 65 N/mm permitted: a lower crown, or none." in findings_text(much)
    assert "The crown of 8 mm on tail may leave the belt edges slack" in findings_text(much)
    assert looked(crowned(crown="0 mm"))[1].crowns == ()


def test_a_crown_reads_in_either_system() -> None:
    one, other = (looked(crowned(crown=c))[1].crowns[0] for c in ("3.175 mm", "1/8 in"))
    assert one.middle.value == pytest.approx(other.middle.value, rel=1e-12)
