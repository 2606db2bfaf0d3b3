"""Plate loads of a plan: balance, mirror image, places, curve, what is refused."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from proof import proves
from sheets.plans import COMPLETE, SITE, WORKS, example, solid, without_fastener
from splicewright.errors import InputError
from splicewright.job import JointLoads, JointPlan, loads_of, plan
from splicewright.job.inspection.joined_belt import joined_by_plan
from splicewright.joint import load_ranges
from splicewright.joint.choice.verdict import Standing, evenness_of, standing
from splicewright.joint.inspection.damage import PlateRating, margins
from splicewright.joint.inspection.plate_condition import Findings
from splicewright.joint.loads.making_limits import row_of
from splicewright.joint.loads.membrane import PlateRow, free_compliance
from splicewright.joint.loads.sharing import share, straightened
from splicewright.joint.loads.stiffness import assumed_strips
from splicewright.plant import Crown, CrownShape, Pulley, Role, load_conveyor, load_work
from splicewright.quantities import Figure, Kind, explain, stated
from splicewright.quantities.worksheet import Line
from splicewright.sheets.crew_pack.answer import answer

each = pytest.mark.parametrize("name", [*COMPLETE, "solid"])


@cache
def plan_and_loads(name: str) -> tuple[JointPlan, JointLoads]:
    made = solid() if name == "solid" else example(name)
    return made, loads_of(made)


@proves(
    "Plate loads",
    "Plate loads of whole plans, at every place of the loop",
    "D",
    "The plates of three planned jobs: their sum is the pull of the belt there, the worst is the "
    "largest of them, and mean, share, margin and rows follow.",
    doubt="Statics are exact; how the pull is shared is held against closed forms, a second "
    "program and whole meshes in the other cases of this chapter.",
    tolerance="rounding of floats; 1e-9 of the pull for the sum over the plates",
    sketch="strip",
)
@each
def test_the_plates_carry_the_pull_of_every_place(name: str) -> None:
    made, loads = plan_and_loads(name)
    assert made.layout is not None
    for at in loads.places:
        pull = at.place.width_tension * made.layout.width.value
        for shared in (at.loads, at.held, at.loose):
            assert sum(shared) == pytest.approx(pull, rel=1e-9)
            assert min(shared) >= 0
        assert all(
            low - 1e-6 <= one <= high + 1e-6
            for low, one, high in zip(at.low, at.loads, at.high, strict=True)
        )
        assert at.worst[0] == min(at.worst)
        assert at.worst[1:] == (max(at.loads), max(at.high))
    assert loads.worst.worst[2] == max(at.worst[2] for at in loads.places)
    # No example range states what its rating covers: 1.3 of the even share is assumed.
    may = 1.3 * loads.rating.value
    assert loads.permitted.value == pytest.approx(may)
    assert loads.evenness.assumed
    mean = loads.worst.place.width_tension * made.layout.width.value / len(loads.worst.loads)
    assert loads.mean.value == pytest.approx(mean)
    for spread, plates in (
        (loads.load, (min(loads.worst.worst), max(loads.worst.loads), max(loads.worst.high))),
        (loads.factor, tuple(w / mean for w in loads.worst.worst)),
    ):
        for figure, own in zip((spread.low, spread.typical, spread.high), plates, strict=True):
            assert figure.value == pytest.approx(own)
    assert loads.margin.low.value == pytest.approx(may / max(loads.worst.high) - 1)
    assert sum(row.typical.value for row in loads.rows) == pytest.approx(1.0)
    assert [row.typical.key for row in loads.rows] == [
        f"loads.row_{number}.typical" for number in range(1, len(loads.rows) + 1)
    ]


@each
def test_places_are_those_of_the_demand(name: str) -> None:
    made, loads = plan_and_loads(name)
    assert made.layout is not None
    wider = made.conveyor.belt.width.value / made.layout.width.value
    flat = {at.place.name: at.place for at in loads.places if at.place.edge_strain == 0}
    for passing in made.demand.passings:
        assert flat[passing.pulley].width_tension == pytest.approx(passing.running.value * wider)
    strained = [at.place.name for at in loads.places if at.place.edge_strain > 0]
    assert strained == ["transition at tail pulley", "transition at head pulley"]
    entry = loads.worksheet.find("load.middle_roll")
    middle = entry.figure.value if isinstance(entry, Line) else entry.value
    for at in loads.places:
        if at.place.edge_strain > 0:
            assert at.place.flat == pytest.approx(middle / made.conveyor.belt.width.value)


def test_the_trailing_end_is_the_mirror_image() -> None:
    """Its plates put in for the leading end's give the same loads the other way round."""
    made, _ = plan_and_loads("incline")
    best, layout = made.fastener, made.layout
    assert best is not None and layout is not None
    _, strip, _ = assumed_strips(
        layout.width.value, made.conveyor.belt.modulus, made.conveyor.belt.carcass
    )
    trailing = PlateRow(tuple(p.y for p in layout.trailing.plates), best.size.plate_width)
    one, other = (
        share(
            free_compliance(strip, row, refine=1), 4e6, 7e4, guidance=straightened(strip, 7e4)
        ).loads
        for row in (row_of(layout, best.size), trailing)
    )
    np.testing.assert_allclose(one, other[::-1], rtol=1e-6)


