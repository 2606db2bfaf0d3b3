"""The stopped belt of every example and published conveyor, re-derived in plain arithmetic.

No published values exist for a stopped belt at a place of work. The arithmetic stands in
stopped_by_hand.py; tolerance 1e-9, rounding of floats. A loop of held length is solved by the tool
in 36 pieces and taken at the safe end of its last step: never below the fine sums, and up to 1 %
above them. Pages of docs are read back here: what they
print is what this arithmetic gives.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from outside.held_by_hand import holding
from outside.stopped_by_hand import by_hand, of_plan, page, peak, planned, sudden
from proof import proves
from splicewright.job import JointPlan, plan
from splicewright.plant import load_conveyor, load_work
from splicewright.quantities import Line
from strategies import CONVEYORS, EXAMPLES

PAGE = Path(__file__).parents[2] / "docs" / "at-rest.md"
PUBLISHED = PAGE.with_name("at-rest-published.md")
SITE = EXAMPLES / "karst-hollow"
JOBS = {"incline": "incline-worn-joint", "flat": "flat-torn-belt", "shuttle": "shuttle-new-belt"}


def let_go_at_the_place(joint_plan: JointPlan, side: str) -> bool:
    """Whether the strand was taken at the place itself, not at its clamp."""
    figure = joint_plan.worksheet.find(f"at_rest.strand_{side}.let_go")
    assert isinstance(figure, Line)
    return "at the place" in figure.figure.label


@proves(
    "The stopped belt",
    "Every example and published conveyor, stopped",
    "C",
    "Largest forces at clamps, hoists and strands for fourteen conveyors, empty and loaded: the "
    "derivation written a second time in plain arithmetic, every place tried as the one where "
    "the belt hangs slack.",
    doubt=(
        "No published values exist for a stopped belt. The derivation is by the same hand "
        "as the tool: an error of thought would stand in both, which is why a simulation "
        "stands beside it."
    ),
    tolerance="rounding of floats: both sides are the same relation written twice; a loop of held "
    "length 1 % on the safe side, for its pieces",
    sketch="stopped",
)
@pytest.mark.parametrize("loaded", [False, True], ids=["empty", "loaded"])
@pytest.mark.parametrize("path", CONVEYORS, ids=lambda p: p.stem)
def test_every_conveyor_of_the_examples(path: Path, loaded: bool) -> None:
    made = planned(path, loaded)
    expected = by_hand(made, loaded)
    found = of_plan(made)
    fixed = holding(made).fixed
    for name, value in ((n, p.value) for n, p in expected.items()):
        if name.startswith("let go") and not let_go_at_the_place(made, name.split(", ")[1]):
            assert found[name] >= value * (1 - 1e-9)
        elif name == "acting" and fixed:
            assert safely_near(found[name], value)
        else:
            assert found[name] == pytest.approx(value, rel=1e-9, abs=1e-6), name
    peaks = made.at_rest.summary.lets_go
    for side in made.at_rest.bounds.sides:
        again = sudden(made, loaded, side.way.value, side.hold.largest.value).value
        if fixed:
            assert safely_near(side.sudden.value, again), side.way
        else:
            assert side.sudden.value == pytest.approx(again, rel=1e-9), side.way
        # Runge-Kutta steps against the closed form: to a part in 1,000 for the stepped top.
        hoists = peaks[f"clamp_{side.way.value}"].others["hoists"]
        # Or what they draw with anyway, where that is more.
        most = max(peak(made, side.sudden.value), expected["draw"].value)
        assert hoists == pytest.approx(most, rel=1e-3), side.way
    # A drive that lets go: a snug clamp catches the most that it may have held, at a stroke.
    held = [
        found["acting"],
        found["draw"],
        *(s.hold.largest.value for s in made.at_rest.bounds.sides),
    ]
    for carried in peaks["drive"].others.values():
        assert carried == pytest.approx(peak(made, max(held)), rel=1e-3)


def safely_near(value: float, by_hand: float) -> bool:
    """Not below the fine sums but for rounding, and at most 1 % above them."""
    return by_hand * (1 - 1e-6) <= value <= by_hand * 1.01


def test_the_page_of_published_conveyors_is_this_arithmetic() -> None:
    assert PUBLISHED.read_text("utf-8") == page()


ROW = re.compile(r"^\| (incline|flat|shuttle) \| ([^|]+) \| ([0-9.]+) kN \|", re.MULTILINE)


def test_the_page_prints_what_the_packs_print() -> None:
    rows = ROW.findall(PAGE.read_text("utf-8"))
    assert len(rows) >= 12
    plans: dict[str, JointPlan] = {}
    for name, job in JOBS.items():
        conveyor = load_conveyor(SITE / "conveyors" / f"{name}.toml")
        plans[name] = plan(conveyor, load_work(SITE / "jobs" / f"{job}.toml", conveyor))
    for name, what, value in rows:
        figure = of_plan(plans[name]) | {
            "clamps": plans[name].at_rest.ratings.clamps.value,
            "hoists": plans[name].at_rest.ratings.hoists.value,
        }
        assert figure[what.strip()] / 1e3 == pytest.approx(float(value), rel=6e-3), (name, what)


@pytest.mark.parametrize("path", CONVEYORS, ids=lambda p: p.stem)
def test_a_belt_said_to_be_empty_is_told_what_it_would_need_loaded(path: Path) -> None:
    """Worked without its lines (`catching.on_clamps`): the same as the plan of the loaded belt."""
    empty, loaded = (planned(path, full).at_rest.ratings for full in (False, True))
    if empty.loaded is None:  # a belt that carries nothing
        assert load_conveyor(path).material.line_mass.high == 0
        return
    assert empty.loaded.value == pytest.approx(loaded.clamps.value, rel=1e-9)
