"""Wear of covers, plates, loops and pins: when the limit is met, and which place goes first.

Readings of a belt fall and rise from look to look, for the spot is never quite the same;
nothing is clipped or dropped here. A reading far from the line counts less and is named.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.life.limits import check_confidence
from splicewright.history.wear.bending import Bend, Course, judge_bend
from splicewright.history.wear.curve import draw_ends
from splicewright.history.wear.line import Line, fit_line_from, fit_robust_line
from splicewright.quantities.measure import Measure

_UNIT_JUMPS = ((25.4, "inches and millimetres"), (1000.0, "metres and millimetres"))


@dataclass(frozen=True, slots=True)
class Reading:
    """One measurement at one place.

    Attributes
    ----------
    use : meter total when it was taken [measure]
    value : what was read, a thickness left or a depth worn [m]
    label : its date or number, to name it by
    checked : it was looked at again and is right, whatever it jumps by
    """

    use: float
    value: float
    label: str = ""
    checked: bool = False


@dataclass(frozen=True, slots=True)
class WildReading:
    """A reading that lies far from the line: counted less, and named.

    Attributes
    ----------
    reading : the reading itself
    expected : height of the line there [m]
    spreads : its distance from the line in robust spreads [1]
    """

    reading: Reading
    expected: float
    spreads: float


@dataclass(frozen=True, slots=True)
class WearForecast:
    """When one place meets its limit.

    Attributes
    ----------
    place : its name
    limit : value at which it is worn out [m]
    now : use at the last reading [measure]
    line : the fitted line; None with a single reading and no known start
    likely : use at which the line meets the limit, or sooner a curve where wear is sure to speed
        up (`by_curve`); inf if it never does [measure]
    earliest, latest : the same from the band of `confidence`; `earliest` is never before
        `now` unless the limit is already met, `latest` is inf where no end can be given
    met : the line has reached the limit by the last reading
    wild : readings that lie far off
    confidence : of the band [0..1]
    measure : what use is counted in
    sentence : the answer, or why there is none
    bend : whether a curve that levels off or speeds up describes the readings better, and where
        it meets the limit; None where not even a line can be drawn
    """

    place: str
    limit: float
    now: float
    line: Line | None
    likely: float
    earliest: float
    latest: float
    met: bool
    wild: tuple[WildReading, ...]
    confidence: float
    measure: Measure
    sentence: str
    bend: Bend | None = None

    @property
    def by_curve(self) -> bool:
        """Whether the ends are those of a curve that speeds up, not of the line."""
        bend = self.bend
        return bend is not None and bend.course is Course.SPEEDS and self.likely == bend.likely

    @property
    def left(self) -> float:
        """Use left to the likely end [measure]; zero when the limit is met."""
        return max(0.0, self.likely - self.now)

    def next_reading(self, use: float) -> tuple[float, float]:
        """Range in which the next reading at `use` should lie [m].

        Raises
        ------
        InputError
            Too few readings to give a spread.
        """
        if self.line is None or self.line.freedom <= 1e-9:
            raise InputError(
                Fault(self.place, "has too few readings to say where the next one should lie")
            )
        half = self.line.half_width(use, self.confidence, reading=True)
        return self.line.at(use) - half, self.line.at(use) + half


def forecast_wear(
    readings: Sequence[Reading],
    limit: float,
    *,
    place: str = "place",
    start: float | None = None,
    gauge_error: float = 0.0,
    confidence: float = 0.9,
    measure: Measure = Measure.TIME,
) -> WearForecast:
    """Forecast when wear at one place meets its limit.

    A robust line is drawn through the readings against use; the limit may be met wherever the
    band of one further reading holds it, for it is judged on a reading. The earlier end is
    the safe side for planning.

    Parameters
    ----------
    readings : in the order they were taken
    limit : value at which the place is worn out [m]
    start : value at use 0 when it is known for sure, such as the new thickness [m]; the line
        then begins there, which lets a single reading give a rate
    gauge_error : standard deviation of the gauge itself [m]
    confidence : of the band [0..1]
    measure : what use is counted in

    Whether the readings bend is judged beside the line. Where wear speeds up for sure the ends are
    those of the curve, the safe side; where it levels off the line's ends stay, the safe side too.

    Limits: wear goes on as it has; a new material, speed or scraper makes it void. Readings that
    agree better than they were rounded are given the error of their rounding.

    Raises
    ------
    InputError
        No reading, values or uses that cannot be, use that runs backwards, or values that
        jump as with a changed unit and are not marked as checked.
    """
    check_confidence(confidence)
    _check(readings, limit, start, place)
    use = np.array([r.use for r in readings])
    value = np.array([r.value for r in readings])
    rounding = _rounding_error(value)
    now = float(use[-1])
    wild: tuple[WildReading, ...] = ()
    if start is not None and use.max() > 0:
        line = fit_line_from(start, use, value)
    elif np.unique(use).size > 1:
        robust = fit_robust_line(use, value, max(gauge_error, rounding))
        line = robust.line
        wild = tuple(
            WildReading(readings[i], line.at(readings[i].use), float(robust.far[i]))
            for i in robust.wild
        )
    else:
        sentence = (
            "one use only has been read: wear shows from the second on, or from a known new value"
        )
        return WearForecast(
            place,
            limit,
            now,
            None,
            math.inf,
            now,
            math.inf,
            False,
            wild,
            confidence,
            measure,
            sentence,
        )
    line = _with_gauge(line, gauge_error, rounding)
    first = line.at(0.0) if start is None else start
    falling = limit < first
    met = (line.at(now) <= limit) if falling else (line.at(now) >= limit)
    toward = (line.slope < 0) == falling and line.slope != 0
    likely = line.meets(limit) if toward or met else math.inf
    earliest, latest = now, math.inf
    if line.freedom > 1e-9:
        earliest, latest = line.meets_between(limit, confidence, reading=True)
        if not toward and not met:
            latest = math.inf
    if met:
        earliest = min(earliest, now)
    else:  # the line has not met the limit yet, so the meeting lies ahead
        earliest, latest = max(min(earliest, likely), now), max(latest, likely, now)
    sentence = _in_words(line, met, toward, latest, len(wild))
    bend = judge_bend(
        use, value, limit, start=start, error=max(gauge_error, rounding), confidence=confidence
    )
    if bend.course is Course.SPEEDS and not met and bend.likely < likely:
        likely, earliest, latest = bend.likely, bend.earliest, bend.latest
        sentence = "wear speeds up; the limit is met sooner than by a line"
    return WearForecast(
        place,
        limit,
        now,
        line,
        likely,
        earliest,
        latest,
        met,
        wild,
        confidence,
        measure,
        sentence,
        bend,
    )


@dataclass(frozen=True, slots=True)
class Turn:
    """One place in the order in which they are worn out.

    Attributes
    ----------
    forecast : of the place
    chance_first : that it is the first of all to meet its limit [0..1]
    """

    forecast: WearForecast
    chance_first: float


def which_goes_first(
    places: Mapping[str, WearForecast], draws: int = 10_000, seed: int = 1
) -> tuple[Turn, ...]:
    """Put places in the order in which they meet their limits, the first one first.

    The chance of being first is drawn from the doubt of each line (Student's t about its
    intercept and slope); a place with too few readings to have a spread is taken at its line.
    Wear that speeds up is counted by its curve.

    Parameters
    ----------
    places : name -> its forecast, all in one measure
    draws : number of draws; the chance has an error of sqrt(p (1 - p)/draws)
    seed : of the draws
    """
    if not places:
        raise InputError(Fault("places", "there are none; give at least one place's forecast"))
    if len({f.measure for f in places.values()}) > 1:
        raise InputError(
            Fault("places", "are counted in different measures; give all of them in one")
        )
    rng = np.random.default_rng(seed)
    ends = np.full((len(places), draws), np.inf)
    for row, forecast in zip(ends, places.values(), strict=True):
        line = forecast.line
        if line is None:
            continue
        if not line.freedom > 1e-9:
            row[:] = forecast.likely
            continue
        bend = forecast.bend
        if forecast.by_curve and bend is not None and bend.curve is not None:
            row[:] = draw_ends(bend.curve, forecast.limit, draws, rng)
            continue
        (a, b), (_, c) = line.unit_covariance
        shift = rng.standard_normal((2, draws))
        scale = line.spread * np.sqrt(line.freedom / rng.chisquare(line.freedom, draws))
        slope = line.slope + scale * math.sqrt(c) * shift[0]
        rest = math.sqrt(max(a - b**2 / c, 0.0))
        intercept = line.intercept + scale * (b / math.sqrt(c) * shift[0] + rest * shift[1])
        gap = forecast.limit - intercept
        toward = np.sign(gap) == np.sign(slope)
        passed = np.sign(gap) != np.sign(forecast.limit - line.intercept)
        safe = np.where(slope == 0, 1.0, slope)
        row[:] = np.where(passed, 0.0, np.where(toward, gap / safe, np.inf))
    best = ends.min(axis=0)
    shared = (ends == best) & np.isfinite(best)
    chance = (shared / np.maximum(shared.sum(axis=0), 1)).mean(axis=1)
    turns = [Turn(f, float(p)) for f, p in zip(places.values(), chance, strict=True)]
    return tuple(
        sorted(turns, key=lambda t: (t.forecast.likely, t.forecast.earliest, -t.chance_first))
    )


def _with_gauge(line: Line, gauge_error: float, rounding: float) -> Line:
    """Let the spread be no smaller than the gauge's and the rounding's.

    A line with no freedom takes the gauge's error when that is stated; rounding alone is too
    little to go by.
    """
    least = max(gauge_error, rounding) if line.freedom > 1e-9 else gauge_error
    if least <= 0 or line.spread >= least:
        return line
    freedom = line.freedom if line.freedom > 1e-9 else 1e9
    return Line(line.intercept, line.slope, least, freedom, line.unit_covariance)


def _rounding_error(value: Array) -> float:
    """Standard deviation of rounding, step/sqrt(12), for the coarsest step all readings share."""
    for step in (1e-3, 5e-4, 1e-4, 5e-5, 1e-5):
        if float(np.abs(value / step - np.round(value / step)).max()) < 1e-6:
            return step / math.sqrt(12)
    return 0.0


def _in_words(line: Line, met: bool, toward: bool, latest: float, wild: int) -> str:
    note = ""
    if wild:
        note = f"; {wild} reading{'s lie' if wild > 1 else ' lies'} far off and counted less"
    if met:
        return f"the limit is met{note}"
    if not toward and _surely_away(line):
        return (
            "the readings move away from the limit: a wrong spot, gauge or order of readings is "
            f"likelier than that it grew; read it again{note}"
        )
    if not toward:
        return f"the readings show no wear toward the limit{note}"
    if not line.freedom > 1e-9:
        return "the readings give a rate but no range; a further reading gives one"
    if math.isinf(latest):
        return f"the rate is not sure enough to give a latest end{note}"
    return f"the limit lies ahead, within the range given{note}"


def _surely_away(line: Line) -> bool:
    """Whether the slope is more than readings of no slope at all give once in twenty."""
    from scipy.special import stdtrit

    error = line.spread * math.sqrt(line.unit_covariance[1][1])
    return line.freedom > 1e-9 and abs(line.slope) > float(stdtrit(line.freedom, 0.975)) * error


def _check(readings: Sequence[Reading], limit: float, start: float | None, place: str) -> None:
    if not readings:
        raise InputError(Fault(place, "has no reading; give at least one"))
    faults = []
    for i, r in enumerate(readings):
        name = f"{place}, {r.label or f'reading {i + 1}'}"
        if not math.isfinite(r.value) or r.value < 0:
            sentence = f"the value {_millimetres(r.value)} must be a number of zero or more"
            faults.append(Fault(name, sentence))
        if not math.isfinite(r.use) or r.use < 0:
            faults.append(Fault(name, f"the use {r.use:g} must be a number of zero or more"))
        elif i and r.use < readings[i - 1].use:
            faults.append(
                Fault(
                    name,
                    f"the use {r.use:g} is below {readings[i - 1].use:g} of the reading before; "
                    "use does not run backwards: join a changed or reset meter first",
                )
            )
    for key, number in (("limit", limit), ("start", start)):
        if number is not None and (not math.isfinite(number) or number < 0):
            faults.append(
                Fault(f"{place}, {key}", f"{_millimetres(number)} must be a number of zero or more")
            )
    if start is not None and start == limit:
        faults.append(Fault(f"{place}, limit", f"{_millimetres(limit)} is the new value itself"))
    if not faults:
        faults = _unit_jumps(readings, place)
    if faults:
        raise InputError(*faults)


def _unit_jumps(readings: Sequence[Reading], place: str) -> list[Fault]:
    """Readings that leap by the ratio of two units, from one look to the next."""
    for before, after in itertools.pairwise(readings):
        if after.checked or min(before.value, after.value) <= 0:
            continue
        ratio = max(before.value, after.value) / min(before.value, after.value)
        for jump, units in _UNIT_JUMPS:
            if abs(ratio / jump - 1) < 0.15:
                return [
                    Fault(
                        f"{place}, {after.label or f'use {after.use:g}'}",
                        f"jumps from {_millimetres(before.value)} to {_millimetres(after.value)}, "
                        f"as if {units} had been mixed; give all readings in one unit, or mark "
                        "this one as checked if the wear is real",
                    )
                ]
    return []


def _millimetres(value: float) -> str:
    return f"{value * 1e3:g} mm"
