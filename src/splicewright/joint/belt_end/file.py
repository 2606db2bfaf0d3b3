"""What a squaring file may hold (TOML)."""

from __future__ import annotations

import math
from enum import StrEnum
from typing import Annotated, Any

from pydantic import Field

from splicewright.errors import Fault, InputError
from splicewright.files.fields import Plain, Table
from splicewright.files.typed_file import Readable
from splicewright.joint.belt_end.centreline import (
    READING,
    midpoints_from_edges,
    midpoints_from_sound_edge,
)
from splicewright.joint.belt_end.squared_end import CheckKind, CheckMeasured, SquaringMeasured
from splicewright.joint.layout import End
from splicewright.plant.conveyor_file import Name
from splicewright.quantities import Kind

Width = Annotated[float, Plain(Kind.LENGTH, 0.1, 4.0)]
Along = Annotated[float, Plain(Kind.DISTANCE, -100.0, 1000.0)]
Across = Annotated[float, Plain(Kind.LENGTH, -5.0, 5.0)]
Above = Annotated[float, Plain(Kind.DISTANCE, 0.0, 100.0, above=True)]


class Side(StrEnum):
    """A side of the belt, facing in the direction of travel."""

    LEFT = "left"
    RIGHT = "right"


class SquaringTable(Table):
    """[squaring]: the belt end, its width, and how it was measured."""

    name: Name
    end: End | None = None
    invented: bool = False
    width: Width
    sound_edge: Side | None = None
    belt_length: Above | None = None
    reading: Annotated[float, Plain(Kind.LENGTH, 0.0, 0.05, above=True)] = READING
    square_line_at: Along | None = None
    limit: Annotated[float, Plain(Kind.LENGTH, 0.0, 0.5, above=True)] | None = None
    plan: str = ""
    work: str = ""
    note: str = ""


class StationRow(Table):
    """[[stations]]: offsets from the stretched line: midpoint, both edges, or the sound edge."""

    at: Along
    midpoint: Across | None = None
    left: Across | None = None
    right: Across | None = None
    edge: Across | None = None


class LineTable(Table):
    """[line]: where a drawn line, or the cut, meets the left and right edge."""

    left: Along
    right: Along


class CheckRow(Table):
    """[[checks]]: two lengths of one hand check; `back` for arcs and diagonals."""

    kind: CheckKind
    left: Above
    right: Above
    back: Above | None = None
    after_cut: bool = False


class SquaringFile(Table):
    """A squaring file: what was measured on one belt end."""

    squaring: SquaringTable
    stations: list[StationRow] = Field(default=[], max_length=200)
    line: LineTable | None = None
    checks: list[CheckRow] = Field(default=[], max_length=20)


def build(file: SquaringFile, name: str = "") -> SquaringMeasured:
    """Make the measurement of its checked file.

    Raises
    ------
    InputError
        Nothing measured; a station off the belt or given twice, with nothing or two things
        measured at it, or other than the rest; a line without stations; a check without its
        length back.
    """
    head = file.squaring
    faults = [*_station_faults(file), *_other_faults(file)]
    if faults:
        raise InputError(*(Fault(f.key, f.sentence, name) for f in faults))
    return SquaringMeasured(
        name=head.name,
        invented=head.invented,
        width=head.width,
        stations=tuple(row.at for row in file.stations),
        midpoints=_midpoints(file),
        belt_length=head.belt_length,
        reading=head.reading,
        at=head.square_line_at,
        drawn=(file.line.left, file.line.right) if file.line else None,
        checks=tuple(
            CheckMeasured(c.kind, c.left, c.right, c.back or 0.0, c.after_cut) for c in file.checks
        ),
        limit=head.limit,
        plan=head.plan,
        work=head.work,
        file=name,
        end=head.end,
    )


def _way(row: StationRow) -> str:
    """How the middle of the belt was found at a station; "" where it was not or doubly."""
    ways = [
        way
        for way, given in (
            ("midpoint", row.midpoint is not None),
            ("left and right", row.left is not None and row.right is not None),
            ("edge", row.edge is not None),
        )
        if given
    ]
    loose = (row.left is None) != (row.right is None)
    return ways[0] if len(ways) == 1 and not loose else ""


