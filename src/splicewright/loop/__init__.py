"""The closed belt as a path: stations, length, and what the take-up can give."""

from splicewright.loop.path import Path, Station, lay_out, wrapped_length
from splicewright.loop.travel import BeltBudget, budget

__all__ = ["BeltBudget", "Path", "Station", "budget", "lay_out", "wrapped_length"]
