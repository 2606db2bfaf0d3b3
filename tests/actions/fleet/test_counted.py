"""A fleet answered from counts says what the same fleet says joint by joint."""

from __future__ import annotations

import random
from datetime import timedelta
from pathlib import Path
from uuid import UUID, uuid4

import pytest

from actions.recorded import BEGIN, NOW, Recorded
from splicewright.actions.fleet import counted
from splicewright.actions.fleet.fleet import see_fleet
from splicewright.errors import InputError
from splicewright.history.fleet.study import FleetLine, FleetStudy
from splicewright.history.fleet.urgency import Urgency
from splicewright.joint.inspection.verdict import PlateState, Verdict
from splicewright.joint.layout import End
from splicewright.quantities import Kind
from splicewright.sheets.reports.fleet import fleet_answer, fleet_report
from splicewright.store import Actor, PersonRole, Stream
from splicewright.store.facts.job_facts import (
    JobCommented,
    JobHandedOver,
    JobOpened,
    StepTicked,
    StepTimed,
)
from splicewright.store.facts.joint_facts import (
    DueSet,
    EndInspected,
    InspectionClosed,
    JointMeasured,
    JointSuspended,
    Mode,
    PhoneVerdict,
    PlateInspected,
    PlateJudged,
    ReadingTaken,
    Task,
    WearLimitSet,
)
from splicewright.store.facts.kinds import KINDS, kind_of
from splicewright.store.facts.plant_facts import BeltPlaced, DamageFound, Grade, StockMoved
from splicewright.store.present import deriving

UNTIL = NOW.date() + timedelta(days=40)


def _watched(folder: Path) -> Recorded:
    """One conveyor watched from its first joint on, without a meter; only failures that are seen
    when they happen: nothing that counts cannot hold."""
    made = Recorded(folder)
    chance = random.Random(7)
    k1 = made.conveyor("K1")
    for number in range(90):
        start = chance.uniform(1, 700)
        gone = start + chance.weibullvariate(400, 2.0)
        made.joint(
            k1, f"J{number}", start, removed=gone if gone < 730 else None, mode=Mode.PULL_OUT
        )
    running = [j for j in made.register.joints(k1) if j.state == "running"]
    due = (-50, -3, 0, 10, 39, 40, 41, 400)
    for joint, days in zip(running, due, strict=False):
        made.say(729, DueSet(joint.joint, Task.INSPECT, NOW + timedelta(days=days), "so"))
    made.say(729, JointSuspended(running[8].joint, "idler torn"))
    # The same joint due twice stands in the list once.
    made.say(729, DueSet(running[0].joint, Task.RENEW, NOW + timedelta(days=5), "so"))
    belt = uuid4()
    made.say(
        2, BeltPlaced(belt, k1, "main", 240.0), DamageFound(belt, uuid4(), 3.0, 0.4, Grade.STOP)
    )
    return made


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Recorded:
    """As above; tests only read it."""
    return _watched(tmp_path_factory.mktemp("counted"))


def both(site: Recorded, monkeypatch: pytest.MonkeyPatch) -> tuple[FleetStudy, FleetStudy]:
    one = see_fleet(site.register, NOW, until=UNTIL)
    monkeypatch.setattr(counted, "ONE_BY_ONE", 50)
    return one, see_fleet(site.register, NOW, until=UNTIL)


def test_counts_say_what_each_joint_says(site: Recorded, monkeypatch: pytest.MonkeyPatch) -> None:
    one, alike = both(site, monkeypatch)
    assert one.numbers is None
    assert alike.numbers is not None
    assert {u: alike.number(u) for u in Urgency} == {u: one.number(u) for u in Urgency}
    assert alike.all_lines == len(one.lines)
    assert (alike.running, alike.failures) == (one.running, one.failures)
    assert alike.expected == pytest.approx(one.expected, rel=0.03)
    # So few that all are listed: the same order by urgency and day.
    acting = {Urgency.NOW, Urgency.OVERDUE}

    def shown(line: FleetLine) -> tuple[Urgency, str, object, str]:
        return line.urgency, line.what, line.due, line.id

    for some in (acting, {Urgency.STOP, Urgency.LATER}):
        first, second = ([shown(x) for x in s.lines if x.urgency in some] for s in (one, alike))
        assert (first if some is acting else sorted(first, key=str)) == (
            second if some is acting else sorted(second, key=str)
        )
    chances = {line.id: line.chance for line in one.lines if line.joint}
    for line in alike.lines:
        if line.joint:
            assert line.chance == pytest.approx(chances[line.id], abs=0.004)


