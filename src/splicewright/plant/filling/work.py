"""From a checked work file to a whole `Work`, every gap filled by a named assumption."""

from __future__ import annotations

from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError
from splicewright.plant import assumptions as assume
from splicewright.plant.conveyor import Conveyor, Side
from splicewright.plant.filling.origin import either, stated_in, worked
from splicewright.plant.work import Reason, Travel, Work
from splicewright.quantities import Given, Kind, Origin

if TYPE_CHECKING:
    from splicewright.plant.work_file import WorkFile


def fill_work(file: WorkFile | None, conveyor: Conveyor, name: str = "") -> Work:
    """Make the work of what the file says; without a file, a joint on the return run.

    Parameters
    ----------
    file : the checked work file, or None
    conveyor : the conveyor it is done on
    name : its file name, for messages

    Raises
    ------
    InputError
        A run the conveyor does not have, a place beyond its end, cut out and insert that
        contradict the reason, a measured width far from the belt's.
    """
    from splicewright.plant.work_file import WorkFile as Model
    from splicewright.plant.work_file import WorkTable

    given = file if file is not None else Model(work=WorkTable(name=f"joint on {conveyor.name}"))
    faults: list[Fault] = []
    runs = {run.name: run for run in conveyor.runs()}
    default = next(
        (r for r in conveyor.runs() if r.side is Side.RETURN and r.length.value >= 5.0),
        max(conveyor.runs(), key=lambda r: r.length.value),
    )
    run = runs.get(given.work.run, default)
    if given.work.run and given.work.run not in runs:
        listed = ", ".join(runs)
        faults.append(
            Fault("work.run", f'"{given.work.run}" is no run of the loop; accepted: {listed}')
        )
    key, label = "work.distance", f"place of work along {run.name}"
    distance = (
        stated_in(given.work.distance, key, label, Kind.DISTANCE)
        if given.work.distance is not None
        else worked(
            key,
            label,
            Kind.DISTANCE,
            "place of work not stated; middle of the run taken",
            run.length.value / 2,
            0.0,
            run.length.value,
        )
    )
    if distance.value > run.length.value:
        faults.append(
            Fault(key, f"{distance.show()} lies beyond {run.name} of {run.length.show()}")
        )
    belt = given.belt
    worn = given.work.reason is Reason.WORN_JOINT
    cut_out = either(
        belt.cut_out,
        "work.cut_out",
        "belt cut out",
        assume.OLD_JOINT if worn else assume.NOTHING_CUT,
    )
    insert = either(belt.insert, "work.insert", "belt let in", assume.NOTHING_CUT)
    width = None
    if belt.width is not None:
        width = _measured(belt.width.value, "work.belt_width", "belt width at the joint")
        if abs(width.value - conveyor.belt.width.value) > 0.1 * conveyor.belt.width.value:
            faults.append(
                Fault(
                    "belt.width",
                    f"{width.show()} at the joint differs from the conveyor's "
                    f"{conveyor.belt.width.show()} by more than a tenth; check both",
                )
            )
    thickness = tuple(
        _measured(e.value, f"work.thickness.{n}", f"belt thickness, place {n}")
        for n, e in enumerate(belt.thickness, 1)
    )
    joint, crew = given.joint, given.crew
    known = Travel.REVERSING if conveyor.reversing else Travel.KNOWN
    faults.extend(_contradictions(given.work.reason, cut_out, insert))
    if faults:
        raise InputError(*(Fault(f.key, f.sentence, name) for f in faults))
    return Work(
        name=given.work.name,
        invented=given.work.invented,
        reason=given.work.reason,
        run=run.name,
        distance=distance,
        cut_out=cut_out,
        insert=insert,
        joints=2 if insert.value > 0 and given.work.reason is not Reason.NEW_BELT else 1,
        thickness=thickness,
        belt_width=width,
        travel=joint.travel or known,
        kind=joint.kind,
        environment=tuple(sorted(set(joint.environment))),
        scrapers=joint.scrapers,
        window=None
        if crew.window is None
        else stated_in(crew.window, "crew.window", "shutdown window", Kind.TIME),
        crew=crew.people,
        tools=crew.tools,
        load_left=either(
            belt.load_left, "work.load_left", "load left on the belt", assume.LOAD_LEFT
        ),
        clamp_factor=either(
            crew.clamp_factor, "crew.clamp_factor", "factor on clamps", assume.CLAMP_FACTOR
        ),
        service_factor=either(
            joint.service_factor, "joint.service_factor", "service factor", assume.SERVICE_FACTOR
        ),
        notch_width=None
        if joint.notch_width is None
        else stated_in(joint.notch_width, "joint.notch_width", "notch width", Kind.LENGTH),
        curve_depth=None
        if joint.curve_depth is None
        else stated_in(joint.curve_depth, "joint.curve_depth", "curve depth", Kind.LENGTH),
        hoist_travel=None
        if crew.hoist_travel is None
        else stated_in(crew.hoist_travel, "crew.hoist_travel", "travel of a hoist", Kind.DISTANCE),
        anywhere=not given.work.run,
    )


def _measured(value: float, key: str, label: str) -> Given:
    """What a work file states of the belt was measured on it."""
    return Given(
        key, label, value, Kind.LENGTH, Origin.MEASURED, "on the belt, work file", value, value
    )


def _contradictions(reason: Reason, cut_out: Given, insert: Given) -> list[Fault]:
    faults = []
    if reason is Reason.SHORTEN and cut_out.value <= insert.value:
        faults.append(
            Fault(
                "work.reason",
                f"is to shorten the belt, but {cut_out.show()} comes out and {insert.show()} goes "
                "in; more must come out than goes in",
            )
        )
    if reason is Reason.LENGTHEN and insert.value <= cut_out.value:
        faults.append(
            Fault(
                "work.reason",
                f"is to lengthen the belt, but {insert.show()} goes in and {cut_out.show()} comes "
                "out; more must go in than comes out",
            )
        )
    return faults
