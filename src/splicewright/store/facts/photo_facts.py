"""Facts of measuring by photograph: what is to be measured, and what somebody made of it. SI."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal
from uuid import UUID

from pydantic import Field

from splicewright.quantities import Kind
from splicewright.store.facts.kinds import (
    Amount,
    Digest,
    Name,
    Number,
    Stream,
    Text,
    What,
    Words,
    fact_kind,
)

Shows = Literal["cut", "plates", "line", "holes", "gap", "edges"]
"""What the photographs show: a cut end, the row of plates of an end, the square line on a belt that
is not cut yet, the punched holes of an end, two ends that face each other, the belt's edges."""
SHOWN: dict[Shows, str] = {
    "line": "the square line, before the cut",
    "cut": "the cut belt end",
    "holes": "the punched holes of one end",
    "plates": "the plates of one end",
    "gap": "both ends: the gap between them, and edge against edge",
    "edges": "the belt's edges, worn or torn",
}
"""The same in words, in the order of the work."""
SHORT: dict[Shows, str] = {
    "line": "Square line",
    "cut": "Cut",
    "holes": "Holes",
    "plates": "Plates",
    "gap": "Gap and edges",
    "edges": "Edges",
}
"""The same for a heading, before "of the leading end"."""
WhichEnd = Literal["leading", "trailing"]
MOST_PHOTOGRAPHS = 6
"""Of one end: each takes its share of time and memory, and beyond a few they tell nothing new."""
_Plate = Annotated[int, Field(ge=1, le=1000)]
_Bar = Annotated[float, Field(gt=0, lt=1, allow_inf_nan=False)]
TAKEN = (
    "I have looked at the outline on the photograph. What I accept lies where I see it, and what I "
    "overrule I have measured. A photograph replaces no hold point and no acceptance check."
)
"""What is read by who signs for the values of a photograph."""


@dataclass(frozen=True, slots=True)
class ToMeasure:
    """That a photograph is to be measured, with what the crew read off the sheets.

    measuring : made by the phone; all photographs of one measuring carry it
    shows, end : what they show; photographs : how many belong together
    bar, cross_bar : printed bars as measured, None where not [m]
    reading : how far a reading of them may be off [m]
    """

    measuring: UUID
    shows: Shows
    end: WhichEnd
    bar: _Bar
    cross_bar: _Bar | None = None
    reading: Annotated[float, Field(gt=0, le=0.01, allow_inf_nan=False)] = 0.25e-3
    photographs: Annotated[int, Field(ge=1, le=MOST_PHOTOGRAPHS)] = 1


@dataclass(frozen=True, slots=True)
class ValueTaken:
    """What became of one value that a photograph proposed.

    key, label, measure : which; measured, half_width : as proposed, 95 % [SI]
    taken : what counts, None where it was set aside [SI]
    typed : as typed by who overruled it; "" where it was accepted or set aside
    """

    key: Name
    label: Name
    measure: Kind
    measured: Number
    half_width: Amount
    taken: Number | None
    typed: Text = ""


@fact_kind("photograph measured", None, signed=True)
@dataclass(frozen=True, slots=True)
class PhotographMeasured(What):
    """Somebody looked at what was measured in photographs, and signs for what they took of it.

    measuring : as in `ToMeasure`; step : of a job; inspection : of a joint
    document : digest of the kept measurement: photographs, sheets, outline, all values with their
        covariance, bars, version of the program
    missing : plates that seemed missing and that they confirm to be so
    standing : what the measurement said of its own standing; statement : what they read
    """

    of: Stream
    about: UUID
    measuring: UUID
    document: Digest
    values: Annotated[tuple[ValueTaken, ...], Field(max_length=200)]
    statement: Words
    standing: Text = ""
    version: Text = ""
    step: Text = ""
    inspection: UUID | None = None
    missing: Annotated[tuple[_Plate, ...], Field(max_length=1000)] = ()
