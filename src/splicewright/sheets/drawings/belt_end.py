"""One belt end as drawing pieces at 1:1, seen on the carry cover with the travel up the sheet.

The sheet's x runs to the right of the belt and its y with the travel, both from the pin axis and
the centreline. So the leading end lies above the pin axis, the trailing end below it, and left
on the sheet is left on the belt for somebody who faces the travel with the carry cover up.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

from splicewright.errors import OutputError
from splicewright.job import JointPlan
from splicewright.joint import End, EndLayout, Layout, Size
from splicewright.plant import Side
from splicewright.quantities import Kind, System, show
from splicewright.sheets.canvas.placement import mirrored
from splicewright.sheets.canvas.scene import (
    CENTRE,
    CUT,
    HIDDEN,
    HOLE,
    OUTLINE,
    THIN,
    Circle,
    Group,
    Item,
    Line,
    Pen,
    Point,
    Polyline,
    Scene,
    Text,
    metric_text,
)

MM = 1000.0
PULLEY_UP = "PULLEY COVER UP"
_SET_GREY = 0.86
_BY_TAPE = 100.0 - 1e-6
"""From here on a tape is in hand, not a calliper [mm]."""
_LOOP_SHARE = 0.9
"""Width of a plate loop over the mesh offset, as drawn; the range has no such size."""


@dataclass(frozen=True, slots=True)
class BeltEnd:
    """One end of a plan that has a layout, with the sizes its drawing needs; lengths [m]."""

    layout: Layout
    end: EndLayout
    size: Size
    hinged: bool

    @property
    def which(self) -> End:
        """Leading or trailing."""
        return self.end.which

    @property
    def forward(self) -> float:
        """1 where the belt lies ahead of the pin axis, -1 where it lies behind."""
        return 1.0 if self.which is End.LEADING else -1.0

    @property
    def half(self) -> float:
        """Half the belt width [m]."""
        return self.layout.width.value / 2

    @property
    def square(self) -> float:
        """Where the cut line meets the belt edges: the square line, from the pin axis [m]."""
        return self.end.cut_line[0][0]

    def at(self, x: float, y: float) -> Point:
        """Sheet point [mm] of x from the pin axis and y to the left [m]."""
        return -MM * y, self.forward * MM * x

    def back(self, root: float) -> float:
        """Back of a plate whose root is at `root` [m]."""
        return root + self.size.plate_length - self.size.cut_line

    def farthest(self) -> float:
        """Farthest back of any plate or notch [m]."""
        plates = max(self.back(plate.root) for plate in self.end.plates)
        return max(plates, self.square + self.end.notch_length)


def room(one: BeltEnd) -> float:
    """How much wider than at a belt of a metre the letters beside a whole-width drawing stand
    off [-]: a wider belt is drawn smaller, its letters are not."""
    return max(1.0, 2 * one.half)


def belt_end(plan: JointPlan, which: End) -> BeltEnd:
    """Take one end out of a plan.

    Raises
    ------
    OutputError
        The plan holds no layout.
    """
    layout, fastener = plan.layout, plan.fastener
    if layout is None or fastener is None:
        message = (
            f"plan {plan.id}: no fastener was chosen, so there is no joint to draw; "
            "a plan with a fastener is accepted"
        )
        raise OutputError(message)
    end = layout.leading if which is End.LEADING else layout.trailing
    return BeltEnd(layout, end, fastener.size, fastener.construction.hinged)


def pulley_cover_up(plan: JointPlan) -> bool:
    """Whether the belt lies with its pulley cover up at the place of work: on the return side."""
    run = next(r for r in plan.conveyor.runs() if r.name == plan.work.run)
    return run.side is Side.RETURN


def as_the_crew_sees(scene: Scene, plan: JointPlan) -> Scene:
    """A drawing seen on the carry cover, turned into what lies before the crew.

    On the return side that is the pulley cover: left and right of the belt change sides on the
    sheet, and every word that names the cover says so. Elsewhere the scene as it is.
    """
    if not pulley_cover_up(plan):
        return scene
    seen = mirrored(scene)
    return replace(
        seen,
        items=tuple(_renamed(item) for item in seen.items),
        title=seen.title.replace("carry cover up", PULLEY_UP.lower()),
    )


def _renamed(item: Item) -> Item:
    if isinstance(item, Group):
        return replace(item, items=tuple(_renamed(part) for part in item.items))
    if isinstance(item, Text):
        return replace(item, text=item.text.replace("CARRY COVER UP", PULLEY_UP))
    return item


def length_text(value: float, system: System) -> str:
    """A length [m] as drawings write it, without its unit: 444 or 17-15/32."""
    if system == "inch":
        text = show(value, Kind.LENGTH, "inch", unit=False)
        # Marks are never finer than a calliper reads, a thousandth.
        return metric_text(float(text), 3) if "." in text else text
    # As `show` has it: a tenth as a calliper reads, from 100 mm on whole ones as a tape reads; but
    # never finer than a tenth, for these are marks to be made.
    length = MM * value
    return metric_text(length, 1 if abs(length) < _BY_TAPE else 0)


def unit_note(system: System) -> str:
    """Which unit the drawing's lengths have."""
    return "Lengths in inches." if system == "inch" else "Lengths in mm."


