"""From a checked conveyor file to a whole `Conveyor`: every gap filled by a named assumption."""

from __future__ import annotations

from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError
from splicewright.plant import assumptions as assume
from splicewright.plant.conveyor import (
    Conveyor,
    Drive,
    Element,
    Lagging,
    Material,
    Method,
    Pulley,
    Role,
    Run,
    Side,
    Special,
    SpecialKind,
    TakeUp,
    TakeUpKind,
)
from splicewright.plant.conveyor_file import DriveTable
from splicewright.plant.filling.belt import fill_belt
from splicewright.plant.filling.contradictions import what_cannot_be
from splicewright.plant.filling.loop import loop_of_entries, loop_of_outline, put_drives
from splicewright.plant.filling.origin import assuming, either, if_stated, stated_in, worked
from splicewright.quantities import Given, Kind, show

if TYPE_CHECKING:
    from splicewright.plant.conveyor_file import ConveyorFile


def fill(file: ConveyorFile, name: str = "") -> Conveyor:
    """Make a conveyor of what the file says and what must be assumed.

    Raises InputError: the parts contradict each other: neither or both of outline and loop, a loop
    that does not close, a pulley larger than its run, a belt thinner than its covers.
    """
    faults: list[Fault] = []
    belt = fill_belt(file.belt, faults)
    if bool(file.loop) == (file.outline is not None):
        wording = "give either [outline] or [[loop]]" + (", not both" if file.loop else "")
        faults.append(Fault("loop" if file.loop else "outline", wording))
        raise InputError(*(Fault(f.key, f.sentence, name) for f in faults))
    friction = either(
        file.resistance.friction, "resistance.friction", "friction factor f", assume.FRICTION
    )
    if file.outline is not None and len(file.drives) > 2:
        wording = (
            f"{len(file.drives)} are given; the short form takes two, at head and tail: give "
            "[[loop]] with the pulley that each one turns"
        )
        raise InputError(*faults, Fault("drives", wording, name))
    if file.outline is not None:
        span, lift = file.outline.centre_distance, file.outline.lift
        if abs(lift.value) > span.value:
            wording = (
                f"a lift of {show(lift.value, Kind.DISTANCE)} is more than the centre distance "
                f"{show(span.value, Kind.DISTANCE)}, which is measured along the belt"
            )
            raise InputError(
                *(Fault(f.key, f.sentence, name) for f in faults),
                Fault("outline.lift", wording, name),
            )
        loop = loop_of_outline(file, belt, friction)
    else:
        unlaid = len(faults)
        loop = loop_of_entries(file, belt, friction, faults)
        if len(faults) > unlaid:
            raise InputError(*(Fault(f.key, f.sentence, name) for f in faults))
    drives = tuple(
        _drive(d, n, len(file.drives)) for n, d in enumerate(file.drives or [DriveTable()], 1)
    )
    loop = put_drives(loop, drives, faults)
    called = [d.name for d in drives]
    for n, drive in enumerate(drives, 1):
        if drive.name in called[: n - 1]:
            wording = f'the drive name "{drive.name}" stands twice; each needs its own'
            faults.append(Fault(f"drives.{n}", wording))
    given = sum(d.share.value for d in drives)
    if abs(given - 1) > 1e-3:
        wording = f"the shares of the pull add up to {show(given, Kind.SHARE)} instead of 100 %"
        faults.append(Fault("drives", wording))
    centre = sum(r.length.value for r in loop if isinstance(r, Run) and r.side is Side.CARRY)
    take_up = _take_up(file, loop, centre, faults)
    conveyor = Conveyor(
        name=file.conveyor.name,
        site=file.conveyor.site,
        invented=file.conveyor.invented,
        loop=loop,
        belt=belt,
        material=_material(file),
        speed=stated_in(file.conveyor.speed, "conveyor.speed", "belt speed", Kind.SPEED),
        reversing=file.conveyor.reversing,
        drives=drives,
        take_up=take_up,
        specials=_specials(file, loop, faults),
        method=_method(file, loop, centre),
        ambient=either(
            file.conveyor.ambient, "conveyor.ambient", "ambient temperature", assume.AMBIENT
        ),
    )
    faults.extend(what_cannot_be(conveyor))
    if faults:
        raise InputError(*(Fault(f.key, f.sentence, name) for f in faults))
    return conveyor


