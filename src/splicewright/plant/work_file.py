"""What a work file may hold (TOML)."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from splicewright.files.fields import Entry, Quantity, Table
from splicewright.plant.conveyor_file import Factor, Name, Share
from splicewright.plant.work import (
    Damage,
    Environment,
    JobKind,
    JointKind,
    Reason,
    RoundWay,
    Tools,
    Travel,
)
from splicewright.quantities import Kind


class WorkTable(Table):
    """[work]: what is to be done, and where the crew stands."""

    name: Name
    invented: bool = False
    kind: JobKind | None = None
    reason: Reason | None = None
    run: str = ""
    distance: Annotated[Entry, Quantity(Kind.DISTANCE, 0.0, 50_000.0)] | None = None
    round_way: RoundWay | None = None
    note: str = ""


class BeltWorkTable(Table):
    """[belt]: what was measured on the belt, and what comes out and goes in."""

    thickness: list[Annotated[Entry, Quantity(Kind.LENGTH, 0.002, 0.08)]] = Field(
        default=[], max_length=50
    )
    width: Annotated[Entry, Quantity(Kind.LENGTH, 0.1, 4.0)] | None = None
    cut_out: Annotated[Entry, Quantity(Kind.DISTANCE, 0.0, 5_000.0)] | None = None
    insert: Annotated[Entry, Quantity(Kind.DISTANCE, 0.0, 50_000.0)] | None = None
    load_left: Share | None = None


class DamageTable(Table):
    """[damage]: what is repaired without joining belt ends: pin, plates, rip, hole, edge tear."""

    what: Damage
    length: Annotated[Entry, Quantity(Kind.DISTANCE, 0.0, 5_000.0, above=True)] | None = None
    width: Annotated[Entry, Quantity(Kind.LENGTH, 0.0, 4.0, above=True)] | None = None


class RoundRow(Table):
    """[[round]]: a joint of a round, and the belt that passes until it comes, or the walk to it."""

    name: Name
    behind: Annotated[Entry, Quantity(Kind.DISTANCE, 0.0, 50_000.0)]


class JointWorkTable(Table):
    """[joint]: what the joint must be."""

    kind: JointKind = JointKind.HINGED
    travel: Travel | None = None
    environment: list[Environment] = []
    scrapers: bool = True
    service_factor: Annotated[Entry, Quantity(Kind.RATIO, 1.0, 5.0)] | None = None
    curve_depth: Annotated[Entry, Quantity(Kind.LENGTH, 0.0, 0.05)] | None = None
    notch_width: Annotated[Entry, Quantity(Kind.LENGTH, 0.0, 0.2)] | None = None


class PressTable(Table):
    """[press]: the press of a vulcanised joint; bias: its platens' angle to the square line."""

    length: Annotated[Entry, Quantity(Kind.DISTANCE, 0.1, 10.0)] | None = None
    width: Annotated[Entry, Quantity(Kind.LENGTH, 0.1, 4.0)] | None = None
    bias: Annotated[Entry, Quantity(Kind.ANGLE, 0.0, 1.0)] | None = None
    temperature: Annotated[Entry, Quantity(Kind.TEMPERATURE, 280.0, 480.0)] | None = None


class AirTable(Table):
    """[air]: where the joint is made, while cement is open."""

    temperature: Annotated[Entry, Quantity(Kind.TEMPERATURE, 230.0, 330.0)] | None = None
    humidity: Annotated[Entry, Quantity(Kind.SHARE, 0.0, 1.0, above=True)] | None = None


class CrewTable(Table):
    """[crew]: who works, with what, for how long."""

    people: int = Field(default=2, ge=1, le=40)
    tools: Tools = Tools.HAND
    window: Annotated[Entry, Quantity(Kind.TIME, 0.0, 30 * 86400.0, above=True)] | None = None
    clamp_factor: Factor | None = None
    hoist_travel: Annotated[Entry, Quantity(Kind.DISTANCE, 0.1, 50.0)] | None = None


class WorkFile(Table):
    """A work file; everything but the name may be left out."""

    work: WorkTable
    belt: BeltWorkTable = BeltWorkTable()
    joint: JointWorkTable = JointWorkTable()
    crew: CrewTable = CrewTable()
    press: PressTable = PressTable()
    air: AirTable = AirTable()
    damage: DamageTable | None = None
    round: list[RoundRow] = Field(default=[], max_length=60)
