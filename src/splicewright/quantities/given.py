"""A number with its story: what it is, where it came from, how sure we are.

`Given` is a number the user or an assumption put in; `Figure` is one we worked out. Both
carry a key that the worksheet knows, so that every printed number can be explained.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from splicewright.quantities.showing import show
from splicewright.quantities.units import Kind, System

Number = float | NDArray[np.float64]
"""SI value: a float, or an array where many variants are worked at once."""


class Origin(StrEnum):
    """Where an input came from."""

    MEASURED = "measured"
    FILE = "from the file"
    ASSUMED = "assumed"


@dataclass(frozen=True, slots=True)
class Figure:
    """A number we worked out, under the key that explains it in the worksheet.

    `value` is SI; `kind` tells its unit.
    """

    key: str
    label: str
    value: float
    kind: Kind

    def show(self, system: System = "metric") -> str:
        """The number as people read it."""
        return show(self.value, self.kind, system)


@dataclass(frozen=True, slots=True)
class Given(Figure):
    """An input: a number with its origin, the reason for it, and the range it may lie in.

    `low` and `high` are the ends of what is plausible, SI; both equal `value` when the
    number is taken as known. `sd` is its standard deviation where one was stated [SI], else 0.
    `of` is the key of another input that this one is always `times` times of, "" for none: it
    then has no span of its own and follows the other.
    """

    origin: Origin
    reason: str
    low: float
    high: float
    sd: float = 0.0
    of: str = ""
    times: float = 1.0

    @property
    def assumed(self) -> bool:
        """True when nobody stated this number."""
        return self.origin is Origin.ASSUMED

    def at(self, value: Any) -> Given:
        """The same input with another value: what-if and uncertainty runs."""
        return replace(self, value=value)


def measured(key: str, label: str, value: float, kind: Kind, reason: str) -> Given:
    """A number somebody measured on site; `reason` says how."""
    return Given(key, label, value, kind, Origin.MEASURED, reason, value, value)


def stated(key: str, label: str, value: float, kind: Kind, reason: str = "") -> Given:
    """A number from a file the user wrote."""
    return Given(key, label, value, kind, Origin.FILE, reason, value, value)


def assumed(
    key: str, label: str, value: float, kind: Kind, reason: str, span: tuple[float, float]
) -> Given:
    """A number nobody gave: `reason` names the assumption, `span` what is plausible (SI)."""
    return Given(key, label, value, kind, Origin.ASSUMED, reason, *span)
