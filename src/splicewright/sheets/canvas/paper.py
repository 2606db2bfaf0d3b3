"""Paper: standard scales that fit a box, and a 1:1 drawing laid over many sheets."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from splicewright.errors import OutputError
from splicewright.sheets.canvas.cutting import cut, holds, inside
from splicewright.sheets.canvas.expansion import Box, around, bounds, extent, primitives, reach
from splicewright.sheets.canvas.placement import scaled, translated
from splicewright.sheets.canvas.scene import (
    DIMENSION,
    OUTLINE,
    THIN,
    Group,
    Item,
    Line,
    Marker,
    Pen,
    Polyline,
    Primitive,
    Scene,
    Text,
    inch_check_bar,
    metric_check_bar,
)


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet of paper; nothing is drawn within `margin` of its edge [mm]."""

    name: str
    width: float
    height: float
    margin: float = 10.0

    def turned(self) -> Paper:
        """Return the same sheet lying the other way."""
        return replace(self, width=self.height, height=self.width)


A4 = Paper("A4", 210.0, 297.0)
LETTER = Paper("Letter", 8.5 * 25.4, 11.0 * 25.4)
PAPERS = {paper.name: paper for paper in (A4, LETTER)}
"""By the names that people choose from."""

# Reductions recommended by ISO 5455.
REDUCTIONS = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000)

# Steps between the standard ones for drawings of belt ends, so that the sheet is well used: every
# length is written out there and none is taken off with a rule.
BELT_REDUCTIONS = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.5, 10.0, 15.0, 20.0, 25.0)


@dataclass(frozen=True, slots=True)
class Fit:
    """A scene at a standard scale, in the middle of a room whose corner is at 0, 0.

    box : the bounds of the scene there [mm]
    """

    scene: Scene
    box: Box
    scale: str
    reduction: float


def fit(scene: Scene, width: float, height: float, reductions: Sequence[float] = REDUCTIONS) -> Fit:
    """Scale a true-size scene by the first scale at which it fits a box.

    Letters and dimension offsets keep their paper size and are counted in. Draw the result with
    `svg(fit.scene, box=(0, 0, width, height))`.

    Args:
        scene: the drawing at 1:1.
        width, height: the room on paper [mm].
        reductions: the scales to try, largest drawing first; the standard ones if not given.

    Raises:
        OutputError: the scene does not fit even at the smallest scale.
    """
    there = reach(scene)
    for reduction in reductions:
        if there is not None and (
            there[2] - there[0] > width * reduction or there[3] - there[1] > height * reduction
        ):
            continue
        smaller = scaled(scene, 1.0 / reduction)
        left, bottom, right, top = bounds(smaller)
        if right - left <= width and top - bottom <= height:
            dx, dy = (width - left - right) / 2, (height - bottom - top) / 2
            box = (left + dx, bottom + dy, right + dx, top + dy)
            return Fit(translated(smaller, dx, dy), box, f"1:{reduction:g}", reduction)
    message = (
        f"drawing {scene.title or 'without a title'}: does not fit {width:g} mm x {height:g} mm"
        f" at any scale down to 1:{reductions[-1]:g}; a larger box is accepted"
    )
    raise OutputError(message)


@dataclass(frozen=True, slots=True)
class Tile:
    """One sheet of a tiled drawing.

    Args:
        label: row letter and column number; A1 is the top left one.
        row, column: place in the grid, from 0 at the top left.
        window: what of the drawing this sheet shows; left, bottom, right, top [mm].
        scene: the whole page, 0, 0 at its bottom left corner.
        origin: page position of the drawing's 0, 0 [mm].
        drawing: title of the whole drawing.
    """

    label: str
    row: int
    column: int
    window: Box
    scene: Scene
    origin: tuple[float, float]
    drawing: str


FOOT = 33.0
_KEY_WIDTH, _KEY_HEIGHT = 34.0, 18.0
_TRIM = Pen("trim", 0.25, (2.0, 1.0))


