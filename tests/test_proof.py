"""The verification book: cases are declared whole, what they compare is recorded as it was, and a
case that fails or does not run is red."""

from __future__ import annotations

import importlib.util
import json
import re
import sys
from dataclasses import asdict
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from proof import Case, Recorder, noted, proves, recording

ROOT = Path(__file__).parent.parent
TOOLS = ROOT / "tools"


def _tool(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, TOOLS / f"{name}.py")
    assert spec is not None and spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    sys.modules[name] = made
    spec.loader.exec_module(made)
    return made


book: Any = _tool("proof_book")
sketches: Any = _tool("proof_sketches")
DECLARED = book.declared()


def test_there_are_cases_of_every_kind_and_chapter() -> None:
    assert len(DECLARED) >= 60
    assert {c["kind"] for c in DECLARED.values()} == set(book.KINDS)
    assert {c["chapter"] for c in DECLARED.values()} == set(book.CHAPTERS)


@pytest.mark.parametrize("title", sorted(DECLARED))
def test_a_case_says_what_how_far_and_why(title: str) -> None:
    case = DECLARED[title]
    for part in ("problem", "doubt", "tolerance"):
        assert len(case[part]) > 2, part
    assert case["sketch"] in sketches.SKETCHES
    for part in ("doubt", "tolerance"):  # a page stands by itself
        assert not re.search(r"\bas (?:above|the test|each test)\b", case[part].lower()), part


def test_no_sketch_is_left_over() -> None:
    assert set(sketches.SKETCHES) == {c["sketch"] for c in DECLARED.values()}


def test_a_chapter_nobody_knows_is_refused() -> None:
    with pytest.raises(ValueError, match="is not one of the book's"):
        proves("Other", "a title", "A", "a problem", doubt="none", tolerance="none", sketch="level")


def recorded_rows() -> list[dict[str, Any]]:
    recorder = Recorder()
    pull = 37.25e3
    with recording(recorder):
        assert pull == pytest.approx(37.3e3, abs=100.0)
        assert np.float64(2.0) == pytest.approx(2.0)
        assert pytest.approx((1.0, 4.1), rel=0.1) == (1.0, 4.0)
        assert pull - 37247.0 == pytest.approx(3.0) == 3.0
        np.testing.assert_allclose([1.0, 2.2], [1.0, 2.0], rtol=0.2)
        noted("belts outside", 0, 0, 0)
    return recorder.rows


def test_comparisons_are_written_down_as_they_were_made() -> None:
    """Expected: the numbers in the asserts above, and the tolerances pytest documents."""
    rows = recorded_rows()
    found = [(r["text"], r["actual"], r["expected"]) for r in rows]
    assert found[:4] == [
        ("pull", 37.25e3, 37.3e3),
        ("np.float64(2.0)", 2.0, 2.0),
        ("(1.0, 4.0)  [1]", 1.0, 1.0),
        ("(1.0, 4.0)  [2]", 4.0, 4.1),
    ]
    assert found[-2:] == [("[1.0, 2.2]", 2.2, 2.0), ("belts outside", 0.0, 0.0)]
    assert rows[0]["within"] == 100.0 and rows[0]["used"] == 0.5
    assert rows[1]["within"] == 2e-6
    assert rows[3]["within"] == 0.1 * 4.1
    assert abs(rows[-2]["within"] - 0.4) < 1e-12


def test_outside_a_case_nothing_is_changed() -> None:
    plain = pytest.approx
    recorded_rows()
    assert pytest.approx is plain


def test_what_does_not_agree_still_fails_and_is_recorded() -> None:
    recorder = Recorder()
    with pytest.raises(AssertionError), recording(recorder):
        assert pytest.approx(2.0, abs=0.1) == 3.0
    assert recorder.rows[0]["used"] == pytest.approx(10.0)


def test_many_comparisons_of_one_statement_keep_their_number_and_the_worst() -> None:
    recorder = Recorder()
    for n in range(50):
        recorder.compared("value", 1.0 + (0.5 if n == 30 else 0.0), 1.0, 1.0)
    assert sum(r["many"] for r in recorder.rows) == 50
    assert max(r["used"] for r in recorder.rows) == 0.5
    assert len(recorder.rows) < 10


def test_a_compared_value_is_traced_to_the_formula_that_gave_it() -> None:
    from splicewright.tension.resistance.main import motor_power

    recorder = Recorder()
    with recording(recorder):
        assert motor_power(1.0, 45e3, 0.9) == pytest.approx(50e3)
        motor_power(1.0, 36e3, 0.9)
    assert recorder.direct == {"tension.resistance.main.motor_power"}


