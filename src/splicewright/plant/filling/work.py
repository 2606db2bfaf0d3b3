"""From a checked work file to a whole `Work`, every gap filled by a named assumption."""

from __future__ import annotations

from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError
from splicewright.plant import assumptions as assume
from splicewright.plant.conveyor import Conveyor, Side
from splicewright.plant.filling.origin import either, if_stated, stated_in, worked
from splicewright.plant.work import (
    Damage,
    JobKind,
    JointKind,
    JointOnRound,
    Reason,
    RoundWay,
    Travel,
    Work,
)
from splicewright.quantities import Given, Kind, Origin

if TYPE_CHECKING:
    from splicewright.plant.work_file import WorkFile


def fill_work(file: WorkFile | None, conveyor: Conveyor, name: str = "") -> Work:
    """Make the work of what the file says; without a file, a joint on the return run.

    Raises InputError: a run the conveyor does not have, a place beyond its end, cut out and insert
    that contradict the reason, a measured width far from the belt's.
    """
    from splicewright.plant.work_file import WorkFile as Model
    from splicewright.plant.work_file import WorkTable

    given = file if file is not None else Model(work=WorkTable(name=f"joint on {conveyor.name}"))
    faults: list[Fault] = []
    job, reason, job_why = _kind(given, faults)
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
            "place of work not stated; the middle of the run until a worse one is found",
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
    worn = reason is Reason.WORN_JOINT and job.joins
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
    faults.extend(_contradictions(reason, cut_out, insert))
    faults.extend(_not_of_kind(given, job, cut_out, insert, conveyor.belt.width.value))
    if faults:
        raise InputError(*(Fault(f.key, f.sentence, name) for f in faults))
    return Work(
        name=given.work.name,
        invented=given.work.invented,
        reason=reason,
        run=run.name,
        distance=distance,
        cut_out=cut_out,
        insert=insert,
        joints=2 if insert.value > 0 and reason is not Reason.NEW_BELT else 1,
        thickness=thickness,
        belt_width=width,
        travel=joint.travel or known,
        kind=joint.kind,
        environment=tuple(sorted(set(joint.environment))),
        scrapers=joint.scrapers,
        window=if_stated(crew.window, "crew.window", "shutdown window", Kind.TIME),
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
        notch_width=if_stated(joint.notch_width, "joint.notch_width", "notch width", Kind.LENGTH),
        curve_depth=if_stated(joint.curve_depth, "joint.curve_depth", "curve depth", Kind.LENGTH),
        hoist_travel=if_stated(
            crew.hoist_travel, "crew.hoist_travel", "travel of a hoist", Kind.DISTANCE
        ),
        job=job,
        job_why=job_why,
        damage=given.damage.what if given.damage is not None else None,
        damage_length=_damaged(given, "length"),
        damage_width=_damaged(given, "width"),
        round=tuple(
            JointOnRound(
                row.name,
                stated_in(
                    row.behind, f"round.{n}.behind", f"belt until {row.name} comes", Kind.DISTANCE
                ),
            )
            for n, row in enumerate(given.round, 1)
        ),
        round_way=given.work.round_way or RoundWay.BELT,
        anywhere=not given.work.run,
        press_length=if_stated(
            given.press.length, "press.length", "press along the belt", Kind.DISTANCE
        ),
        press_width=if_stated(
            given.press.width, "press.width", "press across the belt", Kind.LENGTH
        ),
        press_bias=if_stated(given.press.bias, "press.bias", "bias of the press", Kind.ANGLE),
        press_temperature=if_stated(
            given.press.temperature,
            "press.temperature",
            "temperature of the press",
            Kind.TEMPERATURE,
        ),
        air=if_stated(
            given.air.temperature, "air.temperature", "air at the joint", Kind.TEMPERATURE
        ),
        humidity=if_stated(given.air.humidity, "air.humidity", "humidity of the air", Kind.SHARE),
    )


_REASONS = {
    JobKind.ANEW: {Reason.WORN_JOINT, Reason.TORN_BELT},
    JobKind.PIECE: {Reason.TORN_BELT, Reason.WORN_JOINT},
    JobKind.SHORTENED: {Reason.SHORTEN},
    JobKind.LENGTHENED: {Reason.LENGTHEN},
    JobKind.NEW_BELT: {Reason.NEW_BELT},
    JobKind.EMERGENCY: {Reason.WORN_JOINT, Reason.TORN_BELT},
    JobKind.ALONG: {Reason.TORN_BELT},
    JobKind.INSPECTION: {Reason.WORN_JOINT, Reason.TORN_BELT},
    JobKind.TRACKING: {Reason.WORN_JOINT, Reason.TORN_BELT},
}
"""Reasons that go with a kind of job."""
_TAKEN = {
    Reason.NEW_BELT: JobKind.NEW_BELT,
    Reason.SHORTEN: JobKind.SHORTENED,
    Reason.LENGTHEN: JobKind.LENGTHENED,
}
_USUAL = {
    JobKind.PIECE: Reason.TORN_BELT,
    JobKind.SHORTENED: Reason.SHORTEN,
    JobKind.LENGTHENED: Reason.LENGTHEN,
    JobKind.NEW_BELT: Reason.NEW_BELT,
    JobKind.ALONG: Reason.TORN_BELT,
}


