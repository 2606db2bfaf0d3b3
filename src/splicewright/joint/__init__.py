"""The joint: ranges, choice, layout, cut end; vulcanised step joints."""

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
from splicewright.joint.ranges import (
    BoltLength,
    BoltRow,
    Construction,
    Material,
    PulleyRule,
    Range,
    Size,
    StepSize,
    load_range,
    load_ranges,
    range_schema,
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
    "Material",
    "NoLayoutError",
    "Plate",
    "PulleyRule",
    "Range",
    "Requirement",
    "Size",
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
    "range_schema",
]
