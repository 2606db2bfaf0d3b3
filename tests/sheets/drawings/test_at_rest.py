"""The clamps at standstill against the plan's own distances and forces."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from planned import SITE, planned
from sheets.plans import COMPLETE, example, without_range
from splicewright.quantities import Kind, System, show
from splicewright.sheets.canvas.expansion import bounds, primitives, text_width
from splicewright.sheets.canvas.scene import Dimension, Polyline, Scene, Text, leaves
from splicewright.sheets.drawings.at_rest import clamp_drawing


def words(scene: Scene) -> list[str]:
    return [p.text for _, p in primitives(scene) if isinstance(p, Text)]


def blocks(scene: Scene, fill: float) -> list[float]:
    """Middles of the clamp bars over and under the belt, along it."""
    found = [
        sum(x for x, _ in i.points) / 4
        for layer, i in leaves(scene)
        if layer == "place" and isinstance(i, Polyline) and i.closed and len(i.points) == 4
        and i.fill == fill
    ]  # fmt: skip
    return sorted({round(x, 6) for x in found})


def spans(scene: Scene) -> list[tuple[float, float, float, str]]:
    """Each level text: its baseline, left, right [mm], words.

    A mask is as wide as the drawing reckons, the words themselves are a little less.
    """
    found = []
    for _, item in primitives(scene):
        if isinstance(item, Text) and not item.rotation:
            wide = text_width(item.text, item.size) * (1.0 if item.masked else 0.88)
            left = item.at[0] - wide * {"start": 0.0, "middle": 0.5, "end": 1.0}[item.anchor]
            found.append((round(item.at[1], 1), left, left + wide, item.text))
    return sorted(found)


@pytest.mark.parametrize("system", ["metric", "inch"])
@pytest.mark.parametrize("job", sorted(path.stem for path in (SITE / "jobs").glob("*.toml")))
def test_no_two_texts_in_a_line_run_together(job: str, system: System) -> None:
    """Reproduced: "1.15 m 1.15 m" where pulling clamps stand near; in inches the words of one clamp
    cut short by the mask of the other's."""
    lines = spans(clamp_drawing(planned(job.partition("-")[0], job), system))
    for (y, _, end, one), (level, start, _, other) in pairwise(lines):
        assert y != level or start - end > 1.0, (one, other)


@pytest.mark.parametrize("name", COMPLETE)
def test_clamps_stand_to_scale(name: str) -> None:
    plan = example(name)
    scene = clamp_drawing(plan)
    restraining, pulling = blocks(scene, 0.0), blocks(scene, 1.0)
    assert len(restraining) == len(pulling) == 2
    along = [p.station.value for p in plan.clamps.places]
    drawn = [restraining[0], *pulling, restraining[1]]
    # All three jobs are on a return run, drawn as it lies: the belt travels to the left.
    drawn.reverse()
    scale = (drawn[3] - drawn[0]) / (along[3] - along[0])
    for x, s in zip(drawn, along, strict=True):
        assert x - drawn[0] == pytest.approx(scale * (s - along[0]), abs=1e-4)


@pytest.mark.parametrize("system", ["metric", "inch"])
@pytest.mark.parametrize("name", COMPLETE)
def test_forces_ratings_and_distances_are_lettered(name: str, system: System) -> None:
    plan = example(name)
    scene = clamp_drawing(plan, system)
    told = words(scene)
    for place in plan.clamps.places:
        if place.restraining:
            assert place.name in told
            assert f"carries up to {place.force.show(system)}" in told
            most = max(
                o.force.value for row in plan.at_rest.lets_go for o in row.others
                if o.name == place.name
            )  # fmt: skip
            assert f"up to {show(most, Kind.FORCE, system)} if one thing lets go" in told
            assert f"rated {place.rating.show(system)} or more" in told
            assert place.goes_on(system) in told
    texts = [i.text for _, i in leaves(scene) if isinstance(i, Dimension)]
    clamps = plan.clamps
    near = clamps.pulling.show(system)  # said once where two would run together
    pulling = [f"2 × {near}"] if f"2 × {near}" in texts else [near] * 2
    assert sorted(t for t in texts if t) == sorted(
        pulling + [clamps.restraining.show(system)] * 2 + [clamps.free.show(system)]
    )
    assert "drive locked out: not trusted to hold" in told


def test_the_drawing_fits_a_page_and_lettering_is_apart() -> None:
    for plan in (*(example(n) for n in COMPLETE), without_range()):
        left, low, right, high = bounds(clamp_drawing(plan, "inch"))
        assert right - left <= 182 and high - low <= 160
        ends = [
            p for _, p in primitives(clamp_drawing(plan, "inch"))
            if isinstance(p, Text) and p.text in [c.goes_on("inch") for c in plan.clamps.places]
        ]  # fmt: skip
        assert len(ends) == 2


def test_what_is_secured_and_what_pulls() -> None:
    gravity, screw = words(clamp_drawing(example("incline"))), words(clamp_drawing(example("flat")))
    assert "weight lifted, hung, blocked" in gravity
    assert "take-up slacked" in screw
    # That job's belt is empty; a plan without work file is taken as loaded.
    assert not any(w.startswith("load pulls") for w in gravity)
    assert math.isclose(example("incline").at_rest.run_back.most.value, 0.0)
