"""The diagram of plate loads and the marking card, read back as shapes and letters."""

from __future__ import annotations

import pytest

from sheets.crew_pack.test_pack import pages
from sheets.plans import COMPLETE, example, solid, without_range
from splicewright.errors import OutputError
from splicewright.job import loads_of
from splicewright.plant import Side
from splicewright.quantities import System
from splicewright.sheets.canvas.expansion import bounds, extent, primitives
from splicewright.sheets.canvas.paper import A4, LETTER
from splicewright.sheets.canvas.scene import Polyline, RunningDimension, Scene, Text, leaves
from splicewright.sheets.crew_pack.card import card
from splicewright.sheets.crew_pack.loads import plate_loads
from splicewright.sheets.drawings.loads import loads_diagram
from splicewright.sheets.pages.drawings import MARGIN


def words(scene: Scene) -> list[str]:
    return [p.text for _, p in primitives(scene) if isinstance(p, Text)]


@pytest.mark.parametrize("system", ["metric", "inch"])
@pytest.mark.parametrize("name", COMPLETE)
def test_bars_stand_over_their_plates_as_high_as_the_loads(name: str, system: System) -> None:
    told = example(name)
    loads = loads_of(told)
    scene = loads_diagram(told, loads, system)
    boxes = [p for _, p in leaves(scene) if isinstance(p, Polyline) and p.closed]
    bars = [p for p in boxes if min(y for _, y in p.points) == 0.0 and p.fill != 1.0]
    assert told.layout is not None and len(bars) == told.layout.count
    tall = [max(y for _, y in bar.points) for bar in bars]
    for height, load in zip(tall, loads.worst.loads, strict=True):
        assert height / tall[0] == pytest.approx(load / loads.worst.loads[0])
    middles = [sum(x for x, _ in bar.points) / 4 for bar in bars]
    assert middles == sorted(middles)
    said = words(scene)
    assert loads.rating.show(system) in said
    assert said.index("LEFT") < said.index("RIGHT")
    # Every plate of both ends has its box under the bars.
    assert sum(1 for p in boxes if p.fill == 1.0) == 2 * told.layout.count
    left, _, right, _ = bounds(scene)
    assert right - left < 182


def test_the_page_says_what_the_loads_say() -> None:
    told = example("incline")
    loads = loads_of(told)
    page = plate_loads(loads, "inch")
    assert page["numbers"][1][1] == loads.load.typical.show("inch")
    assert len(page["places"]) + page["others"] == len(loads.places)
    assert loads.worst.place.name in [p["name"] for p in page["places"]]
    assert next(row["smallest"] for row in page["limits"]) == (
        loads.limits.out_of_square.smallest.show("inch")
    )
    assert [row["name"] for row in page["curve"]] == ["straight", "as planned", "best"]


@pytest.mark.parametrize("name", COMPLETE)
def test_card_measures_every_hole_from_the_centreline(name: str) -> None:
    told = example(name)
    layout = told.layout
    assert layout is not None
    chains = [i for _, i in leaves(card(told)) if isinstance(i, RunningDimension)]
    wanted = [
        sorted({round(1000 * h.y, 6) for h in end.holes if h.row == row and abs(h.y) > 1e-6})
        for end in layout.ends
        for row in sorted({h.row for h in end.holes})
    ]
    run = next(r for r in told.conveyor.runs() if r.name == told.work.run)
    left = 1 if run.side is Side.RETURN else -1
    assert len(chains) == len(wanted)
    for chain, ys in zip(chains, wanted, strict=True):
        # Left of the travel is left on the sheet; on the return side, pulley cover up, right.
        assert [left * m for m in chain.measures] == pytest.approx(ys, abs=1e-6)
        for label, y in zip(chain.labels, ys, strict=True):
            # To a tenth of a millimetre, from 100 mm on as a tape reads.
            assert abs(float(label) - abs(y)) < (0.501 if abs(y) >= 100 else 0.051)


def test_card_writes_the_parabola_of_the_cut() -> None:
    """d (1 - (2 y/B)^2) behind the square line, docs/anatomy.md."""
    told = example("incline")
    assert told.layout is not None
    said = " ".join(words(card(told))).partition("left and right alike: ")[2]
    pairs = [tuple(map(float, p.split(" / "))) for p in said.split(" · ")]
    depth, width = 1e3 * told.layout.curve_depth.value, 1e3 * told.layout.width.value
    assert len(pairs) > 4
    for y, behind in pairs:
        assert behind == pytest.approx(depth * (1 - (2 * y / width) ** 2), abs=0.06)
    assert "Cut: straight on the square line." in words(card(example("shuttle")))


@pytest.mark.parametrize("system", ["metric", "inch"])
def test_card_is_one_lying_page_with_both_ends_and_sides(system: System) -> None:
    for name in (*COMPLETE, "solid"):
        told = solid() if name == "solid" else example(name)
        [text] = [page for page in pages(name, system) if "Marking card, pulley cover up" in page]
        assert told.limits is not None
        for word in (told.id, told.limits.arcs.show(system), told.limits.diagonals.show(system)):
            assert word in text, word
        # Letters of a drawing are outlines in the PDF: they are read in the scene.
        drawn = words(card(told, system))
        assert {"LEFT", "RIGHT", "row 1"} <= set(drawn)
        for end in ("LEADING END", "TRAILING END"):
            assert any(word.startswith(end) for word in drawn)


@pytest.mark.parametrize("wide", [paper.height - 2 * MARGIN for paper in (A4, LETTER)])
@pytest.mark.parametrize("system", ["metric", "inch"])
def test_no_two_numbers_of_the_card_touch_and_all_are_on_it(system: System, wide: float) -> None:
    """Fractions of an inch are long: those of one end once ran into those of the other."""
    for name in (*COMPLETE, "solid"):
        scene = card(solid() if name == "solid" else example(name), system, wide)
        boxes = [extent(part) for _, part in primitives(scene) if isinstance(part, Text)]
        for n, (left, low, right, high) in enumerate(boxes):
            for other in boxes[n + 1 :]:
                apart = max(left - other[2], other[0] - right, low - other[3], other[1] - high)
                # Digits and capitals need no room below the line, which every letter is given.
                assert apart > -0.3, (name, boxes[n], other)
        left, _, right, _ = bounds(scene)
        assert right - left <= wide


def test_card_of_a_plan_without_a_joint_is_refused() -> None:
    with pytest.raises(OutputError, match="no fastener was chosen"):
        card(without_range())
