"""A joint found on the belt that nobody has a plan of: what can be seen, and what is assumed.

The plates that are there, the conveyor's file and the fastener's rating are enough to judge damage;
what else is not known stands in as a named assumption. Without rating or file there is no verdict:
a rating cannot be seen, and no number is made of nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

from splicewright.errors import Fault, InputError
from splicewright.job.inspection.joined_belt import JoinedBelt, assumed_places, pulleys_of
from splicewright.joint import End
from splicewright.joint.choice.verdict import evenness_of
from splicewright.plant import Conveyor
from splicewright.quantities import Kind, Sentence, Worksheet, sentence, show
from splicewright.tension import demand

PLATE_OVER_PITCH = 0.95
"""Width of a plate over the pitch where nobody measured it: wide, as wider plates are loaded a
little more; assumption of this tool [1]."""
SETBACK_OVER_PITCH = 1.0
"""Belt beside the outermost plates, over the pitch, where nobody measured it: wide, as those plates
carry the strip beside them, too; assumption of this tool [1]."""
BOLTS = 2
"""Bolts of a plate where nobody counted them: few, so that each lost one counts for much;
assumption of this tool."""


@dataclass(frozen=True, slots=True)
class FoundJoint:
    """A joint as far as somebody sees or knows it; None: not known.

    plates : of one belt end
    hinged : a pin between the ends; else plates are one piece across them
    width : of the belt at the joint; pitch, plate_width : middle to middle and of one plate [m]
    bolts : of one plate; pin : diameter of the new pin [m]
    rated, starting_rated : permitted tension per width, running and starting [N/m]
    """

    plates: int
    hinged: bool
    width: float | None = None
    pitch: float | None = None
    plate_width: float | None = None
    bolts: int | None = None
    pin: float | None = None
    rated: float | None = None
    starting_rated: float | None = None

    def centres(self, width: float) -> tuple[tuple[float, ...], float]:
        """Plate middles from the left, from the centreline, and the width of a plate [m].

        width : of the belt where nobody measured it at the joint [m]
        Raises InputError: the plates do not fit side by side on the belt.
        """
        belt = self.width or width
        across = self.plates - 1 + PLATE_OVER_PITCH + 2 * SETBACK_OVER_PITCH
        pitch = self.pitch or belt / across
        plate = self.plate_width or PLATE_OVER_PITCH * pitch
        if plate > pitch or (self.plates - 1) * pitch + plate > belt * 1.0001:
            sizes = [show(v, Kind.LENGTH) for v in (plate, pitch, belt)]
            say = (
                f"{self.plates} plates of {sizes[0]} at a pitch of {sizes[1]} do not fit side by "
                f"side on a belt of {sizes[2]}; count and measure again"
            )
            raise InputError(Fault("plates", say))
        middle = (self.plates - 1) / 2
        return tuple(pitch * (middle - n) for n in range(self.plates)), plate


def missing(joint: FoundJoint, conveyor: Conveyor | None) -> tuple[str, ...]:
    """What a verdict cannot do without, one sentence each; empty when nothing lacks."""
    gaps = []
    if joint.rated is None:
        gaps.append(
            "the rated tension of the fastener: read it off the plates or the maker's data for "
            "them, and take the lower one where two fit"
        )
    if conveyor is None:
        gaps.append("the conveyor's file, which tells how hard the belt pulls: a lead records it")
    return tuple(gaps)


def joined_as_found(joint: FoundJoint, conveyor: Conveyor) -> JoinedBelt:
    """The joint with the belt behind it, what is not known assumed and told.

    joint : with its rating
    conveyor : whose belt it is in
    Raises InputError: no rating, or plates that do not fit on the belt.
    """
    if joint.rated is None:
        raise InputError(Fault("rated", "is missing; a verdict cannot do without it"))
    width = joint.width or conveyor.belt.width.value
    centres, plate = joint.centres(width)
    sheet = Worksheet()
    asked = demand(conveyor, sheet)
    places, transitions = pulleys_of(conveyor, asked, width, sheet)
    wider = conveyor.belt.width.value / width
    return JoinedBelt(
        width=width,
        carcass=conveyor.belt.carcass,
        modulus=conveyor.belt.modulus,
        centres=tuple((end, centres) for end in End),
        plate_width=plate,
        bolts=joint.bolts or BOLTS,
        pin=joint.pin if joint.hinged else None,
        curve_depth=0.0,
        hinged=joint.hinged,
        rated=joint.rated,
        starting_rated=joint.starting_rated,
        evenness=evenness_of(None, ""),
        running=asked.running.value * wider,
        starting=asked.starting.value * wider,
        places=places,
        transitions=transitions,
        conveyor=conveyor,
        assumptions=(*_assumed(joint, conveyor, centres, plate), *assumed_places(sheet)),
        record=sheet.finish(),
    )


def _assumed(
    joint: FoundJoint, conveyor: Conveyor, centres: tuple[float, ...], plate: float
) -> list[Sentence]:
    """What stands in for what nobody knows of the joint."""
    assumptions = [
        sentence(
            "This joint has no plan: it is judged from the description by the person who "
            "inspected it."
        ),
        sentence(
            "The ends are taken as cut straight and square: a curve that suits the "
            "transitions would load the plates more evenly, one that is too deep less."
        ),
        sentence(
            "The plates are taken as standing evenly about the centreline, alike on both ends."
        ),
    ]
    if joint.width is None:
        assumptions.append(
            sentence(
                "Belt width at the joint not measured: {width} taken, of the conveyor's file.",
                width=conveyor.belt.width,
            )
        )
    if joint.pitch is None:
        pitch = centres[0] - centres[1] if len(centres) > 1 else (joint.width or 0.0)
        assumptions.append(
            sentence(
                "Plate pitch not measured: {pitch} taken, which leaves one pitch of belt "
                "beside the outermost plates; the more belt there, the more they carry; "
                "assumption of this tool, no source.",
                pitch=(pitch, Kind.LENGTH),
            )
        )
    if joint.plate_width is None:
        assumptions.append(
            sentence(
                "Plate width not measured: {plate} taken, {share} of the pitch; assumption of "
                "this tool, no source.",
                plate=(plate, Kind.LENGTH),
                share=(PLATE_OVER_PITCH, Kind.SHARE),
            )
        )
    if joint.bolts is None:
        assumptions.append(
            sentence(
                f"Bolts of a plate not counted: {BOLTS} taken, so that a lost one counts for "
                "half; assumption of this tool, no source."
            )
        )
    return assumptions
