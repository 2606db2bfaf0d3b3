"""How many joints press, against a count of the same joints one by one."""

from __future__ import annotations

from datetime import timedelta

from splicewright.store import State
from splicewright.store.facts.joint_facts import (
    DueSet,
    InspectionClosed,
    JointBuilt,
    JointPutToWork,
    JointSuspended,
    Task,
)
from splicewright.store.register import Register
from store.making import START, Plant


def _filled(register: Register, plant: Plant) -> None:
    """Joints with none to three tasks due on eight days; some stand, some must not run, or both."""
    for n in range(48):
        joint = plant.joint(register, f"J{n}")
        says = [JointBuilt(joint), JointPutToWork(joint)]
        days = (1 + n % 8, 1 + (3 * n) % 7, None if n % 3 else 5)
        says += [
            DueSet(joint, task, START + timedelta(days=day) if day else None, "by hand")
            for task, day in zip(Task, days, strict=True)
        ]
        says += [JointSuspended(joint, "belt cut")] if n % 5 == 0 else []
        says += [InspectionClosed(joint, joint, False, not_seen="end")] if n % 7 == 0 else []
        register.append(*(plant.fact(what) for what in says))


def test_numbers_are_those_of_the_joints_one_by_one(register: Register, plant: Plant) -> None:
    """Standing joints are late whatever is due there; those that must not run are told as that."""
    _filled(register, plant)
    joints = register.joints()
    unfit = {j.joint for j in joints if j.can_run is False}
    standing = {j.joint for j in joints if j.state is State.SUSPENDED} - unfit
    due = [(d.joint, d.due) for d in register.due(START + timedelta(days=99), limit=1000)]
    assert len(unfit) > 3 < len(standing)
    assert len(due) > len({joint for joint, _ in due}) > 40  # several at one joint

    def pressed(before: int) -> int:
        late = {joint for joint, day in due if day < START + timedelta(days=before)}
        return len((late - unfit) | standing)

    for today in range(10):
        for until in range(today, 10):
            first, last = (START + timedelta(days=day) for day in (today, until))
            told = register.pressing(first, last, 5)
            assert (told.unfit, told.late) == (len(unfit), pressed(today))
            assert told.late + told.soon == pressed(until)
