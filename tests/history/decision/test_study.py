"""The first decision from its file to the order of the ways."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from splicewright.errors import InputError
from splicewright.history.decision.file import load_decision
from splicewright.history.decision.options import Way
from splicewright.history.decision.study import DecisionStudy, study_decision

SITE = Path(__file__).parents[3] / "examples" / "karst-hollow" / "history"
TEXT = (SITE / "flat-torn-place.toml").read_text("utf-8")


def judged(tmp_path: Path, text: str) -> DecisionStudy:
    path = tmp_path / "place.toml"
    path.write_text(text, "utf-8")
    return study_decision(load_decision(path))


def test_the_first_way_by_hand(tmp_path: Path) -> None:
    found = judged(tmp_path, TEXT)
    assert found.best is not None
    assert found.best.option.way is Way.REMAKE
    by_hand = 1800 + 6 * 1500 + 40_000 * (1 - math.exp(-((3000 / 9000) ** 2.4)))
    assert found.best.expected_cost == pytest.approx(by_hand)
    assert found.steady
    assert [v.option.way for v in found.verdicts if not v.possible] == [Way.REPAIR, Way.REPLACE]


def test_a_weak_way_wins_where_failures_are_cheap(tmp_path: Path) -> None:
    text = TEXT.replace('"45 %"', '"20 %"').replace("failure_cost = 40000", "failure_cost = 2000")
    found = judged(tmp_path, text)
    assert found.if_half is Way.REPAIR and found.if_double is Way.REMAKE
    assert not found.steady


def test_none_may_be_possible(tmp_path: Path) -> None:
    found = judged(tmp_path, TEXT.replace('window = "12 h"', 'window = "1 h"'))
    assert found.best is None and found.if_half is None


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"3000 h"', '"3000 mm"', 'place.toml:12: place.until: "3000 mm" is no use; accepted is'),
        ('"9000 h"', '"900 kt"', 'option.2.life.scale: "900 kt" counts mass carried, but place'),
        ('"repair"', '"mend"', "option.1.way: 'mend' is not known; accepted is 'repair'"),
        ('"30 %"', '"130 %"', "option.1.kept_strength: '130 %' is too large"),
    ],
)
def test_files_that_cannot_be_used(tmp_path: Path, old: str, new: str, words: str) -> None:
    with pytest.raises(InputError) as caught:
        judged(tmp_path, TEXT.replace(old, new, 1))
    assert words in str(caught.value)
    assert str(caught.value).startswith("place.toml:")
