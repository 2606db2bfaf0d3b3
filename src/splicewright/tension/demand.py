"""What the machine asks of a joint: two independent ways side by side, and which governs."""

from __future__ import annotations

from dataclasses import dataclass

from splicewright.plant import Conveyor, slug
from splicewright.quantities import Figure, Kind, Sentence, Worksheet, formula, sentence
from splicewright.tension import traction
from splicewright.tension.resistance import volume_flow_of
from splicewright.tension.running import LoadCase, Running, at_station, running
from splicewright.tension.section import carry_section, load_area


@dataclass(frozen=True, slots=True)
class Nameplate:
    """The demand from the motor plates alone; forces [N], per width [N/m]."""

    pull: Figure
    behind_drive: Figure
    largest: Figure
    starting_pull: Figure
    starting: Figure


@dataclass(frozen=True, slots=True)
class Passing:
    """The joint on one pulley: tension per width, the larger of entering and leaving [N/m].

    diameter [m], wrap [rad] as they are; running over the empty and full cases, starting.
    """

    pulley: str
    diameter: Figure
    wrap: Figure
    touches: str
    running: Figure
    starting: Figure


@dataclass(frozen=True, slots=True)
class Demand:
    """All that the joint must satisfy.

    running, starting: governing tensions per width [N/m]; governed_by: which way gave it.
    """

    cases: tuple[Running, ...]
    reverse_cases: tuple[Running, ...]
    nameplate: Nameplate | None
    passings: tuple[Passing, ...]
    running: Figure
    starting: Figure
    running_governed_by: str
    starting_governed_by: str
    belt_safety: Figure
    findings: tuple[Sentence, ...]

    def case(self, case: LoadCase) -> Running:
        """The forward solution of one load case; KeyError when it was not worked."""
        for found in self.cases:
            if found.case is case:
                return found
        raise KeyError(case)


CASES = (LoadCase.EMPTY, LoadCase.FULL, LoadCase.STARTING)


@formula(
    "S = σ_N/t",
    gives=("S", Kind.RATIO),
    symbols={"strength": "σ_N", "tension": "t"},
    source="arithmetic",
    limits="nominal strength of the undamaged belt over the governing running tension",
)
def safety_factor(strength: float, tension: float) -> float:
    """Nominal belt strength over tension, both per width [-]."""
    return strength / tension


def demand(conveyor: Conveyor, sheet: Worksheet) -> Demand:
    """Work out what a joint on this conveyor must satisfy.

    Parameters
    ----------
    conveyor : with all gaps filled
    sheet : takes every line
    """
    forward = running(conveyor, CASES, sheet)
    backward: tuple[Running, ...] = ()
    if conveyor.reversing:
        backward = running(conveyor.turned_round(), CASES, sheet, "reverse.")
    plate = _nameplate(conveyor, forward, sheet)
    steady = [r.largest for r in (*forward, *backward) if r.case is not LoadCase.STARTING]
    start = [r.largest for r in (*forward, *backward) if r.case is LoadCase.STARTING]
    if plate is not None:
        steady.append(plate.largest)
        start.append(plate.starting)
    governing = sheet.largest("demand.running", "governing running tension per width", steady)
    starting = sheet.largest("demand.starting", "governing starting tension per width", start)
    safety = sheet.work(
        "demand.belt_safety", "belt strength over governing running tension", safety_factor,
        strength=conveyor.belt.strength, tension=governing,
    )  # fmt: skip
    return Demand(
        cases=forward,
        reverse_cases=backward,
        nameplate=plate,
        passings=_passings(conveyor, forward, backward, sheet),
        running=governing,
        starting=starting,
        running_governed_by=_giver(governing, steady),
        starting_governed_by=_giver(starting, start),
        belt_safety=safety,
        findings=_findings(conveyor, forward, backward, plate, governing, sheet),
    )


def _giver(governing: Figure, parts: list[Figure]) -> str:
    return max(parts, key=lambda p: p.value).label


