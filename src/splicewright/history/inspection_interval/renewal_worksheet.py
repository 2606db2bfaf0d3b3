"""When to renew, number by number: the worksheet that explains it."""

from __future__ import annotations

import math

from splicewright.history.inspection_interval.study import WhenToRenew
from splicewright.history.pace import explain_pace
from splicewright.quantities import Figure, Kind, Record, Worksheet, assumed, measured, stated

_LEAST = (
    "age T at which (c_p S(T) + c_f (1 - S(T)))/∫S dt from 0 to T is least, averaged over the laws "
    "that the lives leave open, searched"
)
_SAVES = "1 - cost at that age/cost of running to failure, both a unit of use"
_RANGE = "the same age by each law that the lives leave open: the middle nine tenths of them"


def record_of_renewing(when: WhenToRenew) -> Record:
    """Explain every number of an answer to when to renew.

    when : with a rule; without one the worksheet is empty
    Returns a worksheet under the keys ``cost.*`` and ``renewal.*``.
    """
    sheet, rules, kind = Worksheet(), when.rules, when.measure.kind
    if rules is None:
        return sheet.finish()
    reason = "typed with the question"
    costs: list[Figure] = [
        stated("cost.planned", "cost c_p of a planned renewal", when.planned, Kind.RATIO, reason),
        stated("cost.failure", "cost c_f of a failure", when.failure, Kind.RATIO, reason),
    ]
    if when.counted is not None:
        costs += [
            measured(f"lives.{key}", label, number, Kind.COUNT, "counted in the lives")
            for key, label, number in zip(
                ("failures", "number"), ("joints failed", "joints"), when.counted, strict=True
            )
        ]

    if when.prior is not None:
        ends = when.prior.shape_ends
        why = "assumption of this tool; 95 % of the belief lies between the ends"
        label = "shape believed beforehand"
        costs.append(assumed("belief.shape", label, when.prior.shape, Kind.RATIO, why, ends))
        for key, end in zip(("low", "high"), ends, strict=True):
            sheet.note(stated(f"belief.{key}", f"{label}, {key}er end", end, Kind.RATIO, why))

    def age(key: str, label: str, value: float, text: str = _LEAST) -> None:
        if math.isfinite(value):
            sheet.found(f"renewal.{key}", label, value, kind, text, costs, "age-renewal")

    age("age", f"renew at; the law rests on {when.known}", rules.stated.age)
    if math.isfinite(rules.stated.age):
        age("low", "lowest age within 5 % of the least cost", rules.stated.low)
        age("high", "highest age within 5 % of the least cost", rules.stated.high)
        sheet.found(
            "renewal.saving",
            "share of the cost that renewing in time saves",
            rules.stated.saving,
            Kind.SHARE,
            _SAVES,
            costs,
            "age-renewal",
        )
    age("half", "renew at, if a failure costs half", rules.half.age)
    age("double", "renew at, if a failure costs double", rules.double.age)
    if when.ages is not None:
        age("from", "the cheapest age may be as low as", when.ages.low, _RANGE)
        age("to", "the cheapest age may be as high as", when.ages.high, _RANGE)
    if when.savings is not None:
        for key, value in (("least", when.savings.low), ("most", when.savings.high)):
            sheet.found(
                f"renewal.saves_{key}",
                f"saves at {key}",
                value,
                Kind.SHARE,
                _SAVES,
                costs,
                "age-renewal",
            )
    explain_pace(sheet, when.pace, kind)
    return sheet.finish()
