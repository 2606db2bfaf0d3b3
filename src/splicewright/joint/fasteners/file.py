"""What a fastener range file may hold (TOML)."""

from __future__ import annotations

import math
from typing import Annotated

from pydantic import Field

from splicewright.errors import Fault, InputError
from splicewright.files.fields import Entry, Plain, Quantity, Table
from splicewright.joint.fasteners.ranges import (
    PLAIN_WORDS,
    BoltLength,
    BoltRow,
    Construction,
    EdgeSets,
    Material,
    PulleyRule,
    Range,
    Size,
    Words,
)
from splicewright.joint.fasteners.step_file import Length, Size_, StepRow, step_faults, step_size
from splicewright.plant import Environment
from splicewright.plant.conveyor_file import Name
from splicewright.quantities import Kind

_DEG = math.pi / 180
Signed = Annotated[float, Plain(Kind.LENGTH, -1.0, 1.0)]
WidthForce = Annotated[float, Plain(Kind.WIDTH_FORCE, 0.0, 5e6, above=True)]
Span = Annotated[Entry, Quantity(Kind.LENGTH, 0.0, 0.5)]


class WordsTable(Table):
    """[range.words]: what this range calls its accessories."""

    wear_sleeve: Name = PLAIN_WORDS.wear_sleeve
    bedding_strip: Name = PLAIN_WORDS.bedding_strip
    spacer: Name = PLAIN_WORDS.spacer


class RangeTable(Table):
    """[range]: name and construction."""

    name: Name
    construction: Construction = Construction.HINGED
    invented: bool = False
    note: str = ""
    words: WordsTable = WordsTable()


class MaterialRow(Table):
    """[[materials]]: one material of plates and pins, or rubber, first choice first."""

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


class EdgeRow(Table):
    """edge_sets: which pieces stand at the belt edges, up to which trough."""

    trough_up_to: Annotated[float, Plain(Kind.ANGLE, 0.0, 90 * _DEG)]
    plates: int = Field(ge=2, le=5)
    each_edge: int | None = Field(default=None, ge=1, le=100)


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
    edge_sets: list[EdgeRow] = Field(default=[], max_length=6)
    strip_widths: list[Size_] = Field(default=[], max_length=40)
    curve_depth: Length | None = None
    curve_radius: Annotated[float, Plain(Kind.DISTANCE, 1.0, 1000.0)] | None = None
    stand_out: Length | None = None
    seat_torque: Annotated[float, Plain(Kind.TORQUE, 0.0, 2000.0)] | None = None
    scrapers: bool = True
    thread_pitch: Annotated[float, Plain(Kind.LENGTH, 0.0, 0.01, above=True)] | None = None
    nut_face: Size_ | None = None
    clamp: Annotated[float, Plain(Kind.FORCE, 0.0, 5e5, above=True)] | None = None
    retighten_after: list[Annotated[float, Plain(Kind.TIME, 0.0, 8760 * 3600.0, above=True)]] = (
        Field(default=[], max_length=6)
    )
    hinge_angle: Annotated[float, Plain(Kind.ANGLE, 0.0, 170 * _DEG, above=True)] | None = None
    steel: Annotated[float, Plain(Kind.LENGTH, 0.0, 0.05, above=True)] | None = None
    evenness: Annotated[float, Plain(Kind.RATIO, 1.0, 5.0)] | None = None


class RangeFile(Table):
    """A range file: a maker's own data typed in by the user; sizes of plates, or steps."""

    range: RangeTable
    materials: list[MaterialRow] = Field(min_length=1, max_length=20)
    sizes: list[SizeRow] = Field(default=[], max_length=60)
    steps: list[StepRow] = Field(default=[], max_length=60)


