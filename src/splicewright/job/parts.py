"""Parts to bring, with spares."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

from splicewright.job.lengths import CutLengths
from splicewright.joint import Candidate, Construction, Layout, StepForm, StepGeometry, StepSize
from splicewright.loop import Roll
from splicewright.plant import Damage
from splicewright.quantities import Figure, Kind, Sentence, sentence

_SPARE_BOLTS = 0.05
"""Spare bolts and nuts for what falls or strips; assumption of this tool, no source."""
_SET_NAMES = {1: "single", 2: "double", 3: "triple"}


@dataclass(frozen=True, slots=True)
class Part:
    """One line of the parts list: name, how many, spares on top, size."""

    name: str
    count: int
    spare: int
    size: Sentence

    @property
    def total(self) -> int:
        """Needed and spare together."""
        return self.count + self.spare


def parts_list(
    candidate: Candidate,
    layout: Layout,
    lengths: CutLengths,
    thickest: Figure,
    joints: int,
    roll: Roll | None = None,
) -> tuple[Part, ...]:
    """All parts for the joints of this job.

    thickest : belt, decides the bolt length [m]
    """
    size = candidate.size
    ends = 2 * joints if candidate.construction.hinged else joints
    parts: list[Part] = []
    if layout.strip:
        parts.append(
            Part(
                "fastener strip, one end in one piece",
                ends,
                0,
                sentence(f"{candidate.name}, {layout.count} plates, {candidate.material}"),
            )
        )
    else:
        for members, count in sorted(Counter(layout.pieces).items(), reverse=True):
            name = f"{_SET_NAMES.get(members, str(members))} plate set, top and bottom"
            spare = 2 if members == 1 else 1
            parts.append(
                Part(name, count * ends, spare, sentence(f"{candidate.name}, {candidate.material}"))
            )
    rows = 1 if candidate.construction.hinged else 2
    bolts = layout.count * size.bolts_per_plate * ends * rows
    parts += _fixings(candidate, thickest, bolts)
    if lengths.pin is not None and lengths.liner is not None and lengths.seating_strip is not None:
        words = candidate.words
        parts += [
            Part(
                "hinge pin",
                joints,
                joints,
                sentence("⌀ {pin} × {length}", pin=(size.pin, Kind.LENGTH), length=lengths.pin),
            ),
            Part(words.wear_sleeve, joints, 0, sentence("{length} long", length=lengths.liner)),
            Part(
                "pin retainer",
                lengths.retainers * joints,
                2,
                sentence("for pin ⌀ {pin}", pin=(size.pin, Kind.LENGTH)),
            ),
            Part(
                words.bedding_strip,
                lengths.seating_strips * joints,
                0,
                sentence("{length} long, one end pointed", length=lengths.seating_strip),
            ),
        ]
    if roll is not None:
        parts.append(
            Part(
                "roll of new belt" if joints == 1 else "piece of new belt",
                1,
                0,
                sentence(
                    "{length} or more, about ⌀ {diameter} and {mass}; order a little over",
                    length=roll.length,
                    diameter=roll.diameter,
                    mass=roll.mass,
                ),
            )
        )
    return tuple(parts)


def repair_parts(
    candidate: Candidate, lengths: CutLengths, thickest: Figure, plates: int
) -> tuple[Part, ...]:
    """Parts of an emergency repair: a pin, and single plates with new bolts.

    candidate, lengths : of the joint that is mended
    thickest : belt, decides the bolt length [m]
    plates : that are replaced, 0 for the pin alone
    """
    size = candidate.size
    parts = []
    if plates:
        parts += [
            Part(
                "single plate set, top and bottom",
                plates,
                2,
                sentence(f"{candidate.name}, {candidate.material}"),
            ),
            *_fixings(candidate, thickest, plates * size.bolts_per_plate),
        ]
    if lengths.pin is not None and lengths.liner is not None:
        parts += [
            Part(
                "hinge pin",
                1,
                1,
                sentence("⌀ {pin} × {length}", pin=(size.pin, Kind.LENGTH), length=lengths.pin),
            ),
            Part(
                candidate.words.wear_sleeve, 1, 0, sentence("{length} long", length=lengths.liner)
            ),
            Part(
                "pin retainer",
                lengths.retainers,
                2,
                sentence("for pin ⌀ {pin}", pin=(size.pin, Kind.LENGTH)),
            ),
        ]
    return tuple(parts)


def along_parts(
    damage: Damage, rows: int, width: Figure | None, thickness: Figure
) -> tuple[Part, ...]:
    """Parts of a repair along the belt; the makers' systems say what goes with them."""
    if damage is Damage.RIP:
        return (
            Part(
                "plate for repairs along the belt, with its bolts",
                rows,
                4,
                sentence("for belt {thick} thick; by the maker", thick=thickness),
            ),
        )
    part = "patch" if damage is Damage.HOLE else "edge sealing"
    size = (
        sentence(f"{part} for {{width}} of width, by its system", width=width)
        if width is not None
        else sentence("by its system")
    )
    return (Part(f"{part}, with its cements, within date", 1, 1, size),)


