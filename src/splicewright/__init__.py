"""Splicewright: the whole job of joining a bulk conveyor belt.

    from splicewright import load_conveyor, load_ranges, load_work, plan

The names below load their room when they are first used: importing this package is cheap.
"""

from importlib import import_module
from typing import TYPE_CHECKING

from splicewright.version import __version__

if TYPE_CHECKING:
    from splicewright.errors import InputError, OutputError, SplicewrightError
    from splicewright.job import JointPlan, plan
    from splicewright.joint import Range, load_range, load_ranges
    from splicewright.plant import Conveyor, Work, load_conveyor, load_work
    from splicewright.quantities import explain
    from splicewright.tension import Study, study

_ROOMS = {
    "Conveyor": "plant",
    "InputError": "errors",
    "JointPlan": "job",
    "OutputError": "errors",
    "Range": "joint",
    "SplicewrightError": "errors",
    "Study": "tension",
    "Work": "plant",
    "explain": "quantities",
    "load_conveyor": "plant",
    "load_range": "joint",
    "load_ranges": "joint",
    "load_work": "plant",
    "plan": "job",
    "study": "tension",
}

__all__ = [
    "Conveyor",
    "InputError",
    "JointPlan",
    "OutputError",
    "Range",
    "SplicewrightError",
    "Study",
    "Work",
    "__version__",
    "explain",
    "load_conveyor",
    "load_range",
    "load_ranges",
    "load_work",
    "plan",
    "study",
]


def __getattr__(name: str) -> object:
    """Load the room of a public name on first use."""
    if name not in _ROOMS:
        msg = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(msg)
    return getattr(import_module(f"{__name__}.{_ROOMS[name]}"), name)
