"""`compare` on the invented measurements, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from splicewright.cli import main
from strategies import EXAMPLES

SITE = EXAMPLES / "karst-hollow"
INCLINE = str(SITE / "conveyors" / "incline.toml")
WORK = ["--work", str(SITE / "jobs" / "incline-worn-joint.toml")]


def compare(*given: str) -> tuple[int, str]:
    done = CliRunner().invoke(main, ["compare", *given])
    return done.exit_code, done.output


def test_tensions_beside_the_plan() -> None:
    table = str(SITE / "measurements" / "incline-tension.csv")
    code, said = compare(table, INCLINE, *WORK)
    assert code == 0
    assert "measured 38.6 kN, predicted 37.3 kN, difference 1.3 kN (+3.5 %)" in said
    assert "treat the prediction as unsafe until the cause is known" in said
    assert "the bound was kept" in said
    assert "Invented data" in said
    code, said = compare(table, INCLINE, *WORK, "--json")
    rows = json.loads(said)["rows"]
    assert [r["verdict"] for r in rows] == [
        "explained", "more than predicted", "within the bound",
    ]  # fmt: skip
    # By hand: 38.6 - 37.3 = 1.3 of 2.0.
    assert rows[0]["score"] == pytest.approx(1.3 / 2.0, rel=0.02)


def test_wear_beside_its_forecast() -> None:
    later = str(SITE / "measurements" / "incline-wear-later.csv")
    earlier = str(SITE / "history" / "incline-wear.csv")
    code, said = compare(later, earlier, "--gauge", "0.1 mm")
    assert code == 0
    assert "the uncertainties explain the difference" in said


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        ("full.pul,41 kN,", "no number of that name in this plan; near it: "),
        ("full.pull,41 mm,", "accepted is a force such as"),
        ("full.pull,,", "is empty; it must be given, with its unit"),
        ("belt.thickness,10 mm,", "is what was put in, not what was predicted"),
    ],
)
def test_a_row_that_cannot_be_compared_is_named(tmp_path: Path, row: str, sentence: str) -> None:
    table = tmp_path / "measured.csv"
    table.write_text(f"figure,measured,uncertainty\n{row}\n", "utf-8")
    code, said = compare(str(table), INCLINE, *WORK)
    assert code == 2
    assert sentence in said
    assert "measured.csv:2" in said
