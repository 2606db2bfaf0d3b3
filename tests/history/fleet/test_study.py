"""The list of the fleet: order, reasons, numbers by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from splicewright.errors import InputError
from splicewright.history.fleet.joints import Duty, FleetJoint, chances_ahead
from splicewright.history.fleet.stops import Stop
from splicewright.history.fleet.study import FleetMatter, FleetStudy, study_fleet
from splicewright.history.fleet.urgency import Urgency, urgency_of_duty, urgency_of_end
from splicewright.history.life.lives import Life
from splicewright.quantities import sentence

TODAY, UNTIL = date(2026, 1, 1), date(2026, 1, 31)
H = 3600.0


def joint(name: str, age: float, *, failed: bool = False, **more: object) -> FleetJoint:
    life = Life(age * H, age * H if failed else math.inf, joint=name, cause="pull-out" * failed)
    return replace(
        FleetJoint(name, "K1", "Karst Hollow", life, 16 * H, f"id {name}", running=not failed,
                   watched=(TODAY - timedelta(days=400), TODAY)),
        **more,  # type: ignore[arg-type]
    )  # fmt: skip


FAILED = tuple(joint(f"F{n}", age, failed=True) for n, age in enumerate((4000, 5200, 6100, 7000)))
RUNNING = (joint("young", 500), joint("old", 6500), joint("middle", 3000))


def fleet(*joints: FleetJoint, **more: object) -> FleetStudy:
    return study_fleet(joints, today=TODAY, until=UNTIL, **more)  # type: ignore[arg-type]


def test_the_oldest_stands_before_the_young() -> None:
    study = fleet(*RUNNING, *FAILED)
    assert [line.what for line in study.lines] == ["old", "middle", "young"]
    assert study.lines[0].chance > study.lines[1].chance > study.lines[2].chance
    assert study.running == 3
    assert study.failures == 4
    assert study.expected == pytest.approx(sum(line.chance for line in study.lines))
    # by hand: by each law nobody fails when each does not; over all laws joints last or fail
    # together, so that none fails more often than by the mean chances
    by_law = chances_ahead((*RUNNING, *FAILED))(30)
    assert study.none_fails == pytest.approx(float((1 - by_law).prod(axis=1).mean()))
    assert study.none_fails > math.prod(1 - line.chance for line in study.lines)
    old = study.lines[0]
    assert old.half_by == TODAY + timedelta(days=old.half_left / (16 * H))
    assert old.chance_range is not None
    assert old.chance_range.low < old.chance < old.chance_range.high
    first, last = old.half_range
    assert first is not None and last is not None
    assert first < old.half_by < last
    assert study.counts is not None
    assert study.counts.low <= study.expected <= study.counts.high
    assert "chance of failure before 2026-01-31" in old.reasons[-1].say()
    assert "has run 6500 h" in old.reasons[-1].say()


def test_urgency_goes_before_chance() -> None:
    must_not = joint("unfit", 10, must_not_run=True, running=False)
    overdue = joint("overdue", 20, duties=(Duty("inspect", date(2025, 12, 1), "plan"),))
    soon = joint("soon", 30, duties=(Duty("re-tighten", date(2026, 1, 9)),))
    far = joint("far", 40, duties=(Duty("inspect", date(2027, 1, 9)),))
    stands = joint("stands", 15, stands=date(2025, 12, 20))
    damage = FleetMatter("damage at 40 m", "K1", "Karst Hollow", Urgency.NOW,
                         (sentence("stop the belt"),))  # fmt: skip
    study = fleet(far, soon, overdue, must_not, stands, *FAILED, matters=[damage])
    order = [(line.urgency, line.what) for line in study.lines]
    assert [what for u, what in order if u is Urgency.NOW] == ["damage at 40 m", "unfit"]
    assert [what for u, what in order if u is Urgency.OVERDUE] == ["overdue", "stands"]
    assert [what for u, what in order if u is Urgency.STOP] == ["soon"]
    assert order[-1] == (Urgency.LATER, "far")
    said = {line.what: [r.say() for r in line.reasons] for line in study.lines}
    assert said["unfit"][0] == "the last inspection found that it must not run"
    assert said["overdue"][0] == "inspect due since 2025-12-01: plan"
    assert said["soon"][0] == "re-tighten due on 2026-01-09"
    assert "inspect" not in said["far"][0]  # not before the stop
    assert said["stands"][0].startswith("stopped since 2025-12-20")


def test_a_worn_place_whose_date_has_passed_stands_first() -> None:
    # reproduced: likely end eleven weeks back, "before the next stop", sixth in the list
    ends = date(2025, 10, 16), date(2025, 12, 3)
    for latest, urgency in ((date(2025, 12, 9), Urgency.NOW), (date(2026, 2, 1), Urgency.OVERDUE)):
        worn = FleetMatter("cover", "K1", "Karst Hollow",
                           urgency_of_end(*ends, latest, TODAY, UNTIL), (), ends[1])  # fmt: skip
        late = joint("late", 6400, duties=(Duty("inspect", date(2025, 12, 20)),))
        study = fleet(*RUNNING, late, *FAILED, matters=[worn])
        assert (study.lines[0].what, study.lines[0].urgency) == ("cover", urgency)
        assert study.number(Urgency.NOW) + study.number(Urgency.OVERDUE) == 2


def test_what_is_likely_worn_out_before_the_stop_stands_before_what_is_unlikely() -> None:
    worn = FleetMatter("cover", "K1", "Karst Hollow", Urgency.STOP, (), TODAY + timedelta(days=9))
    study = fleet(*RUNNING, *FAILED, matters=[worn])
    assert study.lines[0].what == "cover"
    # far ahead some joints fail more likely than not: those stand before it, the others after it
    worn = replace(worn, likely=TODAY + timedelta(days=150))
    study = study_fleet(
        (*RUNNING, *FAILED), today=TODAY, until=TODAY + timedelta(days=200), matters=[worn]
    )
    at = [line.what for line in study.lines].index("cover")
    before, after = study.lines[:at], study.lines[at + 1 :]
    assert before and after
    assert min(line.chance for line in before) > 0.5 > max(line.chance for line in after)


DAYS = st.integers(-400, 400).map(lambda n: TODAY + timedelta(days=n))


@given(st.lists(DAYS | st.none(), min_size=3, max_size=3), DAYS, st.integers(0, 300))
def test_nothing_gets_less_urgent_because_time_goes_by(
    ends: list[date | None], today: date, more: int
) -> None:
    """The class of fault: a date behind us must never look as if it lay ahead."""
    known = iter(sorted(d for d in ends if d))
    early, likely, late = (next(known) if d else None for d in ends)
    then = today + timedelta(days=more)
    until = max(then, today) + timedelta(days=1)
    now, later = (urgency_of_end(early, likely, late, d, until) for d in (today, then))
    assert later.rank <= now.rank
    duty, after = (urgency_of_duty(likely, d, until) for d in (today, then))
    assert after.rank <= duty.rank
    if likely is not None and likely <= today:
        assert now in {Urgency.NOW, Urgency.OVERDUE}


def test_without_failures_no_chance_is_told_but_a_bound() -> None:
    study = fleet(*RUNNING)
    assert study.why_not.startswith("no failure is on file")
    assert math.isnan(study.expected)
    assert math.isnan(study.none_fails)
    assert study.at_least > 0
    assert all(math.isnan(line.chance) for line in study.lines)
    assert fleet().why_not == "no joint has run yet"
    planned = replace(joint("planned", 1), life=None, watched=None, running=False)
    assert fleet(planned).lines == ()


def test_a_life_beyond_the_records_is_not_told() -> None:
    # one early failure among many that run: half of them last longer than anybody has seen
    many = [joint(f"J{n}", 5000 + n) for n in range(40)]
    study = fleet(joint("F", 4000, failed=True), *many)
    assert all(math.isnan(line.half_left) for line in study.lines)
    assert "longer than the records show" in study.lines[0].reasons[-1].say()
    assert study.lines[0].half_by is None


def test_costs_and_trend_come_with_it() -> None:
    stops = [Stop("K1", "F0", "pull-out", date(2025, 6, 1), True, 6 * H)]
    study = fleet(*RUNNING, *FAILED, stops=stops, stop_cost=1000 / H, failure_cost=2000.0)
    assert study.causes[0].cost == pytest.approx(6 * 1000 + 2000)
    assert sum(y.failures for y in study.years) == 1
    assert study.failure_cost == 2000.0


def test_a_stop_that_lies_behind_is_refused() -> None:
    with pytest.raises(InputError, match="until: 2025-12-31 is not after today"):
        study_fleet(RUNNING, today=TODAY, until=date(2025, 12, 31))


def test_chances_ahead_are_those_of_the_lines() -> None:
    ahead = chances_ahead((*RUNNING, *FAILED))
    young, old, middle = ahead(90).mean(axis=0)
    assert young < middle < old
    assert not ahead(0).any()
