"""The joint: ranges, choice, layout, cut end, load of every plate; vulcanised step joints."""

from splicewright.joint.choice.candidates import Candidate, Requirement
from splicewright.joint.choice.plates import Choice, belt_width, choose, curve_of, deepest_trough
from splicewright.joint.fasteners.loading import load_range, load_ranges, range_schema
from splicewright.joint.fasteners.ranges import (
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
from splicewright.joint.layout import End, EndLayout, Layout, NoLayoutError, cut_at, lay_plates
from splicewright.joint.loads.making_limits import MakingLimits, making_limits
from splicewright.joint.loads.places import Place, PlaceLoads
from splicewright.joint.vulcanised import StepGeometry, StepMark, lay_steps

__all__ = [
    "BoltLength",
    "BoltRow",
    "Candidate",
    "Choice",
    "Construction",
    "End",
    "EndLayout",
    "Layout",
    "MakingLimits",
    "Material",
    "NoLayoutError",
    "Place",
    "PlaceLoads",
    "PulleyRule",
    "Range",
    "Requirement",
    "Size",
    "StepForm",
    "StepGeometry",
    "StepMark",
    "StepSize",
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
