"""The punch template of one end at 1:1, for DXF and for sheets of paper stuck together."""

from __future__ import annotations

from splicewright.job import JointPlan
from splicewright.joint import End
from splicewright.quantities import System
from splicewright.sheets.canvas.paper import Paper, Tile, tiles
from splicewright.sheets.canvas.scene import (
    Group,
    Item,
    Marker,
    Scene,
    Text,
    inch_check_bar,
    metric_check_bar,
)
from splicewright.sheets.drawings.belt_end import (
    MM,
    BeltEnd,
    belt_end,
    belt_outline,
    centre_line,
    holes,
    numbers,
    plates,
    square_line,
    travel_arrow,
)

_BEHIND, _AHEAD = 0.05, 0.03
"""How much belt is drawn behind the plates, and how much waste before the cut [m]."""
_EVERY = 0.25
"""Across the belt the lettering is repeated about as often as this [m]."""


def template(plan: JointPlan, which: End, system: System = "metric") -> Scene:
    """The punch template of one end: cut line, holes with centre crosses, notches, edges.

    Parameters
    ----------
    plan : with a layout

    Returns
    -------
    Scene [mm], 1:1, to be laid on the carry cover; holes on the layer "holes", their centres on
    "hole centres"

    Raises
    ------
    OutputError
        The plan holds no layout.
    """
    one = belt_end(plan, which)
    depth = one.farthest() + _BEHIND
    crosses = tuple(
        Marker(one.at(h.x, h.y), "cross", 0.6 * MM * one.layout.hole.value) for h in one.end.holes
    )
    return Scene(
        (
            belt_outline(one, depth),
            square_line(one, 0.006),
            plates(one, filled=False, loops=False),
            holes(one),
            Group("hole centres", crosses),
            centre_line(one, _AHEAD, depth),
            numbers(one, 0.006, 3.2),
            Group("registration", tuple(_registration(one, depth))),
            Group("lettering", tuple(_lettering(plan, one, system))),
            Group("check bars", tuple(_bars(one))),
        ),
        f"Punch template, {which.value}, carry cover up, plan {plan.id}",
        "1:1. Lay it on the carry cover with the arrow in the direction of travel.",
    )


def template_tiles(scene: Scene, paper: Paper) -> tuple[Paper, tuple[Tile, ...]]:
    """Lay a template over sheets, the paper turned whichever way takes fewer of them."""
    ways = [(way, tiles(scene, way)) for way in (paper, paper.turned())]
    return min(ways, key=lambda way: len(way[1]))


def _registration(one: BeltEnd, depth: float) -> list[Item]:
    return [
        Marker(one.at(x, side * (one.half - 0.006)), "registration", 8.0)
        for x in (one.square - 0.018, depth - 0.012)
        for side in (1.0, -1.0)
    ]


def _lettering(plan: JointPlan, one: BeltEnd, system: System) -> list[Item]:
    """Short lines, said again and again across the belt, so that every sheet has them whole."""
    layout = one.layout
    words = (
        one.which.value.upper(),
        "CARRY COVER UP",
        f"plan {plan.id}",
        f"pitch {layout.pitch.show(system)}",
        f"{len(one.end.holes)} holes ⌀ {layout.hole.show(system)}",
    )
    # The first line stands highest on the sheet, whichever way the belt lies.
    lines = [one.farthest() + 0.014 + 0.0065 * n for n in range(len(words))]
    lines = lines if one.forward < 0 else lines[::-1]
    columns = max(2, round(2 * one.half / _EVERY))
    items: list[Item] = []
    for number in range(columns):
        y = one.half * (1 - (2 * number + 1) / columns)
        for x, text in zip(lines, words, strict=True):
            bold = text == words[0]
            items.append(Text(one.at(x, y), text, 3.6, "middle", "middle", bold=bold))
        foot = one.at(lines[-1], y - 0.032)
        items.append(travel_arrow(foot, 22.0, "TRAVEL", 2.8))
    middle = lines[2]
    left, right = one.at(middle, one.half - 0.008), one.at(middle, -one.half + 0.008)
    return [
        *items,
        Text(left, "LEFT", 5.0, "start", "middle", bold=True),
        Text(right, "RIGHT", 5.0, "end", "middle", bold=True),
        Text(one.at(one.square - 0.012, 0.25 * one.half), "waste", 3.2, "middle", "middle"),
    ]


def _bars(one: BeltEnd) -> list[Item]:
    """Both bars before the cut, one over the other, so that the same sheet shows both."""
    y = one.half - 0.03
    upper, lower = (one.at(one.square - away, y) for away in (0.013, 0.026))
    return [metric_check_bar(upper), inch_check_bar(lower)]
