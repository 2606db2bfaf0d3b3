"""What use is counted in: running time, mass carried or turns of the belt."""

from __future__ import annotations

from enum import StrEnum

from splicewright.errors import BeyondError, Fault, InputError, UnitError
from splicewright.quantities import POLICY, Kind, read


class Measure(StrEnum):
    """What a life is counted in; SI inside: seconds, kilograms, turns."""

    TIME = "running time"
    MASS = "mass carried"
    TURNS = "turns of the belt"

    @property
    def kind(self) -> Kind:
        """How ages in this measure are read and shown."""
        kinds = {"TIME": Kind.RUN_TIME, "MASS": Kind.TONNAGE, "TURNS": Kind.TURNS}
        return kinds[self.name]


def read_use(text: str, key: str) -> tuple[float, Measure]:
    """Read an age or use; its unit says what it is counted in.

    Raises InputError: no number with a unit of running time, mass carried or turns, or not above
    zero.
    """
    for measure in Measure:
        try:
            value = read(text, measure.kind, key)
        except BeyondError:
            raise
        except UnitError:
            continue
        if value <= 0:
            raise InputError(Fault(key, f'"{text}" cannot be; accepted is more than zero'))
        return value, measure
    examples = ", ".join(POLICY[m.kind].example for m in Measure)
    raise InputError(Fault(key, f'"{text}" is no use; accepted is such as {examples}'))
