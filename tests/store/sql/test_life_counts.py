"""Counts of lives are what the joints give, whatever was recorded, corrected, moved or killed."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from uuid import UUID, uuid4

import pytest
from sqlalchemy import text

from depth import next_line, sized
from splicewright.history.life.counts import Fate, LifeCount, merged
from splicewright.store import Actor, Correction, PersonRole, Stream, What
from splicewright.store.facts.joint_facts import (
    HINGED,
    SOLID,
    InspectionClosed,
    JointDescribed,
    JointPlanned,
    JointPutToWork,
    JointRemoved,
    JointSuspended,
    Mode,
)
from splicewright.store.facts.plant_facts import ConveyorRecorded, SiteAdded
from splicewright.store.sql import life_counts
from splicewright.store.sql.register import SqlRegister, open_register
from store.making import Clock, Plant

DAY = 86400.0


def totals(counts: tuple[LifeCount, ...]) -> Counter[tuple[str, str]]:
    found: Counter[tuple[str, str]] = Counter()
    for one in counts:
        found[one.fate.value, one.cause] += one.count
    return found


def say(register: SqlRegister, plant: Plant, what: What) -> UUID:
    fact = plant.fact(what)
    register.append(fact)
    return fact.id


def test_a_life_is_counted_as_it_goes(register: SqlRegister, plant: Plant, clock: Clock) -> None:
    joint = plant.joint(register)
    assert register.life_counts() == ()
    say(register, plant, JointPutToWork(joint))
    begun = clock.now
    [runs] = register.life_counts()
    assert (runs.fate, runs.count) == (Fate.RUNNING, 1)
    assert runs.age(begun + timedelta(days=100)) == 100 * DAY
    clock.pass_(100 * DAY)
    say(register, plant, JointSuspended(joint, "idler torn"))
    assert totals(register.life_counts()) == {("standing", ""): 1}
    say(register, plant, JointPutToWork(joint, "idler renewed"))
    clock.pass_(10 * DAY)
    removal = say(register, plant, JointRemoved(joint, Mode.PULL_OUT))
    [gone] = register.life_counts()
    assert (gone.fate, gone.cause, gone.seconds) == (Fate.FAILED, "pull-out", 110 * DAY)
    say(register, plant, Correction(Stream.JOINT, joint, removal, None, "another joint"))
    assert totals(register.life_counts()) == {("running", ""): 1}
    assert register.verify().faults == ()


def test_a_joint_found_unfit_has_failed(register: SqlRegister, plant: Plant, clock: Clock) -> None:
    joint = plant.joint(register)
    say(register, plant, JointPutToWork(joint))
    clock.pass_(30 * DAY)
    say(register, plant, InspectionClosed(joint, uuid4(), False))
    assert totals(register.life_counts()) == {("failed", "found unfit to run"): 1}
    clock.pass_(3 * DAY)
    say(register, plant, JointRemoved(joint, Mode.PIN_WORN))
    [gone] = register.life_counts()
    assert (gone.cause, gone.seconds) == ("pin worn", 30 * DAY)


def test_kinds_are_counted_apart_and_follow_what_is_said_of_a_joint(
    register: SqlRegister, plant: Plant, clock: Clock
) -> None:
    """Planned as one kind, planned anew as another, described without a plan: exact each time."""
    planned = plant.joint(register, "J1", kind="vulcanised step")
    found = plant.joint(register, "J2")
    for joint in (planned, found):
        say(register, plant, JointPutToWork(joint))

    def kinds() -> Counter[str]:
        totals = Counter[str]()
        for one in register.life_counts():
            totals[one.kind] += one.count
        return totals

    assert kinds() == {"vulcanised step": 1, "": 1}
    described = say(register, plant, JointDescribed(found, 12, hinged=True))
    assert kinds() == {"vulcanised step": 1, "hinged": 1}
    again = JointPlanned(planned, plant.conveyor, "J1", construction="solid plate")
    say(register, plant, again)
    assert kinds() == {"solid plate": 1, "hinged": 1}
    clock.pass_(40 * DAY)
    say(register, plant, JointRemoved(found, Mode.PULL_OUT))
    by = {(c.kind, c.fate, c.cause): c.count for c in register.life_counts()}
    assert by == {("solid plate", Fate.RUNNING, ""): 1, ("hinged", Fate.FAILED, "pull-out"): 1}
    say(register, plant, Correction(Stream.JOINT, found, described, None, "another joint"))
    assert kinds() == {"solid plate": 1, "": 1}
    assert register.verify().faults == ()
    late = clock() + timedelta(days=1)
    begun = clock() - timedelta(days=90)
    assert register.running_not_due(begun, late, begun, "solid plate") == 1
    assert register.running_not_due(begun, late, begun, "hinged") == 0
    assert register.running_not_due(begun, late, begun) == 1


def test_kinds_of_facts_are_those_of_fasteners() -> None:
    from splicewright.joint.fasteners.ranges import Construction

    assert Construction.HINGED.value == HINGED and Construction.SOLID.value == SOLID
    for kind in Construction:  # every kind a plan can have is one that a fact can say
        assert JointPlanned(uuid4(), uuid4(), "J", construction=kind.value)


def test_sites_add_up_and_a_conveyor_takes_its_lives_along(
    register: SqlRegister, plant: Plant, clock: Clock
) -> None:
    for kind in ("", "hinged", "hinged"):
        say(register, plant, JointPutToWork(plant.joint(register, kind=kind)))
    other = Plant(clock)
    other.begin(register)
    say(register, other, JointPutToWork(other.joint(register)))
    both = [register.life_counts(site) for site in (plant.site, other.site)]
    assert [sum(c.count for c in one) for one in both] == [3, 1]
    assert merged([*both[0], *both[1]]) == register.life_counts()
    # One call that moves the conveyor and adds to it.
    joint = plant.joint(register, "J9")
    register.append(
        plant.fact(JointPutToWork(joint)),
        plant.fact(ConveyorRecorded(plant.conveyor, other.site, "K2", None, 240.0, 2.0)),
    )
    assert register.life_counts(plant.site) == ()
    assert sum(c.count for c in register.life_counts(other.site)) == 5
    assert register.verify().faults == ()


def test_who_is_let_into_one_site_counts_only_its_lives(
    register: SqlRegister, plant: Plant, clock: Clock
) -> None:
    other = Plant(clock)
    other.begin(register)
    for made, number in ((plant, 2), (other, 5)):
        for _ in range(number):
            say(register, made, JointPutToWork(made.joint(register)))
    for sites, number in ((frozenset[UUID](), 0), (frozenset({plant.site}), 2), (None, 7)):
        seen = register.said_by(Actor(uuid4(), "Bo", PersonRole.ADMIN, sites=sites))
        assert sum(c.count for c in seen.life_counts()) == number
        here = sum(c.count for c in seen.life_counts(other.site))
        assert here == (0 if sites is not None else 5)
        # The sum of all sites lies under a site that is none: it opens nothing.
        assert seen.life_counts(UUID(int=0)) == () or sites is None


def test_random_lives_with_corrections_stay_as_the_joints_give(
    register: SqlRegister, plant: Plant, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every fact that can change a life, in any order; then all is derived anew and compared."""
    chance = random.Random(4)
    other = uuid4()
    say(register, plant, SiteAdded(other, "Saddle Ridge (invented)"))
    kinds = ("", "hinged", "vulcanised step")
    joints = [plant.joint(register, f"J{n}", kind=kinds[n % 3]) for n in range(6)]
    facts: list[tuple[UUID, UUID]] = []
    for _ in range(sized(60, deep=600)):
        clock.pass_(chance.uniform(0.1, 40) * DAY)
        joint = chance.choice(joints)
        what = chance.choice(
            [
                JointPutToWork(joint, "checked"), JointSuspended(joint, "idler torn"),
                JointRemoved(joint, chance.choice(list(Mode))),
                InspectionClosed(joint, uuid4(), chance.choice([False, None])),
                ConveyorRecorded(plant.conveyor, chance.choice([other, plant.site]), "K2", None),
                JointDescribed(joint, 12, hinged=chance.random() < 0.5),
            ]
        )  # fmt: skip
        if isinstance(what, ConveyorRecorded):
            say(register, plant, what)
        elif facts and chance.random() < 0.3:
            about, fact = facts.pop(chance.randrange(len(facts)))
            say(register, plant, Correction(Stream.JOINT, about, fact, None, "not so"))
        else:
            facts.append((joint, say(register, plant, what)))
    before = register.life_counts(), register.life_counts(other)
    assert register.verify().faults == ()
    monkeypatch.setattr(life_counts, "_KEPT", 2)  # written and forgotten in between
    register.rebuild()
    assert (register.life_counts(), register.life_counts(other)) == before


