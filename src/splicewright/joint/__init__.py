"""The joint: ranges, choice, layout, cut end, load of every plate; vulcanised step joints."""

from splicewright.joint.candidates import Candidate, Requirement
from splicewright.joint.layout import (
    EndLayout,
    Hole,
    Layout,
    NoLayoutError,
    Plate,
    Which,
    cut_at,
    lay_plates,
)
from splicewright.joint.making_limits import MakingLimit, MakingLimits, making_limits
from splicewright.joint.places import Place, PlaceLoads
from splicewright.joint.range_loading import load_range, load_ranges, range_schema
from splicewright.joint.ranges import (
    BoltLength,
    BoltRow,
    Construction,
    Material,
    PulleyRule,
    Range,
    Size,
    StepForm,
    StepSize,
)
from splicewright.joint.selection import (
    Choice,
    belt_thickness,
    belt_width,
    choose,
    curve_of,
    deepest_trough,
)
from splicewright.joint.step_joint import StepGeometry, lay_steps

__all__ = [
    "BoltLength",
    "BoltRow",
    "Candidate",
    "Choice",
    "Construction",
    "EndLayout",
    "Hole",
    "Layout",
    "MakingLimit",
    "MakingLimits",
    "Material",
    "NoLayoutError",
    "Place",
    "PlaceLoads",
    "Plate",
    "PulleyRule",
    "Range",
    "Requirement",
    "Size",
    "StepForm",
    "StepGeometry",
    "StepSize",
    "Which",
    "belt_thickness",
    "belt_width",
    "choose",
    "curve_of",
    "cut_at",
    "deepest_trough",
    "lay_plates",
    "lay_steps",
    "load_range",
    "load_ranges",
    "making_limits",
    "range_schema",
]