def test_what_is_said_names_how_it_was_counted(
    site: Recorded, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(counted, "LISTED", 3)
    one, alike = both(site, monkeypatch)
    assert fleet_answer(alike)[0] == fleet_answer(one)[0]
    said = "\n".join(fleet_report(alike).lines())
    assert "lives are counted by the calendar" in said
    assert "not counted" in said  # of how many in the last year: no number stands for not known
    assert "more lines are counted." in said
    assert len(alike.lines) < len(one.lines) == alike.all_lines


def test_a_stop_behind_is_refused(site: Recorded, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(counted, "ONE_BY_ONE", 50)
    with pytest.raises(InputError, match="is not after today"):
        see_fleet(site.register, NOW, until=BEGIN.date())


def test_only_sites_that_are_seen_are_counted(
    site: Recorded, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(counted, "ONE_BY_ONE", 50)
    other = Actor(uuid4(), "Bo", PersonRole.ADMIN, sites=frozenset({uuid4()}))
    with pytest.raises(InputError, match="holds no conveyor"):
        see_fleet(site.register.said_by(other), NOW, until=UNTIL)
    mine = Actor(uuid4(), "Ada", PersonRole.ADMIN, sites=frozenset({UUID(str(site.site))}))
    alike = see_fleet(site.register.said_by(mine), NOW, until=UNTIL)
    assert alike.numbers == see_fleet(site.register, NOW, until=UNTIL).numbers


def test_kinds_of_joint_are_kept_apart(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two conveyors, each with joints of one kind, one kind lasting three times as long: counted by
    kind they say what the two conveyors say joint by joint."""
    made = Recorded(tmp_path)
    chance = random.Random(3)
    for name, kind, scale in (("K1", "hinged", 250.0), ("K2", "vulcanised step", 750.0)):
        conveyor = made.conveyor(name)
        for number in range(60):
            start = chance.uniform(1, 700)
            gone = start + chance.weibullvariate(scale, 2.0)
            removed = gone if gone < 730 else None
            made.joint(
                conveyor, f"{name}-{number}", start, removed=removed, mode=Mode.PULL_OUT, kind=kind
            )
    one, alike = both(made, monkeypatch)
    assert one.kinds == () and alike.conveyors == ()
    by_conveyor = {c.conveyor: c for c in one.conveyors}
    kinds = {k.conveyor: k for k in alike.kinds}
    for name, kind in (("K1", "hinged"), ("K2", "vulcanised step")):
        told, expected = kinds[kind], by_conveyor[name]
        assert (told.running, told.failures) == (expected.running, expected.failures)
        assert told.expected == pytest.approx(expected.expected, rel=0.05)
        assert told.tenth == pytest.approx(expected.tenth, rel=0.05)
    assert kinds["vulcanised step"].tenth > 1.8 * kinds["hinged"].tenth
    chances = {line.id: line.chance for line in one.lines if line.joint}
    assert all(line.chance == pytest.approx(chances[line.id], abs=0.015) for line in alike.lines)
    assert {u: alike.number(u) for u in Urgency} == {u: one.number(u) for u in Urgency}
    said = "\n".join(fleet_report(alike).lines())
    assert "Kinds of joint, most failures expected first" in said and "vulcanised step" in said


def test_facts_that_are_said_to_change_nothing_do_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page keeps its answer through these: it must be the one that would be worked anew."""
    site = _watched(tmp_path)
    monkeypatch.setattr(counted, "ONE_BY_ONE", 50)
    job, there = uuid4(), site.register.conveyors()[0]
    site.say(729.4, JobOpened(job, there.conveyor, "rollers"))
    before = see_fleet(site.register, NOW, until=UNTIL)
    look, running = uuid4(), [j.joint for j in site.register.joints() if j.state == "running"]
    joint = running[3]
    said = (
        PlateInspected(joint, look, End.LEADING, 3, PlateState.WORN),
        EndInspected(joint, look, End.TRAILING, 22),
        PlateJudged(joint, look, End.LEADING, 3, 0.2, 2),
        JointMeasured(joint, look, pin_now=0.004, pin_new=0.006, torn_left=0.1),
        PhoneVerdict(joint, look, next(iter(Verdict)), 0.5, 0.9),
        ReadingTaken(Stream.JOINT, joint, "pin", Kind.LENGTH, 0.002, "2 mm"),
        StockMoved(there.site, "bolt", -16.0),
        StepTicked(job, "lock out"),
        StepTimed(job, "lock out", 600.0),
        JobCommented(job, "wind from the west"),
        JobHandedOver(job, "night shift"),
        WearLimitSet(Stream.JOINT, joint, "pin", 0.003, "3 mm", "site rule"),
    )
    site.say(729.5, *said)
    counted._LAWS.clear()
    assert see_fleet(site.register, NOW, until=UNTIL) == before
    # What of them is not tried here (it names kept contents) changes no row either.
    kinds = {kind_of(what).name for what in said}
    assert kinds <= counted.CHANGE_NOTHING
    for kind in counted.CHANGE_NOTHING - {"stock moved"}:
        assert deriving._derive.dispatch(KINDS[kind].made_by) is deriving._derive.dispatch(object)


def test_the_law_is_worked_again_only_for_other_counts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With a fact every second the page said the same after each, at 0.2 s of a core: whatever
    comes, it says what is worked anew; and what ends no life costs no law."""
    monkeypatch.setattr(counted, "ONE_BY_ONE", 5)
    counted._LAWS.clear()
    site = Recorded(tmp_path)
    k1 = site.conveyor("K1")
    for number in range(12):
        gone = 200.0 + 20 * number if number < 5 else None
        site.joint(k1, f"J{number}", 10.0 + number, removed=gone, mode=Mode.PULL_OUT)
    one, other = (j.joint for j in site.register.joints(k1)[-2:])

    def seen(later: float = 0.0) -> FleetStudy:
        now = NOW + timedelta(hours=later)
        kept = see_fleet(site.register, now, until=UNTIL)
        before = tuple(counted._LAWS)
        counted._LAWS.clear()
        anew = see_fleet(site.register, now, until=UNTIL)
        counted._LAWS.clear()
        counted._LAWS.extend(before)
        if not later:
            assert repr(kept) == repr(anew)  # nan is not itself
        assert [(x.what, x.urgency) for x in kept.lines] == [
            (x.what, x.urgency) for x in anew.lines
        ]
        return kept

    first = seen()
    assert len(counted._LAWS) == 1
    site.say(729, DueSet(one, Task.INSPECT, NOW - timedelta(days=3), "so"))
    assert seen().number(Urgency.OVERDUE) == first.number(Urgency.OVERDUE) + 1
    site.say(729.2, InspectionClosed(one, uuid4(), True, not_seen="trailing end"))
    assert seen().failures == first.failures
    assert len(counted._LAWS) == 1
    # Found unfit: said at once, and a life that has ended.
    site.say(729.4, InspectionClosed(other, uuid4(), False))
    found = seen()
    assert found.number(Urgency.NOW) == first.number(Urgency.NOW) + 1
    assert found.failures == first.failures + 1
    assert len(counted._LAWS) == 2
    # Later that day the law stands; tomorrow all have grown older.
    seen(1)
    assert len(counted._LAWS) == 2
    tomorrow = 24 - NOW.hour
    seen(tomorrow)
    assert len(counted._LAWS) == 3
