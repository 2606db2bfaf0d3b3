"""A squared belt end: what to move at each edge, what it was found by, what the checks say."""

from __future__ import annotations

from functools import partial

from splicewright.joint.belt_end.squared_end import CheckDone, SquaredEnd
from splicewright.quantities import Kind, System, show
from splicewright.sheets.drawings.squaring import squaring_drawing
from splicewright.sheets.pages.document import Diagram, Document, Section, Side
from splicewright.sheets.pages.report import identity_of
from splicewright.sheets.pages.worksheet import part

_CHECKS = ("check", "on", "left", "right", "out of square", "give or take", "verdict")
_CAUTIONS = (
    "Check the marked line once more by a second way before the knife goes in: the person who "
    "cuts measures once more, and the foreman of the job decides.",
    "Left and right are as seen when facing the direction of travel, carry cover up.",
)


def squaring_report(squaring: SquaredEnd, system: System = "metric") -> Document:
    """Where the square line meets the edges, what the hand checks say, what was assumed."""
    drawing = Diagram("squaring", partial(squaring_drawing, squaring, system))
    checks = tuple(_check(check, system) for check in squaring.checks)
    sections = (
        Section("", diagrams=(drawing,) if squaring.line else ()),
        Section("Hand checks", head=_CHECKS, table=checks, words=(1, 4, 6), strong=(6,)),
        Section("Note", tuple(s.say(system) for s in squaring.remarks), warns=True),
    )
    end = squaring.measured.end.value if squaring.measured.end else "belt end not named"
    return Document(
        "Squaring",
        squaring.name,
        f"{end}; belt {show(squaring.width, Kind.LENGTH, system)} wide",
        tuple(sentence.say(system) for sentence in squaring.sentences),
        sections=tuple(s for s in sections if s.diagrams or s.table or s.points),
        rests=tuple(sentence.say(system) for sentence in squaring.assumptions),
        cautions=_CAUTIONS,
        invented=squaring.invented,
        sides=_sides(squaring, system),
        id=identity_of(squaring.to_json()),
        worksheet=lambda: part(squaring.worksheet, ("squaring",), system, "squaring.json"),
    )


def _sides(squaring: SquaredEnd, system: System) -> tuple[Side, ...]:
    """Where the square line meets the left and the right edge, and what to move there."""
    line, move = squaring.line, squaring.correction
    if line is None:
        return ()
    rows = (
        ("left", line.left, None if move is None else move.left),
        ("right", line.right, None if move is None else move.right),
    )
    return tuple(
        Side(
            f"{side} edge, square line",
            show(at, Kind.DISTANCE, system),
            "from the rough end",
            "" if by is None else _move(by, system),
        )
        for side, at, by in rows
    )


def _move(by: float, system: System) -> str:
    way = "into the belt" if by >= 0 else "towards the end"
    return f"move {show(abs(by), Kind.LENGTH, system)} {way}"


def _check(check: CheckDone, system: System) -> tuple[str, ...]:
    seen, hand_check = check.measured, check.found
    error = show(abs(hand_check.out_of_square), Kind.LENGTH, system)
    deeper = "left" if hand_check.out_of_square >= 0 else "right"
    return (
        seen.kind.value,
        "cut" if seen.after_cut else "marked line",
        show(seen.left, Kind.LENGTH, system),
        show(seen.right, Kind.LENGTH, system),
        error if abs(hand_check.out_of_square) < 1e-6 else f"{error}, {deeper} end deeper",
        show(hand_check.uncertainty, Kind.LENGTH, system),
        check.judgement.verdict.value if check.judgement else "no limit: not judged",
    )
