"""What was measured beside what was predicted: difference, and what the uncertainties explain.

Both numbers stand with their kind. A prediction whose own range is not known is held against the
measurement's uncertainty alone, and the answer says so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from splicewright.errors import Fault, InputError
from splicewright.history.wear.limit_met import forecast_wear
from splicewright.history.wear.study import Series
from splicewright.quantities import Kind, formula


class Agreement(StrEnum):
    """What a comparison says; never that a prediction is right."""

    EXPLAINED = "explained"
    """The difference lies within the uncertainties."""
    MORE = "more than predicted"
    """Measured is more than the uncertainties explain."""
    LESS = "less than predicted"
    WITHIN = "within the bound"
    """A bound was predicted, not a likely value, and it was kept."""
    BEYOND = "beyond the bound"
    OPEN = "no uncertainty stated"
    """Without one nothing can be told but the difference."""


@formula(
    "E = d/√(U_m² + U_p²)",
    gives=("E", Kind.RATIO),
    symbols={"difference": "d", "measured": "U_m", "predicted": "U_p"},
    source="score",
    limits="both uncertainties as half widths that hold about 95 %; independent of each other",
)
def score(difference: float, measured: float, predicted: float) -> float:
    """Difference counted in the uncertainties of both sides; within -1 and 1 it is explained.

    Parameters
    ----------
    difference : measured less predicted
    measured, predicted : half widths that hold about 95 %, in the same unit; 0 where unknown
    """
    both = math.hypot(measured, predicted)
    if both == 0:
        return 0.0 if difference == 0 else math.copysign(math.inf, difference)
    return difference / both


@dataclass(frozen=True, slots=True)
class Compared:
    """One measured value and its prediction.

    what, label : key or place, and in words
    kind : of both values
    predicted, measured : [SI]
    half_width : from the prediction to the end of its range on the side of what was measured [SI];
        None where it is not known
    uncertainty : half width of the measurement that holds about 95 % [SI]; None where not stated
    bound : "largest" or "least" where the prediction is a bound; "" where it is a likely value
    note : what was written beside the value
    """

    what: str
    label: str
    kind: Kind
    predicted: float
    measured: float
    half_width: float | None = None
    uncertainty: float | None = None
    bound: str = ""
    note: str = ""

    @property
    def difference(self) -> float:
        """Measured less predicted [SI]."""
        return self.measured - self.predicted

    @property
    def score(self) -> float | None:
        """Difference over the uncertainties; None where none is known."""
        if self.uncertainty is None and self.half_width is None:
            return None
        return score(self.difference, self.uncertainty or 0.0, self.half_width or 0.0)

    @property
    def verdict(self) -> Agreement:
        """What the comparison says."""
        ratio = self.score
        if self.bound:
            beyond = self.difference if self.bound == "largest" else -self.difference
            # The measurement's own uncertainty is at its bad end: it must not excuse a breach.
            kept = beyond + (self.uncertainty or 0.0) <= 0
            return Agreement.WITHIN if kept else Agreement.BEYOND
        if ratio is None:
            return Agreement.OPEN
        if abs(ratio) <= 1:
            return Agreement.EXPLAINED
        return Agreement.MORE if ratio > 0 else Agreement.LESS


def compare_wear(
    before: Sequence[Series], after: Sequence[Series], gauge: float = 0.0, confidence: float = 0.95
) -> tuple[Compared, ...]:
    """Later readings beside what the earlier ones of the same place led to expect.

    The range about the prediction is that of one further reading: the gauge's scatter is in it.

    before : places with the readings the prediction may know
    after : places with later readings, all beyond the last use of `before`
    gauge : standard deviation of the gauge [m]; the range is never narrower
    confidence : of the range [0..1]
    Raises InputError: a place without earlier readings or with too few for a range; a reading that
    is not later.
    """
    known = {one.place: one for one in before}
    comparisons: list[Compared] = []
    for late in after:
        early = known.get(late.place)
        if early is None:
            wording = f"has no earlier readings; there are: {', '.join(known) or 'none'}"
            raise InputError(Fault(late.place, wording))
        last = max(r.use for r in early.readings)
        forecast = forecast_wear(
            early.readings,
            early.limit,
            place=early.place,
            start=early.new,
            gauge_error=gauge,
            confidence=confidence,
        )
        for reading in late.readings:
            label = f"{late.place}, {reading.label}"
            if reading.use <= last:
                wording = (
                    "is not later than the readings the prediction rests on; leave it out of one"
                )
                raise InputError(Fault(label, wording))
            low, high = forecast.next_reading(reading.use)
            middle, half = (low + high) / 2, (high - low) / 2
            comparisons.append(
                Compared(late.place, label, Kind.LENGTH, middle, reading.value, half)
            )
    return tuple(comparisons)
