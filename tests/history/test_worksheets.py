"""Every number a person reads of wear, life, renewal, stock and shutdown is in its worksheet."""

from __future__ import annotations

from datetime import date

import pytest

from splicewright.history.inspection_interval.renewal_worksheet import record_of_renewing
from splicewright.history.inspection_interval.study import WhenToRenew
from splicewright.history.life.few_failures import weigh_laws
from splicewright.history.life.lives import failed, gather, running
from splicewright.history.life.study import Record as Lived
from splicewright.history.life.study import study_life
from splicewright.history.life.weibull import fit_weibull
from splicewright.history.life.worksheet import record_of_life
from splicewright.history.renewal import renew_at_age_if_costs_differ, renewal_limits
from splicewright.history.shutdown.joint_choice import Candidate
from splicewright.history.shutdown.joint_choice_by_schedule import Renewals
from splicewright.history.shutdown.joint_choice_study import study_choice
from splicewright.history.shutdown.worksheet import record_of_choice, record_of_shutdown
from splicewright.history.stock.study import Item, study_stock
from splicewright.history.stock.worksheet import record_of_stock
from splicewright.history.wear.limit_met import Reading
from splicewright.history.wear.study import Series, study_wear
from splicewright.history.wear.worksheet import record_of_wear
from splicewright.quantities import Given, Line, Record, key_of, show
from splicewright.quantities.measure import Measure

H = 3600.0
LIVES = [failed(a * H, joint=f"F{a:.0f}") for a in (900.0, 1100.0, 1300.0, 700.0, 1600.0)]
RUNNING = [running(a * H, joint=f"R{a:.0f}") for a in (400.0, 1000.0, 1200.0)]


def values(record: Record) -> dict[str, float]:
    return {
        key_of(e): float((e.figure if isinstance(e, Line) else e).value) for e in record.entries
    }


def explained(record: Record) -> None:
    """Every line rests on figures that are in the sheet, and names a source that is known."""
    keys = {key_of(e) for e in record.entries}
    assert keys
    for entry in record.entries:
        if isinstance(entry, Line):
            assert entry.formula
        figure = entry.figure if isinstance(entry, Line) else entry
        # A number that is not 0 is never told as 0 [show]: so little needs another unit of use.
        shown = show(figure.value, figure.kind)
        assert figure.value == 0 or shown.split()[0].strip("-") != "0", (figure.key, figure.value)


def test_life() -> None:
    records = [Lived(x) for x in LIVES] + [Lived(x, running=True) for x in RUNNING]
    study = study_life(records, further=200 * H)
    record = record_of_life(study)
    explained(record)
    found, law = values(record), study.settled
    assert law is not None and study.counts is not None
    assert found["law.tenth"] == pytest.approx(law.tenth)
    assert found["law.half"] == pytest.approx(law.half)
    assert (found["law.tenth_low"], found["law.tenth_high"]) == (
        law.tenth_limits.low, law.tenth_limits.high,
    )  # fmt: skip
    assert found["ahead.expected"] == study.expected
    assert found["ahead.high"] == study.counts.high
    bound = values(record_of_life(study_life([Lived(x, running=True) for x in RUNNING])))
    assert "law.at_least" in bound and "law.shape" not in bound


def test_life_of_two_failures_tells_no_bias() -> None:
    """The published factor is (n - 0.68)/(n - 2): with two failures there is none."""
    lives = [Lived(x) for x in LIVES[:2]] + [Lived(x, running=True) for x in RUNNING]
    study = study_life(lives)
    assert study.settled is not None and study.settled.bias  # said in words
    found = values(record_of_life(study))
    assert "law.shape" in found and not [key for key in found if key.startswith("law.bias")]
    five = values(record_of_life(study_life([Lived(x) for x in LIVES])))
    assert five["law.bias_mean"] == pytest.approx((5 - 0.68) / (5 - 2))


def test_renewal() -> None:
    fit = fit_weibull(gather([*LIVES, *RUNNING]))
    rules = renew_at_age_if_costs_differ(fit.law, 1.0, 9.0)
    ages, savings = renewal_limits(weigh_laws(fit), 1.0, 9.0, rules.stated.age)
    when = WhenToRenew(rules, Measure.TIME, "five failures", ages=ages, savings=savings,
                       planned=1.0, failure=9.0)  # fmt: skip
    record = record_of_renewing(when)
    explained(record)
    found = values(record)
    assert found["renewal.age"] == rules.stated.age
    assert found["renewal.half"] == rules.half.age
    assert found["renewal.double"] == rules.double.age
    assert found["renewal.saving"] == rules.stated.saving
    assert found["renewal.from"] == ages.low
    assert found["renewal.saves_most"] == savings.high
    assert not record_of_renewing(WhenToRenew(None, Measure.TIME, "", "too few")).entries


def test_stock() -> None:
    item = Item("glue", 3.0, 60 * 86400.0, shelf_life=365 * 86400.0, price=50.0, wait_cost=9e3)
    (one,) = study_stock([item], 0.95)
    record = record_of_stock([one], 0.95)
    explained(record)
    found = values(record)
    assert found["stock.hold"] == one.advice.service.stock
    assert found["stock.fill"] == one.advice.service.fill
    assert found["stock.ready"] == one.advice.service.ready
    assert found["stock.order"] == one.order_now
    assert found["demand.high"] == one.used.high
    assert "stock.spoilt" in found


def test_wear() -> None:
    readings = tuple(
        Reading(k * 500 * H, 0.010 - 0.0004 * k + 0.00003 * (k % 3), str(k)) for k in range(7)
    )
    study = study_wear([Series("cover", readings, 0.004)], today=date(2026, 6, 1))
    (place,) = study.places
    record = record_of_wear(study)
    explained(record)
    found = values(record)
    assert found["wear.likely"] == pytest.approx(place.forecast.likely)
    assert found["wear.earliest"] == place.forecast.earliest
    assert found["wear.latest"] == place.forecast.latest


def test_shutdown_and_choice() -> None:
    joints = tuple(Candidate(f"J{n}", "K1", 0.4, 0.02, 5e4, 5e3, 9 * H) for n in range(3))
    study = study_choice(Renewals("spring", joints, 9 * H, 4, 2, {"K1": 3 * H}))
    record = record_of_choice(study)
    explained(record)
    found, choice = values(record), study.advice.stated
    assert study.schedule is not None
    assert found["choice.saving"] == choice.saving
    assert found["finish.chance"] == choice.chance
    assert sum(key.endswith(".gain") for key in found) == len(joints)  # those left, too
    alone = values(record_of_shutdown(study.schedule))
    assert alone["finish.nine_tenths"] == study.schedule.nine_tenths
    assert alone["finish.error"] == pytest.approx(study.schedule.chance.error)


@pytest.mark.parametrize("common_cause", [0.0, 0.1])
def test_a_shutdown_says_whether_its_common_scatter_was_asked_for(common_cause: float) -> None:
    joints = (Candidate("J", "K1", 0.4, 0.02, 5e4, 5e3, 9 * H),)
    asked = Renewals("spring", joints, 9 * H, 4, 2, common_cause=common_cause)
    study = study_choice(asked).schedule
    assert study is not None
    (said,) = (e for e in record_of_shutdown(study).entries if key_of(e) == "window.common_cause")
    assert isinstance(said, Given)
    assert said.value == common_cause
    assert said.assumed == (common_cause == 0)
