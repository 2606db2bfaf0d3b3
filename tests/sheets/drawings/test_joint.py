"""Plate and hole drawings read back from SVG against the plan's layout.

Axes and sides are those of docs/anatomy.md: y is positive to the left when facing the travel.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest

from sheets.plans import COMPLETE, example, packed, solid, wanted_holes, without_fastener
from splicewright.errors import OutputError
from splicewright.job import JointPlan
from splicewright.joint import End
from splicewright.plant import Side
from splicewright.quantities import Kind, System, show
from splicewright.sheets.canvas.expansion import primitives
from splicewright.sheets.canvas.scene import Circle, Dimension, Scene, Text, leaves
from splicewright.sheets.crew_pack.card import card
from splicewright.sheets.drawings.belt_end import belt_end, numbers
from splicewright.sheets.drawings.cut import marking
from splicewright.sheets.drawings.joint import end_drawing, joint_drawing
from splicewright.sheets.drawings.template import template

NS = {"s": "http://www.w3.org/2000/svg"}
ENDS = {"leading": End.LEADING, "trailing": End.TRAILING}


def circles(svg: bytes, layer: str = "holes") -> list[tuple[float, float]]:
    """Centres of a layer's circles at true size [mm, y up], by the scale in the title."""
    root = ET.fromstring(svg)
    scale = re.search(r", 1:([\d.]+)$", root.findtext("s:title", "", NS))
    assert scale is not None
    factor = float(scale[1])
    return [
        (float(c.attrib["cx"]) * factor, -float(c.attrib["cy"]) * factor)
        for c in root.iterfind(f".//s:g[@data-layer='{layer}']/s:circle", NS)
    ]


def texts(scene: Scene) -> list[Text]:
    return [part for _, part in primitives(scene) if isinstance(part, Text)]


def dimensions(scene: Scene) -> list[Dimension]:
    return [item for _, item in leaves(scene) if isinstance(item, Dimension)]


@pytest.mark.parametrize("name", COMPLETE)
@pytest.mark.parametrize("which", ENDS)
def test_holes_in_svg_stand_where_the_plan_has_them(name: str, which: str) -> None:
    files = packed(name)
    wanted = wanted_holes(example(name), which, on_paper=True)
    shift = _shift(circles(files[f"plates-{which}.svg"]), wanted)
    assert shift < 0.05


def _shift(found: list[tuple[float, float]], wanted: list[tuple[float, float]]) -> float:
    """Largest distance between two sets of holes, once the drawing's own shift is taken out.

    A drawing is moved to the middle of its sheet as a whole; mirror images do not agree by it.
    """
    assert len(found) == len(wanted)
    dx = found[0][0] - wanted[0][0]
    dy = found[0][1] - wanted[0][1]
    return max(
        max(abs(f[0] - w[0] - dx), abs(f[1] - w[1] - dy))
        for f, w in zip(found, wanted, strict=True)
    )


@pytest.mark.parametrize("which", ENDS)
def test_holes_in_the_scene_stand_on_their_axes(which: str) -> None:
    scene = end_drawing(example("incline"), ENDS[which])
    found = [
        item.centre
        for layer, item in leaves(scene)
        if layer == "holes" and isinstance(item, Circle)
    ]
    wanted = wanted_holes(example("incline"), which, on_paper=True)
    for got, want in zip(found, wanted, strict=True):
        assert got == pytest.approx(want, abs=1e-6)


