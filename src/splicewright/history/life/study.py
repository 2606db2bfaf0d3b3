"""What the lives of joints say: law, limits, kinds beside each other, who fails next.

Nothing is printed that the lives do not settle: with too few failures a lower bound for an
assumed shape, or a life that leans on a stated belief, stands in its place and says so.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from splicewright.errors import InputError
from splicewright.history.arrays import Array
from splicewright.history.life.comparison import (
    KindComparison,
    compare_kinds,
    compare_laws,
    largest_gap,
)
from splicewright.history.life.draws import (
    CONFIDENCE,
    count_law_over,
    laws_for,
    range_of_count,
    ranges_of,
)
from splicewright.history.life.few_failures import (
    WeighedLaws,
    failing_by,
    held_words,
    mean_of_laws,
    scale_of,
    shape_of,
    weigh_laws,
)
from splicewright.history.life.limits import Limits, scale_at_least, shape_bias
from splicewright.history.life.lives import Life, Lives, for_cause, gather
from splicewright.history.life.pooling import Pooling, Prior, pool_groups
from splicewright.history.life.pooling_fleet import pool_many
from splicewright.history.life.survival import kaplan_meier, turnbull
from splicewright.history.life.weibull import Weibull, WeibullFit, fit_weibull
from splicewright.history.pace import Pace, day_when, pace_of
from splicewright.quantities import percent
from splicewright.quantities.measure import Measure

ASSUMED_SHAPE = 2.0
NAMED = 40
"""Running joints that are printed one by one, most likely to fail first."""
_POINTS = 21
FEWEST_TO_PROVE = 3
"""Failures below which a shape is told, but proves nothing (assumption of this tool)."""
TWO_FAILURES = (
    "two failures only: the law hangs on two ages, and limits this wide say little more than that"
)


@dataclass(frozen=True, slots=True)
class Record:
    """A joint's life and where it belongs.

    Attributes
    ----------
    life : what is known of it
    kind : of joint
    conveyor : it is or was on
    running : it is still in the belt
    count : how many joints alike it stands for
    per_day : use a day, by the meter; nan where not known [measure]
    """

    life: Life
    kind: str = ""
    conveyor: str = ""
    running: bool = False
    count: int = 1
    per_day: float = math.nan


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """Share still good at an age by the fitted law, with its limits."""

    age: float
    good: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Settled:
    """The law that the lives settle, each number with its limits.

    Attributes
    ----------
    law : most likely Weibull law
    shape, scale : limits
    tenth, half : age by which 10 and 50 % have failed
    tenth_limits, half_limits, mean_limits : limits of these and of the mean life
    bias : what few failures do to the shape, in words; a warning with two
    laws : the Weibull law beside others, in words
    lognormal : median, and standard deviation of ln age, of the most likely lognormal law
    fit : how well the law follows the lives, in words
    held : in how many simulated records such limits held the truth, in words
    curve : share still good over age
    """

    law: Weibull
    shape: Limits
    scale: Limits
    tenth: float
    tenth_limits: Limits
    half: float
    half_limits: Limits
    mean_limits: Limits
    bias: str
    laws: str
    lognormal: tuple[float, float]
    fit: str
    held: str
    curve: tuple[CurvePoint, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """The law-free staircase: share still good from this age on, with limits (nan if none)."""

    age: float
    good: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Group:
    """A kind or a conveyor: its own failures, and its life as it leans on the others.

    Attributes
    ----------
    name : of the group
    failures, number : in it
    tenth, tenth_limits : age by which 10 % are expected to have failed, with the others
    alone, together : the same from its own lives, and from all as one; nan where not settled
    pace : of its running joints, to turn ages into dates; None where not known
    """

    name: str
    failures: int
    number: int
    tenth: float
    tenth_limits: Limits
    alone: float
    together: float
    pace: Pace | None = None


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two kinds beside each other, or why they cannot be compared."""

    first: str
    second: str
    result: KindComparison | None
    why_not: str


