"""The pages of drawings: which drawing stands where, at which scale, and the hole table."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from splicewright.job import JointPlan
from splicewright.joint import End
from splicewright.plant import Travel
from splicewright.quantities import System
from splicewright.sheets.canvas.cutting import cut
from splicewright.sheets.canvas.expansion import bounds, extent, primitives
from splicewright.sheets.canvas.paper import BELT_REDUCTIONS, Paper, fit
from splicewright.sheets.canvas.placement import scaled, translated
from splicewright.sheets.canvas.scene import Group, Item, Scene
from splicewright.sheets.canvas.svg import svg
from splicewright.sheets.drawings.belt_end import (
    belt_end,
    length_text,
    pulley_cover_up,
    unit_note,
)
from splicewright.sheets.drawings.cut import corner, marking, squaring
from splicewright.sheets.drawings.joint import end_drawing, joint_drawing

MARGIN = 14.0
"""Left and right of every page of the pack [mm]."""
_STRIP_REDUCTIONS = (2.0, 2.5, 3.0, 4.0, 5.0)
_BESIDE_STRIPS = 86.0
"""Height of the page that heading, words and margins take beside the strips [mm]."""
_OVERLAP = 12.0
"""What neighbouring strips of an end drawing show twice [mm of paper]."""


@dataclass(frozen=True, slots=True)
class Drawings:
    """SVG texts by name, and for each what the page says of it."""

    files: dict[str, str]
    captions: dict[str, dict[str, Any]]

    def add(
        self,
        name: str,
        scene: Scene,
        width: float,
        height: float,
        reductions: tuple[float, ...] = BELT_REDUCTIONS,
    ) -> None:
        """Fit a true-size scene into a box of the page."""
        done = fit(scene, width, height, reductions)
        _, low, _, high = done.box
        tall = high - low + 1.0
        self._put(name, translated(done.scene, 0.0, 0.5 - low), width, tall, done.scale)

    def paste(self, name: str, scene: Scene, width: float) -> None:
        """Put a scene that is drawn in millimetres of paper in the middle of the page width."""
        left, low, right, high = bounds(scene)
        moved = translated(scene, (width - left - right) / 2, 0.5 - low)
        self._put(name, moved, width, high - low + 1.0, "")

    def _put(self, name: str, scene: Scene, width: float, height: float, scale: str) -> None:
        self.files[name] = svg(scene, box=(0.0, 0.0, width, height))
        self.captions[name] = {
            "file": f"{name}.svg",
            "title": scene.title,
            "note": scene.description,
            "alt": f"{scene.title}. {scene.description}",
            "width": width,
            "height": height,
            "scale": scale,
        }


def side_notes(plan: JointPlan) -> list[str]:
    """How left and right, leading and trailing are meant: said on every drawing page."""
    notes = [
        "Seen on the carry cover, travel up the sheet: left is left of somebody who faces the "
        "travel with the carry cover up. With the pulley cover up, left and right change sides.",
    ]
    if pulley_cover_up(plan):
        notes = [
            "Seen on the pulley cover, which lies up at the place of work, travel up the sheet. "
            "LEFT is the belt's left, facing the travel with its carry cover up: here it lies on "
            "your right. Chalk LEFT, RIGHT and the travel on both covers before an end is turned "
            "over; then lay LEFT of the drawing on LEFT of the belt.",
        ]
    if plan.work.travel is Travel.REVERSING:
        notes.append(
            "The belt runs both ways: leading and trailing are named by the first direction of "
            "the conveyor file. Chalk it on the belt."
        )
    elif plan.work.travel is Travel.UNKNOWN:
        notes.append(
            "The direction of travel is not known: find it out, or name one end leading and chalk "
            "it on the belt."
        )
    return notes


def draw_marking(
    plan: JointPlan, system: System, paper: Paper, drawings: Drawings
) -> dict[str, Any]:
    """Marking and cutting, on a page that lies across."""
    wide = paper.height - 2 * MARGIN
    drawings.add("marking", marking(plan, system), wide, 80.0)
    drawings.paste("squaring", squaring(system), 0.47 * wide)
    room = (0.25 * wide, 62.0)
    corners = [corner(plan, which, system) for which in (End.LEADING, End.TRAILING)]
    # Both at one scale, so that they can be compared.
    least = max(fit(scene, *room, BELT_REDUCTIONS).reduction for scene in corners)
    for scene, name in zip(corners, ("corner-leading", "corner-trailing"), strict=True):
        drawings.add(name, scene, *room, (least,))
    layout = belt_end(plan, End.LEADING).layout
    return {
        "curved": layout.curve_depth.value > 0,
        "depth": length_text(layout.curve_depth.value, system),
        "remarks": [s.say(system) for s in layout.remarks],
        "unit": unit_note(system),
    }


def draw_joint(plan: JointPlan, system: System, paper: Paper, drawings: Drawings) -> dict[str, Any]:
    """The finished joint and both ends, an end in strips that can be read at the belt."""
    wide = paper.height - 2 * MARGIN
    tall = paper.width - _BESIDE_STRIPS
    drawings.add("joint", joint_drawing(plan, system), paper.width - 2 * MARGIN, 90.0)
    ends = []
    for which, name in ((End.LEADING, "plates-leading"), (End.TRAILING, "plates-trailing")):
        strips, scale = end_strips(end_drawing(plan, which, system), plan, wide, tall)
        names = []
        for number, strip in enumerate(strips, 1):
            drawings.paste(f"{name}-{number}", strip, wide)
            names.append(f"{name}-{number}")
        one = belt_end(plan, which)
        ends.append(
            {
                "title": which.value,
                "strips": names,
                "scale": scale,
                "rows": ", ".join(length_text(r.from_cut, system) for r in one.size.rows),
                "pitch": length_text(one.layout.pitch.value, system),
                "hole": length_text(one.layout.hole.value, system),
                "count": str(len(one.end.holes)),
                "table": _table(plan, which, system),
            }
        )
    below = pulley_cover_up(plan)
    return {
        "ends": ends,
        "unit": unit_note(system),
        "cover": f"{'pulley' if below else 'carry'} cover up",
        "edges": ["RIGHT", "LEFT"] if below else ["LEFT", "RIGHT"],
    }


def end_strips(scene: Scene, plan: JointPlan, wide: float, tall: float) -> tuple[list[Scene], str]:
    """Cut an end drawing into as few strips across the belt as can be read, left to right.

    Parameters
    ----------
    wide, tall : room on paper for two strips one over the other [mm]
    """
    assert plan.layout is not None  # end_drawing has refused a plan without one
    across = 1000.0 * plan.layout.width.value
    count = max(1, math.ceil(across / (_STRIP_REDUCTIONS[1] * 0.9 * wide)))
    room = wide - 26.0
    bare = Scene(tuple(i for i in scene.items if not _is_lettering(i)))
    for reduction in _STRIP_REDUCTIONS:
        if across / reduction / count + _OVERLAP > room and reduction != _STRIP_REDUCTIONS[-1]:
            continue
        smaller = scaled(bare, 1.0 / reduction)
        parts = [(layer, part, extent(part)) for layer, part in primitives(smaller)]
        low, high = min(box[1] for *_, box in parts), max(box[3] for *_, box in parts)
        if 2 * (high - low) <= tall:
            break
    step = across / reduction / count
    half = across / reduction / 2
    outer = 22.0  # what stands beside the belt: the rows' dimensions
    strips = []
    for number in range(count):
        left = -half + number * step - (_OVERLAP / 2 if number else outer)
        right = -half + (number + 1) * step + (_OVERLAP / 2 if number < count - 1 else outer)
        box = (left, low - 1.0, right, high + 1.0)
        groups = tuple(
            Group(layer, (piece,))
            for layer, part, at in parts
            if at[2] >= left and at[0] <= right
            for piece in cut(part, box)
        )
        where = {1: "whole width"}.get(count, f"part {number + 1} of {count}")
        strips.append(Scene(groups, f"{scene.title}, {where}", scene.description))
    return strips, f"1:{reduction:g}"


def _is_lettering(item: Item) -> bool:
    """Names of end and sides: a strip has them in its caption, where they take no room."""
    return isinstance(item, Group) and item.layer == "labels"


def _table(plan: JointPlan, which: End, system: System) -> list[list[str]]:
    """One row for each plate: its number, then for each row its distance and its holes."""
    one = belt_end(plan, which)
    rows = []
    for plate in one.end.plates:
        cells = [str(plate.number)]
        for row in range(1, len(one.size.rows) + 1):
            holes = [h for h in one.end.holes if h.plate == plate.number and h.row == row]
            cells.append(length_text(holes[0].x - one.square, system))
            cells.append("   ".join(_side(h.y, system) for h in holes))
        rows.append(cells)
    return rows


def _side(y: float, system: System) -> str:
    text = length_text(abs(y), system)
    if text == "0":
        return "0"
    return f"{text} {'L' if y > 0 else 'R'}"
