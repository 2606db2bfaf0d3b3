"""The planner's page of a register: what it says to do follows from what was recorded.

Source of what is expected: the register written here, day by day; dates worked by hand.
"""

from __future__ import annotations

import math
from datetime import date, timedelta
from pathlib import Path

import pytest

from actions.recorded import NOW, Recorded
from splicewright.actions.fleet import counted
from splicewright.actions.planner import PlannerAsked, see_planner
from splicewright.actions.renewal import when_to_renew_recorded
from splicewright.errors import InputError
from splicewright.history.planner.next_reading import WornPlace, worth_of_reading
from splicewright.history.planner.next_stop import PlannerCosts
from splicewright.history.planner.study import PlannerStudy
from splicewright.history.wear.line import fit_line
from splicewright.quantities import Kind
from splicewright.sheets.reports.planner import planner_answer, planner_report, stop_lines
from splicewright.store.facts.joint_facts import DueSet, Mode, Task

STOP, NEXT = date(2026, 1, 29), date(2026, 3, 12)
COSTS = {"planned_cost": 3000.0, "failure_cost": 24000.0, "look_cost": 100.0, "until": STOP,
         "after": NEXT, "currency": "EUR", "lead_time": "3 weeks", "warning": "240 h"}  # fmt: skip


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Recorded:
    """One conveyor at 12 h a day: six pull-outs near 300 days, one joint of 330 days, one young."""
    site = Recorded(Path(tmp_path_factory.mktemp("planner")))
    one = site.conveyor("K2")
    for n, life in enumerate((270.0, 285, 300, 310, 320, 335)):
        site.joint(one, f"F{n}", 10.0 * n, removed=10.0 * n + life, mode=Mode.PULL_OUT)
    site.meter(one, (0, "0 h"), (700, "8400 h"), (730, "8760 h"))
    site.joint(one, "OLD", 731 - 250)
    site.joint(one, "YOUNG", 731 - 20)
    return site


def _see(site: Recorded, **changed: object) -> PlannerStudy:
    asked = {k: v for k, v in (COSTS | changed).items() if v is not None}
    return see_planner(site.register, NOW, PlannerAsked(**asked))


def test_old_joints_are_renewed_young_ones_left_and_both_carry_their_range(site: Recorded) -> None:
    study = _see(site)
    old, young = study.joints
    assert (old.joint, young.joint) == ("OLD", "YOUNG")
    assert old.renew and old.past and not young.renew and not young.past
    for one in study.joints:
        assert one.leave_span.low < one.leave < one.leave_span.high
        assert one.renew_span.low < one.renew_at < one.renew_span.high
        assert one.chance_span.low < one.chance < one.chance_span.high
    assert old.half < old.leave < old.double
    assert study.renewed == pytest.approx(old.leave)
    # 12 h a day since it was put to work, 250 days before the first of January
    assert old.age == pytest.approx(250 * 12 * 3600.0, rel=0.01)
    gone = (old.age - old.renew_at) / (12 * 3600.0)
    assert old.since is not None
    assert abs((NOW.date() - old.since).days - gone) <= 1
    told = "\n".join(planner_report(study).lines())
    assert f"K2, joint OLD: past since {old.since}; renew it on {STOP}" in told


def test_when_and_the_planner_name_one_age(site: Recorded) -> None:
    """Reproduced: `when` said "never" of joints that the planner said to renew."""
    old = _see(site).joints[0]
    when = when_to_renew_recorded(site.register, NOW, 3000.0, 24000.0)
    assert when.rules is not None and when.ages is not None
    assert when.rules.stated.age == pytest.approx(old.renew_at, rel=1e-6)
    assert when.ages.low == pytest.approx(old.renew_span.low, rel=0.02)


def test_the_order_day_is_the_stop_less_the_lead_time(site: Recorded) -> None:
    (order,) = _see(site).orders
    assert order.by == STOP - timedelta(weeks=3) and not order.late
    assert "no plan is kept" in order.needed and "OLD" in order.needed
    (late,) = _see(site, lead_time="8 weeks").orders
    assert late.late and late.by == STOP - timedelta(weeks=8)
    (open_,) = _see(site, lead_time=None).orders
    assert open_.by is None


def test_an_inspection_of_the_old_joint_comes_first_and_dearer_ones_fall_off(
    site: Recorded,
) -> None:
    study = _see(site)
    assert study.looks[0].joint == "OLD"
    assert study.looks[0].half < study.looks[0].worth < study.looks[0].double
    dear = _see(site, look_cost=study.looks[0].worth + 101.0)
    assert dear.looks == () and "No inspection beyond" in "\n".join(planner_report(dear).lines())


