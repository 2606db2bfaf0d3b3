"""How long joints live, number by number: the worksheet that explains it."""

from __future__ import annotations

import math

from splicewright.history.life.limits import Limits
from splicewright.history.life.study import LifeStudy, Settled
from splicewright.history.life.weibull import age_of_share, mean_life
from splicewright.quantities import Figure, Kind, Record, Worksheet, assumed, measured

_LIKELY = (
    "shape and scale that make the lives most likely: a failure at t counts h(t) S(t), a joint "
    "still good at t S(t), one that failed between a and b S(a) - S(b), each over S at the age "
    "at which its watch began"
)
_LIMIT = (
    "every law weighed by its likelihood and by shape^-(failed share) d(ln scale) d(ln shape); "
    "as much is left out below as above"
)
_AHEAD = (
    "by each law drawn from what the lives leave open, joints of one law failing independently: "
    "{what}"
)


def record_of_life(study: LifeStudy) -> Record:
    """Explain every number of a study of lives.

    Parameters
    ----------
    study : of lives, with a law or without

    Returns
    -------
    worksheet under the keys ``lives.*``, ``law.*``, ``ahead.*``; what is not known is not in it
    """
    sheet, kind = Worksheet(), study.measure.kind
    said = "counted in the table or the register"
    number = measured("lives.number", "joints", study.number, Kind.COUNT, said)
    failures = measured("lives.failures", "of these, failed", study.failures, Kind.COUNT, said)
    longest = measured("lives.longest", "longest watched", study.longest, kind, said)
    sure = assumed(
        "lives.confidence",
        "confidence of the limits",
        study.confidence,
        Kind.SHARE,
        "chosen by this tool or typed with the question",
        (study.confidence, study.confidence),
    )
    rests: list[Figure] = [number, failures, longest]
    if study.settled is not None:
        _law(sheet, study.settled, kind, rests, sure)
    elif study.at_least is not None:
        bound = study.at_least
        shape = assumed(
            "law.assumed_shape",
            "shape, assumed",
            bound.shape,
            Kind.RATIO,
            "the lives settle none",
            (bound.shape, bound.shape),
        )
        sheet.found(
            "law.at_least",
            "nine in ten live at least",
            bound.age_at(0.1),
            kind,
            "η (-ln 0.9)^(1/β), η at least (Σ(t^β - v^β)/q)^(1/β)",
            [*rests, shape, sure],
            "few-failures",
        )
    if study.outlooks:
        further = measured("ahead.further", "further use asked about", study.further, kind, "typed")
        parts = [*rests, further]
        sheet.found(
            "ahead.expected",
            "expected to fail within it",
            study.expected,
            Kind.RATIO,
            _AHEAD.format(what="mean number"),
            parts,
            "meeker-escobar",
        )
        if study.counts is not None:
            for key, value in (("low", study.counts.low), ("high", study.counts.high)):
                sheet.found(
                    f"ahead.{key}",
                    f"fail, {key}est nine times in ten",
                    value,
                    Kind.COUNT,
                    _AHEAD.format(what="middle of the counts"),
                    parts,
                    "meeker-escobar",
                )
    return sheet.finish()


def _law(sheet: Worksheet, law: Settled, kind: Kind, rests: list[Figure], sure: Figure) -> None:
    shape = sheet.found(
        "law.shape", "shape β", law.law.shape, Kind.RATIO, _LIKELY, rests, "nist-weibull"
    )
    scale = sheet.found("law.scale", "scale η", law.law.scale, kind, _LIKELY, rests, "nist-weibull")
    sheet.work(
        "law.tenth", "one joint in ten fails by", age_of_share, share=0.1, shape=shape, scale=scale
    )
    sheet.work(
        "law.half", "half of the joints fail by", age_of_share, share=0.5, shape=shape, scale=scale
    )
    sheet.work("law.mean", "mean life", mean_life, shape=shape, scale=scale)

    def ends(key: str, label: str, limits: Limits, of: Kind) -> None:
        for end, value in (("low", limits.low), ("high", limits.high)):
            if math.isfinite(value):
                sheet.found(
                    f"law.{key}_{end}",
                    f"{label}, {end}er limit",
                    value,
                    of,
                    _LIMIT,
                    [*rests, sure],
                    "weighed-laws",
                )

    ends("shape", "shape", law.shape, Kind.RATIO)
    ends("scale", "scale", law.scale, kind)
    ends("tenth", "one in ten fails by", law.tenth_limits, kind)
    ends("half", "half fail by", law.half_limits, kind)
    ends("mean", "mean life", law.mean_limits, kind)