def vulcanised_parts(
    size: StepSize, joint: StepGeometry, width: Figure, joints: int
) -> tuple[Part, ...]:
    """Rubber and cement of vulcanised joints, by what they must cover; kinds by the maker.

    width : of the belt [m]
    """
    face = joint.overlap.value * width.value
    strip = width.value / math.cos(joint.bias.value)
    wide = (
        sentence(
            "{long} long, {wide} wide",
            long=(strip, Kind.LENGTH),
            wide=(size.cover_strip, Kind.LENGTH),
        )
        if size.cover_strip is not None
        else (sentence("{long} long; width by the maker", long=(strip, Kind.LENGTH)))
    )
    coats = f"{size.coats} coats on" if size.coats is not None else "every coat on"
    cement = (
        Part(
            "cement",
            joints,
            1,
            sentence(coats + " {area}, both ends; within its date", area=(2 * face, Kind.AREA)),
        ),
        Part("cleaner, by the maker of the cement", joints, 0, sentence("within its date")),
    )
    if size.cold:
        return (
            *cement,
            Part(
                "seam filler for both covers",
                joints,
                0,
                sentence("{long} long each", long=(strip, Kind.LENGTH)),
            ),
        )
    if size.form is StepForm.CORD:
        # Both covers are off from the first line of the one end to that of the other.
        covered = max(line.at for line in joint.lines) - min(line.at for line in joint.lines)
        whole = sentence(
            "{area} each, by the maker's sheets", area=(covered * width.value, Kind.AREA)
        )
        rubber = (
            Part("core rubber", joints, 0, whole),
            Part("cover rubber, carry cover", joints, 0, whole),
            Part("cover rubber, pulley cover", joints, 0, whole),
        )
    else:
        rubber = (
            Part("intermediate rubber", joints, 0, sentence("{area} each", area=(face, Kind.AREA))),
            Part("cover strip, carry cover", joints, 0, wide),
            Part("cover strip, pulley cover", joints, 0, wide),
        )
    assert joint.curing is not None  # a plan made now always has it
    return (
        *rubber,
        Part(
            "edge strip of rubber", 2 * joints, 0, sentence("{long} long", long=joint.belt_needed)
        ),
        *cement,
        Part(
            "release film for the platens",
            2 * joints,
            0,
            sentence("{long} long, wider than the belt", long=joint.curing.press_length),
        ),
    )


def _fixings(candidate: Candidate, thickest: Figure, bolts: int) -> list[Part]:
    """Rivets, or bolts with their nuts, and spares of them."""
    size = candidate.size
    length = size.bolt_length(thickest.value)
    bolt = (
        sentence("⌀ {bolt} × {length}", bolt=(size.bolt, Kind.LENGTH), length=(length, Kind.LENGTH))
        if length is not None
        else sentence("⌀ {bolt}, length by the maker", bolt=(size.bolt, Kind.LENGTH))
    )
    spare = max(4, math.ceil(_SPARE_BOLTS * bolts))
    if candidate.construction is Construction.RIVETED:
        return [Part("rivet", bolts, spare, bolt)]
    nut = sentence("for ⌀ {bolt}", bolt=(size.bolt, Kind.LENGTH))
    return [Part("bolt", bolts, spare, bolt), Part("nut", bolts, spare, nut)]


def bolt_stand_out(candidate: Candidate) -> tuple[float, bool]:
    """Bolt above the nut before final tightening [m], and whether the range states it.

    About 3 mm (1/8 in) is common practice, no source, and is taken where the range is silent.
    """
    stand_out = candidate.size.stand_out
    return (stand_out, True) if stand_out is not None else (0.003, False)
