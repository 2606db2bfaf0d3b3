"""What does not fit together on this conveyor: plausibility, one sentence each."""

from __future__ import annotations

import math

from splicewright.loop import CLOSES_WITHIN, closing_gap, turnings
from splicewright.plant import Conveyor, TakeUpKind
from splicewright.quantities import Figure, Kind, Sentence, Worksheet, sentence
from splicewright.tension.across.load_section import carry_section, load_area
from splicewright.tension.resistance.main import GRAVITY, volume_flow_of
from splicewright.tension.running.load_cases import LoadCase
from splicewright.tension.running.running import Running


def findings(
    conveyor: Conveyor,
    forward: tuple[Running, ...],
    backward: tuple[Running, ...],
    plate: Figure | None,
    top: Figure,
    sheet: Worksheet,
) -> tuple[Sentence, ...]:
    """Say what does not fit together.

    Parameters
    ----------
    conveyor : the plant
    forward, backward : solved cases of both directions
    plate : pull of all drives at rated power [N], None when not known
    top : governing running tension per width [N/m]
    sheet : takes the lines
    """
    sentences: list[Sentence] = []
    for result in (*forward, *backward):
        if not (result.case.steady or result.case.transient):
            continue  # a blocked or held belt may well slip or hang slack
        way = "running backwards, " if result in backward else ""
        case = f"{way}{result.case.value}"
        if not result.grip_kept:
            sentences.append(
                sentence(
                    case + ": the take-up gives {x} behind the drive, too little to hold the belt "
                    "from slipping: check take-up and driven pulley.",
                    x=result.behind_drive,
                )
            )
        if not result.sag_kept:
            sentences.append(
                sentence(
                    case + ": the belt sags more than {limit} of the idler spacing somewhere.",
                    limit=conveyor.method.sag_limit,
                )
            )
        if min(p.leaving.value for p in result.points) <= 0:
            quantity = "mass" if conveyor.take_up.kind is TakeUpKind.GRAVITY else "force"
            sentences.append(
                sentence(
                    f"{case}: the tension falls to nothing somewhere: the take-up given cannot run "
                    f"this belt; check its {quantity}."
                )
            )
    sentences.extend(_pull_findings(forward, plate))
    sentences.extend(_lift_findings(forward, plate))
    sentences.extend(_unit_findings(conveyor, forward))
    sentences.extend(_closing_findings(conveyor))
    sentences.extend(_load_findings(conveyor, sheet))
    if top.value > conveyor.belt.strength.value / 5:
        sentences.append(
            sentence(
                "The governing tension {tension} is more than a fifth of the belt's strength "
                "{strength}: check the belt before the joint.",
                tension=top,
                strength=conveyor.belt.strength,
            )
        )
    return tuple(sentences)


def _pull_findings(forward: tuple[Running, ...], plate: Figure | None) -> list[Sentence]:
    sentences = []
    full = next(c for c in forward if c.case is LoadCase.FULL)
    gap = full.points[-1].leaving.value - full.behind_drive.value
    if abs(gap) > 0.01 * max(abs(full.pull.value), 1.0):
        sentences.append(
            sentence(
                "The tension factors of the pulleys add {gap} that the pull does not contain: "
                "take them out, or add them to the resistances.",
                gap=(gap, Kind.FORCE),
            )
        )
    if plate is not None and full.pull.value > plate.value * 1.05:
        sentences.append(
            sentence(
                "Full load needs {pull} of pull, the motors give {plate} at rated power: check "
                "load, friction factor or motor plate.",
                pull=full.pull,
                plate=plate,
            )
        )
    if plate is not None and 0 < full.pull.value < 0.3 * plate.value:
        sentences.append(
            sentence(
                "The motors could give {plate}, full load needs only {pull}: check plate and "
                "load; the larger is taken.",
                pull=full.pull,
                plate=plate,
            )
        )
    if full.pull.value < 0:
        sentences.append(
            sentence(
                "Full, the load drives the belt: the drive must brake; low friction is then the "
                "unsafe side. Have braking and holdback checked."
            )
        )
    return sentences


