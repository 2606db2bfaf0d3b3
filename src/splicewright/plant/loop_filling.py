"""The loop from [[loop]] or [outline]: pulleys, runs and idlers, drives on their pulleys."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from splicewright.errors import Fault
from splicewright.plant import assumptions as assume
from splicewright.plant.belt import Belt
from splicewright.plant.conveyor import (
    Cover,
    Drive,
    Element,
    Idlers,
    Lagging,
    Pulley,
    Role,
    Run,
    Side,
    TakeUpKind,
)
from splicewright.plant.story import assuming, either, stated_in
from splicewright.quantities import Given, Kind, Origin

if TYPE_CHECKING:
    from splicewright.plant.conveyor_file import ConveyorFile, IdlerTable, PulleyEntry, RunEntry
    from splicewright.plant.entries import Entry


def loop_of_outline(file: ConveyorFile, belt: Belt, friction: Given) -> tuple[Element, ...]:
    """The commonest loop: tail, carry, head, return with the take-up behind the head."""
    outline = file.outline
    assert outline is not None  # fill() chose this branch
    length = stated_in(
        outline.centre_distance, "outline.centre_distance", "centre distance", Kind.DISTANCE
    )
    lift = stated_in(outline.lift, "outline.lift", "lift", Kind.DISTANCE)
    small = outline.smallest_pulley

    def pulley(name: str, role: Role, own: Entry | None, wrap: Entry | None = None) -> Pulley:
        key = f"outline.{name.replace(' ', '_')}"
        if own is not None:
            size = stated_in(own, key, f"diameter of {name}", Kind.LENGTH)
        elif small is not None:
            size = Given(
                "outline.smallest_pulley",
                "smallest pulley",
                small.value,
                Kind.LENGTH,
                Origin.ASSUMED,
                "taken as small as the smallest pulley",
                small.low,
                small.high,
            )
        else:
            size = assuming(key, f"diameter of {name}", assume.PULLEY)
        driven = (outline.drive_at == "head") == (role is Role.HEAD) and role in {
            Role.HEAD, Role.TAIL,
        }  # fmt: skip
        arc = either(
            wrap,
            "outline.drive_wrap" if wrap is not None else f"{key}.wrap",
            f"wrap at {name}",
            assume.DRIVE_WRAP if driven else assume.WRAP[role.value],
        )
        return Pulley(
            name,
            role,
            size,
            arc,
            assuming("outline.loss", "tension factor at undriven pulleys", assume.NO_LOSS),
            outline.lagging if driven else Lagging.UNKNOWN,
            Cover.CARRY if role in {Role.SNUB, Role.BEND} else Cover.PULLEY,
            (file.drives[0].name if file.drives else "drive") if driven else "",
        )

    def run(name: str, side: Side, span: Given, rise: Given) -> Run:
        idlers = _idlers(None, side, file, "", belt.width)
        return Run(name, side, span, rise, idlers, friction, friction)

    def part(name: str, label: str, of: Given, share: float, why: str) -> Given:
        ends = sorted((of.low * share, of.high * share))
        return Given(
            f"outline.{name}", label, of.value * share, Kind.DISTANCE, of.origin, why, *ends
        )

    at_head = outline.drive_at == "head"
    tail = pulley(
        "tail pulley", Role.TAIL, outline.tail_pulley, None if at_head else outline.drive_wrap
    )
    head = pulley(
        "head pulley", Role.HEAD, outline.head_pulley, outline.drive_wrap if at_head else None
    )
    carry = run("carry run", Side.CARRY, length, lift)
    if file.take_up.kind is TakeUpKind.SCREW:
        back = part("return_rise", "rise of the return run", lift, -1.0, "minus the lift")
        return tail, carry, head, run("return run", Side.RETURN, length, back)
    near = outline.take_up_distance
    share = 0.05 if near is None else min(near.value / length.value, 1.0)
    if not at_head:
        share = 1.0 - share
    why = (
        "5 % of the centre distance from the drive to the take-up, not given"
        if near is None
        else "from the distance given"
    )
    first = part("return_1", "return run from the head to the take-up", length, share, why)
    second = part("return_2", "return run from the take-up to the tail", length, 1 - share, why)
    drop = assuming("outline.take_up_depth", "depth of the take-up loop", assume.DROP)
    down = Given(
        drop.key + ".down",
        "fall into the take-up loop",
        -drop.value,
        Kind.DISTANCE,
        Origin.ASSUMED,
        drop.reason,
        -drop.high,
        -drop.low,
    )
    return (
        tail,
        carry,
        head,
        run("return run, head to take-up", Side.RETURN, first,
            part("return_1_rise", "rise, head to take-up", lift, -share, "share of the lift")),
        pulley("first bend pulley", Role.BEND, None),
        run("into the take-up", Side.RETURN, drop, down),
        pulley("take-up pulley", Role.TAKE_UP, None),
        run("out of the take-up", Side.RETURN, drop, drop),
        pulley("second bend pulley", Role.BEND, None),
        run("return run, take-up to tail", Side.RETURN, second,
            part("return_2_rise", "rise, take-up to tail", lift, share - 1, "share of the lift")),
    )  # fmt: skip


def loop_element(
    entry: RunEntry | PulleyEntry, number: int, file: ConveyorFile, belt: Belt, friction: Given
) -> Element:
    """One element of [[loop]], its gaps filled."""
    key = f"loop.{number}"
    if entry.kind == "pulley":
        return _pulley(entry, key)
    length = stated_in(entry.length, f"{key}.length", f"length of {entry.name}", Kind.DISTANCE)
    if entry.rise is not None:
        rise = stated_in(entry.rise, f"{key}.rise", f"rise of {entry.name}", Kind.DISTANCE)
    elif entry.slope is not None:
        slope = entry.slope
        rise = Given(
            f"{key}.rise",
            f"rise of {entry.name}",
            length.value * math.sin(slope.value),
            Kind.DISTANCE,
            Origin.FILE,
            "length times the sine of the slope",
            length.value * math.sin(slope.low),
            length.value * math.sin(slope.high),
        )
    else:
        rise = Given(
            f"{key}.rise",
            f"rise of {entry.name}",
            0.0,
            Kind.DISTANCE,
            Origin.ASSUMED,
            "neither rise nor slope given; level taken",
            0.0,
            0.0,
        )
    own = friction
    if entry.friction is not None:
        own = stated_in(
            entry.friction, f"{key}.friction", f"friction factor f, {entry.name}", Kind.RATIO
        )
    load = own
    if entry.load_friction is not None:
        load = stated_in(
            entry.load_friction,
            f"{key}.load_friction",
            f"friction factor of belt and load, {entry.name}",
            Kind.RATIO,
        )
    idlers = _idlers(entry.idlers, entry.side, file, key, belt.width)
    return Run(entry.name, entry.side, length, rise, idlers, own, load)


def _pulley(entry: PulleyEntry, key: str) -> Pulley:
    role = entry.role
    lagging = entry.lagging or Lagging.UNKNOWN
    reverse = role in {Role.SNUB, Role.BEND}
    return Pulley(
        name=entry.name,
        role=role,
        diameter=either(
            entry.diameter, f"{key}.diameter", f"diameter of {entry.name}", assume.PULLEY
        ),
        wrap=either(entry.wrap, f"{key}.wrap", f"wrap at {entry.name}", assume.WRAP[role.value]),
        loss=either(entry.loss, f"{key}.loss", f"tension factor at {entry.name}", assume.NO_LOSS),
        lagging=lagging,
        touches=entry.touches or (Cover.CARRY if reverse else Cover.PULLEY),
        drive=entry.drive,
    )


def _idlers(
    own: IdlerTable | None, side: Side, file: ConveyorFile, key: str, width: Given
) -> Idlers:
    common = file.idlers.carry if side is Side.CARRY else file.idlers.return_
    carry = side is Side.CARRY

    def pick(name: str) -> tuple[Entry | None, str]:
        mine = getattr(own, name) if own is not None else None
        if mine is not None:
            return mine, f"{key}.idlers.{name}"
        return getattr(common, name), f"idlers.{side.value}.{name}"

    entry, where = pick("spacing")
    spacing = either(
        entry,
        where,
        f"idler spacing, {side.value} side",
        assume.CARRY_SPACING if carry else assume.RETURN_SPACING,
    )
    entry, where = pick("trough")
    trough = either(
        entry,
        where,
        f"trough angle, {side.value} side",
        assume.CARRY_TROUGH if carry else assume.RETURN_TROUGH,
    )
    entry, where = pick("line_mass")
    label = f"rotating idler mass per metre, {side.value} side"
    set_entry, set_where = pick("set_mass")
    if entry is not None:
        mass = stated_in(entry, where, label, Kind.LINE_MASS)
    elif set_entry is not None:
        origin = Origin.MEASURED if set_entry.measured else Origin.FILE
        mass = Given(
            set_where,
            label,
            set_entry.value / spacing.value,
            Kind.LINE_MASS,
            origin,
            "mass of a set over its spacing",
            set_entry.low / spacing.high,
            set_entry.high / spacing.low,
        )
    else:
        taken = assume.CARRY_ROLLS_PER_WIDTH if carry else assume.RETURN_ROLLS_PER_WIDTH
        mass = assuming(where, label, taken, width.value)
    rolls = (own.rolls if own is not None else None) or common.rolls or (3 if carry else 1)
    return Idlers(spacing, mass, trough, rolls)


def put_drives(
    loop: tuple[Element, ...], drives: tuple[Drive, ...], faults: list[Fault]
) -> tuple[Element, ...]:
    """Put the drives on their pulleys: by name, else on drive-role pulleys (one drive turns them
    all), else on the lagged or the head pulley."""
    names = {d.name for d in drives}
    pulleys = [e for e in loop if isinstance(e, Pulley)]
    unknown = [p for p in pulleys if p.drive and p.drive not in names]
    for pulley in unknown:
        faults.append(
            Fault(
                "loop",
                f'{pulley.name} is turned by "{pulley.drive}", which is not '
                f"among the drives; accepted is {', '.join(sorted(names))}",
            )
        )
    if any(p.drive for p in pulleys):
        idle = names - {p.drive for p in pulleys}
        for name in sorted(idle):
            faults.append(
                Fault("drives", f'"{name}" turns no pulley; name it at a pulley of the loop')
            )
        return loop
    by_role = [p for p in pulleys if p.role is Role.DRIVE]
    lagged = [p for p in pulleys if p.lagging is not Lagging.UNKNOWN]
    lagged.sort(key=lambda p: p.role is not Role.HEAD)
    heads = by_role or lagged or [p for p in pulleys if p.role is Role.HEAD] or pulleys[:1]
    if by_role and len(drives) == 1:
        drives = drives * len(by_role)
    if len(heads) < len(drives):
        faults.append(
            Fault(
                "drives",
                f"{len(drives)} drives for {len(heads)} driven pulley; say "
                "at each pulley which drive turns it",
            )
        )
        return loop
    turned = {p.name: d.name for p, d in zip(heads, drives, strict=False)}
    return tuple(
        replace(e, drive=turned[e.name]) if isinstance(e, Pulley) and e.name in turned else e
        for e in loop
    )
