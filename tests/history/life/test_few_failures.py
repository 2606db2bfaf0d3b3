"""Limits at few failures say how often they held the truth; how often is simulated in
`simulation/test_limits_hold.py`, whose table in docs/checks-life.md these figures are."""

from __future__ import annotations

import math
import re
from pathlib import Path

from splicewright.history.life.few_failures import HELD, _among_failures, held_words
from splicewright.history.life.lives import lives_of

INF = math.inf

TABLE = Path(__file__).parents[3] / "docs" / "checks-life.md"
JOINTS = {3: 6, 5: 10, 10: 20}
"""Joints of the sets in the table of which about so many, or more, fail."""


def test_an_answer_says_what_its_limits_held_in_simulation() -> None:
    assert "held the truth in 87 % to 95 %" in held_words(4)
    assert "held the truth in 89 % to 92 %" in held_words(10)
    assert held_words(2) == "" == held_words(10, 0.5)


def test_joints_taken_off_among_the_failures_are_counted_as_a_share_of_all() -> None:
    """Last failure at 300: of 16 joints two were taken off before it, four with it, eight after."""
    lives = lives_of([100, 200, 300, 300, 500], [100, INF, 300, INF, INF], count=[1, 2, 1, 4, 8])
    assert _among_failures(lives) == 2 / 16


def test_what_is_said_is_the_least_and_the_most_of_the_table() -> None:
    rows = re.findall(r"^\| (6|10|20) \| [^|]+ \|(.*)\|$", TABLE.read_text("utf-8"), re.MULTILINE)
    assert len(rows) == 15
    for failures, low, high in HELD:
        held = [
            float(share) / 100
            for number, cells in rows
            if int(number) == JOINTS[failures]
            for share in re.findall(r"([\d.]+) % \(", cells)
        ]
        assert len(held) == 15
        assert abs(min(held) - low) <= 0.005 and abs(max(held) - high) <= 0.0051