@dataclass(frozen=True, slots=True)
class Outlook:
    """A joint still running: its chance of failing within the further use asked about.

    `half_left` is the further use by which half of such joints are expected to have failed; nan
    beyond the first `NAMED`, which are all that is printed. `chance_range` and `half_range` hold
    them with 90 %, as far as the records tell.
    """

    record: Record
    chance: float
    half_left: float
    chance_range: Limits | None = None
    half_range: Limits | None = None


@dataclass(frozen=True)
class LifeStudy:
    """All that the lives say.

    Attributes
    ----------
    name : of the fleet or file
    number, failures : joints, and how many failed of the cause studied
    causes : how many failed of each cause, most first
    cause : the one studied, empty for any
    measure, confidence : of ages and limits
    settled : the law, or None; `why_not` then says what is missing
    at_least : lower bound of life at the assumed shape, where no law is settled
    steps : the staircase; empty without failures
    between : some failures are known only between two looks
    groups_by : "conveyor" or "kind"; empty without groups
    groups, comparisons, outlooks : worst first
    longest : age to which any joint was watched [measure]
    further : further use the outlooks are for [measure]; 0 when not asked
    belief : what was believed beforehand, in words; empty where nothing leans on it
    invented : the lives are
    notes : what was assumed or left out on the way, to be told with the answer
    counts : failures within the further use lie between these nine times in ten; None if not asked
    today : day from which use turns into dates; None where ages have no calendar
    pace : of all running joints; None where it is not known of each
    """

    name: str
    number: int
    failures: int
    causes: tuple[tuple[str, int], ...]
    cause: str
    measure: Measure
    confidence: float
    settled: Settled | None
    why_not: str
    at_least: Weibull | None
    steps: tuple[Step, ...]
    between: bool
    groups_by: str
    groups: tuple[Group, ...]
    comparisons: tuple[Comparison, ...]
    longest: float
    further: float
    outlooks: tuple[Outlook, ...]
    belief: str
    invented: bool = False
    notes: tuple[str, ...] = ()
    counts: Limits | None = None
    today: date | None = None
    pace: Pace | None = None

    def day(self, record: Record, further: float) -> date | None:
        """The day by which a joint has run so much more; None where that is not known."""
        return day_when(self.today, further, record.per_day) if self.today is not None else None

    @property
    def expected(self) -> float:
        """Mean number of the running joints that fail within the further use."""
        return math.fsum(o.chance * o.record.count for o in self.outlooks)

    @property
    def running(self) -> int:
        """How many joints run of which an outlook is given."""
        return sum(o.record.count for o in self.outlooks)


