"""How often the stated 95 % ranges hold, kind by kind, over sixty rendered scenes each.

Only in `make test-deep`: twenty minutes of a core. `python -m photographs.accuracy` prints the same
as tables, for docs/photographs.md. The truth is how each scene was drawn; the renderer shares
nothing with the solver.
"""

from __future__ import annotations

import math
from collections import defaultdict

import numpy as np
import pytest

from depth import DEEP
from photographs.accuracy import FURTHER, looked_at

FIRST, COUNT = 9100, 60
AIM, SLACK = 0.95, 0.02
"""95 % is stated; 93 to 97 % is aimed at."""
NAMED = ("named", "none is")
"""Keys that count what is named wrongly, not a range."""


def spread_of(shares: list[float]) -> float:
    """Standard error of the mean over scenes: values of one scene err together.

    Never less than that of one value a scene, by the binomial law: with few misses the spread seen
    says too little.
    """
    n = len(shares)
    seen = float(np.std(shares, ddof=1)) / math.sqrt(n) if n > 1 else 1.0
    return max(seen, math.sqrt(AIM * (1 - AIM) / n))


@pytest.mark.skipif(not DEEP, reason="sixty scenes of each kind: make test-deep")
@pytest.mark.parametrize("kind", sorted(FURTHER))
def test_ranges_hold_as_often_as_they_say(kind: str) -> None:
    shares: dict[str, list[float]] = defaultdict(list)
    for seed in range(FIRST, FIRST + COUNT):
        inside: dict[str, list[bool]] = defaultdict(list)
        for key, off, half in looked_at(seed, kind).get("list", ()):
            if not any(word in key for word in NAMED):
                inside[key].append(abs(off) <= half)
        for key, held in inside.items():
            shares[key].append(float(np.mean(held)))
    assert shares, "every scene was refused"
    for key, each in shares.items():
        mean, doubt = float(np.mean(each)), spread_of(each)
        assert abs(mean - AIM) <= SLACK + 2 * doubt, f"{key}: {mean:.1%} of {len(each)} scenes"


def test_the_spread_is_that_of_scenes() -> None:
    """Hand: 60 scenes that all hold have no spread of their own; 0.95 x 0.05 / 60 = 0.02814²."""
    assert spread_of([1.0] * 60) == pytest.approx(0.028137, rel=1e-4)
    # 30 scenes all in, 30 all out: sd 0.5042 over the root of 60.
    assert spread_of([0.0, 1.0] * 30) == pytest.approx(0.06509, rel=1e-3)
