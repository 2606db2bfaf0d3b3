"""What is looked at and measured before a joint may run: the acceptance sheet, on paper or phone.

The lines to look at are common practice, no source; the maker's instructions take precedence.
"""

from __future__ import annotations

from dataclasses import dataclass

from splicewright.job.plan import JointPlan
from splicewright.job.steps.readings import Reading, torque_window
from splicewright.joint import Construction, MakingLimits, Size, StepGeometry
from splicewright.joint.belt_end.centreline import READING
from splicewright.plant import Damage
from splicewright.quantities import Figure, Kind, sentence

_TORQUES_TRIED = 3


@dataclass(frozen=True, slots=True)
class Acceptance:
    """The acceptance sheet: lines to look at, values to measure."""

    lines: tuple[str, ...]
    measured: tuple[Reading, ...]


def acceptance(plan: JointPlan) -> Acceptance | None:
    """The acceptance sheet of a planned joint; None without one."""
    if plan.step_joint is not None and plan.step_joint.lines:
        return _vulcanised(plan.step_joint)
    layout, best, lengths, limits = plan.layout, plan.fastener, plan.lengths, plan.limits
    if layout is None or best is None or lengths is None or limits is None:
        return None
    if not plan.work.job.joins:
        return _mended(plan, best.size, limits, best.words.wear_sleeve)
    hinged = best.construction.hinged
    riveted = best.construction is Construction.RIVETED
    lines = [
        "Teeth through the pulley cover along the whole row, both ends",
        "Carry cover raised evenly behind the top plates; no plate edge stands free",
        "No plate tilted; plates in one line",
        *(["Loops in one line; the pin turns freely"] if hinged else []),
        "Every rivet set full and tight; none split, none turns"
        if riveted
        else "No bolt head turned out of its lugs; no nut loose; nothing loose at all",
        *([] if riveted else ["Bolt ends broken off flush with the nuts, burrs removed"]),
        *(["Pin inside both plate edges; both retainers locked"] if hinged else []),
        f"{best.words.wear_sleeve.capitalize()} and {best.words.bedding_strip}s trimmed"
        if hinged
        else "Belt ends butted as drawn, gap alike from edge to edge",
        "No plate and no strip stands past the belt edge; corners cut clean",
        "Belt edges in line through the joint on both sides",
    ]
    measured = [
        _planned(f"Set-back {side}, {end.which.value}", value)
        for end in layout.ends
        for side, value in (("left", end.setback_left), ("right", end.setback_right))
    ]
    if lengths.pin is not None:
        measured.append(_planned("Pin inset, each side", best.size.pin_inset, boxes=2))
    top = "rivet" if riveted else "nut"
    measured.append(
        _planned(f"Height above the carry cover, highest {top}", best.size.proud_height)
    )
    if best.size.seat_torque is not None:
        measured.append(_torque(best.size, limits))
    measured += [
        _most("Difference of the diagonals, cut ends", limits.diagonals),
        _most("Edge of one end against the other", limits.off_centre.smallest),
        _most("Belt thickness, one end against the other", limits.thickness.smallest),
    ]
    return Acceptance(tuple(lines), tuple(measured))


def _mended(plan: JointPlan, size: Size, limits: MakingLimits, sleeve: str) -> Acceptance:
    """What is looked at and measured of a joint whose pin or plates were replaced: nothing that
    only a new joint has."""
    plates = plan.work.damage is Damage.PLATES
    lines = (
        *(
            (
                "New plates seated on sound belt, teeth in the cover, none tilted",
                "No bolt head turned out of its lugs; new bolt ends broken off, burrs removed",
            )
            if plates
            else ()
        ),
        "Every plate and bolt of both ends looked at: none bent, loose or lost is left",
        "Belt behind the plates sound; no hole pulled",
        "Loops in one line; the pin turns freely",
        "Pin inside both plate edges; both retainers locked",
        f"{sleeve.capitalize()} trimmed; nothing stands past the belt edge",
        "Belt edges in line through the joint on both sides",
    )
    measured = [_planned("Pin inset, each side", size.pin_inset, boxes=2)]
    if plates and size.seat_torque is not None:
        measured.append(_torque(size, limits))
    measured.append(_most("Edge of one end against the other", limits.off_centre.smallest))
    return Acceptance(lines, tuple(measured))


def _torque(size: Size, limits: MakingLimits) -> Reading:
    return Reading(
        "Torque, three bolts tried",
        Kind.TORQUE,
        *torque_window(size, limits),
        _TORQUES_TRIED,
        sentence(
            "{torque} ± {spread}",
            torque=(size.seat_torque or 0.0, Kind.TORQUE),
            spread=limits.tightness.smallest,
        ),
    )


def _vulcanised(joint: StepGeometry) -> Acceptance:
    """What is looked at and measured of a cured joint."""
    lines = (
        "Straight by the chalk line over the whole length the points were measured on",
        "Belt edges in line through the joint on both sides, trimmed flush",
        "No blister, no soft place, no sponge at the edges; sounded over the whole joint",
        f"No open {'seam' if joint.cold else 'butt'}, no lifted corner, no step in either cover",
        "Seams filled, even with the covers"
        if joint.cold
        else "New rubber even with the covers, ground where it stood proud",
        "Arrows point one way; carry cover on one side",
        f"Record of temperature{'' if joint.cold else ', pressure'} and time kept with this sheet",
        "Bonded for its whole time before anything pulled"
        if joint.cold
        else "Cold through before it was loaded",
    )
    hard = sentence("by the maker; the same on new and old cover")
    measured = (
        _planned("Length of the joint, along either edge", joint.overlap.value, boxes=2),
        Reading(
            "Thickness of the joint, left, middle, right",
            Kind.LENGTH,
            None,
            None,
            3,
            sentence("even with the belt; limit by the maker"),
        ),
        Reading(
            f"Hardness of the {'filled seam' if joint.cold else 'new cover'}, both covers",
            Kind.COUNT,
            None,
            None,
            2,
            hard,
        ),
        Reading(
            "Edge out of the chalk line, left and right",
            Kind.LENGTH,
            None,
            None,
            2,
            sentence("limit by site or maker"),
        ),
    )
    return Acceptance(lines, measured)


def _most(name: str, limit: Figure) -> Reading:
    finer = ": by template only" if limit.value < READING else ""
    return Reading(
        name, Kind.LENGTH, 0.0, limit.value, 1, sentence("at most {limit}" + finer, limit=limit)
    )


def _planned(name: str, value: float, boxes: int = 1) -> Reading:
    # A planned value without a published spread: shown beside the box, judged by a person.
    return Reading(
        name, Kind.LENGTH, None, None, boxes, sentence("{planned}", planned=(value, Kind.LENGTH))
    )