def _drive(table: DriveTable, number: int, count: int) -> Drive:
    key = f"drives.{number}"
    name = table.name
    even = worked(
        f"{key}.share",
        f"share of the pull, {name}",
        Kind.SHARE,
        "equal shares of the drives",
        1 / max(count, 1),
        1 / max(count, 1),
        1 / max(count, 1),
    )
    return Drive(
        name=name,
        power=if_stated(table.power, f"{key}.power", f"motor power, {name}", Kind.POWER),
        efficiency=either(
            table.efficiency,
            f"{key}.efficiency",
            f"efficiency motor to pulley, {name}",
            assume.EFFICIENCY,
        ),
        start_factor=either(
            table.start_factor, f"{key}.start_factor", f"start factor, {name}", assume.START_FACTOR
        ),
        share=if_stated(table.share, even.key, even.label, Kind.SHARE) or even,
        holdback=table.holdback,
        brake=table.brake,
        stopping_time=either(
            table.stopping_time,
            f"{key}.stopping_time",
            f"stopping time with the brake on, {name}",
            assume.STOPPING_TIME,
        ),
        breakdown_factor=either(
            table.breakdown_factor,
            f"{key}.breakdown_factor",
            f"largest over rated pull of the motor, {name}",
            assume.BREAKDOWN_FACTOR,
        ),
        gear=table.gear,
        coupling=table.coupling,
    )


def _take_up(
    file: ConveyorFile, loop: tuple[Element, ...], centre: float, faults: list[Fault]
) -> TakeUp:
    table = file.take_up
    pulleys = [e for e in loop if isinstance(e, Pulley)]
    if table.pulley and table.pulley not in {p.name for p in pulleys}:
        faults.append(
            Fault(
                "take_up.pulley",
                f'"{table.pulley}" is no pulley of the loop; accepted '
                f"is one of {', '.join(p.name for p in pulleys)}",
            )
        )
    at = [p.name for p in pulleys if p.role is Role.TAKE_UP]
    tails = [p.name for p in pulleys if p.role is Role.TAIL]
    name = table.pulley or (at or tails or [pulleys[0].name])[0]
    travel_share = assume.TRAVEL_SHARE[table.kind.value]
    travel = (
        stated_in(table.travel, "take_up.travel", "take-up travel", Kind.DISTANCE)
        if table.travel is not None
        else worked(
            "take_up.travel",
            "take-up travel",
            Kind.DISTANCE,
            travel_share.reason,
            travel_share.value * centre,
            travel_share.low * centre,
            travel_share.high * centre,
        )
    )
    half = assume.POSITION_SHARE
    position = (
        stated_in(table.position, "take_up.position", "take-up travel already used", Kind.DISTANCE)
        if table.position is not None
        else worked(
            "take_up.position",
            "take-up travel already used",
            Kind.DISTANCE,
            half.reason,
            half.value * travel.value,
            0.0,
            travel.value,
        )
    )
    if position.value > travel.value:
        faults.append(
            Fault(
                "take_up.position",
                f"{position.show()} is more than the whole travel {travel.show()}",
            )
        )
    mass = force = None
    if table.mass is not None:
        mass = stated_in(
            table.mass, "take_up.mass", "counterweight with pulley and frame", Kind.MASS
        )
        if table.kind is not TakeUpKind.GRAVITY:
            faults.append(
                Fault(
                    "take_up.mass",
                    f"a {table.kind.value} take-up has no counterweight; give take_up.force",
                )
            )
    if table.force is not None:
        force = stated_in(
            table.force, "take_up.force", "force of the take-up on its pulley", Kind.FORCE
        )
        if mass is not None:
            faults.append(
                Fault("take_up.force", "give the mass of the counterweight or the force, not both")
            )
    preload = assuming("take_up.preload", "take-up pull over the least needed", assume.PRELOAD)
    if table.reeving is not None and table.kind is not TakeUpKind.GRAVITY:
        faults.append(
            Fault(
                "take_up.reeving",
                f"a {table.kind.value} take-up has no counterweight; leave it out",
            )
        )
    reeving = either(
        table.reeving,
        "take_up.reeving",
        "pull on the take-up pulley over the weight",
        assume.NO_REEVING,
    )
    return TakeUp(table.kind, name, mass, force, travel, position, 2, preload, reeving)


def _material(file: ConveyorFile) -> Material:
    table = file.material
    rate = if_stated(table.rate, "material.rate", "mass flow", Kind.MASS_FLOW)
    density = if_stated(table.density, "material.density", "bulk density", Kind.DENSITY)
    surcharge = if_stated(table.surcharge, "material.surcharge", "surcharge angle", Kind.ANGLE)
    lump = if_stated(table.lump, "material.lump", "largest lump", Kind.LENGTH)
    friction = if_stated(
        table.friction, "material.friction", "friction of the load on the belt", Kind.RATIO
    )
    key, label = "material.line_mass", "load per metre of belt"
    speed = file.conveyor.speed
    if table.line_mass is not None:
        line = stated_in(table.line_mass, key, label, Kind.LINE_MASS)
    elif rate is not None:
        line = Given(
            key,
            label,
            rate.value / speed.value,
            Kind.LINE_MASS,
            rate.origin,
            "mass flow over belt speed",
            rate.low / speed.high,
            rate.high / speed.low,
        )
    else:
        line = assuming(key, label, assume.RATE)
    return Material(table.name, line, rate, density, surcharge, lump, friction)


