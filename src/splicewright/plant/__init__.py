"""What stands on site: belt, pulleys, idlers, material, drives; and the file that says so."""

from splicewright.plant.belt import Belt, Carcass, read_marking
from splicewright.plant.conveyor import (
    Conveyor,
    Cover,
    Drive,
    Element,
    Idlers,
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
from splicewright.plant.loading import load_conveyor, load_work, schemas
from splicewright.plant.work import Environment, JointKind, Reason, Tools, Travel, Work

__all__ = [
    "Belt",
    "Carcass",
    "Conveyor",
    "Cover",
    "Drive",
    "Element",
    "Environment",
    "Idlers",
    "JointKind",
    "Lagging",
    "Material",
    "Method",
    "Pulley",
    "Reason",
    "Role",
    "Run",
    "Side",
    "Special",
    "SpecialKind",
    "TakeUp",
    "TakeUpKind",
    "Tools",
    "Travel",
    "Work",
    "load_conveyor",
    "load_work",
    "read_marking",
    "schemas",
]
