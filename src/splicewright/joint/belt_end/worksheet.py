"""The worksheet of a squared end: how each of its numbers came about."""

from __future__ import annotations

from typing import TYPE_CHECKING

from splicewright.joint.belt_end.centreline import (
    Centreline,
    move_into_belt,
    out_of_square,
    square_at_left,
    square_at_right,
)
from splicewright.joint.belt_end.cut_checks import error_by_arcs, error_by_diagonals, error_by_edges
from splicewright.joint.belt_end.squared_end import CheckDone, CheckKind
from splicewright.quantities import Figure, Given, Kind, Record, Worksheet, measured, stated

if TYPE_CHECKING:
    from splicewright.joint.belt_end.squared_end import SquaredEnd


def explained(end: SquaredEnd) -> Record:
    """Write the lines of a finished squaring; `end` without its worksheet."""
    sheet = Worksheet()
    seen = end.measured
    width = sheet.note(stated("squaring.width", "belt width", end.width, Kind.LENGTH))
    reading = stated("squaring.reading", "smallest step of the readings", seen.reading, Kind.LENGTH)
    if end.centreline is not None and end.line is not None:
        slope = _centreline(end.centreline, _points(end), reading, sheet)
        at = stated(
            "squaring.at", "square line crosses the centreline at", end.line.at, Kind.DISTANCE
        )
        left = sheet.work(
            "squaring.square_left",
            "square line at the left edge",
            square_at_left,
            at=at,
            slope=slope,
            width=width,
        )
        right = sheet.work(
            "squaring.square_right",
            "square line at the right edge",
            square_at_right,
            at=at,
            slope=slope,
            width=width,
        )
        doubt = sheet.get("squaring.slope_uncertainty")
        assert doubt is not None  # written with the centreline
        whole = sheet.work(
            "squaring.square_doubt",
            "95 % half width of the square line, over the width",
            out_of_square,
            width=width,
            slope=doubt,
        )
        sheet.found(
            "squaring.square_uncertainty",
            "95 % half width at either edge",
            end.line.uncertainty,
            Kind.LENGTH,
            "half of that over the width",
            [whole],
        )
        if end.correction is not None and seen.drawn is not None:
            for side, square, drawn in (
                ("left", left, seen.drawn[0]),
                ("right", right, seen.drawn[1]),
            ):
                line = measured(
                    f"squaring.drawn_{side}",
                    f"drawn line at the {side} edge",
                    drawn,
                    Kind.DISTANCE,
                    "as drawn",
                )
                sheet.work(
                    f"squaring.move_{side}",
                    f"move at the {side} edge, into the belt",
                    move_into_belt,
                    square=square,
                    drawn=line,
                )
    for number, check in enumerate(end.checks, 1):
        _check(f"squaring.check.{number}", check, reading, sheet)
    if end.limit is not None:
        sheet.found(
            "squaring.limit",
            "limit of out of square",
            end.limit.amount,
            Kind.LENGTH,
            end.limit.reason.say(),
            [width],
            "arithmetic",
        )
    return sheet.finish()


def _points(end: SquaredEnd) -> list[Given]:
    """Where each station lies and where the middle of the belt was found there."""
    points = []
    seen = end.measured
    for n, (at, middle) in enumerate(zip(seen.stations, seen.midpoints, strict=True), 1):
        key = f"squaring.station_{n}"
        points += [
            measured(f"{key}.at", f"station {n}", at, Kind.DISTANCE, "from the rough end"),
            measured(
                f"{key}.middle",
                f"middle of the belt at station {n}",
                middle,
                Kind.LENGTH,
                "left of the stretched line positive",
            ),
        ]
    return points


def _centreline(
    centre: Centreline, points: list[Given], reading: Given, sheet: Worksheet
) -> Figure:
    slope = sheet.found(
        "squaring.slope",
        "slope of the centreline",
        centre.slope,
        Kind.RATIO,
        "b = Σ(x - x̄) y/Σ(x - x̄)², least squares through the midpoints",
        points,
        "least-squares",
    )
    scatter = sheet.found(
        "squaring.scatter",
        "scatter of a midpoint about the line",
        centre.scatter,
        Kind.LENGTH,
        "s = √(Σr²/(n - 2)), not below the reading over √12",
        [*points, reading],
        "least-squares",
    )
    sheet.found(
        "squaring.slope_uncertainty",
        "its 95 % half width",
        centre.slope_uncertainty,
        Kind.RATIO,
        f"t s/√Σ(x - x̄)², t of Student with {centre.stations - 2} degrees of freedom",
        [scatter],
        "least-squares",
    )
    sheet.found(
        "squaring.bow",
        "bow, middle to the left",
        centre.bow,
        Kind.LENGTH,
        "-c L²/4 of the parabola through the midpoints, made square to the line",
        points,
        "least-squares",
    )
    if centre.bow_uncertainty is not None:
        sheet.found(
            "squaring.bow_uncertainty",
            "95 % half width of the bow",
            centre.bow_uncertainty,
            Kind.LENGTH,
            f"the same with {centre.stations - 3} degrees of freedom",
            [*points, reading],
            "least-squares",
        )
    return slope


def _check(key: str, check: CheckDone, reading: Given, sheet: Worksheet) -> None:
    seen, kind = check.measured, check.measured.kind
    label = f"out of square by {kind.value}"
    left, right = (
        measured(
            f"{key}.{side}",
            f"{kind.value}, {side}",
            value,
            Kind.LENGTH,
            "after the cut" if seen.after_cut else "on the marked line",
        )
        for side, value in (("left", seen.left), ("right", seen.right))
    )
    if kind is CheckKind.EDGES:
        error = sheet.work(f"{key}.error", label, error_by_edges, left=left, right=right)
    else:
        back = measured(f"{key}.back", f"length back of {kind.value}", seen.back, Kind.LENGTH, "")
        rule = error_by_arcs if kind is CheckKind.ARCS else error_by_diagonals
        error = sheet.work(f"{key}.error", label, rule, left=left, right=right, back=back)
    sheet.found(
        f"{key}.uncertainty",
        "largest error of reading",
        check.found.uncertainty,
        Kind.LENGTH,
        "both lengths misread by one step, against each other",
        [error, reading],
    )
