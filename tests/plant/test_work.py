"""The piece of work: filled, and refused where it contradicts conveyor or reason."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from splicewright.errors import InputError
from splicewright.plant import Conveyor, Environment, Reason, Tools, Travel, load_work
from splicewright.quantities import Origin
from strategies import conveyor_of, invented, outline, small_loop, text_of, work_of


@pytest.fixture(scope="module")
def conveyor() -> Conveyor:
    return conveyor_of(small_loop())


def test_nobody_described_the_work(conveyor: Conveyor) -> None:
    work = load_work(None, conveyor)
    assert work.name == "joint on test conveyor"
    assert (work.run, work.distance.value) == ("back", 30)
    assert work.distance.assumed
    assert work.joints == 1
    assert work.load_left.value == 1  # safe side: fully loaded
    assert work.window is None


def test_default_place_is_no_short_hanging_strand() -> None:
    work = load_work(None, invented("incline"))
    assert work.run == "upper return"


def test_measured_on_the_belt(conveyor: Conveyor) -> None:
    work = work_of(conveyor, belt={"thickness": ["11 mm", "10.5 mm"], "width": "31-1/2 in"})
    assert [t.value for t in work.thickness] == [0.011, 0.0105]
    assert all(t.origin is Origin.MEASURED for t in work.thickness)
    assert work.belt_width is not None
    assert work.belt_width.value == pytest.approx(0.8001)


def test_an_insert_takes_two_joints_and_a_new_belt_one(conveyor: Conveyor) -> None:
    torn = work_of(conveyor, work={"reason": "torn belt"}, belt={"cut_out": "4 m", "insert": "4 m"})
    new = work_of(conveyor, work={"reason": "new belt"}, belt={"insert": "121 m"})
    assert (torn.joints, new.joints) == (2, 1)


def test_travel_follows_the_conveyor_unless_said(conveyor: Conveyor) -> None:
    both_ways = conveyor_of(outline(conveyor={"reversing": True}))
    assert load_work(None, conveyor).travel is Travel.KNOWN
    assert load_work(None, both_ways).travel is Travel.REVERSING
    assert work_of(conveyor, joint={"travel": "unknown"}).travel is Travel.UNKNOWN


def test_all_that_can_be_said(conveyor: Conveyor) -> None:
    work = work_of(
        conveyor,
        work={"reason": "worn joint", "run": "carry", "distance": "12 m"},
        joint={"environment": ["wet", "hot", "wet"], "scrapers": False, "service_factor": 1.3},
        crew={"people": 3, "tools": "power", "window": "6 h", "clamp_factor": 2.5},
    )
    assert work.reason is Reason.WORN_JOINT
    assert work.environment == (Environment.HOT, Environment.WET)
    assert (work.crew, work.tools, work.scrapers) == (3, Tools.POWER, False)
    assert work.window is not None
    assert work.window.value == 21600
    assert (work.service_factor.value, work.clamp_factor.value) == (1.3, 2.5)


@pytest.mark.parametrize(
    ("tables", "message"),
    [
        (
            {"work": {"run": "lost"}},
            'work.toml: work.run: "lost" is no run of the loop; accepted: carry, back',
        ),
        (
            {"work": {"run": "carry", "distance": "61 m"}},
            "work.toml: work.distance: 61 m lies beyond carry of 60 m",
        ),
        (
            {"work": {"reason": "shorten belt"}, "belt": {"cut_out": "1 m", "insert": "2 m"}},
            "work.toml: work.reason: is to shorten the belt, but 1 m comes out and 2 m goes in; "
            "more must come out than goes in",
        ),
        (
            {"work": {"reason": "lengthen belt"}, "belt": {"cut_out": "2 m"}},
            "work.toml: work.reason: is to lengthen the belt, but 0 mm goes in and 2 m comes out; "
            "more must go in than comes out",
        ),
        (
            {"belt": {"width": "900 mm"}},
            "work.toml: belt.width: 900 mm at the joint differs from the conveyor's 800 mm by more "
            "than a tenth; check both",
        ),
        (
            {"crew": {"people": 0}},
            "work.toml: crew.people: 0 cannot be used: input should be greater than or equal to 1",
        ),
        (
            {"joint": {"environment": ["dry"]}},
            "work.toml: joint.environment.1: 'dry' is not known; accepted is 'wet', 'corrosive', "
            "'hot', 'underground', 'food' or 'magnetic separator'",
        ),
    ],
)
def test_refused(conveyor: Conveyor, tables: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError) as caught:
        work_of(conveyor, **tables)
    assert str(caught.value) == message


def test_a_work_file_names_its_lines(conveyor: Conveyor, tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(
        text_of({"work": {"name": "x", "run": "lost"}, "belt": {"width": "9 in"}}), "utf-8"
    )
    with pytest.raises(InputError) as caught:
        load_work(path, conveyor)
    assert [str(f).split(": ")[:2] for f in caught.value.faults] == [
        ["job.toml:3", "work.run"],
        ["job.toml:6", "belt.width"],
    ]
