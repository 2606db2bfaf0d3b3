"""A figure as a range over everything assumed."""

from __future__ import annotations

from dataclasses import dataclass

from splicewright.quantities import Figure, System


@dataclass(frozen=True, slots=True)
class Spread:
    """Smallest, typical, largest."""

    low: Figure
    typical: Figure
    high: Figure

    @property
    def open(self) -> bool:
        """Whether the ends differ: False where the figure is stated or the same in every case."""
        return self.low.value != self.high.value

    def show(self, system: System = "metric") -> str:
        """The typical value and, behind it, the range."""
        low, typical, high = (f.show(system) for f in (self.low, self.typical, self.high))
        return f"{typical} ({low} to {high})" if self.open else typical


LEVELS = ("smallest", "typical", "largest")
"""How the three are named in keys."""