@dataclass(frozen=True, slots=True)
class _Grid:
    """Where the windows of the tiles lie on the drawing."""

    left: float
    top: float
    width: float
    height: float
    overlap: float
    rows: int
    columns: int

    def window(self, row: int, column: int) -> Box:
        left = self.left + column * (self.width - self.overlap)
        top = self.top - row * (self.height - self.overlap)
        return left, top - self.height, left + self.width, top

    def core(self, row: int, column: int) -> Box:
        """The part of a window that no tile further right or down shows again."""
        left, bottom, right, top = self.window(row, column)
        last_column, last_row = column == self.columns - 1, row == self.rows - 1
        right -= 0.0 if last_column else self.overlap
        return left, bottom + (0.0 if last_row else self.overlap), right, top


def tiles(scene: Scene, paper: Paper = A4, *, overlap: float = 10.0) -> tuple[Tile, ...]:
    """Lay a 1:1 drawing over sheets of paper, row by row from the top left.

    Neighbours repeat a strip of the drawing; both carry the same registration crosses in it, so
    that one can be laid on the other. Every sheet has its label, a key plan and two bars to
    check the print with. Sheets that would show nothing are left out. A text is never cut: it
    stands on each sheet that can hold it whole, or else on the one that holds its middle.

    Args:
        scene: the drawing at 1:1.
        paper: the sheets; `paper.turned()` lays them across.
        overlap: the strip that neighbours share [mm].

    Raises:
        ValueError: the overlap leaves no room on the sheet.
    """
    width, height = paper.width - 2 * paper.margin, paper.height - 2 * paper.margin - FOOT
    if not 0.0 <= overlap < min(width, height) / 2:
        message = (
            f"overlap: {overlap} mm does not suit {paper.name};"
            f" 0 mm to under {min(width, height) / 2:g} mm is accepted"
        )
        raise ValueError(message)
    parts = tuple((layer, part, extent(part)) for layer, part in primitives(scene))
    left, bottom, right, top = around([box for *_, box in parts])
    columns = _count(right - left, width, overlap)
    rows = _count(top - bottom, height, overlap)
    # The drawing stands in the middle of the grid, so no sheet gets a sliver on one side only.
    spare_x = columns * width - (columns - 1) * overlap - (right - left)
    spare_y = rows * height - (rows - 1) * overlap - (top - bottom)
    grid = _Grid(left - spare_x / 2, top + spare_y / 2, width, height, overlap, rows, columns)

    places = [(row, column) for row in range(rows) for column in range(columns)]
    used = tuple(
        place
        for place in places
        if any(True for p in _near(parts, grid.core(*place)) for _ in cut(p[1], grid.core(*place)))
    )
    windows = [grid.window(*place) for place in used]
    return tuple(
        _tile(scene, paper, grid, place, used, _near(parts, grid.window(*place)), windows)
        for place in used
    )


def _near(
    parts: Sequence[tuple[str, Primitive, Box]], box: Box
) -> tuple[tuple[str, Primitive], ...]:
    """The parts that touch a box: far fewer than all, and each place is worked once."""
    return tuple(
        (layer, part)
        for layer, part, at in parts
        if at[0] <= box[2] and at[2] >= box[0] and at[1] <= box[3] and at[3] >= box[1]
    )


def _count(length: float, window: float, overlap: float) -> int:
    return max(1, math.ceil((length - overlap) / (window - overlap) - 1e-9))


def tile_label(row: int, column: int) -> str:
    """Return the sheet's name: A1, A2 ... Z9, AA1."""
    letters, rest = "", row + 1
    while rest:
        rest, digit = divmod(rest - 1, 26)
        letters = chr(ord("A") + digit) + letters
    return f"{letters}{column + 1}"


def _tile(
    scene: Scene,
    paper: Paper,
    grid: _Grid,
    place: tuple[int, int],
    used: tuple[tuple[int, int], ...],
    parts: tuple[tuple[str, Primitive], ...],
    windows: list[Box],
) -> Tile:
    row, column = place
    window, label = grid.window(row, column), tile_label(row, column)
    origin = (paper.margin - window[0], paper.margin + FOOT - window[1])
    content = tuple(
        Group(layer, (piece,)) for layer, part in parts for piece in _shown(part, window, windows)
    )
    marks = Group("tile marks", tuple(_marks(grid, place, used)))
    drawn = translated(Scene((*content, marks)), *origin)
    foot = Scene((Group("tile foot", tuple(_foot(scene.title, label, paper, grid, place, used))),))
    page = drawn.items + translated(foot, paper.margin, paper.margin).items
    title = f"{scene.title}, sheet {label}" if scene.title else f"Sheet {label}"
    shown = Scene(page, title, scene.description)
    return Tile(label, row, column, window, shown, origin, scene.title)