def cut_points(one: BeltEnd, depth: float) -> tuple[Point, ...]:
    """The belt end's outline from its left edge at `depth` [m] round the cut to the right edge."""
    half, width = one.half, one.end.notch_width
    line = one.end.cut_line
    if width > 0:
        inner = half - width
        corner = _cut_at(line, inner)
        run_out = one.square + one.end.notch_length
        line = (
            (run_out, half),
            (corner, inner),
            *((x, y) for x, y in line if abs(y) < inner - 1e-9),
            (corner, -inner),
            (run_out, -half),
        )
    outline = ((depth, half), *line, (depth, -half))
    return tuple(one.at(x, y) for x, y in outline)


def _cut_at(line: tuple[tuple[float, float], ...], y: float) -> float:
    """The cut line's x at `y`, on the straight between its two nearest points."""
    for (x1, y1), (x2, y2) in pairwise(line):
        if y2 <= y <= y1:
            return x1 + (y1 - y) / (y1 - y2) * (x2 - x1)
    return line[0][0]


def belt_outline(one: BeltEnd, depth: float) -> Group:
    """Edges and cut of the belt, open at `depth` [m]."""
    points = cut_points(one, depth)
    edges = (Line(points[0], points[1], OUTLINE), Line(points[-2], points[-1], OUTLINE))
    return Group("belt", (*edges, Polyline(points[1:-1], CUT)))


def centre_line(one: BeltEnd, ahead: float, depth: float) -> Group:
    """The belt's centreline from `ahead` of the pin axis to `depth` [m]."""
    return Group("centreline", (Line(one.at(-ahead, 0.0), one.at(depth, 0.0), CENTRE),))


def square_line(one: BeltEnd, over: float) -> Group:
    """The square line, `over` [m] longer than the belt is wide on both sides."""
    left, right = one.at(one.square, one.half + over), one.at(one.square, -one.half - over)
    return Group("square line", (Line(left, right, HIDDEN),))


def holes(one: BeltEnd) -> Group:
    """Every hole of the end."""
    radius = MM * one.layout.hole.value / 2
    return Group("holes", tuple(Circle(one.at(h.x, h.y), radius, HOLE) for h in one.end.holes))


