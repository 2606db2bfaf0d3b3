"""What does not fit together on this conveyor: plausibility, one sentence each."""

from __future__ import annotations

from splicewright.plant import Conveyor
from splicewright.quantities import Figure, Kind, Sentence, Worksheet, sentence
from splicewright.tension.cases import LoadCase
from splicewright.tension.resistance import volume_flow_of
from splicewright.tension.running import Running
from splicewright.tension.section import carry_section, load_area


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
    said: list[Sentence] = []
    for result in (*forward, *backward):
        if not (result.case.steady or result.case.transient):
            continue  # a blocked or held belt may well slip or hang slack
        way = "running backwards, " if result in backward else ""
        case = f"{way}{result.case.value}"
        if not result.grip_kept:
            said.append(
                sentence(
                    case + ": the take-up gives {x} behind the drive, too little to hold the belt "
                    "from slipping: check take-up and driven pulley.",
                    x=result.behind_drive,
                )
            )
        if not result.sag_kept:
            said.append(
                sentence(
                    case + ": the belt sags more than {limit} of the idler spacing somewhere.",
                    limit=conveyor.method.sag_limit,
                )
            )
        if min(p.leaving.value for p in result.points) <= 0:
            said.append(
                sentence(
                    f"{case}: the tension falls to nothing somewhere: the take-up given cannot run "
                    "this belt; check its mass."
                )
            )
    said.extend(_pull_findings(forward, plate))
    said.extend(_load_findings(conveyor, sheet))
    if top.value > conveyor.belt.strength.value / 5:
        said.append(
            sentence(
                "The governing tension {tension} is more than a fifth of the belt's strength "
                "{strength}: check the belt before the joint.",
                tension=top,
                strength=conveyor.belt.strength,
            )
        )
    return tuple(said)


def _pull_findings(forward: tuple[Running, ...], plate: Figure | None) -> list[Sentence]:
    said = []
    full = next(c for c in forward if c.case is LoadCase.FULL)
    gap = full.points[-1].leaving.value - full.behind_drive.value
    if abs(gap) > 0.01 * max(abs(full.pull.value), 1.0):
        said.append(
            sentence(
                "The tension factors of the pulleys add {gap} that the pull does not contain: "
                "take them out, or add them to the resistances.",
                gap=(gap, Kind.FORCE),
            )
        )
    if plate is not None and full.pull.value > plate.value * 1.05:
        said.append(
            sentence(
                "Full load needs {pull} of pull, the motors give {plate} at rated power: check "
                "load, friction factor or motor plate.",
                pull=full.pull,
                plate=plate,
            )
        )
    if plate is not None and 0 < full.pull.value < 0.3 * plate.value:
        said.append(
            sentence(
                "The motors could give {plate}, full load needs only {pull}: check plate and "
                "load; the joint is sized for the larger.",
                pull=full.pull,
                plate=plate,
            )
        )
    if full.pull.value < 0:
        said.append(
            sentence(
                "Full, the load drives the belt: the drive must brake; low friction is then the "
                "unsafe side. Have braking and holdback checked."
            )
        )
    return said


def _load_findings(conveyor: Conveyor, sheet: Worksheet) -> list[Sentence]:
    said = []
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
                said.append(
                    sentence(
                        special.name + ": the volume flow {stated} does not follow from mass flow "
                        "and density, which give {flow}.",
                        stated=stated,
                        flow=flow,
                    )
                )
    if material.density is None or material.line_mass.value <= 0:
        return said
    area = sheet.work(
        "load.area",
        "cross-section of the load",
        load_area,
        load=material.line_mass,
        density=material.density,
    )
    room = carry_section(conveyor, sheet)
    if room is not None and area.value > room.value:
        said.append(
            sentence(
                "The load fills {area}, the trough holds {room}: it spills, or rate, speed or "
                "density is wrong.",
                area=area,
                room=room,
            )
        )
    return said