def _shown(part: Primitive, window: Box, windows: list[Box]) -> tuple[Primitive, ...]:
    if isinstance(part, Text):
        place = extent(part)
        if any(holds(one, place) for one in windows):
            return (part,) if holds(window, place) else ()
        middle = ((place[0] + place[2]) / 2, (place[1] + place[3]) / 2)
        first = next((one for one in windows if inside(middle, one)), None)
        return (part,) if first == window else ()
    return tuple(cut(part, window))


def _marks(grid: _Grid, place: tuple[int, int], used: tuple[tuple[int, int], ...]) -> list[Item]:
    """Draw the frame, and towards each neighbour: trim line, crosses, the neighbour's label."""
    row, column = place
    left, bottom, right, top = grid.window(row, column)
    frame = ((left, bottom), (right, bottom), (right, top), (left, top))
    marks: list[Item] = [Polyline(frame, DIMENSION, closed=True)]
    middle_x, middle_y, strip = (left + right) / 2, (bottom + top) / 2, grid.overlap
    heights = (bottom + grid.height / 4, top - grid.height / 4)
    widths = (left + grid.width / 4, right - grid.width / 4)
    for step, edge, inward in (
        ((0, -1), left, 1.0),
        ((0, 1), right, -1.0),
        ((-1, 0), top, -1.0),
        ((1, 0), bottom, 1.0),
    ):
        other = (row + step[0], column + step[1])
        if other not in used:
            continue
        trim, centre = edge + inward * strip, edge + inward * strip / 2
        size, name = min(6.0, 0.8 * strip), f"joins {tile_label(*other)}"
        beside = edge - inward * 3.0
        if step[0] == 0:
            marks.append(Line((trim, bottom), (trim, top), _TRIM))
            marks += [Marker((centre, y), "registration", size) for y in heights]
            marks.append(Text((beside, middle_y), name, 2.8, "middle", "middle", 90.0))
        else:
            marks.append(Line((left, trim), (right, trim), _TRIM))
            marks += [Marker((x, centre), "registration", size) for x in widths]
            marks.append(Text((middle_x, beside), name, 2.8, "middle", "middle"))
    return marks


def _foot(
    title: str,
    label: str,
    paper: Paper,
    grid: _Grid,
    place: tuple[int, int],
    used: tuple[tuple[int, int], ...],
) -> list[Item]:
    width = paper.width - 2 * paper.margin
    note = "Print at 100 %, not fitted to the page. Measure both bars before use."
    items: list[Item] = [
        Text((0.0, 9.0), label, 9.0, bold=True),
        Text((0.0, 2.0), f"sheet {used.index(place) + 1} of {len(used)}", 2.8),
        metric_check_bar((38.0, 11.5)),
        inch_check_bar((38.0, 2.0)),
        Text((38.0, 19.6), note, 2.8),
    ]
    if title:
        items.append(Text((0.0, 25.0), title, 2.8, bold=True))
    return items + _key_plan(width, grid, place, used)


def _key_plan(
    width: float, grid: _Grid, place: tuple[int, int], used: tuple[tuple[int, int], ...]
) -> list[Item]:
    """Draw the grid small: this sheet black, the others outlined, empty ones left out."""
    cell_ratio = (grid.width - grid.overlap) / (grid.height - grid.overlap)
    cell = min(_KEY_HEIGHT / grid.rows, _KEY_WIDTH / grid.columns / cell_ratio, 14.0)
    cell_width = cell * cell_ratio
    x0, y0 = width - grid.columns * cell_width, grid.rows * cell
    items: list[Item] = []
    for row, column in used:
        left, top = x0 + column * cell_width, y0 - row * cell
        corners = (
            (left, top - cell),
            (left + cell_width, top - cell),
            (left + cell_width, top),
            (left, top),
        )
        here = (row, column) == place
        items.append(Polyline(corners, OUTLINE if here else THIN, True, 0.0 if here else None))
    return items
