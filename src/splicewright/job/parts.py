"""Parts to bring, with spares, and the tools for the job."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

from splicewright.job.lengths import CutLengths
from splicewright.joint import Candidate, Construction, Layout, StepSize
from splicewright.loop import Roll
from splicewright.plant import Conveyor, Environment, TakeUpKind, Tools, Work
from splicewright.quantities import Figure, Kind, Sentence, sentence
from splicewright.tension import AtRest

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


@dataclass(frozen=True, slots=True)
class Tool:
    """One line of the tools list."""

    name: str
    count: int
    note: Sentence


def parts_list(
    candidate: Candidate,
    layout: Layout,
    lengths: CutLengths,
    thickest: Figure,
    joints: int,
    roll: Roll | None = None,
) -> tuple[Part, ...]:
    """All parts for the joints of this job.

    Parameters
    ----------
    candidate, layout, lengths : the chosen fastener, laid out and cut
    thickest : belt, decides the bolt length [m]
    joints : how many are made
    roll : new belt inserted or put on, None without any
    """
    size = candidate.size
    ends = 2 * joints if candidate.construction.hinged else joints
    made: list[Part] = []
    if layout.strip:
        made.append(
            Part("fastener strip, one end in one piece", ends, 0,
                 sentence(f"{candidate.name}, {layout.count} plates, {candidate.material}"))
        )  # fmt: skip
    else:
        for members, count in sorted(Counter(layout.pieces).items(), reverse=True):
            name = f"{_SET_NAMES.get(members, str(members))} plate set, top and bottom"
            spare = 2 if members == 1 else 1
            made.append(
                Part(name, count * ends, spare, sentence(f"{candidate.name}, {candidate.material}"))
            )
    rows = 1 if candidate.construction.hinged else 2
    bolts = layout.count * size.bolts_per_plate * ends * rows
    length = size.bolt_length(thickest.value)
    bolt = (
        sentence("⌀ {bolt} x {length}", bolt=(size.bolt, Kind.LENGTH), length=(length, Kind.LENGTH))
        if length is not None
        else sentence("⌀ {bolt}, length by the maker", bolt=(size.bolt, Kind.LENGTH))
    )
    spare = max(4, math.ceil(_SPARE_BOLTS * bolts))
    if candidate.construction is Construction.RIVETED:
        made.append(Part("rivet", bolts, spare, bolt))
    else:
        nut = sentence("for ⌀ {bolt}", bolt=(size.bolt, Kind.LENGTH))
        made += [Part("bolt", bolts, spare, bolt), Part("nut", bolts, spare, nut)]
    if lengths.pin is not None and lengths.liner is not None and lengths.seating_strip is not None:
        words = candidate.words
        made += [
            Part("hinge pin", joints, joints,
                 sentence("⌀ {pin} x {length}", pin=(size.pin, Kind.LENGTH), length=lengths.pin)),
            Part(words.wear_sleeve, joints, 0, sentence("{length} long", length=lengths.liner)),
            Part("pin retainer", lengths.retainers * joints, 2,
                 sentence("for pin ⌀ {pin}", pin=(size.pin, Kind.LENGTH))),
            Part(words.bedding_strip, lengths.seating_strips * joints, 0,
                 sentence("{length} long, one end pointed", length=lengths.seating_strip)),
        ]  # fmt: skip
    if roll is not None:
        made.append(
            Part("roll of new belt", 1, 0,
                 sentence("{length} or more, about ⌀ {diameter} and {mass}; order a little over",
                          length=roll.length, diameter=roll.diameter, mass=roll.mass))
        )  # fmt: skip
    return tuple(made)


def tools_list(
    conveyor: Conveyor,
    work: Work,
    stopped: AtRest,
    candidate: Candidate | None,
    layout: Layout | None,
    roll: Roll | None = None,
) -> tuple[Tool, ...]:
    """The tools for this job, with the ratings the standstill forces ask for."""
    plain = sentence("")
    made = [
        Tool("lock and tag for each person, lock box", work.crew, plain),
        Tool("restraining clamp, full belt width", 2,
             sentence("rated {rating} or more each, with anchor chains of the same",
                      rating=stopped.ratings.clamps)),
        Tool("pulling clamp, full belt width", 2,
             sentence("rated {rating} or more", rating=stopped.ratings.hoists)),
        Tool("lever hoist or winch", 2,
             sentence("rated {rating} or more each, for one may have to carry all; the same on "
                      "both sides",
                      rating=stopped.ratings.hoists)),
        Tool("tape, steel rule, calliper, long square, chalk line, marker", 1, plain),
        Tool("belt knife with guard, or belt cutter", 1, sentence("blade away from the body")),
        Tool("straight batten, wider than the belt", 1,
             sentence("{width} or more", width=conveyor.belt.width)),
    ]  # fmt: skip
    if conveyor.take_up.kind is TakeUpKind.GRAVITY:
        tackle = stopped.ratings.tackle
        made.append(
            Tool("chain hoist, rated chains and blocks for the counterweight", 1,
                 sentence("rated {rating} or more", rating=tackle) if tackle is not None
                 else sentence("find its mass first: weight unknown"))
        )  # fmt: skip
    if roll is not None:
        made.append(
            Tool("roll stand, spreader and lifting gear for the new belt", 1,
                 sentence("for {mass} and the core", mass=roll.mass))
        )  # fmt: skip
    if candidate is not None and layout is not None:
        made += _joint_tools(candidate, work)
    if candidate is not None and candidate.steps is not None:
        made += _vulcanising_tools(candidate.steps)
    made.append(
        Tool("eye and ear protection, helmet, cut-proof gloves, boots, dust mask", work.crew,
             sentence("mask when skiving or grinding: rubber and silica dust"))
    )  # fmt: skip
    if Environment.UNDERGROUND in work.environment:
        made.append(Tool("gas test and hot-work rules of the mine", 1,
                         sentence("no grinding without leave")))  # fmt: skip
    return tuple(made)


def _joint_tools(candidate: Candidate, work: Work) -> list[Tool]:
    size = candidate.size
    hole = (size.hole, Kind.LENGTH)
    drive = "belt punch with power drive" if work.tools is Tools.POWER else "belt punch and hammer"
    torque = (
        sentence("set to {torque}", torque=(size.seat_torque, Kind.TORQUE))
        if size.seat_torque is not None
        else sentence("torque by the maker's instructions")
    )
    wrench = "power wrench and torque wrench" if work.tools is Tools.POWER else "torque wrench"
    made = [
        Tool(
            "punch template", 1, sentence(f"{candidate.size.name}; or the 1:1 sheets of this pack")
        ),
        Tool(drive, 1, sentence("hole ⌀ {hole}", hole=hole)),
    ]
    if candidate.construction is Construction.RIVETED:
        made.append(
            Tool("rivet setter with its anvil, hammer", 1, sentence("of the range; eye protection"))
        )
    else:
        made += [
            Tool(f"{wrench}, socket", 1, torque),
            Tool("bolt-end breaker, hammer, file or grinder", 1, sentence("eye protection")),
        ]
    if candidate.construction.hinged:
        made += [
            Tool("setting pin", 1, sentence("⌀ {pin}", pin=(size.pin, Kind.LENGTH))),
            Tool(f"{candidate.words.spacer}s or alignment bar", 1, sentence("")),
        ]
    return made


def _vulcanising_tools(size: StepSize) -> list[Tool]:
    plain = sentence("")
    return [
        Tool("vulcanising press with controls and recorder, spare fuses and hoses", 1,
             sentence("for {temperature}, longer than the joint and wider than the belt",
                      temperature=(size.cure_temperature, Kind.TEMPERATURE))),
        Tool("splice kit: cements, cleaner, intermediate and cover rubber, within date", 1,
             sentence(f"for {size.plies} plies, by the maker")),
        Tool("ply knife, ply pincers, ply lifter", 1, sentence("cut-proof gloves, both hands")),
        Tool("buffer, brush, roller, cement brushes", 1, plain),
        Tool("contact thermometer, air thermometer and hygrometer, hardness tester", 1, plain),
        Tool("fire extinguisher, gas meter, fan", 1, sentence("vapour of cements burns and stuns")),
        Tool("tent or shelter over the place", 1, sentence("no rain, dust or dew on open rubber")),
    ]  # fmt: skip


def bolt_stand_out(candidate: Candidate) -> tuple[float, bool]:
    """Bolt above the nut before final tightening [m], and whether the range states it.

    About 3 mm (1/8 in) is common practice, no source, and is taken where the range is silent.
    """
    stand_out = candidate.size.stand_out
    return (stand_out, True) if stand_out is not None else (0.003, False)
