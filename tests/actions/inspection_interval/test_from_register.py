"""Damage from the register: what looks, repairs and removals come out as, and when to look."""

from __future__ import annotations

import math
from pathlib import Path
from uuid import UUID, uuid4

import pytest

from actions.recorded import NOW, Recorded, day
from splicewright.actions.inspection_interval.choose import when_to_look_recorded
from splicewright.actions.inspection_interval.from_register import (
    belt_damage_of_register,
    watches_of_register,
)
from splicewright.actions.register.use import look_into
from splicewright.history.inspection_interval.delay_time import Watch
from splicewright.history.inspection_interval.interval import (
    InspectionCosts,
    inspect_by_cost,
    missed_if_delay_is_random,
)
from splicewright.joint.inspection.verdict import PlateState
from splicewright.joint.layout import End
from splicewright.sheets.reports.inspection_interval import when_report
from splicewright.store import Correction, Fact, Stream
from splicewright.store.facts.joint_facts import (
    InspectionClosed,
    JointMeasured,
    JointSuspended,
    Mode,
    PlateInspected,
    PlateJudged,
)
from splicewright.store.facts.plant_facts import BeltPlaced, DamageFound, DamageMended, Grade

DAY = 86400.0


@pytest.fixture
def site(tmp_path: Path) -> Recorded:
    return Recorded(tmp_path)


def look(
    site: Recorded, joint: UUID, when: float, *, bad: bool = False, fit: bool | None = True
) -> None:
    """A look; with a cracked plate or without."""
    one = uuid4()
    if bad:
        site.say(
            when, PlateInspected(joint, one, End.LEADING, 3, PlateState.CRACKED),
            InspectionClosed(joint, one, fit, note="looked again", not_seen="under the belt"),
        )  # fmt: skip
    else:
        site.say(
            when, PlateInspected(joint, one, End.LEADING, 3, PlateState.OK),
            InspectionClosed(joint, one, fit, note="looked again", not_seen="under the belt"),
        )  # fmt: skip


def watches(site: Recorded, conveyor: UUID | str = "") -> dict[str, list[Watch]]:
    found: dict[str, list[Watch]] = {}
    for w in watches_of_register(look_into(site.register, NOW, conveyor=conveyor)):
        days = Watch(
            tuple(round(x / DAY, 3) for x in w.looks), round(w.end / DAY, 3),
            None if w.found is None else round(w.found / DAY, 3), round(w.good / DAY, 3),
            round(w.failed / DAY, 3) if w.failed < math.inf else math.inf, 1,
            round(w.start / DAY, 3), w.name,
        )  # fmt: skip
        found.setdefault(w.name.removeprefix("K1 "), []).append(days)
    return found


def test_what_looks_say_of_each_joint(site: Recorded) -> None:
    k1 = site.conveyor("K1")
    sound = site.joint(k1, "sound", 100)
    look(site, sound, 200)
    mended = site.joint(k1, "mended", 100)
    look(site, mended, 150)
    look(site, mended, 200, bad=True)
    look(site, mended, 220, bad=True)
    look(site, mended, 250)
    unfit = site.joint(k1, "grew until unfit", 100)
    look(site, unfit, 150, bad=True)
    look(site, unfit, 200, bad=True)
    look(site, unfit, 240, bad=True, fit=False)
    at_once = site.joint(k1, "unfit at once", 100)
    look(site, at_once, 150)
    look(site, at_once, 200, bad=True, fit=False)
    parted = site.joint(k1, "parted", 100, removed=230, mode=Mode.PULL_OUT)
    look(site, parted, 150)
    worn = site.joint(k1, "found out", 100, removed=230, mode=Mode.LOOP_WORN)
    look(site, worn, 150, bad=True)
    look(site, worn, 190, bad=True)
    stopped = site.joint(k1, "stopped", 100)
    look(site, stopped, 150, bad=True)
    site.say(180, JointSuspended(stopped, "idler torn"))
    inf = math.inf

    def w(
        looks: tuple[float, ...], end: float, found: float | None, good: float, failed: float,
        *, name: str,
    ) -> Watch:  # fmt: skip
        return Watch(looks, end, found, good, failed, 1, 0.0, f"K1 {name}")

    now = 731.0 - 100
    expected = {
        "sound": [w((100.0,), now, None, now, inf, name="sound")],
        "mended": [
            w((50.0, 100.0), 100.0, 100.0, 120.0, inf, name="mended"),
            Watch((), now, None, now, inf, 1, 150.0, "K1 mended"),
        ],
        "grew until unfit": [w((50.0,), 50.0, 50.0, 100.0, 140.0, name="grew until unfit")],
        "unfit at once": [w((50.0, 100.0), 100.0, None, 50.0, 100.0, name="unfit at once")],
        "parted": [w((50.0,), 130.0, None, 130.0, 130.0, name="parted")],
        "found out": [w((50.0,), 50.0, 50.0, 90.0, 130.0, name="found out")],
        "stopped": [w((50.0,), 50.0, 50.0, 80.0, inf, name="stopped")],
    }
    assert watches(site) == expected


