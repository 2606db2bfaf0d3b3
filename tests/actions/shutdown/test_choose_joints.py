"""Which joints to renew: the planner's page and the choice for a shutdown give one answer.

Source of what is expected: the planner's page of the same register; the rule of leaving a joint
written out in `history.planner.next_stop` is held against a simulation of single joints there.
"""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from actions.recorded import NOW, Recorded
from splicewright.actions.planner import PlannerAsked, see_planner
from splicewright.actions.shutdown.choose_joints import (
    NOTHING_LATER,
    WindowRules,
    choose_joints,
    choose_recorded_joints,
)
from splicewright.errors import InputError
from splicewright.history.planner.study import PlannerStudy
from splicewright.history.shutdown.joint_choice_study import ChoosingStudy
from splicewright.store.facts.joint_facts import Mode

STOP, NEXT = date(2026, 1, 29), date(2026, 4, 12)
Site = tuple[tuple[str, tuple[float, ...], tuple[float, ...]], ...]
SITES: dict[str, Site] = {  # conveyors: name, lives of those that failed, ages of those that run
    "one that wears out": (("K1", (270, 285, 300, 310, 320, 335), (330, 250, 180, 120, 20)),),
    "one of chance": (("K1", (20, 90, 200, 330, 480, 600), (30, 150, 300, 450, 700)),),
    "two unlike": (
        ("K1", (150, 160, 170, 180), (170, 140, 100, 10)),
        ("K2", (400, 500, 520), (500, 380, 200, 50)),
    ),
    "few failures": (("K1", (300,), (290, 100)), ("K2", (310, 320), (300, 200, 150))),
}
COSTS = ((3000.0, 24000.0), (3000.0, 9000.0), (6000.0, 6500.0))


@pytest.fixture(scope="module", params=SITES)
def site(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Recorded:
    site = Recorded(Path(tmp_path_factory.mktemp("choose")))
    at = {name: site.conveyor(name) for name, _, _ in SITES[request.param]}
    for name, failed, ages in SITES[request.param]:
        for n, life in enumerate(failed):
            removed = 5.0 * n + life
            site.joint(at[name], f"F{n}", 5.0 * n, removed=removed, mode=Mode.PULL_OUT)
        for n, age in enumerate(ages):
            site.joint(at[name], f"J{n}", 731 - age)
    for one in at.values():
        site.meter(one, (729, "8748 h"), (731, "8772 h"))
    return site


def _both(site: Recorded, costs: tuple[float, float]) -> tuple[PlannerStudy, ChoosingStudy]:
    renewal, failure = costs
    asked = PlannerAsked(planned_cost=renewal, failure_cost=failure, until=STOP, after=NEXT)
    chosen = choose_recorded_joints(
        site.register, NOW, "500 h", 60, on=STOP, until=NEXT, each="10 h",
        renewal_cost=renewal, failure_cost=failure, rules=WindowRules(0.01),
    )  # fmt: skip
    return see_planner(site.register, NOW, asked), chosen


@pytest.mark.parametrize("costs", COSTS)
def test_the_planner_and_the_choice_renew_the_same_joints(
    site: Recorded, costs: tuple[float, float]
) -> None:
    """They differed: one counted a renewal's whole cost, the other its later worth, too."""
    planner, chosen = _both(site, costs)
    candidates = {c.joint: c for c in chosen.asked.candidates}
    assert len(candidates) == len(planner.joints)
    named = {f"{j.conveyor} {j.joint}": j for j in planner.joints}
    advice = chosen.advice
    assert set(advice.stated.renew) == {name for name, j in named.items() if j.leave > 0}
    assert set(advice.half.renew) == {name for name, j in named.items() if j.half > 0}
    assert set(advice.double.renew) == {name for name, j in named.items() if j.double > 0}
    for name, joint in named.items():
        one = candidates[name]
        assert one.gain == pytest.approx(joint.leave, abs=1e-6 * costs[1])
        assert one.if_failure(0.5).gain == pytest.approx(joint.half, abs=1e-6 * costs[1])
        assert one.if_failure(2.0).gain == pytest.approx(joint.double, abs=1e-6 * costs[1])
        assert one.chance_if_left == pytest.approx(joint.between, abs=1e-9)
    if planner.to_renew:
        assert advice.stated.saving == pytest.approx(planner.renewed, rel=0.02)
        assert advice.stated.span is not None and planner.renewed_span is not None
        assert advice.stated.span.low == pytest.approx(planner.renewed_span.low, rel=0.05, abs=200)


def test_without_its_day_the_shutdown_is_today(site: Recorded) -> None:
    def chosen(on: date | None) -> ChoosingStudy:
        return choose_recorded_joints(
            site.register, NOW, "500 h", 60, on=on, until=NEXT, each="10 h",
            renewal_cost=3e3, failure_cost=24e3,
        )  # fmt: skip

    today = NOW.date()
    assert chosen(None).asked.candidates == chosen(today).asked.candidates
    with pytest.raises(InputError, match="is not after this shutdown"):
        chosen(NEXT)
    with pytest.raises(InputError, match="is before today"):
        chosen(today - timedelta(days=1))


def test_a_table_says_what_a_renewal_is_worth_later(tmp_path: Path) -> None:
    head = "joint,conveyor,chance left,failure cost,renewal cost,hours [h]"
    table = tmp_path / "joints.csv"
    table.write_text(f"{head}\nJ1,K1,10 %,20000,3000,8\n")
    whole = choose_joints(table, "40 h", 4)
    # 10 % of 20 000 is less than 3 000
    assert whole.advice.stated.renew == () and whole.asked.notes == (NOTHING_LATER,)
    table.write_text(f"{head},worth later\nJ1,K1,10 %,20000,3000,8,1500\n")
    later = choose_joints(table, "40 h", 4)
    assert later.advice.stated.renew == ("J1",) and later.asked.notes == ()
    assert later.advice.stated.saving == pytest.approx(0.1 * 20000 - 3000 + 1500, abs=1)