def test_a_count_that_was_tampered_with_is_told_and_made_anew(
    register: SqlRegister, plant: Plant
) -> None:
    say(register, plant, JointPutToWork(plant.joint(register)))
    with register._engine.begin() as connection:
        connection.execute(text("UPDATE life_counts SET count = count + 1"))
    [fault] = register.verify().faults
    assert fault.startswith("present state of life_counts (2 rows) is not what the facts give")
    register.rebuild()
    assert register.verify().faults == ()


def test_progress_of_verifying_is_told(register: SqlRegister, plant: Plant) -> None:
    from splicewright.store.facts.plant_facts import StockMoved

    for _ in range(3):
        register.append(*(plant.fact(StockMoved(plant.site, "bolt", 1.0)) for _ in range(800)))
    said: list[tuple[int, int, str]] = []
    assert register.verify(tell=lambda *line: said.append(line)).faults == ()
    chain = [(done, of) for done, of, step in said if step == "checking the chain of facts"]
    assert chain == [(2000, register.head().seq)]
    assert said[-1][2] == "comparing the present state"


WRITER = """
import sys
from datetime import UTC, datetime, timedelta
from itertools import count
from uuid import UUID, uuid4
from splicewright.store import Fact
from splicewright.store.facts.joint_facts import JointPlanned, JointPutToWork, JointRemoved, Mode
from splicewright.store.sql.register import open_register

start = datetime(2020, 1, 1, tzinfo=UTC)
with open_register(sys.argv[1]) as register:
    for number in count():
        joint, at = uuid4(), start + timedelta(days=number)
        whats = (JointPlanned(joint, UUID(sys.argv[2]), f"J{number}"), JointPutToWork(joint),
                 JointRemoved(joint, Mode.PULL_OUT))
        for what in whats:
            register.append(Fact(uuid4(), at, "Ada", what))
            print(number, flush=True)
"""


@pytest.mark.parametrize("facts", (2, 1, 8)[: sized(1, deep=3)])
def test_a_killed_worker_changes_no_total(
    url: str, clock: Clock, tmp_path: Path, facts: int, second: Callable[..., str]
) -> None:
    del second
    made = Plant(clock)
    with open_register(url, clock=clock) as register:
        made.begin(register)
    script = tmp_path / "writer.py"
    script.write_text(WRITER, "utf-8")
    for _ in range(sized(1, deep=12)):
        words = [sys.executable, str(script), url, str(made.conveyor)]
        with subprocess.Popen(words, stdout=subprocess.PIPE, text=True, env=os.environ) as writer:
            for _ in range(facts):
                next_line(writer)
            writer.send_signal(signal.SIGKILL)
    with open_register(url) as register:
        assert register.verify().faults == ()
        there = sum(j.put_to_work is not None for j in register.joints(limit=1000))
        assert sum(c.count for c in register.life_counts()) == there
