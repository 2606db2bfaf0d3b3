"""The range of the cheapest age: against every law by itself, and what one failure allows."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad

from splicewright.actions.renewal import when_to_renew
from splicewright.history.life.few_failures import failing_by, weigh_laws, weigh_scales
from splicewright.history.life.lives import lives_of
from splicewright.history.life.weibull import Weibull, fit_weibull
from splicewright.history.renewal import renew_at_age, renewal_limits
from splicewright.quantities import percent
from splicewright.sheets.reports.renewal import renewal_section

INF = math.inf


def test_limits_are_those_of_each_law_by_itself() -> None:
    rng = np.random.default_rng(4)
    life = 1000 * rng.weibull(2.5, 14)
    laws = weigh_laws(
        fit_weibull(lives_of(np.minimum(life, 1200), np.where(life < 1200, life, INF)))
    )
    ages, savings = renewal_limits(laws, 1.0, 8.0, INF)
    taken = rng.choice(laws.shape.size, 700, p=laws.weight)
    each = [
        renew_at_age(Weibull(laws.shape[k], laws.scale[k]), 1.0, 8.0, near=False) for k in taken
    ]
    low, high = np.quantile([r.age for r in each], [0.05, 0.95])
    assert ages.low == pytest.approx(low, rel=0.05)
    assert ages.high == pytest.approx(high, rel=0.05)
    saved = np.quantile([r.saving for r in each], [0.05, 0.95])
    assert (savings.low, savings.high) == pytest.approx(tuple(saved), abs=0.03)
    # of one age by each law, its cost by quadrature
    _, found = renewal_limits(laws, 1.0, 8.0, 600.0)
    each_law = [Weibull(laws.shape[k], laws.scale[k]) for k in taken]
    at = [
        1 - float(law.good(600.0) + 8 * law.failed(600.0)) * law.mean / 8
        / quad(lambda t, law=law: float(law.good(t)), 0.0, 600.0)[0]
        for law in each_law
    ]  # fmt: skip
    assert (found.low, found.high) == pytest.approx(tuple(np.quantile(at, [0.05, 0.95])), abs=0.03)


def test_no_age_is_sure_where_chance_failures_stay_possible() -> None:
    lives = lives_of([200.0, 500.0, 900.0, 1000.0], [200.0, 500.0, 900.0, INF])
    ages, savings = renewal_limits(weigh_laws(fit_weibull(lives)), 1.0, 4.0, INF)
    assert math.isinf(ages.high)
    assert savings.low == 0.0


def test_one_failure_and_an_assumed_shape_give_a_range() -> None:
    # closed form: scale^-2 is a gamma variable of one event over the sum of squares
    lives = lives_of([800.0, 1000.0, 600.0], [800.0, INF, INF])
    laws = weigh_scales(lives, 2.0)
    total = 800.0**2 + 1000.0**2 + 600.0**2
    drop = -math.log(0.9)
    low, high = ((drop * total / -math.log(p)) ** 0.5 for p in (0.05, 0.95))
    found = laws.limits(failing_by(0.1))
    assert (found.low, found.high) == pytest.approx((low, high), rel=0.01)


def test_when_takes_the_shape_it_asks_for(tmp_path: Path) -> None:
    # reproduced: one failure, "assume a shape", and --shape was not taken
    path = tmp_path / "lives.csv"
    path.write_text("joint,good [h],failed [h],cause\na,800,800,pull-out\nb,1000,,\nc,600,,\n")
    believed = when_to_renew(1.0, 8.0, lives=path)
    assert believed.rules is not None and "shape about 2" in believed.notes[-1]
    when = when_to_renew(1.0, 8.0, lives=path, shape=2.5)
    assert when.rules is not None and when.ages is not None
    assert when.ages.low < when.rules.stated.age < when.ages.high
    assert "shape 2.5 assumed" in when.known
    # reproduced: "saves 41 %", and a range of 47 % to 47 %
    assert when.savings is not None
    assert when.savings.low < when.rules.stated.saving < when.savings.high
    told = "\n".join(line for s in renewal_section(when, "metric") for line in s.lines())
    low, high = percent(when.savings.low), percent(when.savings.high)
    assert f"It saves: {low} to {high} (nine times" in told


def test_causes_are_not_pooled_in_silence(tmp_path: Path) -> None:
    path = tmp_path / "lives.csv"
    rows = "a,800,800,pull-out\nb,1000,1000,pin\nc,900,900,pull-out\nd,700,,\n"
    path.write_text(f"joint,good [h],failed [h],cause\n{rows}")
    notes = when_to_renew(1.0, 8.0, lives=path).notes
    assert notes[0] == "failures of all causes count alike: pin, pull-out"
