"""The bolts of a planned joint and its plates on the smallest pulley.

Torque, preload and friction of plates on rubber are known within wide ranges: every result is
one, from all unknowns at their bad ends to all at their good ends. What the range's data state
goes first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from splicewright.job.loads.spread import LEVELS, Spread
from splicewright.job.plan import JointPlan
from splicewright.joint import Construction, Size
from splicewright.joint.loads.bolts import (
    KEPT_CLAMP,
    assumed_friction,
    assumed_grip,
    assumed_nut_face,
    assumed_pitch,
    assumed_relaxation,
    assumed_stress,
    bolt_stress,
    clamp_force,
    clamp_of_stress,
    friction_grip,
    left_to_teeth,
    nut_factor,
    relaxed_clamp,
    retightening_time,
    stress_area,
    tightening_torque,
)
from splicewright.joint.loads.on_pulley import (
    hinge_angle,
    length_over_diameter,
    pin_circle,
    plate_sagitta,
    smallest_circle,
)
from splicewright.quantities import Figure, Given, Kind, Sentence, Worksheet, sentence, stated

_FIRST_READING = 60.0
"""Relaxation counts from the first minute: when a wrench could first be put on again [s]."""


@dataclass(frozen=True, slots=True)
class BoltWork:
    """Clamp, torque and what becomes of them; forces [N], torque [N m], times [s].

    stated : what of torque and clamp force the range states; "" for neither
    nut_factor : torque over clamp force and diameter [1]
    clamp : of one bolt when tightened; settled: after the first run, before the nuts are gone
        over; stress: tension of the bolt when tightened [Pa]
    again : running time until the clamp force is down to the share kept; after_that: the same
        after the nuts were gone over at the end of the first run
    rules : the range's own times for going over the nuts; empty when not stated
    grip : pull one plate holds by friction once settled
    teeth : pull left to teeth and shanks of the plate that carries most
    """

    stated: str
    torque: Spread
    nut_factor: Spread
    clamp: Spread
    settled: Spread
    stress: Spread
    again: Spread
    after_that: Spread
    rules: tuple[Figure, ...]
    grip: Spread
    teeth: Spread
    remarks: tuple[Sentence, ...]


@dataclass(frozen=True, slots=True)
class OnPulley:
    """Stiff plates on the smallest pulley.

    pulley : its name; diameter over the lagging [m]; stiff: length that stays straight [m]
    over_diameter : stiff length over diameter [1]; sagitta: middle of it off the pulley [m]
    angle : the hinge opens to, None without a hinge [rad]
    allowed : by the range, and smallest: pulley pin circle that keeps it; None when not stated
    """

    pulley: str
    diameter: Figure
    stiff: Figure
    over_diameter: Figure
    sagitta: Figure
    angle: Figure | None
    allowed: Figure | None
    smallest: Figure | None
    remarks: tuple[Sentence, ...]


def bolt_work(plan: JointPlan, size: Size, worst: Spread, sheet: Worksheet) -> BoltWork | None:
    """Work the bolts of a plan; None where plates are riveted.

    Parameters
    ----------
    worst : largest plate load [N]
    """
    best = plan.fastener
    if best is None or best.construction is Construction.RIVETED:
        return None
    diameter = stated("range.bolt", "bolt diameter", size.bolt, Kind.LENGTH, size.name)
    pitch = _or(size.thread_pitch, assumed_pitch(size.bolt))
    face = _or(size.nut_face, assumed_nut_face(size.bolt))
    mu, loss, rubber = assumed_friction(), assumed_relaxation(), assumed_grip()
    area = sheet.work(
        "bolts.stress_area", "stress area of a bolt", stress_area, diameter=diameter, pitch=pitch
    )
    # Little friction gives a small factor.
    factor = [
        sheet.work(
            f"bolts.nut_factor.{tail}",
            f"nut factor, {tail}",
            nut_factor,
            diameter=diameter,
            pitch=pitch,
            bearing_diameter=face,
            friction=mu if value == mu.value else value,
        )
        for tail, value in zip(LEVELS, (mu.low, mu.value, mu.high), strict=True)
    ]
    torque, clamp, basis = _tightened(size, diameter, area, factor, sheet)
    run = plan.follow_up.retighten_after
    settled = [
        sheet.work(
            f"bolts.settled.{tail}",
            f"clamp force after the first run, {tail}",
            relaxed_clamp,
            clamp=force,
            per_decade=loss if share == loss.value else share,
            time=run,
            start=_FIRST_READING,
        )
        for tail, force, share in zip(LEVELS, clamp, (loss.high, loss.value, loss.low), strict=True)
    ]
    again = _until("again", "running until nuts are gone over", loss, _FIRST_READING, sheet)
    later = _until(
        "after_that",
        "the same once gone over after the first run",
        loss,
        _FIRST_READING + run.value,
        sheet,
    )
    stress = [
        sheet.work(
            f"bolts.stress.{tail}",
            f"tension in a bolt, {tail}",
            bolt_stress,
            clamp=force,
            area=area,
        )
        for tail, force in zip(LEVELS, clamp, strict=True)
    ]
    grip = [
        sheet.work(
            f"bolts.grip.{tail}",
            f"pull a plate holds by friction, {tail}",
            friction_grip,
            clamp=force,
            bolts=float(size.bolts_per_plate),
            friction=rubber if value == rubber.value else value,
        )
        for tail, force, value in zip(
            LEVELS, settled, (rubber.low, rubber.value, rubber.high), strict=True
        )
    ]
    loads = (worst.low, worst.typical, worst.high)
    teeth = [
        sheet.work(
            f"bolts.teeth.{tail}",
            f"pull left to teeth and shanks, {tail}",
            left_to_teeth,
            load=load,
            grip=held,
        )
        for tail, load, held in zip(LEVELS, loads, reversed(grip), strict=True)
    ]
    return BoltWork(
        basis,
        _spread(torque),
        _spread(factor),
        _spread(clamp),
        _spread(settled),
        _spread(stress),
        again,
        later,
        tuple(
            sheet.note(
                stated(f"range.retighten_{n}", f"go over the nuts, {n}", time, Kind.TIME, size.name)
            )
            for n, time in enumerate(size.retighten_after, 1)
        ),
        _spread(grip),
        _spread(teeth),
        _bolt_remarks(basis, _spread(torque), again, _spread(teeth), _spread(grip)),
    )


def _tightened(
    size: Size, diameter: Figure, area: Figure, factor: Sequence[Figure], sheet: Worksheet
) -> tuple[list[Figure], list[Figure], str]:
    """Torque and clamp force, smallest to largest, and what of them is stated."""

    def clamps(torques: Sequence[Figure]) -> list[Figure]:
        return [
            sheet.work(
                f"bolts.clamp.{tail}",
                f"clamp force of a bolt, {tail}",
                clamp_force,
                torque=torque,
                factor=k,
                diameter=diameter,
            )
            for tail, torque, k in zip(LEVELS, torques, reversed(factor), strict=True)
        ]

    def torques(forces: Sequence[Figure]) -> list[Figure]:
        return [
            sheet.work(
                f"bolts.torque.{tail}",
                f"torque of a nut, {tail}",
                tightening_torque,
                factor=k,
                diameter=diameter,
                clamp=force,
            )
            for tail, k, force in zip(LEVELS, factor, forces, strict=True)
        ]

    torque = None
    if size.seat_torque is not None:
        torque = sheet.note(
            stated(
                "range.seat_torque", "torque of the range", size.seat_torque, Kind.TORQUE, size.name
            )
        )
    if size.clamp is not None:
        force = sheet.note(
            stated("range.clamp", "clamp force of the range", size.clamp, Kind.FORCE, size.name)
        )
        if torque is not None:
            return [torque] * 3, [force] * 3, "torque and clamp force"
        return torques([force] * 3), [force] * 3, "clamp force"
    if torque is not None:
        return [torque] * 3, clamps([torque] * 3), "torque"
    stress = assumed_stress()
    forces = [
        sheet.work(
            f"bolts.clamp.{tail}",
            f"clamp force of a bolt, {tail}",
            clamp_of_stress,
            stress=stress if value == stress.value else value,
            area=area,
        )
        for tail, value in zip(LEVELS, (stress.low, stress.value, stress.high), strict=True)
    ]
    return torques(forces), forces, ""


def _until(name: str, label: str, loss: Given, start: float, sheet: Worksheet) -> Spread:
    """Time until the share kept is reached: soonest where rubber relaxes most."""
    return _spread(
        [
            sheet.work(
                f"bolts.{name}.{tail}",
                f"{label}, {tail}",
                retightening_time,
                share=KEPT_CLAMP,
                per_decade=loss if share == loss.value else share,
                start=start,
            )
            for tail, share in zip(LEVELS, (loss.high, loss.value, loss.low), strict=True)
        ]
    )


def _bolt_remarks(
    basis: str, torque: Spread, again: Spread, teeth: Spread, grip: Spread
) -> tuple[Sentence, ...]:
    remarks = []
    if "torque" in basis:
        remarks.append(
            sentence(
                "Torque of the range: {torque}; its clamp force is known only as "
                "well as the friction of thread and nut.",
                torque=torque.typical,
            )
        )
    else:
        remarks.append(
            sentence(
                "The range states no torque: the seat marks of the maker's instructions go, or ask "
                "the maker. Reckoned, {low} to {high} would be of the order; this is no setting.",
                low=torque.low,
                high=torque.high,
            )
        )
    remarks.append(
        sentence(
            "Rubber gives way under the plates: the clamp force is down to {kept} after {low} "
            "where it gives most, {typical} typically. Go over the nuts before the joint is handed "
            "over to full load, and again after the first run.",
            kept=(KEPT_CLAMP, Kind.SHARE),
            low=again.low,
            typical=again.typical,
        )
    )
    if teeth.typical.value > 0:
        remarks.append(
            sentence(
                "The plate that carries most is not held by friction alone: teeth "
                "and bolt shanks take {teeth} of its pull, up to {high}.",
                teeth=teeth.typical,
                high=teeth.high,
            )
        )
    elif teeth.high.value > 0:
        remarks.append(
            sentence(
                "Tight, friction holds the plate that carries most (up to {grip}); "
                "slack, wet or greasy, teeth and bolt shanks take up to {teeth}.",
                grip=grip.typical,
                teeth=teeth.high,
            )
        )
    else:
        remarks.append(
            sentence(
                "While every nut keeps its clamp force, friction alone holds every plate in all "
                "cases assumed. That is no reserve to count on: nuts come loose."
            )
        )
    return tuple(remarks)


def on_pulley(plan: JointPlan, size: Size, sheet: Worksheet) -> OnPulley | None:
    """The plates on the smallest pulley the joint passes; None without a pulley."""
    best, passings = plan.fastener, plan.demand.passings
    if best is None or not passings:
        return None
    passing = min(passings, key=lambda p: p.diameter.value)
    hinged = best.construction.hinged
    plate = stated(
        "range.plate_length",
        "plate, from pin or cut to its back",
        size.plate_length,
        Kind.LENGTH,
        size.name,
    )
    stiff = (
        sheet.note(plate)
        if hinged
        else sheet.total("pulley.stiff", "stiff length across both ends", [plate, plate])
    )
    ratio = sheet.work(
        "pulley.over_diameter",
        f"stiff length over diameter, {passing.pulley}",
        length_over_diameter,
        plate_length=stiff,
        diameter=passing.diameter,
    )
    sagitta = sheet.work(
        "pulley.sagitta",
        f"plate off the pulley in its middle, {passing.pulley}",
        plate_sagitta,
        plate_length=stiff,
        diameter=passing.diameter,
    )
    angle = allowed = smallest = None
    remarks = [
        sentence(
            f"On {passing.pulley}, " + "{diameter} across, a stiff length of {stiff} "
            "stands {sagitta} off the round in its middle, and the belt bends as much "
            "more behind its back.",
            diameter=passing.diameter,
            stiff=stiff,
            sagitta=sagitta,
        )
    ]
    if hinged:
        thick = plan.worksheet.find("belt.thickest")
        circle = sheet.work(
            "pulley.pin_circle",
            f"circle the pin runs on, {passing.pulley}",
            pin_circle,
            diameter=passing.diameter,
            thickness=thick if isinstance(thick, Given) else thick.figure,
        )
        angle = sheet.work(
            "pulley.hinge_angle",
            f"hinge opens to, {passing.pulley}",
            hinge_angle,
            plate_length=stiff,
            diameter=circle,
        )
        remarks.append(sentence("The hinge opens to {angle} there.", angle=angle))
        if size.hinge_angle is not None:
            allowed = sheet.note(
                stated(
                    "range.hinge_angle",
                    "angle the hinge may open to",
                    size.hinge_angle,
                    Kind.ANGLE,
                    size.name,
                )
            )
            smallest = sheet.work(
                "pulley.smallest_circle",
                "smallest circle the pin may run on",
                smallest_circle,
                plate_length=stiff,
                angle=allowed,
            )
            within = "within" if angle.value <= allowed.value * (1 + 1e-9) else "MORE THAN"
            remarks.append(
                sentence(f"That is {within} the " + "{allowed} the range states.", allowed=allowed)
            )
        else:
            remarks.append(
                sentence(
                    "The range states no angle for its hinge: its smallest pulley stands for it."
                )
            )
    return OnPulley(
        passing.pulley,
        sheet.note(passing.diameter),
        stiff,
        ratio,
        sagitta,
        angle,
        allowed,
        smallest,
        tuple(remarks),
    )


def _or(value: float | None, taken: Given) -> Given:
    """What the range states, else what is assumed."""
    if value is None:
        return taken
    return stated(taken.key, taken.label, value, taken.kind, "range data")


def _spread(figures: Sequence[Figure]) -> Spread:
    low, typical, high = figures
    return Spread(low, typical, high)