def _nameplate(
    conveyor: Conveyor, cases: tuple[Running, ...], sheet: Worksheet
) -> Nameplate | None:
    if any(d.power is None for d in conveyor.drives):
        return None
    pulls = []
    for number, drive in enumerate(conveyor.drives, 1):
        assert drive.power is not None  # checked above
        pulls.append(
            sheet.work(
                f"nameplate.{number}.pull", f"pull at rated power, {drive.name}",
                traction.nameplate_pull,
                power=drive.power, efficiency=drive.efficiency, speed=conveyor.speed,
            )
        )  # fmt: skip
    pull = sheet.total("nameplate.pull", "pull at rated power of all drives", pulls)
    full = next(c for c in cases if c.case is LoadCase.FULL)
    known = conveyor.take_up.mass is not None or conveyor.take_up.force is not None
    if known:
        behind = sheet.total(
            "nameplate.behind_drive", "tension behind the drive, from the take-up",
            [full.behind_drive],
        )  # fmt: skip
    else:
        driven = [p for p in conveyor.pulleys() if p.drive]
        grip = sheet.work(
            "nameplate.grip",
            "tension behind the drive for grip at rated pull",
            traction.slack_side_for_grip,
            margin=conveyor.method.slip_margin,
            pull=pull,
            friction=conveyor.method.drum_friction,
            wrap=sheet.total(
                "nameplate.wrap", "wrap of all driven pulleys", [sheet.note(p.wrap) for p in driven]
            ),
        )
        behind = sheet.largest(
            "nameplate.behind_drive",
            "tension behind the drive, the larger of what grip and the running belt want",
            [grip, full.behind_drive],
        )
    factor = max((d.start_factor for d in conveyor.drives), key=lambda g: g.value)
    start_pull = sheet.work("nameplate.starting_pull", "pull of the drives at the start",
                            traction.times, factor=factor, pull=pull)  # fmt: skip
    found = {}
    for name, force, label in (
        ("largest", pull, "nameplate, running"),
        ("starting", start_pull, "nameplate, starting"),
    ):
        top = sheet.work(f"nameplate.{name}_force", f"tight side by {label}", at_station,
                         alpha=1.0, datum=behind, beta=force)  # fmt: skip
        found[name] = sheet.work(
            f"nameplate.{name}", f"largest tension per width, {label}", traction.per_width,
            tension=top, width=conveyor.belt.width,
        )  # fmt: skip
    return Nameplate(pull, behind, found["largest"], start_pull, found["starting"])


def _passings(
    conveyor: Conveyor,
    forward: tuple[Running, ...],
    backward: tuple[Running, ...],
    sheet: Worksheet,
) -> tuple[Passing, ...]:
    made = []
    for pulley in conveyor.pulleys():
        found = {}
        for name, starting in (("running", False), ("starting", True)):
            points = [
                r.at(pulley.name)
                for r in (*forward, *backward)
                if (r.case is LoadCase.STARTING) is starting
            ]
            key = f"passing.{slug(pulley.name)}.{name}"
            top = sheet.largest(
                f"{key}_force", f"largest tension at {pulley.name}, {name}",
                [f for p in points for f in (p.entering, p.leaving)],
            )  # fmt: skip
            found[name] = sheet.work(
                key, f"tension per width at {pulley.name}, {name}", traction.per_width,
                tension=top, width=conveyor.belt.width,
            )  # fmt: skip
        made.append(
            Passing(
                pulley.name, sheet.note(pulley.diameter), sheet.note(pulley.wrap),
                pulley.touches.value, found["running"], found["starting"],
            )
        )  # fmt: skip
    return tuple(made)


def _findings(
    conveyor: Conveyor,
    forward: tuple[Running, ...],
    backward: tuple[Running, ...],
    plate: Nameplate | None,
    governing: Figure,
    sheet: Worksheet,
) -> tuple[Sentence, ...]:
    """What does not fit together, in one sentence each."""
    said: list[Sentence] = []
    for result in (*forward, *backward):
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
    full = next(c for c in forward if c.case is LoadCase.FULL)
    if plate is not None and full.pull.value > plate.pull.value * 1.05:
        said.append(
            sentence(
                "Full load needs {pull} of pull, the motors give {plate} at rated power: check "
                "load, friction factor or motor plate.",
                pull=full.pull,
                plate=plate.pull,
            )
        )
    if plate is not None and 0 < full.pull.value < 0.3 * plate.pull.value:
        said.append(
            sentence(
                "The motors could give {plate}, full load needs only {pull}: check plate and "
                "load; the joint is sized for the larger.",
                pull=full.pull,
                plate=plate.pull,
            )
        )
    if full.pull.value < 0:
        said.append(
            sentence(
                "Full, the load drives the belt: the drive must brake; low friction is then the "
                "unsafe side. Have braking and holdback checked."
            )
        )
    said.extend(_load_findings(conveyor, sheet))
    if governing.value > conveyor.belt.strength.value / 5:
        said.append(
            sentence(
                "The governing tension {tension} is more than a fifth of the belt's strength "
                "{strength}: check the belt before the joint.",
                tension=governing,
                strength=conveyor.belt.strength,
            )
        )
    return tuple(said)


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
