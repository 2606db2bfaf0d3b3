"""The loop from [[loop]] or [outline]: pulleys, runs and idlers, drives on their pulleys."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError
from splicewright.plant import assumptions as assume
from splicewright.plant.belt import Belt
from splicewright.plant.conveyor import (
    Cover,
    Crown,
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
from splicewright.plant.filling.origin import assuming, either, if_stated, stated_in
from splicewright.plant.geometry.tangents import Arc, Placed, Span, TautLoop
from splicewright.plant.geometry.winding import round_pulleys
from splicewright.quantities import Given, Kind, Origin

if TYPE_CHECKING:
    from splicewright.files.fields import Entry
    from splicewright.plant.conveyor_file import ConveyorFile, IdlerTable, PulleyEntry, RunEntry


def loop_of_outline(file: ConveyorFile, belt: Belt, friction: Given) -> tuple[Element, ...]:
    """The commonest loop: tail, carry, head, return with the take-up behind the head.

    Two drives turn head and tail, the first of them where `drive_at` says. More than half a turn
    at the first one takes a snub pulley beside it, which turns the belt back by the rest.
    """
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
        drives = [drive.name for drive in file.drives] or ["drive"]
        second = (outline.drive_at == "head") != (role is Role.HEAD)
        turned = drives[second] if second < len(drives) else ""
        driven = role in {Role.HEAD, Role.TAIL} and bool(turned)
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
            turned if driven else "",
        )

    def snub() -> tuple[Pulley, ...]:
        wrap = outline.drive_wrap
        if wrap is None or wrap.value <= math.pi + 1e-9:
            return ()
        snub_pulley = pulley("snub pulley", Role.SNUB, None)
        rest = (wrap.value - math.pi, max(wrap.low - math.pi, 0.0), wrap.high - math.pi)
        arc = Given(
            "outline.snub.wrap",
            "wrap at snub pulley",
            rest[0],
            Kind.ANGLE,
            Origin.ASSUMED,
            "what the driven pulley has over half a turn, so that the loop closes",
            *rest[1:],
        )
        return (replace(snub_pulley, wrap=arc),)

    def run(name: str, side: Side, span: Given, rise: Given) -> Run:
        idlers = _idlers(None, side, file, "", belt.width)
        return Run(name, side, span, rise, idlers, friction, friction)

    def part(name: str, label: str, of: Given, share: float, why: str) -> Given:
        value = of.value * share
        return Given(
            f"outline.{name}",
            label,
            value,
            Kind.DISTANCE,
            of.origin,
            why,
            value,
            value,
            of=of.key,
            times=share,
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
        home = run("return run", Side.RETURN, length, back)
        return (tail, carry, head, *snub(), home) if at_head else (tail, carry, head, home, *snub())
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
        -drop.value,
        -drop.value,
        of=drop.key,
        times=-1.0,
    )
    return (
        tail,
        carry,
        head,
        *(snub() if at_head else ()),
        run(
            "return run, head to take-up",
            Side.RETURN,
            first,
            part("return_1_rise", "rise, head to take-up", lift, -share, "share of the lift"),
        ),
        pulley("first bend pulley", Role.BEND, None),
        run("into the take-up", Side.RETURN, drop, down),
        pulley("take-up pulley", Role.TAKE_UP, None),
        run("out of the take-up", Side.RETURN, drop, drop),
        pulley("second bend pulley", Role.BEND, None),
        run(
            "return run, take-up to tail",
            Side.RETURN,
            second,
            part("return_2_rise", "rise, take-up to tail", lift, share - 1, "share of the lift"),
        ),
        *(() if at_head else snub()),
    )


def loop_of_entries(
    file: ConveyorFile, belt: Belt, friction: Given, faults: list[Fault]
) -> tuple[Element, ...]:
    """The loop as [[loop]] has it, its gaps filled.

    Where pulleys have centres, wraps and lengths of runs follow from them.
    """
    laid = _laid(file, belt, faults)
    elements: list[Element] = []
    for number, entry in enumerate(file.loop, 1):
        key = f"loop.{number}"
        if entry.kind == "pulley":
            elements.append(_pulley(entry, key, laid.arc(entry.name) if laid else None))
            continue
        before = next((e.name for e in reversed(elements) if isinstance(e, Pulley)), "")
        span = next((s for s in laid.spans if s.after == before), None) if laid else None
        if entry.length is None and span is None:
            faults.append(
                Fault(f"{key}.length", "is missing; give it, or the centres of all pulleys")
            )
            continue
        elements.append(_run(entry, key, file, belt, friction, span))
    return tuple(elements)


def _laid(file: ConveyorFile, belt: Belt, faults: list[Fault]) -> TautLoop | None:
    """The belt laid round the pulleys' centres; None when none is given."""
    entries = [e for e in file.loop if e.kind == "pulley"]
    placed = [e for e in entries if e.centre is not None]
    if not placed:
        return None
    numbers = {e.name: n for n, e in enumerate(file.loop, 1)}
    for entry in entries:
        if entry.centre is None or entry.diameter is None:
            field = "centre" if entry.centre is None else "diameter"
            faults.append(
                Fault(
                    f"loop.{numbers[entry.name]}.{field}",
                    f"is missing at {entry.name}; where one pulley has a centre all need centre "
                    "and diameter",
                )
            )
    kinds = [e.kind for e in file.loop]
    if any(a == b == "run" for a, b in zip(kinds, [*kinds[1:], kinds[0]], strict=True)):
        faults.append(
            Fault("loop", "has two runs in a row; with centres there is one run between pulleys")
        )
    if faults:
        return None
    try:
        return round_pulleys(
            [
                Placed(
                    e.name,
                    e.centre[0].value,
                    e.centre[1].value,
                    e.diameter.value,
                    e.touches or _touching(e.role),
                )
                for e in entries
                if e.centre is not None and e.diameter is not None
            ],
            belt.thickness.value,
        )
    except InputError as error:
        faults.extend(
            Fault(
                f"loop.{numbers[f.key]}" if f.key in numbers else "loop", f"{f.key}: {f.sentence}"
            )
            for f in error.faults
        )
        return None


