"""Assessment and squaring on paper: drawing and page read back, both units, both papers."""

from __future__ import annotations

import io
import json
from contextlib import nullcontext
from datetime import datetime
from functools import cache

import pdfplumber
import pytest

from sheets.plans import SITE
from splicewright.actions.inspection.assess import assess_joint
from splicewright.actions.inspection.question import ASSESS
from splicewright.actions.question import Source
from splicewright.actions.squaring import SQUARE, SquareAsked, answer_square
from splicewright.job.inspection.joint_assessment import JointAssessment
from splicewright.joint import End
from splicewright.joint.belt_end.squared_end import SquaredEnd
from splicewright.joint.inspection.damage import DECISION
from splicewright.joint.inspection.verdict import Verdict
from splicewright.quantities import Kind, System, show
from splicewright.sheets.canvas.expansion import bounds, primitives
from splicewright.sheets.canvas.paper import A4, LETTER, Paper
from splicewright.sheets.canvas.scene import Line, Polyline, Scene, Text, leaves
from splicewright.sheets.drawings.inspection import assessment_drawing
from splicewright.sheets.drawings.squaring import squaring_drawing
from splicewright.sheets.pages.report import printed
from splicewright.sheets.reports.inspection import assessment_report
from splicewright.sheets.reports.squaring import squaring_report

PAPERS: tuple[tuple[Paper, System], ...] = ((A4, "metric"), (LETTER, "inch"))


@cache
def assessed(name: str) -> JointAssessment:
    return assess_joint(SITE / "inspections" / f"{name}.toml")


@cache
def squared(name: str) -> SquaredEnd:
    asked = SquareAsked(measured=SITE / "squaring" / f"{name}.toml")
    return answer_square(asked, Source(nullcontext, named=False, clock=datetime.now))  # type: ignore[arg-type]


def words(scene: Scene) -> list[str]:
    return [p.text for _, p in primitives(scene) if isinstance(p, Text)]


def text_of(pdf: bytes) -> tuple[str, int, float]:
    with pdfplumber.open(io.BytesIO(pdf)) as pages:
        told = " ".join((page.extract_text() or "") for page in pages.pages)
        return " ".join(told.split()), len(pages.pages), float(pages.pages[0].width)


@pytest.mark.parametrize("name", ["incline-edge-plates", "typed-in"])
def test_bars_stand_at_their_plates_as_high_as_the_loads(name: str) -> None:
    made = assessed(name)
    scene = assessment_drawing(made)
    bars = [p for _, p in leaves(scene) if isinstance(p, Polyline) and p.fill == 0.82]
    # Behind the two ends' bars stands one in the key.
    loaded = {end: [p for p in made.of(end) if p.load is not None] for end in End}
    assert len(bars) == sum(len(some) for some in loaded.values()) + 1
    top = [b for b in bars if min(y for _, y in b.points) > 0]
    low = [b for b in bars[:-1] if max(y for _, y in b.points) < 0]
    for drawn, plates in ((top, loaded[End.LEADING]), (low, loaded[End.TRAILING])):
        tall = [max(y for _, y in b.points) - min(y for _, y in b.points) for b in drawn]
        for height, plate in zip(tall, plates, strict=True):
            assert plate.load is not None and plates[0].load is not None
            assert height / tall[0] == pytest.approx(plate.load / plates[0].load)
        across = [sum(x for x, _ in b.points) / 4 for b in drawn]
        assert across == sorted(across)
        # Left of the belt is left on the sheet, and distances are true to scale.
        spans = [(a - across[0]) / (plates[0].y - p.y) for a, p in
                 list(zip(across, plates, strict=True))[1:]]  # fmt: skip
        assert max(spans) == pytest.approx(min(spans))
    left, _, right, _ = bounds(scene)
    assert right - left < 182


def test_lost_plates_are_crossed_out_and_the_next_is_named() -> None:
    made = assessed("incline-edge-plates")
    scene = assessment_drawing(made)
    cut = [p for _, p in leaves(scene) if isinstance(p, Line) and p.pen.name == "cut"]
    crossed = [
        line for line in cut if line.start[0] != line.end[0] and line.start[1] != line.end[1]
    ]
    gone = [p for end in End for p in made.of(end) if p.kept == 0]
    assert [p.state for p in gone] == ["lost", "cracked"]
    assert len(crossed) == 2 * len(gone) + 2  # and one in the key
    said = words(scene)
    assert said.count("NEXT") == 1 and {"LEFT", "RIGHT", "leading", "trailing", "pin"} <= set(said)
    assert said.index("LEFT") < said.index("RIGHT")


@pytest.mark.parametrize(("paper", "system"), PAPERS)
def test_the_page_says_verdict_who_decides_and_what_was_assumed(
    paper: Paper, system: System
) -> None:
    made = assessed("incline-edge-plates")
    told, pages, width = text_of(printed(assessment_report(made, system), paper))
    assert width * 25.4 / 72 == pytest.approx(paper.width, abs=0.01)
    assert pages <= 4
    assert DECISION in told
    for words_ in ("STOP", "ONLY WITH LESS LOAD", "NO OVERLOAD FOUND", "Decided by", "Assumed",
                   "Worksheet", "INVENTED DATA"):  # fmt: skip
        assert words_ in told
    assert made.verdict is Verdict.REDUCE
    assert "Not at this load: only with less, watched, and repaired" in told
    assert "safe" not in told.lower().replace("safe side", "")
    assert show(made.largest, Kind.WIDTH_FORCE, system) in told
    for said in made.reasons:
        assert " ".join(said.say(system).split()) in told


