"""What stands on site: belt, pulleys, idlers, material, drives; and the file that says so."""

from splicewright.plant.belt import Belt, Carcass, read_marking
from splicewright.plant.conveyor import (
    Conveyor,
    Coupling,
    Cover,
    Crown,
    CrownShape,
    Drive,
    Element,
    Gear,
    Pulley,
    Role,
    Run,
    Side,
    Special,
    SpecialKind,
    TakeUp,
    TakeUpKind,
    slug,
)
from splicewright.plant.geometry.tangents import Placed, TautLoop
from splicewright.plant.geometry.winding import round_pulleys
from splicewright.plant.loading import load_conveyor, load_work, schemas
from splicewright.plant.work import Environment, JointKind, Reason, Tools, Travel, Work

__all__ = [
    "Belt",
    "Carcass",
    "Conveyor",
    "Coupling",
    "Cover",
    "Crown",
    "CrownShape",
    "Drive",
    "Element",
    "Environment",
    "Gear",
    "JointKind",
    "Placed",
    "Pulley",
    "Reason",
    "Role",
    "Run",
    "Side",
    "Special",
    "SpecialKind",
    "TakeUp",
    "TakeUpKind",
    "TautLoop",
    "Tools",
    "Travel",
    "Work",
    "load_conveyor",
    "load_work",
    "read_marking",
    "round_pulleys",
    "schemas",
    "slug",
]