def _kind(given: WorkFile, faults: list[Fault]) -> tuple[JobKind, Reason, str]:
    """Kind and reason, each taken from the other where only one is stated, and from what."""
    kind, reason = given.work.kind, given.work.reason
    if kind is None:
        reason = reason or Reason.WORN_JOINT
        goes_in = given.belt.insert is not None and given.belt.insert.value > 0
        taken = _TAKEN.get(reason, JobKind.PIECE if goes_in else JobKind.ANEW)
        why = reason.value + (", belt goes in" if taken is JobKind.PIECE else "")
        return taken, reason, f"taken from the reason: {why}"
    if reason is not None and reason not in _REASONS[kind]:
        accepted = ", ".join(f'"{r.value}"' for r in Reason if r in _REASONS[kind])
        faults.append(
            Fault(
                "work.reason",
                f'"{reason.value}" does not go with kind "{kind.value}"; leave '
                f"it out, or give {accepted}",
            )
        )
    return kind, reason or _USUAL.get(kind, Reason.WORN_JOINT), ""


DAMAGES = {
    JobKind.EMERGENCY: (Damage.PIN, Damage.PLATES),
    JobKind.ALONG: (Damage.RIP, Damage.HOLE, Damage.EDGE),
}
"""What may be damaged in a kind of job; other kinds repair nothing."""


_WANTS = {
    Damage.PLATES: ("width",),
    Damage.RIP: ("length",),
    Damage.HOLE: ("length", "width"),
    Damage.EDGE: ("length", "width"),
}
_ASKED = {"length": 'along the belt, as "1.2 m"', "width": 'across the belt, as "120 mm"'}


def _not_of_kind(
    given: WorkFile, job: JobKind, cut_out: Given, insert: Given, width: float
) -> list[Fault]:
    """What is stated and does not belong to the kind of job, or is missing for it."""
    faults = []
    if job is JobKind.PIECE and insert.value <= 0:
        faults.append(
            Fault(
                "belt.insert",
                'is missing: say how much belt goes in between the two joints, as "3 m"',
            )
        )
    for key, length in (("belt.cut_out", cut_out), ("belt.insert", insert)):
        if not job.joins and length.value > 0:
            faults.append(
                Fault(
                    key,
                    f"{length.show()} does not go with kind "
                    f'"{job.value}", which leaves it whole; leave it out',
                )
            )
    if job is JobKind.ANEW and insert.value > 0:
        faults.append(
            Fault(
                "belt.insert",
                f"{insert.show()} goes in: that makes two joints; give "
                f'kind "{JobKind.PIECE.value}"',
            )
        )
    faults += _damage_faults(given, job, width)
    if job is JobKind.INSPECTION and not given.round:
        faults.append(
            Fault(
                "round",
                "is missing: list the joints, as [[round]] with name and "
                "behind (belt until it comes past the place)",
            )
        )
    if job is not JobKind.INSPECTION:
        faults += [
            Fault(key, f'does not go with kind "{job.value}"; leave it out')
            for key, stated in (
                ("round", given.round),
                ("work.round_way", given.work.round_way is not None),
            )
            if stated
        ]
    return faults


def _damage_faults(given: WorkFile, job: JobKind, width: float) -> list[Fault]:
    """What is wrong with the damage that is stated, or not stated, for this kind of job."""
    faults = []
    wanted = DAMAGES.get(job)
    damage = given.damage.what if given.damage is not None else None
    if wanted is not None and damage not in wanted:
        accepted = ", ".join(f'"{d.value}"' for d in wanted)
        faults.append(
            Fault("damage.what", f'must be given for kind "{job.value}"; accepted: {accepted}')
        )
    if wanted is not None and damage in _WANTS:
        for side in _WANTS[damage]:
            if getattr(given.damage, side) is None:
                faults.append(
                    Fault(f"damage.{side}", f'must be given for "{damage.value}": {_ASKED[side]}')
                )
    lost = given.damage.width.value if given.damage and given.damage.width else 0.0
    if lost >= width:
        faults.append(
            Fault(
                "damage.width",
                f"is the whole belt of {width:g} m or more: nothing is "
                "left that carries; plan a joint made anew or a piece",
            )
        )
    if job is JobKind.EMERGENCY and given.joint.kind in {JointKind.SOLID, JointKind.VULCANISED}:
        faults.append(
            Fault(
                "joint.kind",
                f'"{given.joint.kind.value}" has no pin to draw; for it '
                f'give kind "{JobKind.ANEW.value}"',
            )
        )
    if wanted is None and damage is not None:
        faults.append(Fault("damage", f'does not go with kind "{job.value}"; leave the table out'))
    return faults


def _damaged(given: WorkFile, which: str) -> Given | None:
    """Length or width of the damage as stated."""
    entry = getattr(given.damage, which) if given.damage is not None else None
    kind = Kind.DISTANCE if which == "length" else Kind.LENGTH
    return if_stated(entry, f"damage.{which}", f"{which} of the damage", kind)


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
