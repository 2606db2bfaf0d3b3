"""The marking card: one sheet that lies on the belt, every measure from the centreline."""

from __future__ import annotations

from typing import Any

from splicewright.job import JointPlan
from splicewright.joint import End
from splicewright.quantities import System
from splicewright.sheets.canvas.expansion import bounds, text_width
from splicewright.sheets.canvas.paper import BELT_REDUCTIONS, Paper
from splicewright.sheets.canvas.placement import scaled, translated
from splicewright.sheets.canvas.scene import Group, Item, RunningDimension, Scene, Text
from splicewright.sheets.drawings.belt_end import (
    BeltEnd,
    as_the_crew_sees,
    belt_end,
    belt_outline,
    centre_line,
    clear_of_zero,
    holes,
    length_text,
    plates,
    square_line,
    unit_note,
)
from splicewright.sheets.drawings.cut import cut_stations
from splicewright.sheets.pages.drawings import MARGIN, Drawings, side_notes

WIDE = 269.0
"""Room on a sheet of A4 that lies across [mm]."""
_LETTERS = 2.46
"""Height of a capital: letters of 10 pt."""
_SIDE = 11.0
"""Room beside the belt for LEFT and RIGHT [mm of paper]."""
_APART, _CLEAR = 16.0, 1.0
"""Half the room between the two ends, LEFT and RIGHT in it, at least; and what stays free on each
side of the middle, between the texts of both ends [mm of paper]."""
_CHAIN = 18.0
_LINE = 4.2


def card(plan: JointPlan, system: System = "metric", wide: float = WIDE) -> Scene:
    """Both ends with every hole in running dimensions from the centreline, and the cut.

    Row by row: the row nearest the cut on the cut's side, the others behind the plates. The
    ordinates of the cut, which both ends share and which are alike left and right, stand below.

    Parameters
    ----------
    plan : with a layout
    wide : room on paper [mm]

    Returns
    -------
    Scene in millimetres of paper; the leading end above, the trailing end below, drawn apart

    Raises
    ------
    OutputError
        The plan holds no layout.
    """
    leading, trailing = (belt_end(plan, which) for which in (End.LEADING, End.TRAILING))
    across = 2000.0 * leading.half
    scale = next(
        (r for r in BELT_REDUCTIONS if across / r <= wide - 2 * _SIDE), across / (wide - 2 * _SIDE)
    )
    items: list[Item] = []
    for one in (leading, trailing):
        end = Scene(tuple(_end(one, scale, system)))
        # Each end keeps the room that its own chain of dimensions takes: fractions are long.
        _, down, _, up = bounds(end)
        inner = max(_APART, (-down if one.forward > 0 else up) + _CLEAR)
        items += translated(end, 0.0, one.forward * inner).items
    half = across / scale / 2
    labels = [
        Text((x, 0.0), word, 4.5, "middle", "middle", 90.0, bold=True)
        for x, word in ((-half - 6.0, "LEFT"), (half + 6.0, "RIGHT"))
    ]
    low = bounds(Scene(tuple(items)))[1] - 4.5
    for number, line in enumerate(_lines(_cut_in_words(leading, system), wide)):
        labels.append(
            Text((0.0, low - number * _LINE), line, _LETTERS, "middle", "middle", bold=True)
        )
    items.append(Group("labels", tuple(labels)))
    drawn = Scene(
        tuple(items),
        "Marking card, carry cover up",
        f"Plan {plan.id}. {unit_note(system)} All measures across count from the centreline. "
        f"Belt ends 1:{scale:g}.",
    )
    return as_the_crew_sees(drawn, plan)


def _lines(text: str, wide: float) -> list[str]:
    """One line where it has room, else the pairs below what they are."""
    if text_width(text, _LETTERS) <= wide or ": " not in text:
        return [text]
    head, _, pairs = text.partition(": ")
    return [f"{head}:", pairs]


def _cut_in_words(one: BeltEnd, system: System) -> str:
    if one.layout.curve_depth.value == 0:
        return "Cut: straight on the square line."
    pairs = [
        f"{length_text(y, system)} / {length_text(x - one.square, system)}"
        for x, y in reversed(cut_stations(one))
        if y > 0
    ]
    middle = max(x for x, _ in one.end.cut_line)
    return (
        "Cut, from the centreline / behind the square line, left and right alike: "
        f"0 / {length_text(middle - one.square, system)} · " + " · ".join(pairs)
    )


def _end(one: BeltEnd, scale: float, system: System) -> list[Item]:
    behind = 5.0 * scale / 1000.0
    depth = one.farthest() + behind
    name = f"{one.which.value.upper()}, CARRY COVER UP, ↑ TRAVEL"
    body = scaled(
        Scene(
            (
                belt_outline(one, depth),
                square_line(one, 0.006),
                plates(one, filled=False, loops=False),
                holes(one),
                centre_line(one, 0.002, depth),
            )
        ),
        1.0 / scale,
    )
    where = one.at((depth - behind / 2) / scale, (one.half - 0.008) / scale)
    return [
        *body.items,
        Group("labels", (Text(where, name, 2.6, "start", "middle", bold=True),)),
        Group("dimensions", tuple(_chains(one, depth, scale, system))),
    ]


def _chains(one: BeltEnd, depth: float, scale: float, system: System) -> list[Item]:
    """One chain for each row: the first on the cut's side, the others stacked behind."""
    half = 1000.0 * one.half / scale
    items: list[Item] = []
    for row in sorted({hole.row for hole in one.end.holes}):
        across = clear_of_zero({round(h.y, 9) for h in one.end.holes if h.row == row})
        away = one.forward * (-1.0 if row == 1 else 1.0)
        foot = one.square if row == 1 else depth
        y = one.at(foot / scale, 0.0)[1] + away * (1.0 + _CHAIN * max(row - 2, 0))
        items += [
            RunningDimension(
                (0.0, y),
                tuple((-1000.0 * station / scale, y) for station in across),
                "x",
                away * 2.5,
                tuple(length_text(abs(station), system) for station in across),
                _LETTERS,
                scale=1.0 / scale,
            ),
            Text((-half - 2.0, y + away * 2.5), f"row {row}", _LETTERS, "end", "middle"),
        ]
    return items


def card_told(plan: JointPlan, system: System, paper: Paper, drawings: Drawings) -> dict[str, Any]:
    """What the card's page says; its drawing is put among `drawings`."""
    one = belt_end(plan, End.LEADING)
    wide = paper.height - 2 * MARGIN
    drawings.paste("card", card(plan, system, wide), wide)
    limits = plan.limits
    assert limits is not None  # a plan with a layout has them
    rows = sorted({(h.row, round(h.x - one.square, 6)) for h in one.end.holes if h.plate == 1})
    return {
        "unit": unit_note(system),
        "rows": [f"row {row}: {length_text(x, system)}" for row, x in rows],
        "hole": length_text(one.layout.hole.value, system),
        "count": len(one.end.holes),
        "back": limits.back.show(system),
        "arcs": limits.arcs.show(system),
        "diagonals": limits.diagonals.show(system),
        "sides": side_notes(plan),
    }