def plates(one: BeltEnd, *, filled: bool = True, loops: bool = True) -> Group:
    """Every plate, with its loops if wanted; plates of one piece stand on one grey ground."""
    items: list[Item] = []
    half = one.size.plate_width / 2
    for _, members in groupby(one.end.plates, key=lambda plate: plate.piece):
        piece = tuple(members)
        ahead, back = _front(one, piece[0].root), one.back(piece[0].root)
        for plate in piece if loops else ():
            items.extend(_loops(one, plate.y, plate.root))
        left, right = piece[0].y + half, piece[-1].y - half
        many = len(piece) > 1
        grey = (_SET_GREY if many else 1.0) if filled else None
        items.append(_box(one, ahead, back, left, right, OUTLINE if many else THIN, grey))
        if many:
            items += [
                _box(one, ahead, back, plate.y + half, plate.y - half, THIN, None)
                for plate in piece
            ]
    return Group("plates", tuple(items))


def numbers(one: BeltEnd, gap: float, size: float, every: int = 1) -> Group:
    """Plate numbers from the left, `gap` [m] behind the plates; the first, the last and each
    `every`-th between."""
    last = len(one.end.plates)
    texts = (
        Text(one.at(one.back(p.root) + gap, p.y), str(p.number), size, "middle", "middle")
        for p in one.end.plates
        if p.number in {1, last} or (p.number % every == 0 and p.number + every // 2 < last)
    )
    return Group("plate numbers", tuple(texts))


def _front(one: BeltEnd, root: float) -> float:
    """Where a plate begins: at the belt end, or at the butt line of a solid plate."""
    return root if one.hinged else 0.0


def _loops(one: BeltEnd, y: float, root: float) -> Iterator[Item]:
    """The plate's loops round the pin, as a sign: their true width is not in the range."""
    if not one.hinged:
        return
    mesh, pitch, cut = one.size.mesh_offset, one.size.pitch, one.size.cut_line
    count = max(1, round(pitch / (2 * mesh))) if mesh > 0 else 1
    width = min(_LOOP_SHARE * pitch / (2 * count), one.size.plate_width / count)
    axis, reach = root - cut, min(0.75 * cut, one.size.pin / 2 + 0.003)
    for number in range(count):
        middle = y + (number - (count - 1) / 2) * pitch / count
        yield _box(one, axis - reach, root, middle + width / 2, middle - width / 2, THIN, 1.0)


def _box(
    one: BeltEnd,
    near: float,
    far: float,
    left: float,
    right: float,
    pen: Pen,
    grey: float | None,
) -> Polyline:
    corners = ((near, left), (near, right), (far, right), (far, left))
    return Polyline(tuple(one.at(x, y) for x, y in corners), pen, closed=True, fill=grey)


def travel_arrow(foot: Point, length: float, label: str, size: float) -> Group:
    """A broad arrow up the sheet from `foot`, in millimetres of the thing drawn, with its label."""
    x, y = foot
    shaft, head = 0.12 * length, 0.42 * length
    points = (
        (x - shaft, y),
        (x - shaft, y + length - head),
        (x - head / 1.4, y + length - head),
        (x, y + length),
        (x + head / 1.4, y + length - head),
        (x + shaft, y + length - head),
        (x + shaft, y),
    )
    return Group(
        "travel",
        (
            Polyline(points, OUTLINE, closed=True, fill=0.0),
            Text((x, y - 0.08 * length), label, size, "middle", "top", bold=True),
        ),
    )


def pieces_in_words(layout: Layout) -> str:
    """How the pieces lie from left to right: "1 triple, 16 singles, 1 triple"."""
    if layout.strip:
        return f"one strip of {layout.count} plates"
    names = {1: "single", 2: "double", 3: "triple"}
    parts = []
    for members, same in groupby(layout.pieces):
        count = len(tuple(same))
        name = names.get(members, f"set of {members}")
        parts.append(f"{count} {name}{'s' if count > 1 else ''}")
    return ", ".join(parts)


def clear_of_zero(values: set[float]) -> list[float]:
    """The values in order, those on the centreline left out: a running dimension starts there."""
    return [value for value in sorted(values) if not math.isclose(value, 0.0, abs_tol=1e-6)]