def _station_faults(file: SquaringFile) -> list[Fault]:
    faults = []
    head, seen = file.squaring, set[float]()
    ways = [_way(row) for row in file.stations]
    for number, (row, way) in enumerate(zip(file.stations, ways, strict=True), 1):
        key = f"stations.{number}"
        if row.at < 0 or (head.belt_length is not None and row.at > head.belt_length):
            ends = "0 m or more" if head.belt_length is None else f"0 to {head.belt_length:g} m"
            faults.append(
                Fault(f"{key}.at", f"{row.at:g} m is not on the belt: give {ends} from the end")
            )
        if row.at in seen:
            faults.append(
                Fault(f"{key}.at", f"{row.at:g} m is given twice: give each station once")
            )
        seen.add(row.at)
        if not way:
            faults.append(
                Fault(key, "needs exactly one of: midpoint, left and right together, or edge")
            )
        elif way != next(filter(None, ways)):
            faults.append(
                Fault(
                    key,
                    f"gives {way}, an earlier station {next(filter(None, ways))}: measure "
                    "all stations the same way",
                )
            )
        elif way == "edge" and head.sound_edge is None:
            faults.append(Fault(f"{key}.edge", "needs sound_edge in [squaring]: left or right"))
        elif way == "left and right":
            assert row.left is not None and row.right is not None  # that is the way
            if not row.left > row.right:
                faults.append(
                    Fault(
                        f"{key}.left",
                        f"{1e3 * row.left:g} mm is not to the left of the right "
                        f"edge at {1e3 * row.right:g} mm; offsets to the left are positive",
                    )
                )
            elif abs(row.left - row.right - head.width) > 0.1 * head.width:
                faults.append(
                    Fault(
                        key,
                        f"makes the belt {1e3 * (row.left - row.right):.0f} mm wide, not "
                        f"{1e3 * head.width:g} mm: measure again, or by the sound edge",
                    )
                )
    return faults


def _other_faults(file: SquaringFile) -> list[Fault]:
    faults = []
    if not file.stations and not file.checks:
        faults.append(Fault("stations", "are missing, and so are checks: measure one of them"))
    if 0 < len(file.stations) < 3:
        faults.append(
            Fault(
                "stations",
                f"{len(file.stations)} given: at least 3 are needed, two points "
                "always make a line and say nothing of how far it may be off",
            )
        )
    if file.line is not None and not file.stations:
        faults.append(Fault("line", "needs stations: without a centreline nothing is square"))
    if file.squaring.work and not file.squaring.plan:
        faults.append(Fault("squaring.work", "stands without a plan; name the conveyor file"))
    for number, check in enumerate(file.checks, 1):
        if check.kind is not CheckKind.EDGES and check.back is None:
            faults.append(
                Fault(
                    f"checks.{number}.back",
                    f"is missing; {check.kind.value} need the length marked back along the belt",
                )
            )
    return faults


def _midpoints(file: SquaringFile) -> tuple[float, ...]:
    rows = file.stations
    if not rows:
        return ()
    way, head = _way(rows[0]), file.squaring
    if way == "midpoint":
        return tuple(row.midpoint if row.midpoint is not None else math.nan for row in rows)
    if way == "edge":
        assert head.sound_edge is not None  # _station_faults has looked
        edges = [row.edge if row.edge is not None else math.nan for row in rows]
        side = head.sound_edge
        return midpoints_from_sound_edge(
            edges, head.width, "left" if side is Side.LEFT else "right"
        )
    return midpoints_from_edges(
        [row.left if row.left is not None else math.nan for row in rows],
        [row.right if row.right is not None else math.nan for row in rows],
    )


def load_squaring(path: Readable) -> SquaringMeasured:
    """Read a squaring file (TOML).

    Raises
    ------
    InputError
        Anything wrong with the file, every fault with key and line.
    """
    from splicewright.files.toml import load, with_lines

    with with_lines(path):
        return build(load(path, SquaringFile), path.name)


def squaring_schema() -> dict[str, Any]:
    """The JSON Schema of a squaring file."""
    return SquaringFile.model_json_schema(by_alias=True)