@proves(
    "Transition, trough and curves",
    "Strain of the edges where a joint stands in a transition",
    "C",
    "A stated transition of 1.2 m: tension of edge and middle fibre by the lengths of straight "
    "fibres, their difference over the modulus.",
    doubt="Exact for straight fibres; a real belt sags between pulley and first idlers.",
    tolerance="1e-6: the mean of 20,000 fibres",
    sketch="transition",
)
def test_edge_strain_is_that_of_the_transition_that_is_stated() -> None:
    conveyor = load_conveyor(SITE / "conveyors" / "incline.toml")
    given = stated("t", "transition", 1.2, Kind.DISTANCE)
    loop = tuple(
        replace(e, transition=given) if isinstance(e, Pulley) and e.role is Role.HEAD else e
        for e in conveyor.loop
    )
    conveyor = replace(conveyor, loop=loop)
    work = load_work(SITE / "jobs" / f"{WORKS['incline']}.toml", conveyor)
    made = plan(conveyor, work, load_ranges((SITE / "fasteners" / "hinged.toml",)))
    found = loads_of(made)
    place = next(a.place for a in found.places if a.place.name == "transition at head pulley")
    belt = conveyor.belt
    trough, flat = conveyor.runs()[0].idlers.trough.value, place.flat * belt.width.value
    wing = (belt.width.value - flat) / 2

    def fibre(out: Any) -> Any:
        return np.sqrt(
            1.2**2 + (out * np.sin(trough)) ** 2 + (out * (1 - np.cos(trough))) ** 2
        )  # fmt: skip

    mean = (flat * 1.2 + 2 * wing * fibre((np.arange(20000) + 0.5) / 20000 * wing).mean()) / (
        belt.width.value
    )
    # Stretched alike at the mean, a fibre's strain is its length over the mean one, less one.
    stiff = belt.modulus.value + place.width_tension
    expected = stiff * (fibre(wing) - 1.2) / mean / belt.modulus.value
    assert place.edge_strain == pytest.approx(float(expected), rel=1e-6)
    shorter = next(
        a.place
        for a in plan_and_loads("incline")[1].places
        if a.place.name == "transition at head pulley"
    )
    assert place.edge_strain > shorter.edge_strain


def crowned(height: float, shape: CrownShape, flat: float = 0.0) -> JointLoads:
    conveyor = load_conveyor(SITE / "conveyors" / "incline.toml")
    crown = Crown(
        stated("c", "crown", height, Kind.LENGTH), shape, stated("f", "flat", flat, Kind.LENGTH)
    )
    loop = tuple(
        replace(e, crown=crown) if isinstance(e, Pulley) and e.role is Role.HEAD else e
        for e in conveyor.loop
    )
    conveyor = replace(conveyor, loop=loop)
    work = load_work(SITE / "jobs" / f"{WORKS['incline']}.toml", conveyor)
    return loads_of(plan(conveyor, work, load_ranges((SITE / "fasteners" / "hinged.toml",))))


@pytest.mark.parametrize(
    ("shape", "flat", "fullness"),
    [(CrownShape.ARC, 0.0, 2 / 3), (CrownShape.CONES, 0.25, (1 + 0.25) / 2)],
)
def test_a_crown_is_a_place_with_the_strain_of_its_diameters(
    shape: CrownShape, flat: float, fullness: float
) -> None:
    """Stuck to the pulley a fibre is as long as its circle: strain D/D_m - 1 over the mean."""
    made = example("incline")
    found = crowned(3e-3, shape, flat)
    place = next(at for at in found.places if at.place.name == "crown of head pulley").place
    head = next(p for p in made.conveyor.pulleys() if p.role is Role.HEAD)
    belt = made.conveyor.belt
    edge, d = head.diameter.value, belt.thickness.value
    mean = edge + 2 * 3e-3 * fullness + d
    t = next(p.running.value for p in made.demand.passings if p.pulley == head.name)
    t *= belt.width.value / 0.998
    wanted = (1 + t / belt.modulus.value) * (edge - (edge + 6e-3)) / mean
    assert place.edge_strain == pytest.approx(wanted, rel=1e-9)
    assert place.flat == pytest.approx(flat / belt.width.value)
    assert place.power == (2 if shape is CrownShape.ARC else 1)
    explain(found.worksheet, "loads.head-pulley.crown_strain")


