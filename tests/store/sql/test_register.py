"""What the register promises, on both databases."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from uuid import uuid4

import pytest

from splicewright.errors import InputError
from splicewright.store import ConflictError, Correction, State, Stream
from splicewright.store.facts.job_facts import JobOpened, StepTicked
from splicewright.store.facts.joint_facts import (
    DueSet,
    InspectionClosed,
    JointBuilt,
    JointPlanned,
    JointPutToWork,
    JointRemoved,
    JointRetightened,
    JointSeen,
    JointSuspended,
    Mode,
    Task,
)
from splicewright.store.facts.plant_facts import (
    ConveyorRecorded,
    DamageFound,
    DamageMended,
    Grade,
    PersonAdded,
    PiecePlaced,
    PieceRemoved,
    SiteAdded,
    StockMoved,
)
from splicewright.store.sql.register import SqlRegister
from store.making import DAY, HOUR, Clock, Plant, signed_off


def test_receipts_count_up_and_name_the_arrival(register: SqlRegister, plant: Plant) -> None:
    (first,) = register.append(plant.fact(StockMoved(plant.site, "top plate", 40.0)))
    plant.clock.pass_(60)
    (second,) = register.append(plant.fact(StockMoved(plant.site, "top plate", -16.0)))
    assert (first.seq, second.seq) == (4, 5)
    assert second.received - first.received == timedelta(seconds=60)
    assert register.head().seq == 5
    assert [(s.item, s.count) for s in register.stock(plant.site)] == [("top plate", 24.0)]


def test_sending_twice_is_harmless(register: SqlRegister, plant: Plant) -> None:
    fact = plant.fact(StockMoved(plant.site, "bolt", 100.0))
    (once,) = register.append(fact)
    plant.clock.pass_(DAY)
    (again,) = register.append(fact)
    assert not once.again
    assert again == replace(once, again=True)
    both = register.append(fact, plant.fact(StockMoved(plant.site, "bolt", 1.0)), fact)
    assert [r.again for r in both] == [True, False, True]
    assert register.stock(plant.site)[0].count == 101.0


def test_same_id_with_other_content_is_a_conflict(register: SqlRegister, plant: Plant) -> None:
    fact = plant.fact(StockMoved(plant.site, "bolt", 100.0))
    register.append(fact)
    other = replace(fact, what=StockMoved(plant.site, "bolt", 10.0))
    with pytest.raises(ConflictError) as refused:
        register.append(plant.fact(StockMoved(plant.site, "nut", 5.0)), other)
    assert refused.value.fact == fact.id
    assert str(refused.value) == (
        f"fact {fact.id} is recorded with other content; record a correction, or a new fact"
    )
    with pytest.raises(ConflictError):
        register.append(other, fact)
    assert [s.item for s in register.stock(plant.site)] == ["bolt"]
    assert register.verify().faults == ()


def test_one_bad_fact_refuses_the_call(register: SqlRegister, plant: Plant) -> None:
    head = register.head()
    stranger = uuid4()
    with pytest.raises(InputError) as refused:
        register.append(
            plant.fact(StockMoved(plant.site, "bolt", 1.0)), plant.fact(JointBuilt(stranger))
        )
    assert str(refused.value) == f"what.joint: the register knows no joint {stranger}"
    assert register.head() == head


def test_facts_of_one_call_may_stand_in_any_order(register: SqlRegister, clock: Clock) -> None:
    plant, joint = Plant(clock), uuid4()
    register.append(
        plant.fact(JointPlanned(joint, plant.conveyor, "J1")),
        plant.fact(ConveyorRecorded(plant.conveyor, plant.site, "K2")),
        plant.fact(SiteAdded(plant.site, "Karst Hollow (invented)")),
    )
    kinds = [s.fact.kind for s in register.facts_since(0)]
    assert kinds == ["site added", "conveyor recorded", "joint planned"]


def test_an_id_means_one_thing(register: SqlRegister, plant: Plant) -> None:
    with pytest.raises(InputError, match="is the id of a site already"):
        register.append(plant.fact(PersonAdded(plant.site, "Ben Example")))
    with pytest.raises(InputError, match="the register knows no conveyor"):
        register.append(plant.fact(JointPlanned(uuid4(), plant.site, "J1")))


def test_life_of_a_joint(register: SqlRegister, plant: Plant) -> None:
    joint = plant.joint(register)

    def state() -> State:
        now = register.joint(joint)
        assert now is not None
        return now.state

    assert state() is State.PLANNED
    for what, expected in (
        (JointBuilt(joint), State.BUILT),
        (JointPutToWork(joint), State.RUNNING),
        (JointSuspended(joint, "belt stands"), State.SUSPENDED),
        (JointPutToWork(joint, "the belt runs again"), State.RUNNING),
        (JointRemoved(joint, Mode.PULL_OUT), State.REMOVED),
        (JointPutToWork(joint), State.REMOVED),
        (JointSuspended(joint), State.REMOVED),
    ):
        plant.clock.pass_(HOUR)
        register.append(plant.fact(what))
        assert state() is expected
    now = register.joint(joint)
    assert now is not None
    assert now.mode is Mode.PULL_OUT
    assert now.built is not None and now.put_to_work == now.built + timedelta(hours=1)
    assert register.joints(plant.conveyor, [State.RUNNING]) == ()
    assert register.joints(plant.conveyor, [State.REMOVED]) == (now,)


def test_late_arrivals_do_not_take_a_joint_back(register: SqlRegister, plant: Plant) -> None:
    joint = plant.joint(register)
    built = plant.fact(JointBuilt(joint))
    retightened = plant.fact(JointRetightened(joint))
    register.append(retightened)
    register.append(plant.fact(JointPutToWork(joint)))
    register.append(built)
    now = register.joint(joint)
    assert now is not None and now.state is State.RUNNING and now.built == built.at
    assert [d.task for d in register.due(plant.clock() + timedelta(days=30))] == [Task.INSPECT]


def test_what_is_due(register: SqlRegister, plant: Plant) -> None:
    joint = plant.joint(register)
    start = plant.clock()
    register.append(plant.fact(JointBuilt(joint)), plant.fact(JointPutToWork(joint)))
    far = start + timedelta(days=365)

    def due() -> list[tuple[Task, float]]:
        return [(d.task, (d.due - start).total_seconds()) for d in register.due(far)]

    assert due() == [(Task.RETIGHTEN, 8 * HOUR), (Task.INSPECT, 7 * DAY)]
    assert register.due(start + timedelta(hours=8)) == ()
    assert len(register.due(start + timedelta(hours=9), site=plant.site)) == 1
    assert len(register.due(far, conveyor=plant.conveyor)) == 2
    assert register.due(far, conveyor=uuid4()) == register.due(far, site=uuid4()) == ()
    register.append(plant.fact(JointRetightened(joint)))
    assert due() == [(Task.INSPECT, 7 * DAY)]
    plant.clock.pass_(5 * DAY)
    register.append(
        plant.fact(InspectionClosed(joint, uuid4(), True, 2 * DAY, not_seen="under the belt"))
    )
    assert due() == [(Task.INSPECT, 7 * DAY)]
    plant.clock.pass_(DAY)
    register.append(plant.fact(InspectionClosed(joint, uuid4(), False)))
    assert due() == [(Task.RENEW, 6 * DAY), (Task.INSPECT, 13 * DAY)]
    register.append(
        plant.fact(
            InspectionClosed(joint, uuid4(), True, note="pin renewed", not_seen="under the belt")
        )
    )
    assert due() == [(Task.INSPECT, 13 * DAY)]
    later = start + timedelta(days=40)
    register.append(plant.fact(DueSet(joint, Task.RENEW, later, "forecast")))
    register.append(plant.fact(DueSet(joint, Task.INSPECT, None)))
    assert due() == [(Task.RENEW, 40 * DAY)]
    register.append(plant.fact(JointRemoved(joint, Mode.RENEWED)))
    assert due() == []
    item_names = {d.label for d in register.due(far)}
    assert item_names == set()


def test_a_clock_ahead_never_puts_work_off(register: SqlRegister, plant: Plant) -> None:
    joint = plant.joint(register)
    ahead = plant.fact(JointPutToWork(joint))
    ahead = replace(ahead, at=plant.clock() + timedelta(days=3650))
    register.append(ahead)
    (first, _) = register.due(plant.clock() + timedelta(days=3650))
    assert first.due == plant.clock() + timedelta(hours=8)


def test_a_clock_set_back_does_not_reorder(register: SqlRegister, plant: Plant) -> None:
    facts = []
    for number in range(4):
        plant.clock.pass_(-DAY)  # both clocks run backwards
        facts.append(plant.fact(StockMoved(plant.site, "bolt", float(number))))
        register.append(facts[-1])
    stored = register.facts_since(3)
    assert [s.fact for s in stored] == facts
    assert [s.seq for s in stored] == [4, 5, 6, 7]
    assert [s.received for s in stored] == sorted((s.received for s in stored), reverse=True)
    assert register.verify().faults == ()


def test_a_correction_is_a_new_fact(register: SqlRegister, plant: Plant) -> None:
    wrong = plant.fact(StockMoved(plant.site, "bolt", 1000.0))
    register.append(wrong, plant.fact(StockMoved(plant.site, "bolt", -20.0)))

    def correct(count: float | None) -> None:
        right = None if count is None else StockMoved(plant.site, "bolt", count)
        register.append(
            plant.fact(Correction(Stream.SITE, plant.site, wrong.id, right, "a slip of the finger"))
        )

    correct(100.0)
    assert register.stock(plant.site)[0].count == 80.0
    correct(120.0)
    assert register.stock(plant.site)[0].count == 100.0
    correct(None)
    assert register.stock(plant.site)[0].count == -20.0
    stored = register.fact(wrong.id)
    assert stored is not None and stored.withdrawn
    assert stored.fact == wrong  # as it was recorded, for ever
    assert register.verify().faults == ()


def test_corrections_may_come_with_what_they_correct(register: SqlRegister, plant: Plant) -> None:
    wrong = plant.fact(StockMoved(plant.site, "bolt", 1000.0))
    right = StockMoved(plant.site, "bolt", 100.0)
    correction = plant.fact(Correction(Stream.SITE, plant.site, wrong.id, right, "slip"))
    register.append(correction, wrong)
    assert register.stock(plant.site)[0].count == 100.0


def test_what_cannot_be_corrected(register: SqlRegister, plant: Plant) -> None:
    job = uuid4()
    opened = plant.fact(JobOpened(job, plant.conveyor, "new joint"))
    signed = plant.fact(signed_off(job, 4))
    ticked = plant.fact(StepTicked(job, "isolate"))
    register.append(opened, ticked, signed)
    mended = plant.fact(
        Correction(Stream.JOB, job, ticked.id, StepTicked(job, "clamp"), "wrong step")
    )
    register.append(mended)
    stranger = uuid4()
    for target, instead, about, sentence in (
        (signed.id, None, job, 'is a signature ("signed off"), which is never changed; sign again '
         "instead"),
        (mended.id, None, job, "is a correction itself; correct the first fact again instead"),
        (stranger, None, job, f"the register has no fact {stranger}"),
        (ticked.id, JobOpened(job, plant.conveyor, "x"), job,
         'is a fact "step ticked" and cannot become "job opened"; withdraw it and record a new '
         "one"),
    ):  # fmt: skip
        with pytest.raises(InputError) as refused:
            register.append(plant.fact(Correction(Stream.JOB, about, target, instead, "no")))
        assert str(refused.value) == f"what.corrects: {sentence}"
    with pytest.raises(InputError, match="the fact is about another thing: job"):
        register.append(plant.fact(Correction(Stream.SITE, plant.site, ticked.id, None, "no")))
    with pytest.raises(InputError, match="is about another thing than the fact it corrects"):
        register.append(
            plant.fact(Correction(Stream.JOB, job, ticked.id, StepTicked(uuid4(), "clamp"), "no"))
        )


def test_a_signature_shows_what_came_after(register: SqlRegister, plant: Plant) -> None:
    job = uuid4()
    tick = plant.fact(StepTicked(job, "isolate"))
    register.append(plant.fact(JobOpened(job, plant.conveyor, "new joint")), tick)
    seen = register.version(job)
    register.append(plant.fact(signed_off(job, seen, closes=True)))
    signed = register.job(job)
    assert signed is not None and not signed.changed and signed.closed is not None
    assert register.jobs(open_only=True) == ()
    register.append(plant.fact(Correction(Stream.JOB, job, tick.id, None, "was not done")))
    changed = register.job(job)
    assert changed is not None and changed.changed and changed.signed == signed.signed
    register.append(plant.fact(signed_off(job, seen)))
    stale = register.job(job)
    assert stale is not None and stale.changed  # signed on an old view
    register.append(plant.fact(signed_off(job, register.version(job))))
    fresh = register.job(job)
    assert fresh is not None and not fresh.changed


def test_a_writer_on_an_old_view_is_told(register: SqlRegister, plant: Plant) -> None:
    joint = plant.joint(register)
    seen = {joint: register.version(joint)}
    fact = plant.fact(JointBuilt(joint))
    register.append(fact, seen=seen)
    register.append(fact, seen=seen)  # sent again: harmless, not stale
    late = plant.fact(JointSuspended(joint, "cracked plate"))
    with pytest.raises(ConflictError) as refused:
        register.append(late, seen=seen)
    assert refused.value.version == register.version(joint)
    assert str(refused.value) == (
        f"the joint was changed by others since version {seen[joint]} was read; it is at "
        f"{register.version(joint)}: look at it again"
    )
    register.append(late, seen={joint: refused.value.version})


def test_pieces_and_damage(register: SqlRegister, plant: Plant) -> None:
    piece, other, tear = uuid4(), uuid4(), uuid4()
    register.append(
        plant.fact(PiecePlaced(plant.belt, piece, "first", 0.0, 200.0)),
        plant.fact(PiecePlaced(plant.belt, other, "insert", 200.0, 40.0, "EP 500/3 5+2")),
        plant.fact(DamageFound(plant.belt, tear, 210.0, 0.3, Grade.REPAIR, -0.2, "edge torn")),
    )
    assert [p.name for p in register.pieces(plant.belt)] == ["first", "insert"]
    (damage,) = register.damage(plant.belt)
    assert damage.mended is None and damage.across == -0.2
    plant.clock.pass_(DAY)
    register.append(plant.fact(DamageMended(plant.belt, tear, "cut and coated")))
    register.append(plant.fact(PieceRemoved(plant.belt, other)))
    assert register.damage(plant.belt)[0].mended == plant.clock()
    assert register.pieces(plant.belt)[1].removed == plant.clock()


def test_the_latest_sighting_counts(register: SqlRegister, plant: Plant) -> None:
    joint = plant.joint(register)
    early = plant.fact(JointSeen(joint, 10.0))
    plant.clock.pass_(HOUR)
    register.append(plant.fact(JointSeen(joint, 50.0)))
    register.append(early)
    now = register.joint(joint)
    assert now is not None and now.seen_station == 50.0


def test_conveyor_files_are_kept_in_versions(register: SqlRegister, plant: Plant) -> None:
    first = register.keep(b'name = "K2"\n', "application/toml")
    register.append(plant.fact(ConveyorRecorded(plant.conveyor, plant.site, "K2", first)))
    second = register.keep(b'name = "K2 incline"\n', "application/toml")
    register.append(plant.fact(ConveyorRecorded(plant.conveyor, plant.site, "K2 incline", second)))
    now = register.conveyor(plant.conveyor)
    assert now is not None and (now.name, now.file, now.file_version) == ("K2 incline", second, 3)
    versions = [s.what for s in register.facts_about(plant.conveyor)]
    files = [v.file for v in versions if isinstance(v, ConveyorRecorded)]
    assert files == [None, first, second]
    assert register.content(first).data == b'name = "K2"\n'


def test_contents(register: SqlRegister, plant: Plant) -> None:
    import hashlib

    photo = bytes(range(256)) * 4
    digest = register.keep(photo, "image/jpeg")
    assert digest == hashlib.sha256(photo).hexdigest()
    assert register.keep(photo, "image/jpeg") == digest
    assert register.content(digest).data == photo and register.has_content(digest)
    with pytest.raises(InputError, match=r'"text/html" is not kept; accepted is one of'):
        register.keep(b"<html>", "text/html")
    with pytest.raises(InputError, match="accepted is more than 0 and up to 20 MB"):
        register.keep(b"", "image/png")
    with pytest.raises(InputError, match="keeps no content"):
        register.content("0" * 64)
    absent = JointPlanned(uuid4(), plant.conveyor, "J9", plan="0" * 64)
    with pytest.raises(InputError, match="is not kept; send it before the fact"):
        register.append(plant.fact(absent))


def test_joints_come_a_page_at_a_time(register: SqlRegister, plant: Plant) -> None:
    labels = [f"J{n:02}" for n in range(7)] + ["J03"]
    for label in labels:
        plant.joint(register, label)
    found, after = [], None
    while page := register.joints(plant.conveyor, after=after, limit=3):
        found += [j.label for j in page]
        after = (page[-1].label, page[-1].joint)
    assert found == sorted(labels)
    assert len(register.joints(label="J03")) == 2


def test_names_are_ordered_alike_on_both_databases(register: SqlRegister, clock: Clock) -> None:
    plant = Plant(clock)
    names = ["Zeche", "ore", "Ärzberg", "Öre", "a b", "a_b", "a-b", "Ab"]
    register.append(*(plant.fact(SiteAdded(uuid4(), name)) for name in names))
    assert [s.name for s in register.sites()] == sorted(names)


def test_the_newest_about_some_things_with_what_corrects_them(
    register: SqlRegister, plant: Plant
) -> None:
    joint = plant.joint(register)
    other = plant.joint(register, "J2")
    first = plant.fact(JointSeen(joint, 12.0))
    wrong = plant.fact(JointSeen(joint, 30.0))
    register.append(first, wrong)
    register.append(plant.fact(JointSeen(other, 99.0)), plant.fact(JointBuilt(joint)))
    instead = Correction(Stream.JOINT, joint, wrong.id, JointSeen(joint, 33.0), "misread")
    register.append(plant.fact(instead))
    count, newest = register.newest_about([joint], 3)
    assert count == 5
    assert [s.fact.kind for s in newest] == ["correction", "joint built", "joint seen"]
    assert newest[-1].what == JointSeen(joint, 33.0)
    assert register.newest_about([joint, other], 100) == (
        7,
        tuple(
            sorted(
                (*register.facts_about(joint), *register.facts_about(other)),
                key=lambda stored: -stored.seq,
            )
        ),
    )
    assert register.newest_about([uuid4()], 5) == (0, ())
    assert register.newest_about([], 5) == (0, ())