def test_what_is_compared_is_called_as_the_formula_or_worksheet_calls_it() -> None:
    """By hand: 36 kW over 0.87 of efficiency is no round number; 50 kW is."""
    from splicewright.tension.resistance.main import motor_power

    recorder = Recorder()
    with recording(recorder):
        assert motor_power(1.0, 36e3, 0.87) == pytest.approx(36e3 / 0.87)
        assert motor_power(1.0, 45e3, 0.9) == pytest.approx(50e3)
    assert [r["named"] for r in recorder.rows] == ["motor power P_M [W]", ""]
    for text, words in (
        ("float(full.pull.value)", "full pull"),
        ("[p.y for p in found.leading.plates]  [3]", "y of found leading plates  [3]"),
        ("math.log2(first_misfit / misfits[1])", "log2(first misfit / misfits[1])"),
    ):
        assert book.in_words(text, "") == words
    assert book.in_words("found  [2]", "belt pull [N]") == "belt pull [N]  [2]"
    assert book.bound("a < b: 1.234567891234 < 2.0") == "a < b: 1.234568 < 2.0"


def record(title: str, *, passed: bool) -> dict[str, Any]:
    case = DECLARED[title]
    row = {"text": "pull", "actual": 2.0, "expected": 1.0, "within": 0.1, "used": 10.0, "many": 1}
    names = ("chapter", "title", "kind", "problem", "doubt", "tolerance", "sketch")
    return {
        "case": asdict(Case(**{n: case[n] for n in names})),
        "test": f"{case['file']}::test_pull", "passed": passed,
        "message": "assert 2.0 == 1.0", "file_says": "Source: a book.", "test_says": "",
        "rows": [row], "bounds": [], "direct": [], "ran": [],
    }  # fmt: skip


def test_a_case_that_failed_or_did_not_run_is_a_red_page() -> None:
    good, bad, *_ = sorted(DECLARED)
    made = book.pages([record(good, passed=True), record(bad, passed=False)])
    by_title = {p.case["title"]: p for p in made}
    assert len(made) == len(DECLARED)
    assert by_title[good].passed
    assert not by_title[bad].passed and by_title[bad].failures
    assert sum(not p.passed for p in made) == len(DECLARED) - 1
    told = book.as_html(made, {"version": "1", "digest": "d", "commit": "c"}, _none())
    assert re.search(rf"FAILED: {re.escape(bad)}", told)
    assert told.count("DID NOT RUN: ") == len(DECLARED) - 2
    assert told.count('<section class="case failed"') == len(DECLARED) - 1


def _none() -> Any:
    coverage: Any = sys.modules["proof_coverage"]
    return coverage.Figures((), "")


def test_figures_of_a_plan_without_a_case_are_listed() -> None:
    """Lift resistance compared, its total put together, the rest without: by hand."""
    coverage: Any = sys.modules["proof_coverage"]
    from splicewright.quantities import Figure, Kind, Worksheet
    from splicewright.tension.resistance.main import motor_power, pulley_power

    sheet = Worksheet()
    force, speed = Figure("f", "force", 10e3, Kind.FORCE), Figure("v", "speed", 2.0, Kind.SPEED)
    one = sheet.work("full.power", "power", pulley_power, pull=force, speed=speed)
    sheet.total("both", "both", [one, one])
    sheet.work("motor", "motor", motor_power, share=1.0, power=one, efficiency=0.9)
    title = next(iter(DECLARED))
    seen = record(title, passed=True) | {"direct": ["tension.resistance.main.pulley_power"]}
    found = coverage.coverage([sheet.finish()], [seen], {title: 1})
    assert [(r.label, r.state) for r in found.rows] == [
        ("motor", "none"), ("both", "put together"), ("power", "compared"),
    ]  # fmt: skip
    failed = coverage.coverage([sheet.finish()], [seen | {"passed": False}], {title: 1})
    assert {r.state for r in failed.rows} == {"none"}


def test_records_are_read_in_one_order_whoever_wrote_them(tmp_path: Path) -> None:
    title = next(iter(DECLARED))
    for name, test in (("1", "b"), ("2", "a")):
        line = json.dumps(record(title, passed=True) | {"test": test})
        (tmp_path / f"{name}.jsonl").write_text(line + "\n", "utf-8")
    assert [r["test"] for r in book.records(tmp_path)] == ["a", "b"]
