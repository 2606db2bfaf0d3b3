"""Squaring files: the angle put in must come out, and what cannot be is refused."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from depth import examples
from proof import proves
from splicewright.errors import InputError
from splicewright.files.toml import check
from splicewright.joint.belt_end.cut_checks import CutVerdict
from splicewright.joint.belt_end.file import SquaringFile, build, load_squaring
from splicewright.joint.belt_end.squared_end import Limit, SquaredEnd
from splicewright.joint.belt_end.squaring import figures, square_end
from splicewright.quantities import sentence
from strategies import EXAMPLES

AT = (0.5, 1.5, 3.0, 4.5, 6.0)


def squared(limit: Limit | None = None, **tables: Any) -> SquaredEnd:
    head = {"name": "end", "width": "1200 mm", **tables.pop("squaring", {})}
    data = {"squaring": head, **tables}
    return square_end(build(check(data, SquaringFile, "end.toml"), "end.toml"), limit)


def faults(**tables: Any) -> list[str]:
    with pytest.raises(InputError) as caught:
        squared(**tables)
    return [str(fault) for fault in caught.value.faults]


def rows(*points: tuple[float, float], **more: Any) -> list[dict[str, Any]]:
    """Stations as typed; a length is 0 or more than a ten-thousandth of a millimetre."""
    return [
        {"at": f"{x} m", "midpoint": f"{1e3 * y * (abs(y) > 1e-6):.9f} mm", **more}
        for x, y in points
    ]


@proves(
    "Choice, layout and marking",
    "Three ways of measuring give one square line",
    "D",
    "A known angle put in by stations, by edges and mixed must come out.",
    doubt="Exact for a straight belt.",
    tolerance="1e-9 m: rounding of floats",
    sketch="square",
)
@settings(deadline=None, max_examples=examples(30))
@given(
    angle=st.floats(-0.03, 0.03).filter(lambda a: a == 0 or abs(a) > 1e-3),
    start=st.floats(-0.1, 0.1).filter(lambda y: y == 0 or abs(y) > 1e-6),
)
def test_three_ways_of_measuring_give_one_line(angle: float, start: float) -> None:
    """Points by trigonometry: the middle, both edges, or one sound edge of the same belt."""
    middle = [start + math.tan(angle) * x for x in AT]
    by_middle = squared(stations=rows(*zip(AT, middle, strict=True)))
    by_edges = squared(
        stations=[
            {"at": f"{x} m", "left": f"{y + 0.6:.12f} m", "right": f"{y - 0.6:.12f} m"}
            for x, y in zip(AT, middle, strict=True)
        ]
    )
    by_one = squared(
        squaring={"sound_edge": "right"},
        stations=[
            {"at": f"{x} m", "edge": f"{y - 0.6:.12f} m"} for x, y in zip(AT, middle, strict=True)
        ],
    )
    for made in (by_middle, by_edges, by_one):
        assert made.line is not None
        assert made.line.right - made.line.left == pytest.approx(1.2 * math.tan(angle), abs=1e-9)


def test_corrections_square_the_drawn_line() -> None:
    """Slope 0.01 on 1200 mm: left end 6 mm nearer the end, right 6 mm further, about 0.3 m."""
    made = squared(
        squaring={"square_line_at": "0.3 m"},
        stations=rows(*((x, 0.01 * x) for x in AT)),
        line={"left": "300 mm", "right": "302 mm"},
    )
    assert made.correction is not None
    assert made.correction.left == pytest.approx(-6e-3, abs=1e-9)
    assert made.correction.right == pytest.approx(4e-3, abs=1e-9)
    sentences = [s.say() for s in made.sentences]
    assert (
        "Move the drawn line at the left edge 6 mm towards the end and at the right edge 4 mm "
        "into the belt." in sentences
    )
    assert any("its left end lies 10 mm too far into the belt" in s for s in sentences)
    inch = " ".join(s.say("inch") for s in made.sentences)
    assert "at the left edge 0.236 in towards the end and at the right edge 0.157 in" in inch
    found = {f.key: f.value for f in figures(made)}
    assert found["squaring.move_left"] == made.correction.left


def test_a_bowed_belt_is_remarked_on() -> None:
    """Circle of 300 m radius, points over 5.5 m: L^2/(8R) = 12.6 mm."""
    points = [(x, (x - 3.25) ** 2 / (2 * 300)) for x in (0.5, 1.5, 2.5, 3.5, 4.5, 5.25, 6.0)]
    (remark,) = (s.say() for s in squared(stations=rows(*points)).remarks)
    assert remark.startswith("The belt is bowed by 12.6 mm to the right over the span")
    short = squared(stations=rows((1, 0.0), (2, 0.001), (3, 0.0)))
    assert [s.say() for s in short.remarks] == [
        "The stations span 2 m; common practice is 5 to 7 m: measure further back.",
        "Three stations cannot tell a bowed belt from misread ones: measure five.",
    ]


def lengths(lean: float, back: float = 1.5, width: float = 1.2) -> tuple[str, str]:
    """Diagonals of a parallelogram leaning by `lean`: (back, width) and the law of cosines."""
    across = math.sqrt(width**2 - lean**2)
    left, right = (math.hypot(back - s, across) for s in (lean, -lean))
    return f"{left:.9f} m", f"{right:.9f} m"


@pytest.mark.parametrize(
    ("lean", "verdict"),
    [(0.0005, CutVerdict.PASS), (0.003, CutVerdict.MEASURE), (0.006, CutVerdict.RECUT)],
)
def test_diagonals_are_judged_against_the_limit(lean: float, verdict: CutVerdict) -> None:
    left, right = lengths(lean)
    row = {"kind": "diagonals", "left": left, "right": right, "back": "1.5 m", "after_cut": True}
    made = squared(squaring={"limit": "3 mm"}, checks=[row])
    (done,) = made.checks
    assert done.judgement is not None and done.judgement.verdict is verdict
    assert abs(done.found.out_of_square) == pytest.approx(lean, rel=1e-3)
    assert made.passes is (verdict is CutVerdict.PASS)
    assert verdict.value in made.sentences[0].say()


def test_without_a_limit_the_error_is_shown_and_not_judged() -> None:
    row = {"kind": "equal arcs", "left": "1166 mm", "right": "1166 mm", "back": "1 m"}
    made = squared(checks=[row])
    assert made.passes is None and made.checks[0].judgement is None
    assert (
        made.sentences[0].say().startswith("By equal arcs the marked line is square as read, give")
    )
    assert made.remarks[0].say().startswith("No limit given and no plan named")
    derived = squared(Limit(0.01, sentence("from somewhere")), checks=[row])
    assert derived.passes is True
    assert derived.remarks[0].say() == "Limit 10 mm over the belt width: from somewhere."


def test_a_stated_limit_goes_before_a_derived_one() -> None:
    row = {"kind": "edge lengths", "left": "1210 mm", "right": "1200 mm"}
    made = squared(Limit(0.1, sentence("x")), squaring={"limit": "5 mm"}, checks=[row])
    assert made.limit is not None and made.limit.amount == 0.005
    assert "out of the limit: mark again" in made.sentences[0].say()


def test_what_cannot_be_is_refused_in_one_sentence() -> None:
    assert faults(stations=rows((1, 0.0), (3, 0.0))) == [
        "end.toml: stations: 2 given: at least 3 are needed, two points always make a line and "
        "say nothing of how far it may be off"
    ]
    outside = {"belt_length": "5 m"}
    assert faults(squaring=outside, stations=rows((-1, 0.0), (2, 0.0), (2, 0.0), (6, 0.0))) == [
        "end.toml: stations.1.at: -1 m is not on the belt: give 0 to 5 m from the end",
        "end.toml: stations.3.at: 2 m is given twice: give each station once",
        "end.toml: stations.4.at: 6 m is not on the belt: give 0 to 5 m from the end",
    ]
    impossible = {"kind": "diagonals", "left": "1.4 m", "right": "1.2 m", "back": "1.5 m"}
    assert faults(checks=[impossible]) == [
        "end.toml: checks.1: diagonals of 1400 and 1200 mm cannot be: with 1500 mm marked back "
        "they make a belt 0 mm wide, not 1200 mm; measure again"
    ]
    assert faults(checks=[{**impossible, "kind": "equal arcs", "back": "3 m"}]) == [
        "end.toml: checks.1: equal arcs of 1400 and 1200 mm cannot be: on a 1200 mm belt they put "
        "the point 1158 mm back, not 3000 mm; measure again"
    ]
    assert faults() == ["end.toml: stations: are missing, and so are checks: measure one of them"]
    assert faults(
        squaring={"work": "w.toml"},
        line={"left": "1 m", "right": "1 m"},
        checks=[{"kind": "diagonals", "left": "1 m", "right": "1 m"}],
    ) == [
        "end.toml: line: needs stations: without a centreline nothing is square",
        "end.toml: squaring.work: stands without a plan; name the conveyor file",
        "end.toml: checks.1.back: is missing; diagonals need the length marked back along the belt",
    ]


def test_stations_measured_in_mixed_ways_are_refused() -> None:
    assert faults(
        stations=[
            {"at": "1 m", "left": "0.6 m", "right": "-0.6 m"},
            {"at": "2 m", "midpoint": "0 mm"},
            {"at": "3 m", "left": "0.6 m"},
            {"at": "4 m", "left": "-0.6 m", "right": "0.6 m"},
            {"at": "5 m", "left": "0.6 m", "right": "-0.3 m"},
        ]
    ) == [
        "end.toml: stations.2: gives midpoint, an earlier station left and right: measure all "
        "stations the same way",
        "end.toml: stations.3: needs exactly one of: midpoint, left and right together, or edge",
        "end.toml: stations.4.left: -600 mm is not to the left of the right edge at 600 mm; "
        "offsets to the left are positive",
        "end.toml: stations.5: makes the belt 900 mm wide, not 1200 mm: measure again, or by the "
        "sound edge",
    ]
    assert faults(stations=[{"at": f"{x} m", "edge": "0.6 m"} for x in (1, 2, 3)])[0] == (
        "end.toml: stations.1.edge: needs sound_edge in [squaring]: left or right"
    )


def test_lines_are_named(tmp_path: Path) -> None:
    source = EXAMPLES / "karst-hollow" / "squaring" / "incline-trailing-end.toml"
    path = tmp_path / "end.toml"
    path.write_text(source.read_text("utf-8").replace('at = "3.5 m"', 'at = "-3.5 m"'), "utf-8")
    with pytest.raises(InputError) as caught:
        load_squaring(path)
    (fault,) = caught.value.faults
    assert fault.line is not None
    assert path.read_text("utf-8").splitlines()[fault.line - 1] == 'at = "-3.5 m"'
