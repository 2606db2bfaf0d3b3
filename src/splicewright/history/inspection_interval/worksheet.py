"""How often to look, number by number: the worksheet that explains what was learnt and chosen."""

from __future__ import annotations

import math

from splicewright.history.inspection_interval.interval import (
    InspectionRule,
    inspection_cost,
    missed_if_delay_is_fixed,
    missed_if_delay_is_random,
    missed_if_delay_is_weibull,
)
from splicewright.history.inspection_interval.study import WhenToLook
from splicewright.history.pace import explain_pace
from splicewright.quantities import (
    Figure,
    Given,
    Kind,
    Record,
    Worksheet,
    assumed,
    measured,
    stated,
)

_LIKELY = (
    "the mean that makes the inspections on file most likely, λ being the best rate for it: a "
    "joint found damaged at an inspection s counts λ r ∫ q(u, s) S(c - u) du, one that failed λ "
    "r ∫ q (S(a - u) - S(b - u)) du or λ ∫ q f(e - u) du, each joint watched to T exp(-λ ∫ (1 - "
    "q(u, T) S(T - u)) du); u when damage began, q chance that the inspections since missed it, "
    "S share of longer delays"
)
_FROM_FINDING = (
    "use from the day damage was found to its failure, its mending or now, all added up, over the "
    "number that failed"
)
_BOUND = (
    "the {end} mean whose log-likelihood lies no more than χ²/2 of that confidence below the best"
)
_SURE = "every inspection is taken to find it; this was not measured"
_NOT_SURE = (
    "as stated with the question, or assumed where nothing was; not measured, and lower is the "
    "safe side"
)
_SHAPED = (
    "the law that makes the inspections on file most likely, clearly better than random delays"
)
_IN_DAYS = (
    "damage.between",
    "delay.low",
    "delay.mean",
    *(f"interval.{key}" for key in ("best", "low", "high", "half", "double", "short", "long")),
)
_LEAST = f"interval T at which {inspection_cost.text} is least, searched"


def record_of_looking(when: WhenToLook) -> Record:
    """Explain every number of an answer to how often to look.

    when : learnt from the register, or with rate and delay assumed, with a rule or without
    Returns a worksheet under the keys ``looks.*``, ``damage.*``, ``delay.*``, ``cost.*``,
    ``interval.*``; what is not known is not in it.
    """
    sheet = Worksheet()
    found = _chance_to_find(when)
    between, mean = _learnt(sheet, when, found)
    if when.rules is not None and when.costs is not None and when.delay is not None:
        if mean is None or between is None:
            between, mean = _taken(when)
        _rules(sheet, when, between, mean, found)
    explain_pace(sheet, when.pace, when.measure.kind, _IN_DAYS)
    return sheet.finish()


def _chance_to_find(when: WhenToLook) -> Given:
    return assumed(
        "looks.found",
        "chance that an inspection finds what is there",
        when.found,
        Kind.SHARE,
        _SURE if when.found == 1 else _NOT_SURE,
        (when.found, when.found),
    )


def _learnt(
    sheet: Worksheet, when: WhenToLook, found: Given
) -> tuple[Figure | None, Figure | None]:
    """What past inspections show; use between two damages and mean delay where they are known."""
    learnt, kind = when.learnt, when.measure.kind
    if learnt is None:
        return None, None
    where = "belt" if when.of_belts else "joint"
    watched = measured(
        "looks.watched",
        f"use of every {where} watched, added up",
        learnt.watched,
        kind,
        "from the register",
    )
    damages = measured(
        "looks.damages",
        "damages seen, or failed unseen",
        learnt.damages,
        Kind.COUNT,
        "counted in the register",
    )
    failures = measured(
        "looks.failures", "of these, failed", learnt.failures, Kind.COUNT, "counted in the register"
    )
    sure = assumed(
        "looks.confidence",
        "confidence of the limits",
        learnt.confidence,
        Kind.SHARE,
        "chosen by this tool",
        (learnt.confidence, learnt.confidence),
    )
    if not learnt.damages:
        return None, None
    text, rests = (
        (_FROM_FINDING, [watched, damages, failures])
        if when.of_belts
        else (_LIKELY, [watched, damages, failures, found])
    )
    source = "delay-looks"
    exposure: Figure = watched
    if not when.of_belts:
        wording = "use watched, less that in which damage may have begun and not be seen yet"
        exposure = sheet.found(
            "damage.exposure",
            "use in which damage would have been seen",
            learnt.exposure,
            kind,
            wording,
            [watched, found],
            source,
        )
    between = sheet.found(
        "damage.between",
        f"use from one new damage at one {where} to the next",
        1 / learnt.rate,
        kind,
        "that use over the number of damages: 1/λ",
        [exposure, damages],
        source,
    )
    ends = [*rests, sure]
    if learnt.low > 0:
        label = "mean delay at least" if not learnt.enough else "mean delay, lower limit"
        sheet.found(
            "delay.low",
            label,
            learnt.low,
            kind,
            _BOUND.format(end="smallest"),
            ends,
            "likelihood-ratio",
        )
    if not learnt.enough:
        return between, None
    mean = sheet.found(
        "delay.mean",
        "use from damage that can be seen to its failure, on average",
        learnt.mean,
        kind,
        text,
        rests,
        source,
    )
    if math.isfinite(learnt.high):
        sheet.found(
            "delay.high",
            "mean delay, upper limit",
            learnt.high,
            kind,
            _BOUND.format(end="largest"),
            ends,
            "likelihood-ratio",
        )
    law = learnt.law
    if law is not None and law.shape != 1.0:
        shape = sheet.found(
            "delay.shape",
            "shape of the delay law; 1 is random",
            law.shape,
            Kind.RATIO,
            _SHAPED,
            rests,
            source,
        )
        mean = sheet.found(
            "delay.used",
            "mean of that law, used for the interval",
            law.mean,
            kind,
            _SHAPED,
            [mean, shape],
            source,
        )
    return between, mean


