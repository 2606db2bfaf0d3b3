"""The present state kept fact by fact is the one derived from all facts anew."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from depth import sized
from splicewright.quantities import Kind
from splicewright.store import Correction, Fact, Stream, What
from splicewright.store.facts.job_facts import (
    DEVIATION,
    DeviationSigned,
    JobOpened,
    StepTicked,
    ValueRecorded,
)
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
from splicewright.store.facts.kinds import kind_of
from splicewright.store.facts.plant_facts import (
    BeltPlaced,
    ConveyorRecorded,
    DamageFound,
    DamageMended,
    Grade,
    PiecePlaced,
    PieceRemoved,
    StockMoved,
)
from splicewright.store.present.deriving import MemoryPresent
from splicewright.store.present.present import DueNow, JobNow, SubjectNow
from splicewright.store.sql.register import SqlRegister
from store.making import DAY, Plant, signed_off


def test_rows_about_one_thing_are_of_that_kind_and_of_no_other_thing() -> None:
    present = MemoryPresent()
    mine, other = uuid4(), uuid4()
    at = datetime(2026, 5, 4, tzinfo=UTC)
    due = [DueNow(joint, uuid4(), task, at, "forecast") for joint in (mine, other) for task in Task]
    for row in (*due, SubjectNow(mine, Stream.JOINT, 1), SubjectNow(other, Stream.JOINT, 2)):
        present.put(row)
    assert list(present.about(DueNow, mine)) == due[: len(Task)]
    assert list(present.about(SubjectNow, other)) == [SubjectNow(other, Stream.JOINT, 2)]
    assert list(present.about(JobNow, mine)) == []


def _whats(plant: Plant, joint: UUID, job: UUID, part: UUID) -> st.SearchStrategy[What]:
    places = st.sampled_from([0.0, 12.5, 239.0])
    after = st.sampled_from([None, 0.0, 3 * DAY, 1e9])
    due = st.sampled_from([None, plant.clock() + timedelta(days=9)])
    return st.one_of(
        st.builds(JointPlanned, st.just(joint), st.just(plant.conveyor), st.sampled_from("AB"),
                  st.sampled_from([plant.belt, None]), places, retighten_after=after,
                  inspect_after=after),
        st.just(JointBuilt(joint)),
        st.just(JointPutToWork(joint, "looked at it")),
        st.just(JointSuspended(joint)),
        st.just(JointRetightened(joint)),
        st.builds(JointRemoved, st.just(joint), st.sampled_from(Mode)),
        st.builds(JointSeen, st.just(joint), places),
        st.builds(InspectionClosed, st.just(joint), st.just(part),
                  st.sampled_from([None, True, False]), after, st.just("looked at it"),
                  st.just("under the belt")),
        st.builds(DueSet, st.just(joint), st.sampled_from(Task), due),
        st.just(JobOpened(job, plant.conveyor, "job", joint)),
        st.just(StepTicked(job, "clamp")),
        st.builds(signed_off, st.just(job), st.integers(0, 99)),
        st.builds(_value, st.just(job), st.sampled_from([14, 15, 17]), st.sampled_from([1, 2])),
        st.builds(_deviation, st.just(job), st.sampled_from([0, 1]), due),
        st.builds(StockMoved, st.just(plant.site), st.sampled_from(["bolt", "nut"]), places),
        st.builds(ConveyorRecorded, st.just(plant.conveyor), st.just(plant.site), st.just("K2")),
        st.builds(BeltPlaced, st.just(plant.belt), st.just(plant.conveyor), st.just("b"), places),
        st.builds(PiecePlaced, st.just(plant.belt), st.just(part), st.just("p"), places, places),
        st.just(PieceRemoved(plant.belt, part)),
        st.builds(DamageFound, st.just(plant.belt), st.just(part), places, places,
                  st.sampled_from(Grade)),
        st.just(DamageMended(plant.belt, part)),
    )  # fmt: skip


@settings(
    max_examples=sized(10, deep=250), deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)  # fmt: skip
@given(data=st.data())
def test_kept_state_is_the_derived_one(
    register: SqlRegister, plant: Plant, data: st.DataObject
) -> None:
    joint, job, part = uuid4(), uuid4(), uuid4()
    whats = data.draw(st.lists(_whats(plant, joint, job, part), max_size=14))
    begin: list[What] = [
        JointPlanned(joint, plant.conveyor, "A", plant.belt, 5.0, None, "", 60.0, DAY),
        JobOpened(job, plant.conveyor, "job", joint),
    ]
    facts = [plant.fact(what) for what in begin + whats]
    skew = st.integers(-400, 400).map(lambda days: timedelta(days=days))
    facts = [replace(fact, at=fact.at + data.draw(skew)) for fact in facts]
    for fact in list(facts):
        if data.draw(st.integers(0, 3)) == 0 and not kind_of(fact.what).signed:
            facts.append(plant.fact(_correction(fact, data.draw(st.booleans()))))
    # Of a withdrawn job nothing more is recorded.
    openings = {fact.id for fact in facts if isinstance(fact.what, JobOpened)}
    facts.sort(
        key=lambda f: (
            isinstance(f.what, Correction)
            and f.what.instead is None
            and f.what.corrects in openings
        )
    )
    while facts:
        size = data.draw(st.integers(1, 4))
        register.append(*facts[:size])
        facts = facts[size:]
    assert register.verify().faults == ()
    far = plant.clock() + timedelta(days=40_000)
    before = (register.joints(), register.due(far), register.left_outside(far))
    register.rebuild()
    assert (register.joints(), register.due(far), register.left_outside(far)) == before


def _value(job: UUID, millimetres: int, box: int) -> ValueRecorded:
    metres = millimetres / 1000
    return ValueRecorded(job, "cut", "gap", Kind.LENGTH, metres, f"{millimetres} mm", box)


def _deviation(job: UUID, box: int, until: datetime | None) -> DeviationSigned:
    return DeviationSigned(job, "cut", "gap", box, Kind.LENGTH, 0.017, "14 to 16 mm", "so", "look",
                           DEVIATION, until, 0.014, 0.016)  # fmt: skip


def _correction(fact: Fact, withdraw: bool) -> Correction:
    instead = fact.what
    if isinstance(instead, StockMoved):
        instead = replace(instead, count=7.0)
    if isinstance(instead, JointPlanned):
        instead = replace(instead, label="corrected", inspect_after=DAY)
    return Correction(fact.stream, fact.subject, fact.id, None if withdraw else instead, "slip")


def test_withdrawing_the_beginning_takes_the_thing_off_the_lists(
    register: SqlRegister, plant: Plant
) -> None:
    joint = uuid4()
    planned = plant.fact(JointPlanned(joint, plant.conveyor, "wrong conveyor"))
    register.append(planned, plant.fact(JointBuilt(joint)))
    withdrawn = Correction(Stream.JOINT, joint, planned.id, None, "planned twice")
    register.append(plant.fact(withdrawn))
    assert register.joint(joint) is None and register.joints() == ()
    assert len(register.facts_about(joint)) == 3  # nothing recorded is lost
    register.append(plant.fact(JointPutToWork(joint)))  # and late facts are still taken
    assert register.joint(joint) is None
    again = Correction(Stream.JOINT, joint, planned.id, planned.what, "it was right after all")
    register.append(plant.fact(again))
    now = register.joint(joint)
    assert now is not None and now.built is not None and now.put_to_work is not None
    assert register.verify().faults == ()
