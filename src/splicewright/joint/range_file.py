"""What a fastener range file may hold (TOML)."""

from __future__ import annotations

import math
from typing import Annotated

from pydantic import Field

from splicewright.errors import Fault, InputError
from splicewright.joint.ranges import (
    BoltLength,
    BoltRow,
    Construction,
    Material,
    PulleyRule,
    Range,
    Size,
)
from splicewright.plant import Environment
from splicewright.plant.conveyor_file import Name
from splicewright.plant.entries import Entry, Plain, Quantity, Table
from splicewright.quantities import Kind

_DEG = math.pi / 180
Length = Annotated[float, Plain(Kind.LENGTH, 0.0, 1.0)]
Signed = Annotated[float, Plain(Kind.LENGTH, -1.0, 1.0)]
Size_ = Annotated[float, Plain(Kind.LENGTH, 0.0, 4.0, above=True)]
WidthForce = Annotated[float, Plain(Kind.WIDTH_FORCE, 0.0, 5e6, above=True)]
Span = Annotated[Entry, Quantity(Kind.LENGTH, 0.0, 0.5)]


class RangeTable(Table):
    """[range]: name and construction."""

    name: Name
    construction: Construction = Construction.HINGED
    invented: bool = False
    note: str = ""


class MaterialRow(Table):
    """[[materials]]: one material of plates and pins, first choice first."""

    name: Name
    suits: list[Environment] = []
    hottest: Annotated[float, Plain(Kind.TEMPERATURE, 200.0, 900.0)] | None = None


class RowRow(Table):
    """One bolt row of a plate."""

    from_cut: Length
    across: list[Signed] = Field(min_length=1, max_length=6)


class BoltRowLength(Table):
    """One step of the bolt list."""

    belt_up_to: Length
    length: Length


class PulleyRow(Table):
    """A smaller pulley under milder use."""

    wrap_up_to: Annotated[float, Plain(Kind.ANGLE, 0.0, 360 * _DEG)]
    tension_up_to: Annotated[float, Plain(Kind.SHARE, 0.0, 1.0)]
    diameter: Size_


class SizeRow(Table):
    """[[sizes]]: one size. Lengths along the belt run from the pin axis or the cut line."""

    pitch: Size_
    plate_width: Size_
    plate_length: Size_
    thickness: Span
    cut_line: Length
    mesh_offset: Length
    setback: Span
    rows: list[RowRow] = Field(min_length=1, max_length=4)
    hole: Size_
    bolt: Size_
    bolt_lengths: list[BoltRowLength] = Field(min_length=1, max_length=20)
    rated_tension: WidthForce
    starting_tension: WidthForce | None = None
    smallest_pulley: Size_
    pulley_rules: list[PulleyRow] = Field(default=[], max_length=20)
    proud_height: Length
    pin: Length
    pin_inset: Length
    liner_over: Length
    seating_over: Length
    sets: list[Annotated[int, Field(ge=1, le=5)]] = [1]
    strip_widths: list[Size_] = Field(default=[], max_length=40)
    curve_depth: Length | None = None
    curve_radius: Annotated[float, Plain(Kind.DISTANCE, 1.0, 1000.0)] | None = None
    stand_out: Length | None = None
    seat_torque: Annotated[float, Plain(Kind.TORQUE, 0.0, 2000.0)] | None = None
    scrapers: bool = True


class RangeFile(Table):
    """A fastener range file: a maker's own data typed in by the user."""

    range: RangeTable
    materials: list[MaterialRow] = Field(min_length=1, max_length=20)
    sizes: list[SizeRow] = Field(min_length=1, max_length=60)


def build(file: RangeFile, name: str = "") -> Range:
    """Make the range of its checked file.

    Raises
    ------
    InputError
        A size whose parts do not fit together.
    """
    faults: list[Fault] = []
    sizes = []
    for number, row in enumerate(file.sizes, 1):
        faults.extend(_faults(row, f"sizes.{number}", name))
        sizes.append(
            Size(
                pitch=row.pitch,
                plate_width=row.plate_width,
                plate_length=row.plate_length,
                thickness=(row.thickness.low, row.thickness.high),
                cut_line=row.cut_line,
                mesh_offset=row.mesh_offset,
                setback=(row.setback.low, row.setback.high),
                rows=tuple(BoltRow(r.from_cut, tuple(r.across)) for r in row.rows),
                hole=row.hole,
                bolt=row.bolt,
                bolt_lengths=tuple(
                    sorted(
                        (BoltLength(b.belt_up_to, b.length) for b in row.bolt_lengths),
                        key=lambda b: b.belt_up_to,
                    )
                ),
                rated_tension=row.rated_tension,
                starting_tension=row.starting_tension,
                smallest_pulley=row.smallest_pulley,
                pulley_rules=tuple(
                    PulleyRule(p.wrap_up_to, p.tension_up_to, p.diameter) for p in row.pulley_rules
                ),
                proud_height=row.proud_height,
                pin=row.pin,
                pin_inset=row.pin_inset,
                liner_over=row.liner_over,
                seating_over=row.seating_over,
                sets=tuple(sorted(set(row.sets))),
                strip_widths=tuple(row.strip_widths),
                curve_depth=row.curve_depth,
                curve_radius=row.curve_radius,
                stand_out=row.stand_out,
                seat_torque=row.seat_torque,
                scrapers=row.scrapers,
            )
        )
    if faults:
        raise InputError(*faults)
    materials = tuple(Material(m.name, tuple(m.suits), m.hottest) for m in file.materials)
    head = file.range
    return Range(head.name, head.invented, head.construction, materials, tuple(sizes), head.note)


def _faults(row: SizeRow, key: str, name: str) -> list[Fault]:
    found = []

    def fault(field: str, sentence: str) -> None:
        found.append(Fault(f"{key}.{field}", sentence, name))

    if row.plate_width > row.pitch:
        fault("plate_width", "is wider than the pitch; plates of one end would overlap")
    if row.mesh_offset > row.pitch:
        fault("mesh_offset", "is more than the pitch; it is about half of it")
    reach = max(max(abs(y) for y in r.across) for r in row.rows) + row.hole / 2
    if reach > row.plate_width / 2:
        fault("rows", "has a hole that reaches beyond the plate; see across and plate_width")
    if max(r.from_cut for r in row.rows) + row.cut_line > row.plate_length:
        fault("rows", "has a bolt row behind the plate; see from_cut, cut_line and plate_length")
    if row.hole < row.bolt:
        fault("hole", "is smaller than the bolt")
    if 1 not in row.sets:
        fault("sets", "lacks 1: single plates must be among the sets")
    if row.curve_depth is not None and row.curve_radius is not None:
        fault("curve_radius", "stands beside curve_depth; give one of them")
    if row.thickness.high > max(b.belt_up_to for b in row.bolt_lengths):
        fault("bolt_lengths", "ends before the thickest belt of the window")
    return found