def _taken(when: WhenToLook) -> tuple[Figure, Figure]:
    """Rate and delay that were assumed, for the register holds too little."""
    assert when.delay is not None  # a rule was worked with it
    why, kind = "as stated with the question, for the register holds too little", when.measure.kind
    between, mean = 1 / when.rate, when.delay.mean
    return (
        assumed(
            "damage.assumed",
            "use from one new damage to the next, assumed",
            between,
            kind,
            why,
            (between, between),
        ),
        assumed(
            "delay.assumed",
            "delay from what can be seen to the failure, assumed",
            mean,
            kind,
            why + ("; all delays alike" if when.fixed else ""),
            (mean, mean),
        ),
    )


def _rules(sheet: Worksheet, when: WhenToLook, between: Figure, mean: Figure, found: Given) -> None:
    """The interval, what it misses, and how far it moves."""
    costs, kind, rules = when.costs, when.measure.kind, when.rules
    assert costs is not None and rules is not None
    reason = "typed with the question"
    money = [
        stated(f"cost.{key}", label, value, Kind.RATIO, reason)
        for key, label, value in (
            ("look", "cost c_l of an inspection", costs.look),
            ("repair", "cost c_r of damage found in time", costs.repair),
            ("failure", "cost c_f of a failure", costs.failure),
        )
    ]
    rests = [between, mean, found, *money]

    def interval(key: str, label: str, rule: InspectionRule | None, parts: list[Figure]) -> None:
        if rule is not None and math.isfinite(rule.interval):
            sheet.found(f"interval.{key}", label, rule.interval, kind, _LEAST, parts, "delay-time")

    best = rules.stated
    interval("best", "inspect every", best, list(rests))
    if math.isfinite(best.interval):
        _missed(sheet, when, mean, found)
        for key, value in (("low", best.low), ("high", best.high)):
            if math.isfinite(value):
                sheet.found(
                    f"interval.{key}",
                    f"{key}est interval within 5 % of the least cost",
                    value,
                    kind,
                    "interval at which C is 1.05 times the least",
                    list(rests),
                    "delay-time",
                )
    interval("half", "inspect every, if a failure costs half", rules.half, list(rests))
    interval("double", "inspect every, if a failure costs double", rules.double, list(rests))
    for key, rule in (("short", when.at_low), ("long", when.at_high)):
        end = sheet.get("delay.low" if key == "short" else "delay.high")
        if end is not None:
            label = f"inspect every, if delays are as {key} as past inspections allow"
            interval(key, label, rule, [between, end, found, *money])


def _missed(sheet: Worksheet, when: WhenToLook, mean: Figure, found: Given) -> None:
    """Share of damages that fail before an inspection finds them, at the best interval."""
    best, law = sheet.get("interval.best"), when.delay
    assert best is not None and law is not None and when.rules is not None
    label = "share of damages that fail before an inspection finds them"
    if when.fixed:
        sheet.work("interval.missed", label, missed_if_delay_is_fixed, delay=mean, interval=best)
    elif law.shape == 1.0:
        sheet.work(
            "interval.missed",
            label,
            missed_if_delay_is_random,
            mean=mean,
            interval=best,
            found=found,
        )
    else:
        shape = sheet.get("delay.shape")
        assert shape is not None  # written with the mean of that law
        sheet.found(
            "interval.missed",
            label,
            when.rules.stated.missed,
            Kind.SHARE,
            missed_if_delay_is_weibull.text,
            [mean, shape, best, found],
            "delay-time",
        )
