"""How often nine-in-ten limits hold the truth, at few failures: the table of docs/checks-life.md.

Lives are drawn by NumPy from a known law; suspended at one age that half of them reach, or each at
an age of its own, drawn evenly so that half are. Sets of fewer than three failures are drawn anew,
as they are flagged and refused most of it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from depth import sized
from proof import noted, proves
from splicewright.errors import InputError
from splicewright.history.life.few_failures import (
    WeighedLaws,
    failing_by,
    scale_of,
    shape_of,
    weigh_laws,
)
from splicewright.history.life.lives import Lives, lives_of
from splicewright.history.life.weibull import fit_weibull

pytestmark = proves(
    "Wear and life",
    "Nine-in-ten limits hold nine times in ten",
    "B",
    "Sets of 6, 10 and 20 lives drawn from a known law; how often the limits hold the truth.",
    doubt="Sampling error of the count.",
    tolerance=(
        "88 to 92 %, and 2.6 standard errors of the runs made; wider where the test says so"
    ),
    sketch="weibull",
)


SHAPE = 2.0
TENTH = (-math.log(0.9)) ** (1 / SHAPE)
HALF = math.log(2) ** (1 / SHAPE)
EVENLY = 1.75  # half of all joints of shape 2, scale 1 outlive an even draw up to this age
QUANTITIES = {
    "shape": (shape_of, SHAPE),
    "scale": (scale_of, 1.0),
    "tenth": (failing_by(0.1), TENTH),
}


def drawn(rng: np.random.Generator, number: int, how: str) -> Lives:
    while True:
        life = rng.weibull(SHAPE, number)
        end = {
            "none": np.full(number, math.inf),
            "one age": np.full(number, HALF),
            "any age": rng.uniform(0, EVENLY, number),
        }[how]
        if (life < end).sum() >= 3:
            return lives_of(np.minimum(life, end), np.where(life < end, life, math.inf))


def held(number: int, how: str, runs: int, seed: int = 3) -> dict[str, tuple[float, float, float]]:
    """Share of sets whose limits hold the truth, lie above it, lie below it."""
    rng = np.random.default_rng(seed)
    found: dict[str, list[tuple[bool, bool, bool]]] = {name: [] for name in QUANTITIES}
    done = 0
    while done < runs:
        try:
            laws: WeighedLaws = weigh_laws(fit_weibull(drawn(rng, number, how)))
        except InputError:  # ever steeper laws fit as well: no law is settled, none is printed
            continue
        done += 1
        for name, (quantity, truth) in QUANTITIES.items():
            limits = laws.limits(quantity, 0.9)
            above, below = limits.low > truth, limits.high < truth
            found[name].append((not above and not below, above, below))
    return {name: tuple(np.mean(f, axis=0)) for name, f in found.items()}


@pytest.mark.parametrize("number", [6, 10, 20])
@pytest.mark.parametrize("how", ["none", "one age", "any age"])
def test_nine_in_ten_limits_hold_nine_times_in_ten(number: int, how: str) -> None:
    runs = sized(150, deep=3000)
    error = 2.6 * math.sqrt(0.09 / runs)
    for name, (inside, _, _) in held(number, how, runs).items():
        # aim: 88 to 92 %; at six joints suspended at any age the shape keeps 87, and the scale at
        # six suspended at one age 95, on the safe side
        low, high = 0.88, 0.92
        low -= 0.012 if how == "any age" else 0.0
        high += 0.035 if how == "one age" else 0.0
        noted(f"{name}: share of {runs} sets held", inside, 0.9, max(0.9 - low, high - 0.9) + error)
        assert low - error <= inside <= high + error, (number, how, name, inside)


if __name__ == "__main__":
    for how in ("none", "one age", "any age"):
        for number in (6, 10, 20):
            row = held(number, how, 3000)
            cells = " | ".join(f"{i:.1%} ({a:.1%}, {b:.1%})" for i, a, b in row.values())
            print(f"| {number} | {how} | {cells} |", flush=True)
