"""What the drawings of the loop need: a joint plan has it, and so has a study of a conveyor."""

from __future__ import annotations

from typing import Protocol

from splicewright.loop import Path
from splicewright.plant import Conveyor
from splicewright.quantities import Figure, Line, Record
from splicewright.tension import Demand


class Worked(Protocol):
    """A conveyor worked out: its loop, its demand, and the worksheet that explains both."""

    @property
    def mark(self) -> str:
        """Which result this is, as printed: "Plan 7Q2..."."""

    @property
    def conveyor(self) -> Conveyor:
        """The plant."""

    @property
    def path(self) -> Path:
        """Its loop laid out."""

    @property
    def demand(self) -> Demand:
        """What it asks."""

    @property
    def worksheet(self) -> Record:
        """How every number came about."""


def figure_of(worked: Worked, key: str) -> Figure:
    """One number of a result, worked or given.

    Raises
    ------
    InputError
        No number of that key.
    """
    entry = worked.worksheet.find(key)
    return entry.figure if isinstance(entry, Line) else entry