def _run(
    entry: RunEntry, key: str, file: ConveyorFile, belt: Belt, friction: Given, span: Span | None
) -> Run:
    length, rise = _extent(entry, key, span)
    label = f"friction factor f, {entry.name}"
    own = if_stated(entry.friction, f"{key}.friction", label, Kind.RATIO) or friction
    label = f"friction factor of belt and load, {entry.name}"
    load = if_stated(entry.load_friction, f"{key}.load_friction", label, Kind.RATIO) or own
    idlers = _idlers(entry.idlers, entry.side, file, key, belt.width)
    label = f"curve after {entry.name}"
    radius = if_stated(entry.curve_radius, f"{key}.curve_radius", label, Kind.DISTANCE)
    return Run(entry.name, entry.side, length, rise, idlers, own, load, radius)


def _extent(entry: RunEntry, key: str, span: Span | None) -> tuple[Given, Given]:
    """Length and rise of a run: stated, or from the pulleys' centres."""
    length_label, rise_label = f"length of {entry.name}", f"rise of {entry.name}"
    if span is not None and entry.length is None:
        why = "from the pulleys' centres"
        return (
            Given(
                f"{key}.length",
                length_label,
                span.length,
                Kind.DISTANCE,
                Origin.FILE,
                why,
                span.length,
                span.length,
            ),
            Given(
                f"{key}.rise",
                rise_label,
                span.rise,
                Kind.DISTANCE,
                Origin.FILE,
                why,
                span.rise,
                span.rise,
            ),
        )
    assert entry.length is not None  # loop_of_entries refuses a run without either
    length = stated_in(entry.length, f"{key}.length", length_label, Kind.DISTANCE)
    if entry.rise is not None:
        return length, stated_in(entry.rise, f"{key}.rise", rise_label, Kind.DISTANCE)
    if entry.slope is not None:
        low, value, high = (
            length.value * math.sin(a)
            for a in (entry.slope.low, entry.slope.value, entry.slope.high)
        )
        return length, Given(
            f"{key}.rise",
            rise_label,
            value,
            Kind.DISTANCE,
            Origin.FILE,
            "length times the sine of the slope",
            low,
            high,
        )
    return length, Given(
        f"{key}.rise",
        rise_label,
        0.0,
        Kind.DISTANCE,
        Origin.ASSUMED,
        "neither rise nor slope given; level taken",
        0.0,
        0.0,
    )


def _touching(role: Role) -> Cover:
    """Which cover touches a pulley of this role when nobody said."""
    return Cover.CARRY if role in {Role.SNUB, Role.BEND} else Cover.PULLEY


def _pulley(entry: PulleyEntry, key: str, arc: Arc | None) -> Pulley:
    role, label = entry.role, f"wrap at {entry.name}"
    wrap = either(entry.wrap, f"{key}.wrap", label, assume.WRAP[role.value])
    if arc is not None and entry.wrap is None:
        wrap = Given(
            f"{key}.wrap",
            label,
            arc.wrap,
            Kind.ANGLE,
            Origin.FILE,
            "from the pulleys' centres",
            arc.wrap,
            arc.wrap,
        )
    return Pulley(
        name=entry.name,
        role=role,
        diameter=either(
            entry.diameter, f"{key}.diameter", f"diameter of {entry.name}", assume.PULLEY
        ),
        wrap=wrap,
        loss=either(entry.loss, f"{key}.loss", f"tension factor at {entry.name}", assume.NO_LOSS),
        lagging=entry.lagging or Lagging.UNKNOWN,
        touches=entry.touches or _touching(role),
        drive=entry.drive,
        transition=None
        if entry.transition is None
        else stated_in(
            entry.transition, f"{key}.transition", f"transition at {entry.name}", Kind.DISTANCE
        ),
        raised=None
        if entry.raised is None
        else stated_in(
            entry.raised, f"{key}.raised", f"{entry.name} over the middle roll", Kind.LENGTH
        ),
        crown=_crown(entry, key),
    )


def _crown(entry: PulleyEntry, key: str) -> Crown | None:
    if entry.crown is None or entry.crown.value == 0:
        return None
    return Crown(
        stated_in(entry.crown, f"{key}.crown", f"crown of {entry.name}", Kind.LENGTH),
        entry.crown_shape,
        either(
            entry.crown_flat,
            f"{key}.crown_flat",
            f"cylinder in the middle of {entry.name}",
            assume.CROWN_FLAT,
        ),
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
    entry, where = pick("middle_roll")
    middle = if_stated(entry, where, "middle roll under the belt", Kind.LENGTH)
    return Idlers(spacing, mass, trough, rolls, middle)


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