def test_files_are_whole_and_the_same_again() -> None:
    made = assessed("typed-in")
    files = ASSESS.files(made, "metric", A4)
    assert set(files) == {"assessment.json", "assessment.pdf", "assessment.svg"}
    assert files == ASSESS.files(made, "metric", A4)
    assert JointAssessment.from_json(files["assessment.json"]) == made
    end = squared("incline-trailing-end")
    files = SQUARE.files(end, "metric", A4)
    assert set(files) == {"squaring.json", "squaring.pdf", "squaring.svg"}
    assert files == SQUARE.files(end, "metric", A4)
    assert SquaredEnd.from_json(files["squaring.json"]) == end
    before = json.loads(files["squaring.json"])
    before["said"] = before.pop("sentences")  # as 0.2.0 wrote it
    assert SquaredEnd.from_json(json.dumps(before)) == end


def strokes(scene: Scene, pen: str) -> list[Line]:
    return [p for _, p in leaves(scene) if isinstance(p, Line) and p.pen.name == pen]


@pytest.mark.parametrize(("name", "way"), [("incline-trailing-end", 1), ("flat-worn-edge", -1)])
def test_the_square_line_is_square_to_the_belt_that_is_drawn(name: str, way: int) -> None:
    made = squared(name)
    assert made.line is not None
    scene = squaring_drawing(made)
    square = next(line for line in strokes(scene, "cut") if abs(line.start[1] - line.end[1]) > 20)
    centre = strokes(scene, "centre")[1]
    along = (centre.end[0] - centre.start[0], centre.end[1] - centre.start[1])
    across = (square.end[0] - square.start[0], square.end[1] - square.start[1])
    cosine = (along[0] * across[0] + along[1] * across[1]) / (
        (along[0] ** 2 + along[1] ** 2) * (across[0] ** 2 + across[1] ** 2)
    ) ** 0.5
    assert abs(cosine) < 0.03
    # The belt of a trailing end lies ahead, that of a leading end behind; left is up for both.
    assert way * along[0] > 0
    said = {p.text: p.at for _, p in primitives(scene) if isinstance(p, Text)}
    assert said["LEFT"][1] > said["RIGHT"][1]
    left, right = made.line.left, made.line.right
    assert way * (square.start[0] - square.end[0]) * (left - right) > 0
    assert f"square line {show(left, Kind.DISTANCE)}" in said


def test_moves_point_the_way_they_are_told_left_and_right_apart() -> None:
    made = squared("incline-trailing-end")
    scene = squaring_drawing(made)
    assert made.correction is not None and made.correction.left > 0 > made.correction.right
    said = words(scene)
    left = show(made.correction.left, Kind.LENGTH)
    right = show(-made.correction.right, Kind.LENGTH)
    assert f"left: move {left} into the belt" in said
    assert f"right: move {right} towards the end" in said
    arrows = [line for line in strokes(scene, "thin") if line.start[1] == line.end[1]]
    upper, lower = sorted(arrows, key=lambda line: -line.start[1])
    assert upper.end[0] > upper.start[0] and lower.end[0] < lower.start[0]
    assert (upper.end[0] - upper.start[0]) / (lower.start[0] - lower.end[0]) == pytest.approx(
        made.correction.left / -made.correction.right
    )


@pytest.mark.parametrize("name", ["incline-trailing-end", "flat-worn-edge"])
@pytest.mark.parametrize(("paper", "system"), PAPERS)
def test_the_squaring_page_says_both_edges(name: str, paper: Paper, system: System) -> None:
    made = squared(name)
    told, pages, width = text_of(printed(squaring_report(made, system), paper))
    assert width * 25.4 / 72 == pytest.approx(paper.width, abs=0.01)
    assert pages <= 3
    assert "LEFT EDGE" in told and "RIGHT EDGE" in told
    assert told.index("LEFT EDGE") < told.index("RIGHT EDGE")
    for one in (*made.sentences, *made.assumptions):
        assert " ".join(one.say(system).split()) in told
    assert "squaring.square_left" in told
    left, _, right, _ = bounds(squaring_drawing(made, system))
    assert right - left < 182


def test_without_stations_only_the_checks_are_told() -> None:
    from splicewright.files.toml import check
    from splicewright.joint.belt_end.file import SquaringFile, build
    from splicewright.joint.belt_end.squaring import square_end

    data = {
        "squaring": {"name": "x", "width": "1 m"},
        "checks": [{"kind": "diagonals", "left": "1804 mm", "right": "1802 mm", "back": "1.5 m"}],
    }
    made = square_end(build(check(data, SquaringFile, "")))
    told, _, _ = text_of(printed(squaring_report(made)))
    assert "Hand checks" in told and "LEFT EDGE" not in told
    assert "No stations measured: only the hand checks are given." in words(squaring_drawing(made))