def _specials(
    file: ConveyorFile, loop: tuple[Element, ...], faults: list[Fault]
) -> tuple[Special, ...]:
    runs = [e for e in loop if isinstance(e, Run)]
    specials = []
    for number, entry in enumerate(file.special, 1):
        key = f"special.{number}"
        kind = SpecialKind(entry.kind)
        side = Side.RETURN if kind in {SpecialKind.CLEANER, SpecialKind.PLOUGH} else Side.CARRY
        fitting = [r.name for r in runs if r.side is side] or [r.name for r in runs]
        if entry.run and entry.run not in {r.name for r in runs}:
            faults.append(
                Fault(
                    f"{key}.run",
                    f'"{entry.run}" is no run of the loop; accepted is one '
                    f"of {', '.join(r.name for r in runs)}",
                )
            )
        inputs = []
        for name, kind_of in _SPECIAL_INPUTS[kind]:
            value = getattr(entry, name)
            if value is not None:
                label = f"{name.replace('_', ' ')}, {kind.value}"
                inputs.append((name, stated_in(value, f"{key}.{name}", label, kind_of)))
        specials.append(
            Special(f"{kind.value} {number}", kind, entry.run or fitting[0], tuple(inputs))
        )
    return tuple(specials)


_SPECIAL_INPUTS: dict[SpecialKind, tuple[tuple[str, Kind], ...]] = {
    SpecialKind.TILT: (
        ("coefficient", Kind.RATIO),
        ("friction", Kind.RATIO),
        ("length", Kind.DISTANCE),
        ("tilt", Kind.ANGLE),
    ),
    SpecialKind.SKIRTS: (
        ("friction", Kind.RATIO),
        ("length", Kind.DISTANCE),
        ("between", Kind.LENGTH),
        ("volume_flow", Kind.VOLUME_FLOW),
    ),
    SpecialKind.CLEANER: (
        ("area", Kind.AREA),
        ("pressure", Kind.PRESSURE),
        ("friction", Kind.RATIO),
    ),
    SpecialKind.PLOUGH: (("per_width", Kind.WIDTH_FORCE),),
    SpecialKind.ALLOWANCE: (("share", Kind.SHARE),),
    SpecialKind.FORCE: (("force", Kind.FORCE),),
}


def _method(file: ConveyorFile, loop: tuple[Element, ...], centre: float) -> Method:
    table = file.resistance
    driven = [e for e in loop if isinstance(e, Pulley) and e.drive]
    surface = driven[0].lagging if driven else Lagging.UNKNOWN
    if table.length_coefficient is not None:
        length = stated_in(
            table.length_coefficient,
            "resistance.length_coefficient",
            "length coefficient C",
            Kind.RATIO,
        )
    else:
        value, reason = length_coefficient(centre)
        length = worked(
            "resistance.length_coefficient",
            "length coefficient C",
            Kind.RATIO,
            reason,
            value,
            *length_coefficient_span(centre),
        )
    return Method(
        length_coefficient=length,
        drum_friction=either(
            table.drum_friction,
            "resistance.drum_friction",
            "friction of belt on driven pulley",
            assume.DRUM_FRICTION[surface],
        ),
        slip_margin=either(
            table.slip_margin,
            "resistance.slip_margin",
            "margin on the slip limit",
            assume.SLIP_MARGIN,
        ),
        sag_limit=either(table.sag_limit, "resistance.sag_limit", "sag limit", assume.SAG_LIMIT),
        standing_friction=either(
            table.standing_friction,
            "resistance.standing_friction",
            "friction factor of the standing belt",
            assume.STANDING_FRICTION,
        ),
        shared_by_grip=table.load_shared == "by grip",
    )


def length_coefficient(centre_distance: float) -> tuple[float, str]:
    """The length coefficient C = (L + L0)/L with L0 = 80 m, and what to say of it.

    centre_distance : L [m]
    Returns (C, reason); form seen in a published course, L0 70 to 100 m from memory. Below 80 m the
    standard's simplification does not hold; C is then capped at 9, the value published for belts of
    a few metres, and the reason says that it is extrapolated.
    """
    reason = "not given; C = (L + 80 m)/L"
    if centre_distance < 80:
        reason += ", beyond its range: below 80 m the secondary resistances should be listed"
    return min((centre_distance + 80) / max(centre_distance, 1.0), 9.0), reason


def length_coefficient_span(centre_distance: float) -> tuple[float, float]:
    """C with L0 = 70 m and 100 m: what the published forms differ by.

    `centre_distance` [m]; both capped at 9.
    """
    length = max(centre_distance, 1.0)
    return min((length + 70) / length, 9.0), min((length + 100) / length, 9.0)
