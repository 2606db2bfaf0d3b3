"""The field trial: when it passes, and what then may be said."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from splicewright.errors import InputError
from splicewright.photographs.trial import UNCONFIRMED, Line, judge, load_trial, standing

GOOD = [
    Line(f"p{n}.jpg", f"phone {n % 2}", "width", 1.0, 1.0005, 0.001, within=True) for n in range(20)
]


def test_a_trial_passes_with_enough_photographs_phones_and_agreement() -> None:
    assert judge(GOOD, [], invented=False).passed
    assert not judge(GOOD, [], invented=True).passed
    assert not judge(GOOD[:19], [], invented=False).passed
    assert not judge([replace(line, phone="one") for line in GOOD], [], invented=False).passed
    outside = [replace(line, within=n > 2) for n, line in enumerate(GOOD)]
    assert not judge(outside, [], invented=False).passed  # 17 of 20 is 85 %
    assert not judge([], [("p.jpg", "blurred")], invented=False).passed


def test_errors_are_photograph_less_rule() -> None:
    # By hand: 0.5 mm each, so mean and rms are 0.5 mm.
    often, mean, rms = judge(GOOD, [], invented=False).errors()["width"]
    assert often == 20 and mean == pytest.approx(5e-4) and rms == pytest.approx(5e-4)


def test_without_a_passed_trial_of_this_version_the_tape_confirms() -> None:
    passed = judge(GOOD, [], invented=False)
    assert standing(None) == UNCONFIRMED
    assert "20 photographs by 2 phones" in standing(passed.to_json().encode())
    held = json.loads(passed.to_json())
    held["trial"]["version"] = "0.0.1"
    assert standing(json.dumps(held).encode()).startswith(UNCONFIRMED)
    # What the file claims of itself counts for nothing: its lines are judged again.
    failed = judge(GOOD[:5], [], invented=False)
    claimed = failed.to_json().replace('"passed": false', '"passed": true')
    assert "did not pass" in standing(claimed.encode())
    with pytest.raises(InputError, match="photo-trial"):
        standing(b"{}", "x.json")


def test_faults_of_the_table_are_told_with_line_and_column(tmp_path: Path) -> None:
    path = tmp_path / "trial.csv"
    path.write_text("photograph,phone,bar,width\np1.jpg,,200 mm,900 mm\np2.jpg,A,201,\n", "utf-8")
    with pytest.raises(InputError) as refused:
        load_trial(path)
    said = [str(fault) for fault in refused.value.faults]
    assert any(":2: phone: is empty" in s for s in said)
    assert any(":3: bar:" in s for s in said)
    path.write_text("photograph,phone,bar,width\np1.jpg,A,200 mm,900 mm\n", "utf-8")
    (row,), invented = load_trial(path)
    assert not invented and row.by_rule == {"width": pytest.approx(0.9)} and row.bars.across is None
