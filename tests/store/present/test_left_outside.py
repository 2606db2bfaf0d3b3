"""Values left outside their limits: when they stand, when they are right, older facts of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from uuid import UUID, uuid4

import pytest

from splicewright.quantities import Kind
from splicewright.store import ConflictError, Fact
from splicewright.store.facts.facts import canonical
from splicewright.store.facts.job_facts import DEVIATION, DeviationSigned, JobOpened, ValueRecorded
from splicewright.store.facts.joint_facts import JointRemoved, Mode
from splicewright.store.present.present import Standing
from splicewright.store.sql import appending
from splicewright.store.sql.register import SqlRegister
from store.making import Plant


def _left(job: UUID, until: datetime | None, box: int = 1, value: float = 0.017) -> DeviationSigned:
    return DeviationSigned(job, "cut", "gap", box, Kind.LENGTH, value, "14 to 16 mm", "worn tool",
                           "make anew", DEVIATION, until, 0.014, 0.016)  # fmt: skip


def _gap(job: UUID, millimetres: float, box: int = 1) -> ValueRecorded:
    metres = millimetres / 1000
    return ValueRecorded(job, "cut", "gap", Kind.LENGTH, metres, f"{millimetres} mm", box)


def test_what_is_left_outside_its_limits(register: SqlRegister, plant: Plant) -> None:
    joint, job, alone = plant.joint(register), uuid4(), uuid4()
    register.append(
        plant.fact(JobOpened(job, plant.conveyor, "make J1", joint)),
        plant.fact(JobOpened(alone, plant.conveyor, "mend the edge")),
    )
    start = plant.clock()
    soon, late, far = (start + timedelta(days=d) for d in (3, 9, 400))
    register.append(*(plant.fact(w) for w in (
        _gap(job, 17), _left(job, late), _left(job, soon, 2), _left(job, None, 3),
        _left(alone, soon, 0),
    )))  # fmt: skip

    def found(
        site: UUID | None = None, conveyor: UUID | None = None, joint: UUID | None = None
    ) -> list[tuple[str, int, str, Standing]]:
        return [
            (i.job_name, i.deviation.box, i.label, i.deviation.standing)
            for i in register.left_outside(far, site=site, conveyor=conveyor, joint=joint)
        ]

    stands, changed = Standing.STANDS, Standing.CHANGED
    one, two = ("make J1", 1, "J1", stands), ("make J1", 2, "J1", stands)
    none = ("mend the edge", 0, "", stands)
    assert sorted(found()) == [one, two, none]
    assert found()[-1] == one  # the earliest day first
    assert found(joint=joint) == [two, one]
    assert len(found(site=plant.site)) == len(found(conveyor=plant.conveyor)) == 3
    assert found(site=uuid4()) == found(conveyor=uuid4()) == found(joint=uuid4()) == []
    assert register.left_outside(soon) == ()
    there = register.job(job)
    assert there is not None and there.deviations == 3
    # Of a difference the job itself must say; a value within its limits is right; a new signature
    # holds for the new value.
    register.append(plant.fact(_gap(alone, 15, 2)), plant.fact(_gap(job, 15, 2)))
    assert found() == [("mend the edge", 0, "", changed), one]
    register.append(plant.fact(_gap(job, 17.5)))
    assert found(joint=joint) == [("make J1", 1, "J1", changed)]
    register.append(plant.fact(_left(job, late, value=0.0175)))
    assert found(joint=joint) == [one]
    register.append(plant.fact(JointRemoved(joint, Mode.RENEWED)))
    assert found(joint=joint) == []
    assert register.verify().faults == ()


def test_a_fact_sent_again_after_fields_were_added_is_the_same(
    register: SqlRegister, plant: Plant, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = uuid4()
    register.append(plant.fact(JobOpened(job, plant.conveyor, "make J1")))
    what = replace(_left(job, None), low=None, high=None)
    fact = plant.fact(what)

    def older(sent: Fact) -> tuple[str, Fact]:
        text, read = canonical(sent)
        return text.replace('"high":null,', "").replace('"low":null,', ""), read

    with monkeypatch.context() as before:
        before.setattr(appending, "canonical", older)
        (first,) = register.append(fact)
    (again,) = register.append(fact)
    assert (again.seq, again.again) == (first.seq, True)
    assert register.verify().faults == ()
    with pytest.raises(ConflictError):
        register.append(replace(fact, what=replace(what, why="another")))
