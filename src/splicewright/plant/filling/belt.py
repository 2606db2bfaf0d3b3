"""The belt from its table: marking read, gaps filled by named assumptions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from splicewright.errors import Fault
from splicewright.plant import assumptions as assume
from splicewright.plant.belt import (
    Belt,
    Carcass,
    Marking,
    line_mass_from_thickness,
    marking_refused,
    modulus_from_strength,
    read_marking,
)
from splicewright.plant.filling.origin import either, stated_in, worked
from splicewright.quantities import Given, Kind, Origin

if TYPE_CHECKING:
    from splicewright.files.fields import Entry
    from splicewright.plant.conveyor_file import BeltTable


def fill_belt(table: BeltTable, faults: list[Fault]) -> Belt:
    """Make the belt of its table; what contradicts itself is added to `faults`."""
    marking = read_marking(table.marking) if table.marking else None
    if table.marking and marking is None:
        faults.append(Fault("belt.marking", marking_refused(table.marking)))
    carcass = table.carcass or (marking.carcass if marking else Carcass.POLYESTER)
    width = stated_in(table.width, "belt.width", "belt width", Kind.LENGTH)
    thickness = either(table.thickness, "belt.thickness", "belt thickness", assume.THICKNESS)
    top = _cover(table.top_cover, "top", marking, marking.top_cover if marking else None)
    bottom = _cover(
        table.bottom_cover, "bottom", marking, marking.bottom_cover if marking else None
    )
    if not (top.assumed or bottom.assumed) and top.value + bottom.value >= thickness.value:
        if table.thickness is not None:
            faults.append(
                Fault(
                    "belt.thickness",
                    f"{thickness.show()} is not thicker than its covers "
                    f"{top.show()} and {bottom.show()}",
                )
            )
    elif (top.assumed or bottom.assumed) and top.value + bottom.value >= thickness.value:
        top = _thinned(top, thickness)
        bottom = _thinned(bottom, thickness)
    strength = _strength(table, marking)
    if table.modulus is not None:
        modulus = stated_in(table.modulus, "belt.modulus", "belt modulus", Kind.WIDTH_FORCE)
    else:
        modulus = assumed_modulus(carcass, (strength.value, strength.low, strength.high))
    plies = table.plies if table.plies is not None else (marking.plies if marking else None)
    mass = _belt_mass(table, width, thickness)
    return Belt(
        width, thickness, top, bottom, carcass, plies, strength, modulus, mass, table.marking
    )


def assumed_modulus(carcass: Carcass, strength: tuple[float, float, float]) -> Given:
    """Belt modulus where nobody stated it, from the strength (likely, low, high) [N/m]."""
    multiple, low, high = assume.MODULUS_MULTIPLE[carcass]
    return worked(
        "belt.modulus",
        "belt modulus",
        Kind.WIDTH_FORCE,
        f"not given; {multiple:g} times the strength for {carcass.value} (from memory)",
        modulus_from_strength(multiple, strength[0]),
        modulus_from_strength(low, strength[1]),
        modulus_from_strength(high, strength[2]),
    )


def _cover(entry: Entry | None, which: str, marking: Marking | None, marked: float | None) -> Given:
    key, label = f"belt.{which}_cover", f"{which} cover"
    if entry is None and marked is not None and marking is not None:
        return Given(
            key, label, marked, Kind.LENGTH, Origin.FILE, "from the belt marking", marked, marked
        )
    return either(entry, key, label, assume.COVERS[which])


def _thinned(cover: Given, thickness: Given) -> Given:
    """An assumed cover that would leave no carcass: a fifth of the belt instead."""
    if not cover.assumed:
        return cover
    value = thickness.value / 5
    return worked(
        cover.key,
        cover.label,
        cover.kind,
        "not given; a fifth of the thickness",
        value,
        0.0,
        2 * value,
    )


def _strength(table: BeltTable, marking: Marking | None) -> Given:
    if table.strength is None and marking is not None:
        return Given(
            "belt.strength",
            "belt strength",
            marking.strength,
            Kind.WIDTH_FORCE,
            Origin.FILE,
            "from the belt marking",
            marking.strength,
            marking.strength,
        )
    return either(table.strength, "belt.strength", "belt strength", assume.STRENGTH)


def _belt_mass(table: BeltTable, width: Given, thickness: Given) -> Given:
    key, label, kind = "belt.mass", "belt mass per metre", Kind.LINE_MASS
    if table.mass is not None:
        return stated_in(table.mass, key, label, kind)
    if table.area_mass is not None:
        area = table.area_mass
        note = area.note or "from its mass per area and width"
        origin = Origin.MEASURED if area.measured else Origin.FILE
        return Given(
            key,
            label,
            area.value * width.value,
            kind,
            origin,
            note,
            area.low * width.value,
            area.high * width.value,
        )
    density = assume.BELT_DENSITY
    value, low, high = (
        line_mass_from_thickness(d, t, width.value)
        for d, t in (
            (density.value, thickness.value),
            (density.low, thickness.low),
            (density.high, thickness.high),
        )
    )
    return worked(key, label, kind, f"{density.reason}, {density.value:g} kg/m3", value, low, high)