def test_what_is_not_known_is_said(site: Recorded) -> None:
    bare = _see(site, planned_cost=None, warning=None)
    assert bare.joints == () and "what a planned renewal" in bare.unweighed
    blind = _see(site, warning=None)
    assert blind.looks == () and "past inspections do not" in blind.unlooked
    with pytest.raises(InputError, match="not after the coming stop"):
        _see(site, after=STOP)
    with pytest.raises(InputError, match="give both in one"):
        _see(site, warning="300 kt")


def test_a_register_that_is_counted_is_weighed_one_conveyor_at_a_time(
    site: Recorded, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page read every joint and reading of a register of any size."""
    monkeypatch.setattr(counted, "ONE_BY_ONE", 5)
    study = _see(site)
    assert study.fleet.numbers is not None and study.joints == () and study.orders == ()
    assert "--conveyor NAME" in "\n".join(planner_report(study).lines())
    assert _see(site, conveyor="K2").to_renew


def test_what_is_overdue_comes_first(site: Recorded) -> None:
    joint = next(j for j in site.register.joints() if j.label == "YOUNG")
    from actions.recorded import day

    site.say(731, DueSet(joint.joint, Task.INSPECT, day(700), "lead said so"))
    study = _see(site)
    assert study.now[0].what == "YOUNG"
    told = planner_report(study).lines()
    assert planner_report(study).answer[0].startswith("Now: 1 thing, first K2, joint YOUNG")
    assert any("inspect due since 2025-12-01" in line for line in told)
    assert math.isfinite(study.renewed)


def test_a_joint_to_renew_stands_once_in_the_list_of_the_stop(site: Recorded) -> None:
    """It stood twice: to be renewed, and again with its chance of failing."""
    study = _see(site)
    told = [one.says for one in stop_lines(study)]
    assert any("joint OLD: renew it" in act for act in told)
    assert sum("joint OLD" in act for act in told) == 1


def test_one_more_reading_is_worth_what_the_law_of_its_line_says(tmp_path: Path) -> None:
    """Its uses at the stops are counted from its own readings: 12 h a day, worked by hand."""
    site = Recorded(tmp_path)
    one = site.conveyor("K2")
    site.meter(one, (0, "0 h"), (730, "8760 h"))
    days, values = (300, 420, 540, 660, 725), (8.9, 7.5, 6.9, 5.2, 4.4)
    for when, value in zip(days, values, strict=True):
        site.reading(when, one, "carry cover", Kind.LENGTH, f"{value} mm", "limit 3 mm")
    study = _see(site, look_cost=5.0)
    (reading,) = study.readings
    hours = [(d - days[0]) * 12 * 3600.0 for d in days]  # use 0 is the first reading
    line = fit_line(hours, [v / 1000 for v in values])
    now, first, second = ((d - days[0]) * 12 * 3600.0 for d in (731, 731 + 28, 731 + 70))
    worn = WornPlace(line, 0.003, now, first, second, line.meets(0.003), rises=False)
    expected = worth_of_reading(worn, PlannerCosts(3000.0, 24000.0, 5.0))
    assert reading.worth is not None and expected.worth > 0
    assert reading.worth.worth == pytest.approx(expected.worth, rel=0.02)
    assert reading.worth.leave == pytest.approx(expected.leave, rel=0.02)
    assert reading.half == pytest.approx(
        worth_of_reading(worn, PlannerCosts(3000.0, 12000.0, 5.0)).worth, rel=0.05
    )
    told = "\n".join(planner_report(study).lines())
    assert "Read K2, carry cover again first" in told and "A worn place is taken to cost" in told
    # what is not left by cost stands in the list of the stop, not only beside its reading
    for cost, act in (
        (6_000.0, ""),
        (24_000.0, "K2, carry cover: renew it, unless one more reading before it says"),
        (400_000.0, "K2, carry cover: renew it"),
    ):
        told_of = _see(site, look_cost=5.0, failure_cost=cost)
        assert bool(told_of.places_to_renew) is bool(act), cost
        acts = [one.says for one in stop_lines(told_of) if "carry cover" in one.says]
        assert [a[: len(act)] for a in acts] == [act] * bool(act)
        said = "renew the worn place K2 carry cover" in planner_answer(told_of)[1]
        assert said is bool(act)
    (bare,) = _see(site, planned_cost=None).readings
    assert bare.worth is None  # no cost, no value