def study_life(
    records: Sequence[Record],
    *,
    name: str = "",
    cause: str = "",
    by: str = "",
    further: float = 0.0,
    confidence: float = 0.9,
    shape: float = ASSUMED_SHAPE,
    test_fit: bool = True,
    invented: bool = False,
    notes: Sequence[str] = (),
    today: date | None = None,
) -> LifeStudy:
    """Study the lives of joints.

    Parameters
    ----------
    records : the joints
    name : of the fleet or file
    cause : count only this one as failure; empty counts any
    by : "conveyor" or "kind": the groups that lean on each other; conveyors where left out
        and there are several
    further : use over which the running joints are looked at [measure]
    confidence : of all limits [0..1]
    shape : assumed where the lives settle none, and the middle of the belief beforehand [1]
    test_fit : draw the law, its limits over age and the test of its fit; without them it is quick
    invented : the lives are
    notes : what was assumed or left out on the way
    today : day from which use turns into dates; None where ages have no calendar

    Raises
    ------
    InputError
        Ages that cannot be, or values out of range.
    """
    used: Sequence[Record] = records
    if cause:
        kept = for_cause([r.life for r in records], cause)
        used = [replace(r, life=k) for k, r in zip(kept, records, strict=True)]
    lives = _gathered(used)
    settled, why = _settle(lives, confidence, test_fit=test_fit)
    by, grouped = _grouped(used, by)
    belief = Prior(shape=shape)
    asked = further > 0 and any(r.running for r in used)
    pooling = None
    if lives.failures and len(grouped) > 1:
        pooling = pool_groups({n: _gathered(rs) for n, rs in grouped.items()}, belief)
    outlooks: tuple[Outlook, ...] = ()
    counts = None
    if lives.failures and asked:
        outlooks, counts = _outlooks(grouped, further, belief)
    causes = Counter[str]()
    for r in records:
        if r.life.failed:
            causes[r.life.cause or "not stated"] += r.count
    return LifeStudy(
        name,
        lives.number,
        lives.failures,
        tuple(causes.most_common()),
        cause,
        lives.measure,
        confidence,
        settled,
        why,
        None if settled else scale_at_least(lives, shape, confidence),
        _steps(lives, confidence),
        bool(lives.between.any()),
        by if len(grouped) > 1 else "",
        _groups(pooling, grouped, today, confidence) if pooling and len(grouped) > 1 else (),
        _comparisons(used, confidence),
        _longest(lives),
        further,
        outlooks,
        belief.sentence if pooling or outlooks else "",
        invented,
        tuple(notes),
        counts,
        today,
        _pace(used, today),
    )


def _gathered(records: Sequence[Record]) -> Lives:
    return gather([r.life for r in records], [r.count for r in records])


def _longest(lives: Lives) -> float:
    seen = [a for a in (*lives.good, *lives.bad) if math.isfinite(a)]
    return float(max(seen))


def _settle(lives: Lives, confidence: float, *, test_fit: bool) -> tuple[Settled | None, str]:
    try:
        fit = fit_weibull(lives)
    except InputError as error:
        return None, error.faults[0].sentence
    laws = weigh_laws(fit)
    failures, law = lives.failures, fit.law
    fit_test = _tested(fit) if test_fit else ""
    curve = _curve(laws, law, lives, confidence) if test_fit else ()
    others = compare_laws(fit)
    bias = shape_bias(failures) if failures >= FEWEST_TO_PROVE else TWO_FAILURES
    return Settled(
        law,
        laws.limits(shape_of, confidence),
        laws.age_limits(scale_of, confidence),
        law.age_at(0.1),
        laws.age_limits(failing_by(0.1), confidence),
        law.age_at(0.5),
        laws.age_limits(failing_by(0.5), confidence),
        laws.age_limits(mean_of_laws, confidence),
        bias,
        others.sentence,
        (others.median, others.spread),
        fit_test,
        held_words(failures, confidence),
        curve,
    ), ""


def _tested(fit: WeibullFit) -> str:
    try:
        gap = largest_gap(fit)
    except InputError:
        return "how well the law follows these lives is to be seen in the plot; no test covers them"
    follows = "follows" if gap.chance > 0.1 else "does not follow"
    return (
        f"the law {follows} the lives: a gap as large as theirs ({percent(gap.size)}) comes up by "
        f"chance in {percent(gap.chance)} of {gap.runs} sets drawn from the law"
    )


def _curve(
    laws: WeighedLaws, law: Weibull, lives: Lives, confidence: float
) -> tuple[CurvePoint, ...]:
    end = 1.08 * max(float(lives.good.max()), law.age_at(0.5))
    points = [CurvePoint(0.0, 1.0, 1.0, 1.0)]
    for i in range(1, _POINTS):
        age = end * i / (_POINTS - 1)
        limits = laws.limits(_good_at(age), confidence)
        points.append(CurvePoint(age, float(law.good(age)), limits.low, min(limits.high, 1.0)))
    return tuple(points)


def _good_at(age: float) -> Callable[[Array, Array], Array]:
    return lambda shape, scale: np.exp(-((age / scale) ** shape))


