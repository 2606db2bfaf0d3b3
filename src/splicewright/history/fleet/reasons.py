"""Why a joint stands where it stands in the list of the fleet, in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from typing import Protocol

from splicewright.history.life.limits import Limits
from splicewright.quantities import Kind, Sentence, sentence


class Due(Protocol):
    """A task with its day."""

    @property
    def task(self) -> str:
        """What is to be done."""

    @property
    def due(self) -> date:
        """By when."""

    @property
    def why(self) -> str:
        """Who or what said so."""


def joint_reasons(
    must_not_run: bool,
    duties: Sequence[Due],
    today: date,
    until: date,
    use: Kind,
    chance: float,
    span: Limits | None,
    age: float,
    left: float,
    middle: float,
    stands: date | None,
    has_run: bool,
    half_by: date | None,
    middle_by: date | None,
) -> tuple[Sentence, ...]:
    """Say why, the most pressing first.

    must_not_run : the last inspection found that
    duties : what is due at the joint
    today, until : now, and the next planned stop
    use : what ages are counted in
    chance : of failing before the stop [0..1]; nan where not known
    span : range of that chance; None where not known
    age, left : use by now, and that within which half of such joints fail; nan beyond the records
    middle : age by which half of the joints of that conveyor have failed; nan beyond the records
    stands : since when it stands in the belt; None while it runs
    has_run : it has been put to work
    half_by : the day of `left`; None where it is not known
    middle_by : the day on which a joint put to work today comes to `middle`; None where not known
    """
    reasons = []
    if must_not_run:
        reasons.append(sentence("the last inspection found that it must not run"))
    if stands is not None:
        reasons.append(sentence(f"stopped since {stands}: decide whether it runs again"))
    for duty in sorted(duties, key=lambda d: d.due):
        when = "since" if duty.due < today else "on"
        by = f": {duty.why}" if duty.why else ""
        if duty.due <= until:
            reasons.append(sentence(f"{duty.task} due {when} {duty.due}{by}"))
    if not has_run:
        reasons.append(sentence("has not run yet"))
    if math.isfinite(chance):
        beyond = "longer than the records show"
        day = f" (to {half_by})" if half_by is not None else ""
        more = f"another {{left}}{day}" if math.isfinite(left) else beyond
        new = "{middle}" if math.isfinite(middle) else beyond
        new += f" (to {middle_by})" if middle_by is not None and math.isfinite(middle) else ""
        between = " ({low} to {high})" if span else ""
        ends = {"low": (span.low, Kind.SHARE), "high": (span.high, Kind.SHARE)} if span else {}
        reasons.append(
            sentence(
                f"{{chance}} chance of failure before {until}{between}; has run {{age}}; half of "
                f"joints this old last {more}, half of new joints {new}",
                chance=(chance, Kind.SHARE),
                age=(age, use),
                middle=(middle, use),
                left=(left, use),
                **ends,
            )
        )
    return tuple(reasons)