def test_what_counts_as_damage(site: Recorded) -> None:
    k1 = site.conveyor("K1")
    finds = {
        "bolt": lambda j, i: PlateJudged(j, i, End.TRAILING, 2, None, 1),
        "weak": lambda j, i: PlateJudged(j, i, End.TRAILING, 2, 0.6),
        "edge": lambda j, i: JointMeasured(j, i, torn_right=0.02),
        "pin": lambda j, i: JointMeasured(j, i, 0.0081, 0.0083),
    }
    for name, finding in finds.items():
        joint, one = site.joint(k1, name, 100), uuid4()
        site.say(
            200,
            finding(joint, one),  # type: ignore[no-untyped-call]
            InspectionClosed(joint, one, True, note="looked again", not_seen="under the belt"),
        )
    found = watches(site)
    assert {n: found[n][0].found for n in finds} == {
        "bolt": 100.0, "weak": 100.0, "edge": 100.0, "pin": None,
    }  # fmt: skip


def test_a_look_that_nobody_closed_mends_nothing(site: Recorded) -> None:
    """One plate said to be sound is no sound joint; damage counts though nobody closed the look.

    Of one conveyor sound plates are not even read: it comes out as the whole register does.
    """
    k1 = site.conveyor("K1")
    joint = site.joint(k1, "left open", 100)
    look(site, joint, 150)
    look(site, joint, 200, bad=True)
    site.say(210, PlateInspected(joint, uuid4(), End.LEADING, 4, PlateState.OK))
    seen = site.joint(k1, "seen", 100)
    look(site, seen, 150)
    one = uuid4()
    site.say(205, PlateInspected(seen, one, End.LEADING, 4, PlateState.OK))
    site.say(206, PlateInspected(seen, one, End.LEADING, 5, PlateState.CRACKED))
    told = site.joint(k1, "told so later", 100)
    look(site, told, 150)
    first, closed = uuid4(), InspectionClosed(told, uuid4(), note="looked", not_seen="below")
    fact = Fact(
        first, day(220), "Ada Example",
        PlateInspected(told, closed.inspection, End.LEADING, 3, PlateState.OK),
    )  # fmt: skip
    site.register.append(fact)
    site.say(220, closed)
    cracked = PlateInspected(told, closed.inspection, End.LEADING, 3, PlateState.CRACKED)
    site.say(230, Correction(Stream.JOINT, told, first, cracked, "a slip"))
    found = watches(site)
    assert {name: [w.found for w in them] for name, them in found.items()} == {
        "left open": [100.0], "seen": [106.0], "told so later": [120.0],
    }  # fmt: skip
    assert watches(site, k1) == found


def test_joints_older_than_the_log_are_watched_from_their_first_sound_look(site: Recorded) -> None:
    k1 = site.conveyor("K1", 300)
    old = site.joint(k1, "old", 100)
    look(site, old, 310, bad=True)
    look(site, old, 350)
    look(site, old, 400, bad=True)
    (one,) = watches(site)["old"]
    assert (one.start, one.found) == (250.0, 300.0)


def recorded(site: Recorded, number: int) -> None:
    """Joints looked at every 20 days: two in three found and renewed, one in three parted."""
    k1 = site.conveyor("K1")
    for i in range(number):
        start = 10 * i
        if i % 3:
            joint = site.joint(k1, f"J{i}", start, removed=start + 165, mode=Mode.RENEWED)
        else:
            joint = site.joint(k1, f"J{i}", start, removed=start + 152, mode=Mode.PULL_OUT)
        for k in range(1, 8):
            look(site, joint, start + 20 * k)
        if i % 3:
            look(site, joint, start + 160, bad=True)


COSTS = (250.0, 6000.0, 40_000.0)


def test_when_to_look_is_learnt_from_the_register(site: Recorded) -> None:
    recorded(site, 12)
    when = when_to_look_recorded(site.register, NOW, *COSTS, found=1.0)
    learnt = when.learnt
    assert learnt is not None
    assert (learnt.damages, learnt.failures, learnt.unfound) == (12, 4, 4)
    assert learnt.law is not None
    assert when.rules is not None
    # damage began since the last sound look, 140 days on; 4 parted 12 days later, 8 were found at
    # 160 and stood 5 days more: worked by hand, the sum of logs over m in steps of half a per cent
    means = [5 * 1.005**k for k in range(1200)]

    def height(m: float) -> float:
        parted = 1 - math.exp(-12 / m)
        stood = m * (math.exp(-5 / m) - math.exp(-25 / m))
        unseen = 4 * m * (1 - math.exp(-12 / m))
        watched = 4 * 152 + 8 * 160
        return 4 * math.log(parted) + 8 * math.log(stood) - 12 * math.log(watched - unseen)

    best = max(means, key=height)
    assert learnt.mean / DAY == pytest.approx(best, rel=5e-3)
    rule = inspect_by_cost(
        learnt.rate, lambda gap: missed_if_delay_is_random(learnt.mean, gap),
        InspectionCosts(*COSTS), DAY, 2000 * DAY,
    ).stated  # fmt: skip
    assert when.rules.stated.interval == pytest.approx(rule.interval, rel=1e-4)
    assert when.at_low is not None
    assert when.at_low.interval < when.rules.stated.interval
    words = "\n".join(when_report(None, when, ()).lines())
    assert "  From seen to failed: " in words
    assert "(as short as past inspections allow)" in words
    assert "Rests on 12 cases of damage to joints on file, 4 of which failed" in words