def test_a_higher_crown_loads_the_middle_more() -> None:
    low, high = (
        next(at for at in crowned(h, CrownShape.ARC).places if at.place.name.startswith("crown"))
        for h in (1e-3, 4e-3)
    )
    assert max(high.loads[5:17]) > max(low.loads[5:17])
    assert high.loads[0] < low.loads[0]


@each
def test_the_best_curve_is_not_worse_than_straight_or_planned(name: str) -> None:
    made, loads = plan_and_loads(name)
    assert made.layout is not None
    typical = loads.curve.typical
    assert typical.template is not None
    assert typical.template.depth == made.layout.curve_depth.value
    assert typical.best.load <= min(typical.straight.load, typical.template.load)
    # With the plan's own depth the curve and the loads round the loop tell the same worst plate.
    assert typical.template.load == pytest.approx(max(max(at.loads) for at in loads.places))
    said = " ".join(r.say() for r in loads.remarks)
    rule = {
        "incline": "The range's template rules.",
        "shuttle": "The strip is one piece and wants a straight end: that rules.",
    }.get(name, "Neither job nor range states a curve: ask the maker before the end is curved.")
    assert rule in said


@each
def test_every_figure_can_be_explained_and_the_json_is_lossless(name: str) -> None:
    _, loads = plan_and_loads(name)
    for spread in (loads.load, loads.factor, loads.margin, *loads.rows):
        for figure in (spread.low, spread.typical, spread.high):
            assert isinstance(figure, Figure)
            assert figure.label in explain(loads.worksheet, figure.key, "inch")
        assert spread.low.value <= spread.typical.value <= spread.high.value
    explain(loads.worksheet, "loads.head-pulley.edge_strain")
    assert JointLoads.from_json(loads.to_json()) == loads


def test_an_overload_is_said() -> None:
    _, loads = plan_and_loads("incline")
    assert loads.standing is Standing.BY_ALLOWANCE  # 1.24 of its even share, 1.3 allowed
    assert loads.verdict.say().startswith(
        "The plate that carries most is within the rating only with its allowance for uneven"
    )
    stated = replace(loads, evenness=evenness_of(1.1, "a size"))
    assert stated.standing is Standing.OVER
    assert stated.verdict.say().startswith("NOT RECOMMENDED: the plate that carries most is over")
    assert stated.verdict.say().endswith("with 1.1 times the even share allowed (range data).")


def test_a_plan_without_a_joint_is_refused() -> None:
    with pytest.raises(InputError, match=r"^plan: \w{10} has no joint, no fastener was chosen"):
        loads_of(without_fastener())


@each
def test_page_one_warns_of_a_plate_over_its_share_of_the_rating(name: str) -> None:
    made, loads = plan_and_loads(name)
    said = answer(made, "metric", loads)["warnings"]
    over = max(load for at in loads.places for load in at.high) > loads.rating.value
    assert (loads.overload is not None) == over
    assert len(said) == len(answer(made, "metric")["warnings"]) + over
    assert not over or said[-1] == loads.verdict.say()


@each
def test_plan_loads_and_assessment_never_contradict_each_other(name: str) -> None:
    """The fault of before: a recommended joint whose sound self was assessed at 59 to 146 %."""
    made, loads = plan_and_loads(name)
    joined = joined_by_plan(made)
    rating = PlateRating(joined.permitted_pull, 10 * joined.permitted_pull)
    places = [place for _, place in joined.places]
    least, _ = margins(joined.cases(), Findings(), rating, places, joined.curve_depth)
    # One rule: what the loads allow, the assessment of the same sound joint allows.
    assert (least >= 1) == (loads.standing is not Standing.OVER)
    assert least == pytest.approx(loads.permitted.value / loads.load.high.value, rel=1e-6)
    said = answer(made, "metric", loads)["fastener"]["what"]
    assert (said == "Fastener") == (loads.standing is not Standing.OVER)


@pytest.mark.parametrize(
    ("load", "evenness", "stands"),
    [
        (99.0, 1.3, Standing.WITHIN),
        (100.0, 1.0, Standing.WITHIN),
        (100.0, 1.3, Standing.WITHIN),
        (130.0, 1.3, Standing.BY_ALLOWANCE),
        (131.0, 1.3, Standing.OVER),
        (101.0, 1.0, Standing.OVER),
    ],
)
def test_the_verdict_by_hand(load: float, evenness: float, stands: Standing) -> None:
    assert standing(load, 100.0, evenness) is stands
