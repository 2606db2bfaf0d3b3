"""A job filled in by two phones apart from each other."""

from __future__ import annotations

from uuid import UUID, uuid4

import pytest

from splicewright.errors import InputError
from splicewright.joint.inspection.verdict import PlateState, Verdict
from splicewright.joint.layout import End
from splicewright.quantities import Kind
from splicewright.store import Correction, Fact, Stream
from splicewright.store.facts.job_facts import (
    HoldPointSigned,
    JobHandedOver,
    JobOpened,
    StepTicked,
    StepTimed,
    ValueRecorded,
)
from splicewright.store.facts.joint_facts import (
    EndInspected,
    InspectionClosed,
    JointAssessed,
    JointMeasured,
    PhotoAdded,
    PlateInspected,
    PlateJudged,
)
from splicewright.store.facts.plant_facts import FastenersRecorded
from splicewright.store.present.job_sheet import inspections, job_sheet
from splicewright.store.sql.register import SqlRegister
from store.making import HOUR, Plant, signed_off


@pytest.fixture
def job(register: SqlRegister, plant: Plant) -> UUID:
    job = uuid4()
    register.append(plant.fact(JobOpened(job, plant.conveyor, "new joint")))
    return job


def _thickness(job: UUID, millimetres: float, box: int = 1) -> ValueRecorded:
    typed = f"{millimetres:g} mm"
    return ValueRecorded(job, "measure", "thickness", Kind.LENGTH, millimetres / 1e3, typed, box)


def test_two_phones_disagree(register: SqlRegister, plant: Plant, job: UUID) -> None:
    mine = plant.fact(_thickness(job, 11.5), device="phone 1")
    agreed = plant.fact(_thickness(job, 12.0, 2), device="phone 1")
    same = plant.fact(_thickness(job, 12.0, 2), by="Ben Example", device="phone 2")
    theirs = plant.fact(_thickness(job, 15.1), by="Ben Example", device="phone 2")
    register.append(mine, agreed, same)
    register.append(theirs)
    sheet = job_sheet(register.facts_about(job))
    (conflict,) = sheet.conflicts
    assert conflict is sheet.values["measure", "thickness", 1]
    assert [e.fact for e in conflict.entries] == [mine.id, theirs.id]  # both are kept
    assert conflict.last.by == "Ben Example"
    assert not sheet.values["measure", "thickness", 2].conflict
    settle = Correction(Stream.JOB, job, theirs.id, _thickness(job, 11.5), "misread")
    register.append(plant.fact(settle))
    assert job_sheet(register.facts_about(job)).conflicts == ()


def test_ones_own_second_thought_is_no_conflict(
    register: SqlRegister, plant: Plant, job: UUID
) -> None:
    register.append(plant.fact(StepTicked(job, "isolate")))
    register.append(plant.fact(StepTicked(job, "isolate", done=False)))
    sheet = job_sheet(register.facts_about(job))
    assert sheet.conflicts == ()
    last = sheet.ticks["isolate", 0].last.what
    assert isinstance(last, StepTicked) and not last.done


def test_stretches_of_a_phone_add_up_and_the_longest_phone_counts(
    register: SqlRegister, plant: Plant, job: UUID
) -> None:
    for device, took in (("phone 1", 600.0), ("phone 2", 500.0), ("phone 1", 120.0)):
        register.append(plant.fact(StepTimed(job, "punch", took, 900.0), device=device))
    register.append(plant.fact(StepTimed(job, "cut", 60.0)))
    assert job_sheet(register.facts_about(job)).times == {"punch": 720.0, "cut": 60.0}


def test_a_job_sheet_holds_all(register: SqlRegister, plant: Plant, job: UUID) -> None:
    photo = register.keep(b"\xff\xd8\xff photo", "image/jpeg")
    withdrawn = plant.fact(StepTicked(job, "clamp"))
    facts: list[Fact] = [
        plant.fact(StepTicked(job, "isolate", line=2)),
        plant.fact(HoldPointSigned(job, "isolate", "everything locked")),
        plant.fact(PhotoAdded(Stream.JOB, job, photo, "locks", "isolate")),
        plant.fact(JobHandedOver(job, "night shift", "clamps set")),
        plant.fact(signed_off(job, 9)),
        withdrawn,
        plant.fact(Correction(Stream.JOB, job, withdrawn.id, None, "wrong job")),
    ]
    register.append(*facts)
    sheet = job_sheet(register.facts_about(job))
    assert set(sheet.ticks) == {("isolate", 2)}
    assert [len(sheet.hold_points["isolate"]), len(sheet.photos)] == [1, 1]
    assert [len(sheet.handed_over), len(sheet.signatures)] == [1, 1]


def test_inspections(register: SqlRegister, plant: Plant) -> None:
    joint, first, second = plant.joint(register), uuid4(), uuid4()

    def plate(round_: UUID, number: int, state: PlateState) -> Fact:
        return plant.fact(PlateInspected(joint, round_, End.LEADING, number, state))

    register.append(plate(first, 1, PlateState.OK), plate(first, 2, PlateState.WORN))
    register.append(plant.fact(InspectionClosed(joint, first, True, not_seen="under the belt")))
    plant.clock.pass_(HOUR)
    register.append(plate(second, 1, PlateState.CRACKED), plate(second, 2, PlateState.OK))
    found = inspections(register.facts_about(joint))
    assert [i.inspection for i in found] == [first, second]
    assert [i.worst for i in found] == [PlateState.WORN, PlateState.CRACKED]
    assert found[0].closed is not None and found[1].closed is None
    assert found[1].started == plant.clock()
    empty = plant.fact(InspectionClosed(joint, uuid4()))
    register.append(empty)
    assert inspections(register.facts_about(joint))[-1].worst is None


def test_what_an_inspection_looked_at_measured_and_worked_out(
    register: SqlRegister, plant: Plant
) -> None:
    joint, round_ = plant.joint(register), uuid4()
    with pytest.raises(InputError, match="is not kept"):
        register.append(plant.fact(JointAssessed(joint, round_, Verdict.STOP, "0" * 64)))
    digest = register.keep(b"{}", "application/json")
    register.append(
        plant.fact(EndInspected(joint, round_, End.LEADING, 22)),
        plant.fact(PlateJudged(joint, round_, End.LEADING, 3, 0.7, 1)),
        plant.fact(JointMeasured(joint, round_, 0.0098, 0.01, 0.008)),
        plant.fact(JointAssessed(joint, round_, Verdict.REDUCE, digest)),
    )
    (found,) = inspections(register.facts_about(joint))
    assert found.looked == {End.LEADING: 22}
    assert found.worst is PlateState.OK
    assert found.judged[End.LEADING, 3].last.what == PlateJudged(
        joint, round_, End.LEADING, 3, 0.7, 1
    )
    assert found.measured is not None and found.assessed is not None
    assert register.verify().faults == ()


def test_a_site_keeps_its_fastener_files(register: SqlRegister, plant: Plant) -> None:
    with pytest.raises(InputError, match="is not kept"):
        register.append(plant.fact(FastenersRecorded(plant.site, "example hinge", "0" * 64)))
    digest = register.keep(b"[range]", "application/toml")
    register.append(plant.fact(FastenersRecorded(plant.site, "example hinge", digest)))
    register.append(plant.fact(FastenersRecorded(plant.site, "example hinge", None)))
    assert register.verify().faults == ()