def test_too_few_failures_leave_the_figures_given(site: Recorded) -> None:
    recorded(site, 3)
    none = when_to_look_recorded(site.register, NOW, *COSTS, found=1.0)
    assert none.rules is None
    first = when_report(None, none, ()).answer[0]
    assert first == (
        "Not enough data to say: 3 cases of damage on file, 1 of which failed; the mean delay "
        "needs 3 failures; until then assume a rate of new damage and a delay."
    )
    assumed = when_to_look_recorded(
        site.register, NOW, *COSTS, found=1.0, every="4000 h", delay="600 h"
    )
    assert assumed.rules is not None
    words = when_report(None, assumed, ()).lines()
    assert any("assumptions, not from inspections: the register holds too few" in w for w in words)
    assert "new damage every 4000 h on average, delay 600 h (assumed)" in "\n".join(words[:3])


def test_damage_counts_where_its_belt_lay_when_it_was_found(site: Recorded) -> None:
    """Belt A lies on K1 for 300 days, then on K2; by hand, the calendar being the meter."""
    k1, k2, belt = site.conveyor("K1"), site.conveyor("K2"), uuid4()

    def found(when: float, *later: tuple[float, Grade]) -> None:
        one = uuid4()
        for then, grade in ((when, Grade.WATCH), *later):
            site.say(then, DamageFound(belt, one, 12.0, 0.3, grade))

    site.say(0, BeltPlaced(belt, k1, "belt A", 240.0))
    found(100, (140, Grade.STOP))
    found(200, (400, Grade.STOP))
    found(250)
    site.say(300, BeltPlaced(belt, k2, "belt A", 240.0))
    found(500, (560, Grade.STOP))
    found(700)

    def ages_seen(conveyor: str, use: float) -> list[tuple[float, float]]:
        looked = look_into(site.register, NOW, conveyor=conveyor)
        delays, at_once, watched = belt_damage_of_register(looked)
        assert delays is not None and at_once == 0
        ages = sorted(zip(delays.good / DAY, delays.bad / DAY, strict=True))
        assert watched / DAY == pytest.approx(use)
        return ages

    never = math.inf
    on_k1, on_k2, after = (0.0, 40.0), (0.0, 60.0), (31.0, never)
    assert ages_seen("K1", 731.0) == [on_k1, (50.0, never), (100.0, never)]
    assert ages_seen("K2", 431.0) == [on_k2, after]
    grew, left = (0.0, 200.0), (481.0, never)
    assert ages_seen("", 1162.0) == sorted([on_k1, on_k2, after, grew, left])


def test_damage_along_a_belt_counts_from_the_day_it_was_found(site: Recorded) -> None:
    k1, belt = site.conveyor("K1"), uuid4()
    site.say(0, BeltPlaced(belt, k1, "belt A", 240.0))

    def found(when: float, grade: Grade, damage: UUID | None = None) -> UUID:
        one = damage or uuid4()
        site.say(when, DamageFound(belt, one, 12.0, 0.3, grade))
        return one

    grew = found(100, Grade.WATCH)
    mended = found(120, Grade.REPAIR)
    found(130, Grade.STOP)
    site.say(150, DamageMended(belt, mended, "vulcanised"))
    found(200, Grade.REPAIR, grew)
    found(260, Grade.STOP, grew)
    found(700, Grade.WATCH)
    looked = look_into(site.register, NOW)
    delays, at_once, watched = belt_damage_of_register(looked)
    assert delays is not None
    assert sorted(zip(delays.good / DAY, delays.bad / DAY, strict=True)) == [
        (30.0, math.inf), (31.0, math.inf), (100.0, 160.0),
    ]  # fmt: skip
    assert at_once == 1
    assert watched / DAY == pytest.approx(731.0)
    few = when_to_look_recorded(site.register, NOW, *COSTS, found=1.0, belts=True)
    assert few.rules is None
    assert few.learnt is not None
    assert (few.learnt.damages, few.learnt.failures) == (4, 2)