def _steps(lives: Lives, confidence: float) -> tuple[Step, ...]:
    if not lives.failures:
        return ()
    if not lives.between.any():
        s = kaplan_meier(lives, confidence)
        return tuple(
            Step(*map(float, four)) for four in zip(s.age, s.good, s.low, s.high, strict=True)
        )
    try:
        bands = turnbull(lives)
    except InputError:
        return ()
    ends = [float(a) for a in bands.high if math.isfinite(a)]
    return tuple(Step(a, bands.good_range(a)[0], math.nan, math.nan) for a in ends)


def _grouped(records: Sequence[Record], by: str) -> tuple[str, Mapping[str, list[Record]]]:
    by = by or ("conveyor" if len({r.conveyor for r in records}) > 1 else "kind")
    groups: dict[str, list[Record]] = {}
    for r in records:
        groups.setdefault(getattr(r, by) or "not stated", []).append(r)
    return by, groups


def _pace(records: Sequence[Record], today: date | None) -> Pace | None:
    """Pace of the joints that run, or of all where none does."""
    running = [r for r in records if r.running]
    return pace_of(today, (r.per_day for r in running or records))


def _groups(
    pooling: Pooling, grouped: Mapping[str, Sequence[Record]], today: date | None, confidence: float
) -> tuple[Group, ...]:
    groups = [
        Group(
            g.name,
            g.failures,
            g.number,
            g.life.age_at(0.1),
            g.life.age_limits(0.1, confidence),
            g.alone.age_at(0.1) if g.alone else math.nan,
            g.together.age_at(0.1) if g.together else math.nan,
            _pace(grouped[g.name], today),
        )
        for g in pooling.groups
    ]
    return tuple(sorted(groups, key=lambda g: g.tenth))


def _comparisons(records: Sequence[Record], confidence: float) -> tuple[Comparison, ...]:
    kinds = list(dict.fromkeys(r.kind for r in records if r.kind))
    comparisons = []
    for first, second in itertools.combinations(kinds[:4], 2):
        one, other = (_gathered([r for r in records if r.kind == k]) for k in (first, second))
        try:
            comparisons.append(Comparison(first, second, compare_kinds(one, other, confidence), ""))
        except InputError as error:
            comparisons.append(Comparison(first, second, None, error.faults[0].sentence))
    return tuple(comparisons)


def _outlooks(
    grouped: Mapping[str, Sequence[Record]], further: float, belief: Prior
) -> tuple[tuple[Outlook, ...], Limits]:
    """Every running joint, most likely to fail first, and the range of how many fail."""
    fleet = pool_many({n: _gathered(rs) for n, rs in grouped.items()}, belief)
    runs = [(k, r) for k, rs in enumerate(grouped.values()) for r in rs if r.running]
    group = np.array([k for k, _ in runs], dtype=np.intp)
    ages = np.array([r.life.good for _, r in runs])
    laws = fleet.draws(laws_for(ages.size))
    by_law = laws.chance_of_failing(group, ages, np.full(ages.size, further))
    chance = by_law.mean(axis=0)
    low, high = ranges_of(by_law)
    order = np.argsort(-chance, kind="stable")
    first = order[:NAMED]
    half = fleet.age_left(group[first], ages[first], 0.5)
    sooner, later = ranges_of(laws.age_left(group[first], ages[first], 0.5))
    outlooks = []
    for n, k in enumerate(order):
        span = Limits(float(low[k]), float(high[k]), CONFIDENCE)
        if n < NAMED:
            left = Limits(float(sooner[n]), float(later[n]), CONFIDENCE)
            outlooks.append(Outlook(runs[k][1], float(chance[k]), float(half[n]), span, left))
        else:
            outlooks.append(Outlook(runs[k][1], float(chance[k]), math.nan, span))
    alike = np.array([r.count for _, r in runs])
    return tuple(outlooks), range_of_count(count_law_over(by_law, alike))
