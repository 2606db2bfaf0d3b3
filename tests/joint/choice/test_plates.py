"""Which fastener and why: each requirement failing alone is named, and the ranking."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from splicewright.joint import (
    Choice,
    Construction,
    Material,
    PulleyRule,
    Range,
    Size,
    choose,
    load_ranges,
)
from splicewright.plant import Conveyor, Environment, Work
from splicewright.quantities import Kind, Worksheet
from splicewright.tension import Demand, demand
from strategies import EXAMPLES, conveyor_of, outline, size, work_of

STEEL = Material("plain steel", (Environment.UNDERGROUND,), 400.0)
STAINLESS = Material("stainless steel", (Environment.WET, Environment.CORROSIVE), 450.0)


def a_range(*sizes: Size, **changes: Any) -> Range:
    given = {
        "name": "invented",
        "invented": True,
        "construction": Construction.HINGED,
        "materials": (STEEL, STAINLESS),
        "note": "",
    }
    return Range(sizes=sizes, **{**given, **changes})


def chosen(
    *ranges: Range, conveyor: dict[str, Any] | None = None, **work: Any
) -> tuple[Choice, Conveyor, Demand]:
    plant = conveyor_of(outline(**(conveyor or {})))
    sheet = Worksheet()
    asked = demand(plant, sheet)
    return choose(ranges, plant, job(plant, **work), asked, sheet), plant, asked


def job(plant: Conveyor, **tables: Any) -> Work:
    return work_of(plant, **tables)


FITS = size(pulley_rules=())


def test_a_size_that_meets_everything() -> None:
    choice, _, asked = chosen(a_range(FITS))
    assert choice.best is not None
    assert choice.recommended == "invented, pitch 43, 8-16 mm"
    assert choice.runner_up == ""
    assert choice.best.material == "plain steel"
    names = [r.name for r in choice.best.requirements]
    assert names == [
        "construction", "carcass", "belt thickness",
        *(f"pulley: {p.pulley}" for p in asked.passings),
        "running tension", "starting tension", "belt width", "environment", "scrapers",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("change", "missed"),
    [
        ({"thickness": (0.012, 0.016)}, "belt thickness"),
        ({"thickness": (0.008, 0.010)}, "belt thickness"),
        ({"rated_tension": 10e3}, "running tension"),
        ({"starting_tension": 10e3}, "starting tension"),
        ({"setback": (0.01225, 0.03425)}, "belt width"),
        ({"scrapers": False}, "scrapers"),
    ],
)
def test_a_size_that_misses_one_requirement(change: dict[str, Any], missed: str) -> None:
    choice, *_ = chosen(a_range(replace(FITS, **change)))
    assert choice.best is None
    assert choice.nearest is not None
    assert [r.name for r in choice.nearest.missed] == [missed]
    assert [str(r) for r in choice.reasons] == ["No size in these ranges meets every requirement."]


@pytest.mark.parametrize(
    ("window", "margin"), [((0.012, 0.016), 11 / 12 - 1), ((0.006, 0.010), 1 - 11 / 10)]
)
def test_how_far_the_belt_lies_outside_the_window(
    window: tuple[float, float], margin: float
) -> None:
    choice, *_ = chosen(a_range(replace(FITS, thickness=window)))
    assert choice.nearest is not None
    assert choice.nearest.margin == pytest.approx(margin)


@pytest.mark.parametrize("window", [(0.011, 0.016), (0.008, 0.011)])
def test_a_belt_as_thick_as_an_end_of_the_window_fits(window: tuple[float, float]) -> None:
    choice, *_ = chosen(a_range(replace(FITS, thickness=window)))
    assert choice.best is not None
    (said,) = (r for r in choice.best.requirements if r.name == "belt thickness")
    assert said.margin is None  # a window is no reserve to rank by


@pytest.mark.parametrize(
    ("name", "rating"),
    [("running tension", "rated_tension"), ("starting tension", "starting_tension")],
)
def test_a_rating_that_leaves_nothing_over_is_met(name: str, rating: str) -> None:
    plain, *_ = chosen(a_range(FITS))
    assert plain.best is not None
    (needed,) = (r.needed for r in plain.best.requirements if r.name == name)
    just: dict[str, Any] = {rating: needed}
    choice, *_ = chosen(a_range(replace(FITS, **just)))
    assert choice.best is not None
    assert choice.best.margin == pytest.approx(0.0, abs=1e-12)


def test_a_pulley_too_small_is_named() -> None:
    choice, *_ = chosen(a_range(FITS), conveyor={"outline": {"tail_pulley": "480 mm"}})
    assert choice.nearest is not None
    assert [r.name for r in choice.nearest.missed] == ["pulley: tail pulley"]
    reason = str(choice.nearest.missed[0].reason)
    assert reason.startswith("tail pulley: 480 mm at 180° wrap and ")
    assert reason.endswith(" of the rated tension, 500 mm needed")


@pytest.mark.parametrize(
    ("tables", "missed"),
    [
        ({"joint": {"kind": "solid plate"}}, "construction"),
        ({"joint": {"environment": ["food"]}}, "environment"),
        ({"joint": {"environment": ["wet", "underground"]}}, "environment"),
        ({"joint": {"service_factor": 5.0}}, "running tension"),
        ({"belt": {"thickness": ["11 mm", "17 mm", "11 mm"]}}, "belt thickness"),
        ({"belt": {"thickness": ["7.9 mm", "11 mm"]}}, "belt thickness"),
    ],
)
def test_a_work_that_asks_for_more(tables: dict[str, Any], missed: str) -> None:
    choice, *_ = chosen(a_range(FITS), **tables)
    assert choice.nearest is not None
    assert [r.name for r in choice.nearest.missed] == [missed]


def test_steel_cord_holds_no_bolts() -> None:
    choice, *_ = chosen(a_range(FITS), conveyor={"belt": {"marking": "ST 1000"}})
    assert choice.nearest is not None
    assert [str(r.reason) for r in choice.nearest.missed] == [
        "bolted plates do not hold in steel cords: a vulcanised joint is needed"
    ]


def test_heat_beyond_the_material() -> None:
    cold = Material("cold steel", (), 280.0)
    choice, *_ = chosen(a_range(FITS, materials=(cold,)))
    assert choice.nearest is not None
    assert [str(r.reason) for r in choice.nearest.missed] == [
        "no material of the range is stated to suit the heat"
    ]


def test_the_material_that_lacks_least_is_named() -> None:
    asked = {"joint": {"environment": ["wet", "corrosive", "food"]}}
    choice, *_ = chosen(a_range(FITS, materials=(STEEL, STAINLESS)), **asked)
    assert choice.nearest is not None
    assert choice.nearest.material == "stainless steel"
    assert [str(r.reason) for r in choice.nearest.missed] == [
        "no material of the range is stated to suit food"
    ]


def test_the_first_material_that_suits_is_taken() -> None:
    choice, *_ = chosen(a_range(FITS), joint={"environment": ["corrosive"]})
    assert choice.best is not None
    assert choice.best.material == "stainless steel"


def test_either_construction() -> None:
    solid = a_range(FITS, construction=Construction.SOLID, name="solid")
    choice, *_ = chosen(solid, joint={"kind": "either"})
    assert choice.recommended == "solid, pitch 43, 8-16 mm"


def test_milder_use_of_a_pulley_allows_a_smaller_one() -> None:
    ruled = size(pulley_rules=(PulleyRule(0.6, 0.6, 0.315), PulleyRule(6.3, 0.3, 0.4)))
    # wrap [rad], share of the rated tension, pulley needed [m]
    for wrap, share, needed in (
        (0.5, 0.5, 0.315),
        (0.5, 0.25, 0.315),
        (3.1, 0.25, 0.4),
        (3.1, 0.31, 0.5),
        (0.5, 0.61, 0.5),
        (0.6, 0.6, 0.315),
    ):
        assert ruled.pulley_needed(wrap, share * ruled.rated_tension) == needed


def test_starting_without_a_rating_falls_back_on_the_running_one() -> None:
    choice, _, asked = chosen(a_range(replace(FITS, starting_tension=None)))
    assert choice.best is not None
    found = next(r for r in choice.best.requirements if r.name == "starting tension")
    assert found.has == FITS.rated_tension
    assert found.needed == pytest.approx(asked.starting.value)
    assert str(found.reason).startswith("no starting rating, so the running rating 90 N/mm (safe")


def test_margins_are_shares_left_over() -> None:
    choice, _, asked = chosen(a_range(FITS), joint={"service_factor": 1.2})
    assert choice.best is not None
    by_name = {r.name: r for r in choice.best.requirements}
    needed = 1.2 * asked.running.value
    assert by_name["running tension"].margin == pytest.approx(90e3 / needed - 1)
    assert by_name["running tension"].show_has() == "90 N/mm"
    assert by_name["belt thickness"].margin is None
    assert by_name["construction"].show_needed() == ""
    assert choice.best.margin == min(
        r.margin for r in choice.best.requirements if r.margin is not None
    )


def test_ranking() -> None:
    weak = replace(FITS, rated_tension=75e3, pitch=0.0431, smallest_pulley=0.3)
    even = replace(FITS, smallest_pulley=0.3)
    short = replace(FITS, rated_tension=10e3, pitch=0.0432)
    shorter = replace(short, starting_tension=10e3, pitch=0.0433)
    choice, *_ = chosen(a_range(shorter, weak, short, even))
    order = [c.size.pitch for c in choice.candidates]
    assert order == [0.043, 0.0431, 0.0432, 0.0433]
    assert choice.recommended.endswith("pitch 43, 8-16 mm")
    assert choice.runner_up.endswith("pitch 43.1, 8-16 mm")
    assert str(choice.turns[-1]).startswith("Runner-up: invented, pitch 43.1, 8-16 mm, smallest")


def test_what_would_turn_the_answer() -> None:
    near = replace(FITS, scrapers=False, pitch=0.044)
    choice, *_ = chosen(a_range(FITS, near))
    said = [str(t) for t in choice.turns]
    assert said[0].startswith("A running tension above 90 N/mm (now ")
    assert said[1] == "A belt outside 8 mm to 16 mm anywhere across the end rules it out."
    assert said[2].startswith("Below 500 mm at the tail pulley (now 500 mm) it is ruled out.")
    assert said[3] == (
        "No runner-up passes; nearest is invented, pitch 44, 8-16 mm, which misses scrapers."
    )


def test_no_range_at_all() -> None:
    choice, *_ = chosen()
    assert choice.best is None
    assert choice.nearest is None
    assert choice.candidates == ()
    assert str(choice.reasons[0]).startswith("No fastener range was given: demand, isolation")


def test_uneven_thickness_is_remarked_on() -> None:
    for places, told in ((["11 mm", "13 mm"], True), (["11 mm", "12 mm"], False)):
        choice, *_ = chosen(a_range(FITS), belt={"thickness": places})
        assert choice.best is not None
        reason = next(r.reason for r in choice.best.requirements if r.name == "belt thickness")
        assert ("the end differs by 2 mm across" in str(reason)) is told


def test_the_width_measured_at_the_joint_goes_before_the_conveyors() -> None:
    narrow = replace(FITS, setback=(0.01225, 0.03425))
    choice, *_ = chosen(a_range(narrow), belt={"width": "772.5 mm"})
    assert choice.best is not None
    choice, *_ = chosen(a_range(narrow), belt={"width": "790 mm"})
    assert choice.best is None


def test_every_reason_reads_in_inch() -> None:
    ranges = load_ranges((EXAMPLES / "karst-hollow" / "fasteners",))
    choice, *_ = chosen(*ranges)
    for candidate in choice.candidates:
        for requirement in candidate.requirements:
            said = requirement.reason.say("inch")
            assert " mm" not in said.replace(candidate.joint.name, ""), said
            assert "N/mm" not in said
    kinds = {r.kind for c in choice.candidates for r in c.requirements}
    assert kinds == {Kind.COUNT, Kind.LENGTH, Kind.WIDTH_FORCE, Kind.DISTANCE}