def build(file: RangeFile, name: str = "") -> Range:
    """Make the range of its checked file.

    Raises
    ------
    InputError
        Sizes where steps belong or the other way round; one whose parts do not fit together.
    """
    faults = _table_faults(file, name)
    sizes = []
    for number, row in enumerate(file.sizes, 1):
        riveted = file.range.construction is Construction.RIVETED
        faults.extend(_faults(row, f"sizes.{number}", name, riveted))
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
                edge_sets=tuple(
                    sorted(
                        (EdgeSets(e.trough_up_to, e.plates, e.each_edge) for e in row.edge_sets),
                        key=lambda e: e.trough_up_to,
                    )
                ),
                strip_widths=tuple(row.strip_widths),
                curve_depth=row.curve_depth,
                curve_radius=row.curve_radius,
                stand_out=row.stand_out,
                seat_torque=row.seat_torque,
                scrapers=row.scrapers,
                thread_pitch=row.thread_pitch,
                nut_face=row.nut_face,
                clamp=row.clamp,
                retighten_after=tuple(row.retighten_after),
                hinge_angle=row.hinge_angle,
                steel=row.steel,
                evenness=row.evenness,
            )
        )
    for number, step in enumerate(file.steps, 1):
        faults.extend(step_faults(step, f"steps.{number}", name))
    if faults:
        raise InputError(*faults)
    materials = tuple(Material(m.name, tuple(m.suits), m.hottest) for m in file.materials)
    head = file.range
    return Range(
        head.name,
        head.invented,
        head.construction,
        materials,
        tuple(sizes),
        head.note,
        tuple(step_size(row) for row in file.steps),
        Words(head.words.wear_sleeve, head.words.bedding_strip, head.words.spacer),
    )


def _table_faults(file: RangeFile, name: str) -> list[Fault]:
    vulcanised = file.range.construction is Construction.STEP
    wanted, other = ("steps", "sizes") if vulcanised else ("sizes", "steps")
    faults = []
    if not getattr(file, wanted):
        faults.append(Fault(wanted, "is missing; it must be given", name))
    if getattr(file, other):
        faults.append(
            Fault(
                other,
                f"does not go with the construction {file.range.construction.value!r}; "
                f"give [[{wanted}]]",
                name,
            )
        )
    return faults


def _faults(row: SizeRow, key: str, name: str, riveted: bool) -> list[Fault]:
    faults = []

    def fault(field: str, sentence: str) -> None:
        faults.append(Fault(f"{key}.{field}", sentence, name))

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
    faults.extend(_bolt_faults(row, key, name, riveted))
    if 1 not in row.sets:
        fault("sets", "lacks 1: single plates must be among the sets")
    for edge in row.edge_sets:
        if edge.plates not in row.sets:
            fault("edge_sets", f"names pieces of {edge.plates} plates; sets lists {row.sets}")
    if row.curve_depth is not None and row.curve_radius is not None:
        fault("curve_radius", "stands beside curve_depth; give one of them")
    if row.thickness.high > max(b.belt_up_to for b in row.bolt_lengths):
        fault("bolt_lengths", "ends before the thickest belt of the window")
    return faults


def _bolt_faults(row: SizeRow, key: str, name: str, riveted: bool) -> list[Fault]:
    faults = []

    def fault(field: str, sentence: str) -> None:
        faults.append(Fault(f"{key}.{field}", sentence, name))

    for field in ("seat_torque", "thread_pitch", "nut_face", "clamp", "retighten_after"):
        if riveted and getattr(row, field):
            fault(field, "does not go with rivets; leave it out")
    if row.thread_pitch is not None and row.thread_pitch >= row.bolt / 2:
        fault(
            "thread_pitch",
            "is half the bolt or more; it is the way of one turn, 1.5 mm on a bolt of 10 mm",
        )
    if row.nut_face is not None and row.nut_face <= row.bolt:
        fault(
            "nut_face",
            "is no wider than the bolt; it is the mean diameter of the face the nut turns on",
        )
    if sorted(set(row.retighten_after)) != list(row.retighten_after):
        fault(
            "retighten_after",
            "does not rise from time to time; give hours of running since the joint was made",
        )
    return faults
