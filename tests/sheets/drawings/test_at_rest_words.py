"""What the crew reads of the belt at rest, against the model's numbers, read back from the PDF.

The stage and single-failure tables are put together here anew from the model's figures; text is
read with pypdfium2. Where a clamp stands in the side view is told by the lie of the conveyor
itself: uphill is the higher bar, head side the bar nearer to the head pulley.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from sheets.crew_pack.test_pack import page_of, pages, plain
from sheets.plans import COMPLETE, SITE, example
from splicewright.job import JointPlan, plan
from splicewright.plant import Role, load_conveyor, load_work
from splicewright.quantities import System, show
from splicewright.sheets.canvas.expansion import primitives
from splicewright.sheets.canvas.scene import Line, Scene, Text, leaves
from splicewright.sheets.drawings.at_rest import clamp_drawing
from splicewright.sheets.drawings.loop import laid
from splicewright.tension.at_rest import Force

SYSTEMS: tuple[System, ...] = ("metric", "inch")


def cell(force: Force | None, system: System) -> str:
    """Least and most; the most alone where the least is nothing; nothing where it is not there."""
    if force is None:
        return ""
    least, most = force.least, force.largest
    if most.value == 0:
        return "slack"
    if least.value == 0 or least.show(system) == most.show(system):
        return most.show(system)
    return f"{show(least.value, least.kind, system, unit=False)} to {most.show(system)}"


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", COMPLETE)
def test_every_stage_stands_in_its_order_with_the_models_forces(name: str, system: System) -> None:
    told = example(name)
    text = " ".join(pages(name, system, which="dossier")[:2])
    behind, ahead = told.at_rest.bounds.sides
    assert f"belt at the place clamp {behind.name} clamp {ahead.name} hoists" in text
    keys = ("belt", "clamp_behind", "clamp_ahead", "hoists")
    rows = [
        plain(" ".join([str(n), stage.name, *(cell(stage.force(k), system) for k in keys)]))
        for n, stage in enumerate(told.at_rest.stages, 1)
    ]
    at = [text.find(row) for row in rows]
    assert -1 not in at, rows[at.index(-1)]
    assert at == sorted(at)


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", COMPLETE)
def test_every_single_failure_stands_with_what_the_others_carry(name: str, system: System) -> None:
    told = example(name)
    text = page_of(name, "Isolation", system).split("If this lets go", 1)[1]
    for row in told.at_rest.lets_go:
        text = text[text.index(row.name.split(",", maxsplit=1)[0]) :]
        assert plain(row.says.say(system)) in text
        here = text[: text.index(plain(row.says.say(system)))]
        assert plain(row.when) in here
        for other in row.others:
            assert f"{other.name} {other.force.show(system)}" in here
        for figure in (row.travel, row.speed, row.energy):
            assert figure.show(system) in here


@pytest.mark.parametrize("name", COMPLETE)
def test_movements_and_what_stays_in_the_belt(name: str) -> None:
    text, moved = page_of(name, "Isolation"), example(name).at_rest.movement
    for said in moved.says:
        assert plain(said.say()) in text
    for figure in (moved.take_up, moved.there, moved.lift, moved.hoists):
        assert figure.show() in text
    assert f"enough {'yes' if moved.enough else 'NO'}" in text or "enough take-up" in text
    stays = f"take-up released: up to {moved.remains.show()} may stay in the belt here"
    drawn = primitives(clamp_drawing(example(name)))
    assert stays in [p.text for _, p in drawn if isinstance(p, Text)]


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", ["flat", "shuttle"])
def test_what_nobody_knows_stands_on_page_one_and_on_the_isolation_sheet(
    name: str, system: System
) -> None:
    told = example(name)
    assert told.conveyor.take_up.force is None and told.conveyor.take_up.mass is None
    assert "take_up.force" in {doubt.key for doubt in told.at_rest.doubts}
    first, isolation = pages(name, system)[0], page_of(name, "Isolation", system)
    for text in (first, isolation):
        box = text.split("SETTLE BEFORE WORK", 1)[1]
        for doubt in told.at_rest.doubts:
            assert plain(f"? {doubt.ask.say(system)}") in box
    # Once in the answer: as a question, not among the warnings too. The isolation sheet below it,
    # which may begin on the same page, asks again.
    answer = first.partition("Work down the list")[0]
    assert answer.count(plain(told.at_rest.doubts[0].ask.say(system))) == 1


def test_a_plan_without_doubts_has_no_empty_box() -> None:
    assert example("incline").at_rest.doubts == ()
    assert "SETTLE" not in " ".join(pages("incline"))


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", COMPLETE)
def test_a_rating_is_the_factor_times_the_force_named_beside_it(name: str, system: System) -> None:
    told = example(name)
    text = page_of(name, "Isolation", system)
    factor = told.work.clamp_factor
    rated = told.at_rest.ratings
    for rating in (rated.clamps, rated.hoists, rated.tackle):
        if rating is not None:
            force = show(rating.value / factor.value, rating.kind, system)
            assert (
                plain(f"{rating.show(system)} or more; {factor.show(system)} times {force}") in text
            )


# The lie of the invented conveyors: one climbs, the others are level.
PLACES = (
    ("incline", "incline-worn-joint", "incline"),
    ("incline", "incline-worn-joint", "long return"),
    ("flat", "flat-torn-belt", "carry run"),
    ("flat", "flat-torn-belt", "return run"),
)


def placed(conveyor: str, job: str, run: str) -> JointPlan:
    found = load_conveyor(SITE / "conveyors" / f"{conveyor}.toml")
    work = load_work(SITE / "jobs" / f"{job}.toml", found)
    length = next(r for r in found.runs() if r.name == run).length.value
    return plan(found, replace(work, run=run, distance=work.distance.at(length / 2)))


def bars(scene: Scene) -> list[tuple[float, float]]:
    """Middles of the clamp bars in the side view, from left to right."""
    found = [
        ((i.start[0] + i.end[0]) / 2, (i.start[1] + i.end[1]) / 2)
        for layer, i in leaves(scene)
        if layer == "loop" and isinstance(i, Line) and i.pen.name == "clamp"
    ]
    assert len(found) == 2
    return sorted(found)


@pytest.mark.parametrize(("conveyor", "job", "run"), PLACES)
def test_left_and_right_agree_in_both_pictures(conveyor: str, job: str, run: str) -> None:
    told = placed(conveyor, job, run)
    scene = clamp_drawing(told)
    left, right = bars(scene)
    words = [
        (i.at[0], i.text)
        for layer, i in leaves(scene)
        if layer == "place" and isinstance(i, Text) and i.text.startswith("restraining clamp")
    ]
    on_left, on_right = (text.removeprefix("restraining clamp ") for _, text in sorted(words))
    if conveyor == "incline":
        assert {on_left, on_right} == {"uphill", "downhill"}
        assert on_left == ("uphill" if left[1] > right[1] else "downhill")
        return
    assert {on_left, on_right} == {"head side", "tail side"}
    _, wheels, _ = laid(told.conveyor)
    head = next(w.centre[0] for w in wheels if w.pulley.role is Role.HEAD)
    near_left = abs(left[0] - head) < abs(right[0] - head)
    assert on_left == ("head side" if near_left else "tail side")


@pytest.mark.parametrize(("conveyor", "job", "run"), PLACES)
def test_the_travel_points_the_same_way_in_both_pictures(conveyor: str, job: str, run: str) -> None:
    """The clamp behind stands on the side the belt comes from."""
    told = placed(conveyor, job, run)
    stretch = next(s for s in laid(told.conveyor)[0] if s.run.name == run)
    to_left = stretch.end[0] < stretch.start[0]
    behind = next(p for p in told.clamps.places if p.restraining and p.behind)
    texts = {i.text: i.at[0] for _, i in leaves(clamp_drawing(told)) if isinstance(i, Text)}
    ahead = next(p for p in told.clamps.places if p.restraining and not p.behind)
    assert (texts[behind.name] > texts[ahead.name]) == to_left
