"""The closed belt as a path: stations, length, and what the take-up can give."""

from splicewright.loop.closing import CLOSES_WITHIN, all_wraps_stated, closing_gap, turnings
from splicewright.loop.path import Path, lay_out, wrapped_length
from splicewright.loop.roll import Roll, roll_diameter
from splicewright.loop.travel import BeltBudget, budget

__all__ = [
    "CLOSES_WITHIN",
    "BeltBudget",
    "Path",
    "Roll",
    "all_wraps_stated",
    "budget",
    "closing_gap",
    "lay_out",
    "roll_diameter",
    "turnings",
    "wrapped_length",
]
