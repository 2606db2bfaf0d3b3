"""Invented drawings that the tests of the sheets share."""

from __future__ import annotations

from splicewright.sheets.canvas.scene import (
    CENTRE,
    CUT,
    HIDDEN,
    HOLE,
    OUTLINE,
    THIN,
    Arc,
    Circle,
    Dimension,
    Group,
    Hatch,
    Leader,
    Line,
    Marker,
    Point,
    Polyline,
    RunningDimension,
    Scene,
    Text,
    inch_check_bar,
    metric_check_bar,
)

WIDTH = 650.0
PITCH = 43.0
COLUMNS = 14
FIRST = (WIDTH - (COLUMNS - 1) * PITCH) / 2
HOLES: tuple[Point, ...] = tuple(
    (FIRST + number * PITCH, height) for number in range(COLUMNS) for height in (18.0, 48.25)
)
RADIUS = 6.05


def plate_row() -> Scene:
    """One belt end with a row of plates, at 1:1."""
    belt = ((0.0, 0.0), (WIDTH, 0.0), (WIDTH, 180.0), (0.0, 180.0))
    plates = tuple(
        Polyline(((x - 18, -8.0), (x + 18, -8.0), (x + 18, 62.0), (x - 18, 62.0)), THIN, True)
        for x, _ in HOLES[::2]
    )
    return Scene(
        (
            Group(
                "belt",
                (
                    Hatch(((0.0, 140.0), (WIDTH, 140.0), (WIDTH, 180.0), (0.0, 180.0))),
                    Polyline(belt, OUTLINE, closed=True),
                    Line((0.0, 0.0), (WIDTH, 0.0), CUT),
                    Line((WIDTH / 2, -20.0), (WIDTH / 2, 195.0), CENTRE),
                ),
            ),
            Group("plates", plates),
            Group("holes", tuple(Circle(at, RADIUS, HOLE) for at in HOLES)),
            Group(
                "dimensions",
                (
                    Dimension((0.0, 0.0), (WIDTH, 0.0), "x", -40.0),
                    Dimension((0.0, 0.0), (0.0, 180.0), "y", -12.0),
                    RunningDimension((0.0, 0.0), HOLES[::2], "x", -14.0),
                    Leader(HOLES[9], (HOLES[9][0] + 20.0, 98.0), f"{len(HOLES)} × ⌀12.1"),
                ),
            ),
        ),
        "Plate row",
        "An invented belt end",
    )


def one_of_each() -> Scene:
    """Every kind of item, with unequal figures."""
    return Scene(
        (
            Line((1.0, 2.0), (31.5, 12.25), HIDDEN),
            Polyline(((0.0, 0.0), (10.0, 3.0), (4.0, 9.0)), OUTLINE, closed=True, fill=0.5),
            Group(
                "round: parts",
                (
                    Arc((20.0, 30.0), 7.5, 300.0, 75.0),
                    Circle((50.0, 25.0), 3.25, HOLE, 0.75),
                    Group("inner", (Marker((50.0, 25.0), "registration"),)),
                ),
            ),
            Text((3.0, 44.0), "low ≤ ⌀12 & so on", 3.5, "end", "top", 30.0, bold=True),
            Dimension((0.0, 0.0), (40.0, 30.0), "free", 8.0),
            Dimension((0.0, 0.0), (5.0, 0.0), "x", -8.0),
            Dimension((0.0, 0.0), (40.0, 30.0), "y", 12.0, text="30 max"),
            RunningDimension((0.0, 0.0), ((2.0, 5.0), (3.0, 6.0), (-9.5, 2.0)), "y", -9.0),
            Leader((50.0, 28.25), (60.0, 40.0), "hole"),
            Hatch(((60.0, 0.0), (90.0, 0.0), (75.0, 22.0)), crossed=True),
            metric_check_bar((0.0, -40.0)),
            inch_check_bar((0.0, -60.0)),
        ),
        "One of each",
    )
