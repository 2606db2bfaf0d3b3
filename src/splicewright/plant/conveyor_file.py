"""What a conveyor file may hold (TOML); the JSON Schema is made from these tables."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import Field

from splicewright.files.fields import Entry, Quantity, Table
from splicewright.plant.belt import Carcass
from splicewright.plant.conveyor import (
    Coupling,
    Cover,
    CrownShape,
    Gear,
    Lagging,
    Role,
    Side,
    TakeUpKind,
)
from splicewright.quantities import Kind

_DEG = math.pi / 180
Name = Annotated[str, Field(min_length=1, max_length=80)]
PartLength = Annotated[Entry, Quantity(Kind.LENGTH, 0.0, 10.0, above=True)]
Cover_ = Annotated[Entry, Quantity(Kind.LENGTH, 0.0, 0.05)]
Distance = Annotated[Entry, Quantity(Kind.DISTANCE, 0.0, 50_000.0, above=True)]
Rise = Annotated[Entry, Quantity(Kind.DISTANCE, -2_000.0, 2_000.0)]
Angle = Annotated[Entry, Quantity(Kind.ANGLE, 0.0, 70 * _DEG)]
Wrap = Annotated[Entry, Quantity(Kind.ANGLE, 0.0, 360 * _DEG)]
LineMass = Annotated[Entry, Quantity(Kind.LINE_MASS, 0.0, 5_000.0)]
Factor = Annotated[Entry, Quantity(Kind.RATIO, 0.0, 20.0)]
Friction = Annotated[Entry, Quantity(Kind.RATIO, 0.0, 2.0)]
Share = Annotated[Entry, Quantity(Kind.SHARE, 0.0, 1.0)]
Force = Annotated[Entry, Quantity(Kind.FORCE, 0.0, 5e6)]


Height = Annotated[Entry, Quantity(Kind.DISTANCE, -50_000.0, 50_000.0)]


class ConveyorTable(Table):
    """[conveyor]: which one it is, and how it runs."""

    name: Name
    site: str = Field(default="", max_length=120)
    invented: bool = False
    speed: Annotated[Entry, Quantity(Kind.SPEED, 0.0, 15.0, above=True)]
    reversing: bool = False
    ambient: Annotated[Entry, Quantity(Kind.TEMPERATURE, 200.0, 350.0)] | None = None
    note: str = ""


class OutlineTable(Table):
    """[outline]: the short form of the loop, for those who know no more.

    Of two drives the first is where drive_at says, the second at the other end of the conveyor.
    """

    centre_distance: Distance
    lift: Rise
    smallest_pulley: PartLength | None = None
    head_pulley: PartLength | None = None
    tail_pulley: PartLength | None = None
    drive_at: Literal["head", "tail"] = "head"
    drive_wrap: Wrap | None = None
    lagging: Lagging = Lagging.UNKNOWN
    take_up_distance: Distance | None = None


class IdlerTable(Table):
    """[idlers.carry], [idlers.return]: the idlers of that side."""

    spacing: PartLength | None = None
    set_mass: Annotated[Entry, Quantity(Kind.MASS, 0.0, 2_000.0)] | None = None
    line_mass: LineMass | None = None
    trough: Angle | None = None
    middle_roll: Annotated[Entry, Quantity(Kind.LENGTH, 0.0, 4.0)] | None = None
    rolls: int | None = Field(default=None, ge=1, le=5)


class IdlersTable(Table):
    """[idlers]: one table for each side."""

    carry: IdlerTable = IdlerTable()
    return_: IdlerTable = Field(default=IdlerTable(), alias="return")


class RunEntry(Table):
    """[[loop]] with kind = "run": a straight stretch, in the direction of travel."""

    kind: Literal["run"]
    name: Name
    side: Side
    length: Distance | None = None
    rise: Rise | None = None
    slope: Annotated[Entry, Quantity(Kind.ANGLE, -_DEG * 90, _DEG * 90)] | None = None
    idlers: IdlerTable | None = None
    friction: Friction | None = None
    load_friction: Friction | None = None
    curve_radius: Distance | None = None


class PulleyEntry(Table):
    """[[loop]] with kind = "pulley"."""

    kind: Literal["pulley"]
    name: Name
    role: Role
    diameter: PartLength | None = None
    wrap: Wrap | None = None
    lagging: Lagging | None = None
    touches: Cover | None = None
    drive: str = ""
    centre: tuple[Height, Height] | None = None
    transition: Distance | None = None
    raised: Annotated[Entry, Quantity(Kind.LENGTH, 0.0, 0.5)] | None = None
    crown: Annotated[Entry, Quantity(Kind.LENGTH, 0.0, 0.05)] | None = None
    crown_shape: CrownShape = CrownShape.CONES
    crown_flat: Annotated[Entry, Quantity(Kind.LENGTH, 0.0, 4.0)] | None = None
    loss: Annotated[Entry, Quantity(Kind.RATIO, 1.0, 1.5)] | None = None


class BeltTable(Table):
    """[belt]."""

    width: Annotated[Entry, Quantity(Kind.LENGTH, 0.1, 4.0)]
    thickness: Annotated[Entry, Quantity(Kind.LENGTH, 0.002, 0.08)] | None = None
    marking: str = Field(default="", max_length=60)
    carcass: Carcass | None = None
    plies: int | None = Field(default=None, ge=1, le=12)
    strength: Annotated[Entry, Quantity(Kind.WIDTH_FORCE, 1e4, 1e7)] | None = None
    modulus: Annotated[Entry, Quantity(Kind.WIDTH_FORCE, 1e4, 1e9)] | None = None
    top_cover: Cover_ | None = None
    bottom_cover: Cover_ | None = None
    mass: LineMass | None = None
    area_mass: Annotated[Entry, Quantity(Kind.AREA_MASS, 0.5, 120.0)] | None = None


class MaterialTable(Table):
    """[material]: the load when the belt is full."""

    name: str = ""
    rate: Annotated[Entry, Quantity(Kind.MASS_FLOW, 0.0, 12_000.0)] | None = None
    line_mass: LineMass | None = None
    density: Annotated[Entry, Quantity(Kind.DENSITY, 50.0, 8_000.0)] | None = None
    surcharge: Annotated[Entry, Quantity(Kind.ANGLE, 0.0, 45 * _DEG)] | None = None
    friction: Friction | None = None
    lump: Annotated[Entry, Quantity(Kind.LENGTH, 0.0, 2.0)] | None = None


class DriveTable(Table):
    """[[drives]]."""

    name: Name = "drive"
    power: Annotated[Entry, Quantity(Kind.POWER, 0.0, 2e7, above=True)] | None = None
    efficiency: Annotated[Entry, Quantity(Kind.SHARE, 0.3, 1.0)] | None = None
    start_factor: Annotated[Entry, Quantity(Kind.RATIO, 1.0, 4.0)] | None = None
    share: Share | None = None
    holdback: bool | None = None
    brake: bool | None = None
    stopping_time: Annotated[Entry, Quantity(Kind.TIME, 0.1, 600.0)] | None = None
    breakdown_factor: Annotated[Entry, Quantity(Kind.RATIO, 1.0, 6.0)] | None = None
    gear: Gear | None = None
    coupling: Coupling | None = None


class TakeUpTable(Table):
    """[take_up]."""

    kind: TakeUpKind
    mass: Annotated[Entry, Quantity(Kind.MASS, 0.0, 500_000.0)] | None = None
    force: Force | None = None
    travel: Annotated[Entry, Quantity(Kind.DISTANCE, 0.0, 200.0)] | None = None
    position: Annotated[Entry, Quantity(Kind.DISTANCE, 0.0, 200.0)] | None = None
    pulley: str = ""
    reeving: Annotated[Entry, Quantity(Kind.RATIO, 0.1, 12.0)] | None = None


class ResistanceTable(Table):
    """[resistance]: factors of the method, where they are known."""

    friction: Friction | None = None
    length_coefficient: Factor | None = None
    drum_friction: Friction | None = None
    slip_margin: Annotated[Entry, Quantity(Kind.RATIO, 1.0, 5.0)] | None = None
    sag_limit: Annotated[Entry, Quantity(Kind.SHARE, 0.001, 1.0)] | None = None
    standing_friction: Friction | None = None
    load_shared: Literal["fixed", "by grip"] = "fixed"


class TiltEntry(Table):
    """[[special]] kind = "idler tilt": idlers set forward to steer the belt."""

    kind: Literal["idler tilt"]
    run: str = ""
    coefficient: Factor
    friction: Friction
    length: Distance
    tilt: Annotated[Entry, Quantity(Kind.ANGLE, 0.0, 10 * _DEG)]


class SkirtsEntry(Table):
    """[[special]] kind = "skirts": skirt boards outside the feed zone."""

    kind: Literal["skirts"]
    run: str = ""
    friction: Friction
    length: Distance
    between: PartLength
    volume_flow: Annotated[Entry, Quantity(Kind.VOLUME_FLOW, 0.0, 20.0)] | None = None


class CleanerEntry(Table):
    """[[special]] kind = "cleaner": a scraper pressed on the belt."""

    kind: Literal["cleaner"]
    run: str = ""
    area: Annotated[Entry, Quantity(Kind.AREA, 0.0, 2.0)]
    pressure: Annotated[Entry, Quantity(Kind.PRESSURE, 0.0, 1e6)]
    friction: Friction


class PloughEntry(Table):
    """[[special]] kind = "plough"."""

    kind: Literal["plough"]
    run: str = ""
    per_width: Annotated[Entry, Quantity(Kind.WIDTH_FORCE, 0.0, 20_000.0)]


class AllowanceEntry(Table):
    """[[special]] kind = "allowance": a share of main and secondary resistance."""

    kind: Literal["allowance"]
    run: str = ""
    share: Share


class ForceEntry(Table):
    """[[special]] kind = "force": a resistance known as a force."""

    kind: Literal["force"]
    run: str = ""
    force: Force


SpecialEntry = Annotated[
    TiltEntry | SkirtsEntry | CleanerEntry | PloughEntry | AllowanceEntry | ForceEntry,
    Field(discriminator="kind"),
]
LoopEntry = Annotated[RunEntry | PulleyEntry, Field(discriminator="kind")]


class ConveyorFile(Table):
    """A conveyor file. Give [outline] or the whole [[loop]]; what is left out is assumed."""

    conveyor: ConveyorTable
    outline: OutlineTable | None = None
    belt: BeltTable
    material: MaterialTable = MaterialTable()
    drives: list[DriveTable] = Field(default=[], max_length=8)
    take_up: TakeUpTable
    idlers: IdlersTable = IdlersTable()
    resistance: ResistanceTable = ResistanceTable()
    special: list[SpecialEntry] = Field(default=[], max_length=40)
    loop: list[LoopEntry] = Field(default=[], max_length=400)