def _lift_findings(forward: tuple[Running, ...], plate: Figure | None) -> list[Sentence]:
    """A rated pull that does not even raise the load is wrong, or something it stands on is."""
    full = next(c for c in forward if c.case is LoadCase.FULL)
    lift = sum(f.slope.value for f in full.forces)
    if plate is None or plate.value >= lift:
        return []
    return [
        sentence(
            "The motors give {plate} at rated power, less than the {lift} that lifting the load "
            "takes with no friction at all: power, load, speed or lift is wrong.",
            plate=plate,
            lift=(lift, Kind.FORCE),
        )
    ]


_SLIP = (300.0, 3000.0)
"""Ratios taken for a slip of a thousand between a unit and its multiple (W and kW, N and kN)."""


def _unit_findings(conveyor: Conveyor, forward: tuple[Running, ...]) -> list[Sentence]:
    """Stated numbers about a thousand times what the others make of them."""
    full = next(c for c in forward if c.case is LoadCase.FULL)
    pairs: list[tuple[Figure, float]] = [
        (drive.power, abs(full.power.value) * drive.share.value)
        for drive in conveyor.drives
        if drive.power is not None
    ]
    take_up = conveyor.take_up
    least = max(n.value for n in full.needed)
    strands = float(take_up.strands)
    pairs += [(take_up.force, least * strands)] if take_up.force is not None else []
    pairs += [(take_up.mass, least * strands / GRAVITY)] if take_up.mass is not None else []
    sentences = []
    for stated, worked in pairs:
        ratio = stated.value / worked if worked > 0 else 1.0
        times = ratio if ratio > 1 else 1 / ratio if ratio > 0 else 1.0
        if _SLIP[0] <= times <= _SLIP[1]:
            sentences.append(
                sentence(
                    f"{stated.label[:1].upper()}{stated.label[1:]}: {{stated}} is about a thousand "
                    f"times too {'large' if ratio > 1 else 'small'}; the rest of the file makes "
                    f"it about {{worked}}: check its unit ({stated.key}).",
                    stated=stated,
                    worked=(worked, stated.kind),
                )
            )
    return sentences


def _closing_findings(conveyor: Conveyor) -> list[Sentence]:
    gap = float(closing_gap(*turnings(conveyor)))
    if abs(gap) <= CLOSES_WITHIN:
        return []
    taken = ", ".join(p.name for p in conveyor.pulleys() if p.wrap.assumed)
    return [
        sentence(
            f"The wrap angles {'pass' if gap > 0 else 'miss'} one full turn by {{gap}}: what was "
            f"assumed ({taken or 'none'}) or which cover touches does not fit; state them.",
            gap=(math.copysign(gap, 1.0), Kind.ANGLE),
        )
    ]


def _load_findings(conveyor: Conveyor, sheet: Worksheet) -> list[Sentence]:
    sentences = []
    material = conveyor.material
    if material.rate is not None and material.density is not None:
        flow = sheet.work(
            "load.flow",
            "volume flow of the load",
            volume_flow_of,
            rate=material.rate,
            density=material.density,
        )
        for special in conveyor.specials:
            stated = dict(special.inputs).get("volume_flow")
            if stated is not None and abs(stated.value - flow.value) > 0.05 * flow.value:
                sentences.append(
                    sentence(
                        special.name + ": the volume flow {stated} does not follow from mass flow "
                        "and density, which give {flow}.",
                        stated=stated,
                        flow=flow,
                    )
                )
    if material.density is None or material.line_mass.value <= 0:
        return sentences
    area = sheet.work(
        "load.area",
        "cross-section of the load",
        load_area,
        load=material.line_mass,
        density=material.density,
    )
    room = carry_section(conveyor, sheet)
    if room is not None and area.value > room.value:
        sentences.append(
            sentence(
                "The load fills {area}, the trough holds {room}: it spills, or rate, speed or "
                "density is wrong.",
                area=area,
                room=room,
            )
        )
    return sentences
