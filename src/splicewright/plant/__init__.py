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
    slug,
)
from splicewright.plant.loading import load_conveyor, load_work, schemas
from splicewright.plant.tangents import Arc, Placed, Span, TautLoop
from splicewright.plant.winding import round_pulleys
from splicewright.plant.work import Environment, JointKind, Reason, Tools, Travel, Work

__all__ = [
    "Arc",
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
    "Placed",
    "Pulley",
    "Reason",
    "Role",
    "Run",
    "Side",
    "Span",
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