def test_sides_are_not_mirrored() -> None:
    """The leading end's plates are shifted half the mesh offset to the left (docs/anatomy.md)."""
    told = on_the_carry_side()
    assert told.layout is not None
    leading = wanted_holes(told, "leading", on_paper=True)
    trailing = wanted_holes(told, "trailing", on_paper=True)
    mesh = told.layout.mesh_offset.value * 1000.0
    assert min(x for x, _ in leading) == pytest.approx(min(x for x, _ in trailing) - mesh)
    drawn = {t.text: t.at[0] for t in texts(joint_drawing(told)) if t.text in {"LEFT", "RIGHT"}}
    assert drawn["LEFT"] < -1000.0 * told.layout.width.value / 2
    assert drawn["RIGHT"] > 1000.0 * told.layout.width.value / 2
    first = next(item for layer, item in leaves(end_drawing(told, End.LEADING)) if layer == "holes")
    assert isinstance(first, Circle)
    # Plate 1 is the first from the left and its first hole is left of its middle, so on the sheet
    # it lies at the far left: minus half the belt, plus set-back, plus half a plate, less 11 mm.
    size = told.choice.candidates[0].size
    left = 1000.0 * (
        -told.layout.width.value / 2
        + told.layout.leading.setback_left
        + size.plate_width / 2
        + size.rows[0].across[0]
    )
    assert first.centre[0] == pytest.approx(left, abs=1e-6)


def on_the_carry_side() -> JointPlan:
    """The incline's plan as if its place of work lay on a carry run."""
    told = example("incline")
    run = next(r.name for r in told.conveyor.runs() if r.side is Side.CARRY)
    return replace(told, work=replace(told.work, run=run))


@pytest.mark.parametrize("draw", [marking, joint_drawing, card])
def test_on_the_return_side_the_other_face_lies_up(
    draw: Callable[[JointPlan], Scene],
) -> None:
    """Walked round the belt: who sees its other face finds every hole as far on the other side,
    as far along, with LEFT of the belt on the right hand; only a template keeps its face."""
    above, below = draw(on_the_carry_side()), draw(example("incline"))

    def holes(scene: Scene) -> list[tuple[float, float]]:
        return sorted(
            (round(i.centre[0], 6), round(i.centre[1], 6))
            for la, i in leaves(scene)
            if la == "holes" and isinstance(i, Circle)
        )

    assert holes(below) == sorted((-x, y) for x, y in holes(above))
    for scene, right_hand in ((above, "RIGHT"), (below, "LEFT")):
        side = {t.text: t.at[0] for t in texts(scene) if t.text in {"LEFT", "RIGHT"}}
        assert max(side, key=lambda word: side[word]) == right_hand
    assert "carry cover up" in above.title and "pulley cover up" in below.title
    said = " ".join(t.text for t in texts(below))
    assert "CARRY COVER" not in said
    templates = [template(plan, End.LEADING) for plan in (on_the_carry_side(), example("incline"))]
    assert holes(templates[0]) == holes(templates[1])


@pytest.mark.parametrize("name", COMPLETE)
def test_belt_lies_ahead_of_the_leading_end_and_behind_the_trailing_end(name: str) -> None:
    assert all(y > 0 for _, y in wanted_holes(example(name), "leading"))
    assert all(y < 0 for _, y in wanted_holes(example(name), "trailing"))
    for which, sign in ((End.LEADING, 1.0), (End.TRAILING, -1.0)):
        scene = end_drawing(example(name), which)
        drawn = [i.centre[1] for la, i in leaves(scene) if la == "holes" and isinstance(i, Circle)]
        assert all(sign * y > 0 for y in drawn)


@pytest.mark.parametrize("which", ENDS)
def test_every_hole_has_its_distance_from_the_centreline(which: str) -> None:
    told = example("incline")
    assert told.layout is not None
    end = told.layout.leading if which == "leading" else told.layout.trailing
    written = {t.text for t in texts(end_drawing(told, ENDS[which]))}
    numbers = [float(text) for text in written if text.replace(".", "", 1).isdecimal()]
    for hole in end.holes:
        # Written to a tenth of a millimetre, from 100 mm on as a tape reads.
        away = abs(1000 * hole.y)
        least = min(abs(number - away) for number in numbers)
        assert least < (0.501 if away >= 100 else 0.0501)
    inches = {t.text for t in texts(end_drawing(told, ENDS[which], "inch"))}
    for hole in end.holes:
        said = show(abs(hole.y), Kind.LENGTH, "inch", unit=False)
        # A mark is never finer than a calliper reads: 0.00984 is 0.01.
        assert (f"{float(said):.3f}".rstrip("0") if "." in said else said) in inches


