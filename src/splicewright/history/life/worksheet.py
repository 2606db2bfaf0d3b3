"""How long joints live, number by number: the worksheet that explains it."""

from __future__ import annotations

import math

from splicewright.history.life.few_failures import held
from splicewright.history.life.limits import Limits, mean_shape_factor, median_shape_factor
from splicewright.history.life.study import NAMED, LifeStudy, Settled
from splicewright.history.life.weibull import age_of_share, mean_life
from splicewright.history.pace import explain_pace
from splicewright.plant.conveyor import slug
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
_POOLED = (
    "Weibull laws of all groups with one shape, and scales that scatter about one middle, weighed "
    "by likelihood and the belief stated beforehand"
)
_ONE = "(S(t) - S(t + u))/S(t) of each law drawn from what the lives leave open: mean, and range"
_KINDS = "ratio of the scales of both kinds at one common shape; limits by likelihood ratio"
_AHEAD = (
    "by each law drawn from what the lives leave open, joints of one law failing independently: "
    "{what}"
)


def record_of_life(study: LifeStudy) -> Record:
    """Explain every number of a study of lives.

    study : of lives, with a law or without
    Returns a worksheet under the keys ``lives.*``, ``law.*``, ``ahead.*``; what is not known is not
    in it.
    """
    sheet, kind = Worksheet(), study.measure.kind
    reason = "counted in the table or the register"
    number = measured("lives.number", "joints", study.number, Kind.COUNT, reason)
    failures = measured("lives.failures", "of these, failed", study.failures, Kind.COUNT, reason)
    longest = measured("lives.longest", "longest watched", study.longest, kind, reason)
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
        if study.failures > 2:  # two tell no bias, only that there is one
            for key, label, formula in (
                ("mean", "on average", mean_shape_factor),
                ("median", "half of all fits lie above", median_shape_factor),
            ):
                sheet.work(
                    f"law.bias_{key}",
                    f"fitted shape over the true one, {label}",
                    formula,
                    failures=failures,
                )
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
        count = len(study.outlooks)
        sheet.note(measured("ahead.running", "running joints", count, Kind.COUNT, reason))
        _outlooks(sheet, study, kind, parts)
    _groups(sheet, study, kind, rests)
    _held(sheet, study, failures)
    explain_pace(sheet, study.pace, kind)
    return sheet.finish()


def _held(sheet: Worksheet, study: LifeStudy, failures: Figure) -> None:
    """How often such limits held the truth in simulation, where that is told."""
    ends = held(study.failures, study.confidence) if study.settled is not None else None
    for key, value in zip(("least", "most"), ends or (), strict=False):
        sheet.found(
            f"limits.held_{key}",
            f"share of simulated records in which 90 % limits held the truth, at {key}",
            value,
            Kind.SHARE,
            "3000 records each of 6, 10 and 20 joints, none to seven in ten of them suspended",
            [failures],
        )


def _outlooks(sheet: Worksheet, study: LifeStudy, kind: Kind, parts: list[Figure]) -> None:
    """Every running joint that is named: its age, chance and what is left, with their ranges."""
    for n, one in enumerate(study.outlooks[:NAMED], 1):
        joint, key = one.record.life.joint, f"running.{n}"
        age = measured(f"{key}.age", f"{joint}: age", one.record.life.good, kind, "from the lives")
        own = [*parts, age]
        for name, label, span, value, of in (
            ("chance", "chance of failing", one.chance_range, one.chance, Kind.SHARE),
            ("half_left", "half fail within", one.half_range, one.half_left, kind),
        ):
            ends = (("low", span.low), ("high", span.high)) if span is not None else ()
            for end, amount in (("", value), *ends):
                if math.isfinite(amount):
                    called = f"{key}.{name}_{end}".rstrip("_")
                    wording = f"{joint}: {label}" + (f", {end}er end" if end else "")
                    sheet.found(called, wording, amount, of, _ONE, own, "meeker-escobar")


def _groups(sheet: Worksheet, study: LifeStudy, kind: Kind, rests: list[Figure]) -> None:
    """Each group with the others, alone, and all as one; kinds compared; causes counted."""
    for cause, times in study.causes:
        sheet.note(
            measured(
                f"causes.{slug(cause)}",
                f"failed by {cause}",
                times,
                Kind.COUNT,
                "counted in the table or the register",
            )
        )
    for group in study.groups:
        key = f"groups.{slug(group.name)}"
        number, failures = (
            measured(f"{key}.{tail}", f"{group.name}: {label}", value, Kind.COUNT, "counted")
            for tail, label, value in (
                ("number", "joints", group.number),
                ("failures", "of these, failed", group.failures),
            )
        )
        for tail, label, value, text, source in (
            ("tenth", "with the others", group.tenth, _POOLED, "weighed-laws"),
            (
                "tenth_low",
                "with the others, lower limit",
                group.tenth_limits.low,
                _POOLED,
                "weighed-laws",
            ),
            (
                "tenth_high",
                "with the others, upper limit",
                group.tenth_limits.high,
                _POOLED,
                "weighed-laws",
            ),
            ("alone", "by its own lives alone", group.alone, _LIKELY, "nist-weibull"),
            ("together", "by all as one", group.together, _LIKELY, "nist-weibull"),
        ):
            if math.isfinite(value):
                wording = f"{group.name}: one in ten fails by, {label}"
                here: list[Figure] = [number, failures]
                own = {"alone": here, "together": rests}.get(tail, [*rests, *here])
                sheet.found(f"{key}.{tail}", wording, value, kind, text, own, source)
    for n, pair in enumerate(study.comparisons, 1):
        if pair.result is not None:
            ratio = pair.result.ratio
            limits = pair.result.limits
            for end, value in (("", ratio), ("_low", limits.low), ("_high", limits.high)):
                if math.isfinite(value):
                    wording = f"how many times longer {pair.second} lives than {pair.first}"
                    wording += {"": "", "_low": ", lower limit", "_high": ", upper limit"}[end]
                    sheet.found(
                        f"kinds.{n}.ratio{end}",
                        wording,
                        value,
                        Kind.RATIO,
                        _KINDS,
                        rests,
                        "likelihood-ratio",
                    )


def _law(sheet: Worksheet, law: Settled, kind: Kind, rests: list[Figure], sure: Figure) -> None:
    shape = sheet.found(
        "law.shape", "shape β", law.law.shape, Kind.RATIO, _LIKELY, rests, "nist-weibull"
    )
    scale = sheet.found("law.scale", "scale η", law.law.scale, kind, _LIKELY, rests, "nist-weibull")
    sheet.work(
        "law.tenth",
        "one joint in ten fails by",
        age_of_share,
        kind,
        share=0.1,
        shape=shape,
        scale=scale,
    )
    sheet.work(
        "law.half",
        "half of the joints fail by",
        age_of_share,
        kind,
        share=0.5,
        shape=shape,
        scale=scale,
    )
    sheet.work("law.mean", "mean life", mean_life, kind, shape=shape, scale=scale)
    median, spread = law.lognormal
    for key, label, value, of in (
        ("median", "lognormal law: median", median, kind),
        ("spread", "lognormal law: standard deviation of ln age", spread, Kind.RATIO),
    ):
        sheet.found(f"law.lognormal_{key}", label, value, of, _LIKELY, rests, "nist-weibull")

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
