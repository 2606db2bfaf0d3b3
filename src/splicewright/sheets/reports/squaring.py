"""A squared belt end: in words, as a page for the crew, and its folder's files."""

from __future__ import annotations

import hashlib
from functools import cache
from typing import Any

from splicewright.job import DEFER
from splicewright.joint.belt_end.squared_end import CheckDone, SquaredEnd
from splicewright.quantities import Kind, System, show
from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.canvas.pdf import TEMPLATES, render
from splicewright.sheets.canvas.svg_file import standing_alone
from splicewright.sheets.drawings.squaring import squaring_drawing
from splicewright.sheets.pages.document import Document, Section
from splicewright.sheets.pages.drawings import MARGIN, Drawings
from splicewright.sheets.pages.worksheet import part

FILE = "squaring.json"
_CHECKS = ("check", "on", "left", "right", "out of square", "give or take", "verdict")


def squaring_report(squaring: SquaredEnd, system: System = "metric") -> Document:
    """Where the square line meets the edges, what the hand checks say, what was assumed."""
    sections = []
    if squaring.remarks:
        sections.append(Section("Note", tuple(s.say(system) for s in squaring.remarks)))
    if squaring.checks:
        rows = tuple(_check(check, system) for check in squaring.checks)
        sections.append(Section("Hand checks", head=_CHECKS, table=rows))
    return Document(
        "Squaring",
        squaring.name,
        _where(squaring, system),
        tuple(sentence.say(system) for sentence in squaring.sentences),
        sections=tuple(sections),
        rests=tuple(sentence.say(system) for sentence in squaring.assumptions),
        cautions=("Check the marked line once more by a second way before the knife goes in.",),
        invented=squaring.invented,
    )


def _where(squaring: SquaredEnd, system: System) -> str:
    end = squaring.measured.end.value if squaring.measured.end else "belt end not named"
    return f"{end}; belt {show(squaring.width, Kind.LENGTH, system)} wide"


def squaring_files(
    squaring: SquaredEnd, system: System = "metric", paper: Paper = A4
) -> dict[str, bytes]:
    """Make every file of a squaring's folder, by name; squaring.json is always SI."""
    return {
        "squaring.pdf": squaring_page(squaring, system, paper),
        FILE: squaring.to_json().encode(),
        "squaring.svg": standing_alone(squaring_drawing(squaring, system)),
    }


def squaring_page(squaring: SquaredEnd, system: System = "metric", paper: Paper = A4) -> bytes:
    """Return the squaring as PDF; the same squaring gives the same bytes.

    Raises
    ------
    OutputError
        The document cannot be made.
    """
    drawings = Drawings({}, {})
    drawn = squaring.line is not None
    if drawn:
        drawings.paste("end", squaring_drawing(squaring, system), paper.width - 2 * MARGIN)
    data: dict[str, Any] = {
        "id": hashlib.sha256(squaring.to_json().encode()).hexdigest()[:10].upper(),
        "mark": "Squaring",
        "file": FILE,
        "title": f"Squaring, {squaring.name}",
        "job": squaring.name,
        "invented": squaring.invented,
        "paper": {"width": paper.width, "height": paper.height, "margin": MARGIN},
        "where": _where(squaring, system),
        "moves": _moves(squaring, system),
        "answer": [sentence.say(system) for sentence in squaring.sentences],
        "remarks": [sentence.say(system) for sentence in squaring.remarks],
        "assumptions": [sentence.say(system) for sentence in squaring.assumptions],
        "drawn": drawn,
        "checks": [_check(check, system) for check in squaring.checks],
        "defer": DEFER,
        "worksheet": part(squaring.worksheet, ("squaring",), lambda key: False, system),
        "drawings": drawings.captions,
    }
    return render(_template(), data, drawings.files, name="squaring")


def _moves(squaring: SquaredEnd, system: System) -> list[dict[str, str]]:
    """What to do at the left and at the right edge, left first."""
    if squaring.line is None:
        return []
    rows = []
    for side, square in (("left", squaring.line.left), ("right", squaring.line.right)):
        one = {"side": f"{side} edge", "at": show(square, Kind.DISTANCE, system), "move": ""}
        if squaring.correction is not None:
            move = squaring.correction.left if side == "left" else squaring.correction.right
            how = "into the belt" if move >= 0 else "towards the end"
            one["move"] = f"move {show(abs(move), Kind.LENGTH, system)} {how}"
        rows.append(one)
    return rows


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


@cache
def _template() -> str:
    names = ("style", "worksheet", "squaring")
    return "\n".join((TEMPLATES / f"{name}.typ").read_text("utf-8") for name in names)