@pytest.mark.parametrize("which", ENDS)
def test_setbacks_pitch_and_rows_are_drawn_true(which: str) -> None:
    told = example("incline")
    assert told.layout is not None
    end = told.layout.leading if which == "leading" else told.layout.trailing
    scene = end_drawing(told, ENDS[which])
    measures = sorted(d.measure for d in dimensions(scene))
    want = sorted(
        1000.0 * v for v in (end.setback_left, end.setback_right, told.layout.pitch.value)
    )
    assert measures == pytest.approx(want)
    rows = {round(1000 * (h.x - told.layout.cut_line.value), 1) for h in end.holes if h.plate == 1}
    written = {t.text for t in texts(scene)}
    assert {f"{row:.1f}".removesuffix(".0") for row in rows} <= written


@pytest.mark.parametrize("name", COMPLETE)
def test_which_end_which_face_and_which_side_are_written(name: str) -> None:
    for which in End:
        words = " ".join(t.text for t in texts(end_drawing(example(name), which)))
        assert which.value.upper() in words
        for word in ("PULLEY COVER UP", "TRAVEL", "LEFT", "RIGHT"):
            assert word in words


@pytest.mark.parametrize("name", [*COMPLETE, "solid"])
def test_joint_shows_both_ends_all_plates_and_the_pin(name: str) -> None:
    told = solid() if name == "solid" else example(name)
    assert told.layout is not None
    assert told.lengths is not None
    scene = joint_drawing(told)
    drawn = [i.centre for la, i in leaves(scene) if la == "holes" and isinstance(i, Circle)]
    wanted = [
        at for end in ("trailing", "leading") for at in wanted_holes(told, end, on_paper=True)
    ]
    assert len(drawn) == len(wanted)
    for got, want in zip(drawn, wanted, strict=True):
        assert got == pytest.approx(want, abs=1e-6)
    numbers = [t.text for t in texts(scene) if t.text.isdecimal() and t.size == 2.4]
    assert sorted(map(int, numbers)) == sorted([*range(1, told.layout.count + 1)] * 2)
    pins = [d.measure for d in dimensions(scene) if d.label.startswith("hinge pin")]
    if told.lengths.pin is None:
        assert pins == []
    else:
        assert pins == pytest.approx([1000.0 * told.lengths.pin.value])


def test_plates_of_one_piece_stand_on_one_grey_ground() -> None:
    told = example("incline")
    assert told.layout is not None
    scene = end_drawing(told, End.LEADING)
    grounds = [
        item
        for layer, item in leaves(scene)
        if layer == "plates" and getattr(item, "fill", None) == 0.86
    ]
    assert len(grounds) == sum(1 for members in told.layout.pieces if members > 1)


def test_plan_without_joint_is_refused() -> None:
    with pytest.raises(OutputError, match="no fastener was chosen, so there is no joint to draw"):
        end_drawing(without_fastener(), End.LEADING)


def test_crowded_plates_are_numbered_every_fifth() -> None:
    one = belt_end(example("flat"), End.LEADING)
    said = [t.text for _, t in leaves(Scene((numbers(one, 0.01, 2.4, 5),))) if isinstance(t, Text)]
    # 24 plates: the 20th is clear of the last, a 25th there is not.
    assert said == ["1", "5", "10", "15", "20", "24"]
    every = [t for _, t in leaves(Scene((numbers(one, 0.01, 2.4),))) if isinstance(t, Text)]
    assert len(every) == len(one.end.plates)


@pytest.mark.parametrize("system", ["metric", "inch"])
@pytest.mark.parametrize("name", COMPLETE)
def test_the_note_of_the_cut_keeps_clear_of_the_name_of_the_end(name: str, system: System) -> None:
    """Reproduced: in inches the mask of "cut to cut 0.787" took the L of LEADING END."""
    drawn = [i for _, i in primitives(joint_drawing(example(name), system)) if isinstance(i, Text)]
    [note] = [text for text in drawn if text.text.startswith("cut to cut")]
    for end in (text for text in drawn if text.text.endswith("ING END")):
        assert abs(note.at[1] - end.at[1]) > max(note.size, end.size)
