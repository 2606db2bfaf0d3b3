"""The wear of all places of one belt or joint: order, ends, dates, and the words for them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from splicewright.errors import Fault, InputError
from splicewright.history.meter import Dates, read_meter
from splicewright.history.wear.bending import FEWEST, Course
from splicewright.history.wear.limit_met import (
    Reading,
    WearForecast,
    forecast_wear,
    which_goes_first,
)
from splicewright.quantities import Sentence, sentence
from splicewright.quantities.measure import Measure

NOT_ENOUGH = "not enough data to say"
NO_DATE = "no date"
_POINTS = 49


@dataclass(frozen=True, slots=True)
class Series:
    """The readings of one place.

    place : its name
    readings : in the order they were taken
    limit : value at which it is worn out [m]
    new : value at use 0 if it is known for sure [m]
    days : date and use of those readings that are dated [measure]
    source : who states the limit; "" when it was given with the question
    joint : identity of the joint it is at; "" for a place of the belt
    """

    place: str
    readings: tuple[Reading, ...]
    limit: float
    new: float | None = None
    days: tuple[tuple[date, float], ...] = ()
    source: str = ""
    joint: str = ""


@dataclass(frozen=True, slots=True)
class BandPoint:
    """Line and band of one further reading at a use; the band is nan where there is none."""

    use: float
    line: float
    low: float
    high: float


@dataclass(frozen=True)
class PlaceWear:
    """One place judged.

    series : its readings
    forecast : when it meets its limit
    chance_first : that it is the first of all places to do so [0..1]
    dates : the same as dates; None where use cannot be turned into dates
    no_dates : why not; empty when there are dates
    band : line and band from the first reading on, to be drawn
    answer : the forecast in words
    course : whether wear goes on as a line, levels off or speeds up, in words; None where there
        is no line
    other_dates : the same by the curve where wear levels off, by the line where it speeds up; None
        where the readings do not bend clearly
    past : the likely date, or the last reading that met the limit, where it is not ahead of today;
        None while it is
    """

    series: Series
    forecast: WearForecast
    chance_first: float
    dates: Dates | None
    no_dates: str
    band: tuple[BandPoint, ...]
    answer: Sentence
    course: Sentence | None = None
    other_dates: Dates | None = None
    past: date | None = None

    @property
    def when(self) -> str:
        """When it is worn out, as dates, in words; why there are none; empty where it is met."""
        if self.forecast.met:
            return ""
        if self.dates is None:
            return f"no dates: {self.no_dates}"
        d = self.dates
        if self.past is not None:
            read = max(day for day, _ in self.series.days)
            late = f", by {d.latest} at the latest" if self.enough and d.latest else ""
            return f"likely worn out since {d.likely}{late}; last read on {read}: read it now"
        if not self.enough and d.likely is None:
            return ""
        if not self.enough:
            return f"likely {d.likely or NO_DATE}; {NOT_ENOUGH} how sure that is"
        ends = f"between {d.earliest or NO_DATE} and {d.latest or NO_DATE}"
        return f"likely {d.likely or NO_DATE}, {ends}"

    @property
    def enough(self) -> bool:
        """Whether the readings give a range of ends, or the limit is met."""
        f = self.forecast
        return f.met or (math.isfinite(f.likely) and math.isfinite(f.latest))


@dataclass(frozen=True)
class WearStudy:
    """All places, the one that goes first at the head.

    name : of the belt, joint or file
    places : in the order in which they are worn out
    measure : what use is counted in
    confidence : of all bands [0..1]
    invented : the readings are
    notes : what was assumed or left out on the way, to be told with the answer
    """

    name: str
    places: tuple[PlaceWear, ...]
    measure: Measure
    confidence: float
    invented: bool = False
    notes: tuple[str, ...] = ()


def study_wear(
    series: Sequence[Series],
    *,
    today: date,
    name: str = "",
    measure: Measure = Measure.TIME,
    gauge_error: float = 0.0,
    confidence: float = 0.9,
    invented: bool = False,
    notes: Sequence[str] = (),
) -> WearStudy:
    """Forecast every place and put them in order.

    series : one for each place
    today : readings after it are refused
    name : of the belt, joint or file
    measure : what use is counted in
    gauge_error : standard deviation of the gauge itself [m]
    confidence : of the bands [0..1]
    invented : the readings are
    notes : what was assumed or left out on the way
    Raises InputError: as `forecast_wear`; readings dated after today.
    """
    late = [
        Fault(f"{s.place}, {day}", f"lies in the future; today is {today}")
        for s in series
        for day, _ in s.days
        if day > today
    ]
    if late:
        raise InputError(*late)
    forecasts = {
        str(n): forecast_wear(
            s.readings,
            s.limit,
            place=s.place,
            start=s.new,
            gauge_error=gauge_error,
            confidence=confidence,
            measure=measure,
        )
        for n, s in enumerate(series)
    }
    of = {id(f): s for f, s in zip(forecasts.values(), series, strict=True)}
    places = tuple(
        _judged(of[id(turn.forecast)], turn.forecast, turn.chance_first, today)
        for turn in which_goes_first(forecasts)
    )
    return WearStudy(name, places, measure, confidence, invented, tuple(notes))


def _judged(series: Series, forecast: WearForecast, first: float, today: date) -> PlaceWear:
    ends = forecast.earliest, forecast.likely, forecast.latest
    dates, why = _dates(series, forecast, today, ends)
    bend, other = forecast.bend, None
    if forecast.by_curve and forecast.line is not None:
        low, high = forecast.line.meets_between(forecast.limit, forecast.confidence, reading=True)
        by_line = max(low, forecast.now), forecast.line.meets(forecast.limit), high
        other, _ = _dates(series, forecast, today, by_line)
    elif bend is not None and not math.isnan(bend.likely):
        other, _ = _dates(series, forecast, today, (bend.earliest, bend.likely, bend.latest))
    return PlaceWear(
        series,
        forecast,
        first,
        dates,
        why,
        _band(forecast),
        _answer(forecast),
        _course(forecast, series),
        other,
        _past(dates, today),
    )


def _past(dates: Dates | None, today: date) -> date | None:
    return dates.likely if dates and dates.likely and dates.likely <= today else None


def _dates(
    series: Series, forecast: WearForecast, today: date, ends: tuple[float, float, float]
) -> tuple[Dates | None, str]:
    days = dict(series.days)
    if len(days) < 2:
        return None, "two dated readings or more turn use into dates"
    checked = {d for d in days if any(r.checked and r.label == str(d) for r in series.readings)}
    try:
        meter = read_meter(sorted(days.items()), forecast.measure, today, checked)
    except InputError as error:
        raise InputError(
            *(replace(f, key=f.key.replace("meter", series.place)) for f in error.faults)
        ) from None
    if meter.now != forecast.now:
        return None, "the last reading is not dated"
    return meter.when(*ends), ""


def _band(forecast: WearForecast) -> tuple[BandPoint, ...]:
    line = forecast.line
    if line is None:
        return ()
    now = forecast.now
    ends = [now * 1.25, *(e for e in (forecast.likely, forecast.latest) if math.isfinite(e))]
    end = min(max(ends) * 1.04, 4 * now)
    uses = [end * i / (_POINTS - 1) for i in range(_POINTS)]
    halves = [
        line.half_width(u, forecast.confidence, reading=True) if line.freedom > 1e-9 else math.nan
        for u in uses
    ]
    return tuple(
        BandPoint(u, line.at(u), line.at(u) - h, line.at(u) + h)
        for u, h in zip(uses, halves, strict=True)
    )


def _answer(f: WearForecast) -> Sentence:
    kind = f.measure.kind
    early, likely, late = (f.earliest, kind), (f.likely, kind), (f.latest, kind)
    if f.met:
        return sentence("worn out: " + f.sentence)
    if math.isinf(f.likely) and f.line is not None and f.now < f.earliest < math.inf:
        return sentence(f"not worn out before {{early}}: {f.sentence}", early=early)
    if math.isinf(f.likely) or f.line is None:
        return sentence(f"{NOT_ENOUGH}: {f.sentence}")
    if f.line.freedom <= 1e-9:
        return sentence(
            f"at the rate read, worn out at {{likely}}; {NOT_ENOUGH} how sure that is: "
            f"{f.sentence}",
            likely=likely,
        )
    if math.isinf(f.latest):
        return sentence(
            f"worn out at {{likely}} or so, not before {{early}}; {NOT_ENOUGH} when at the latest",
            likely=likely,
            early=early,
        )
    speeds = "wear speeds up: " if f.by_curve else ""
    return sentence(
        f"{speeds}worn out at {{likely}}, between {{early}} and {{late}}",
        likely=likely,
        early=early,
        late=late,
    )


def _course(forecast: WearForecast, series: Series) -> Sentence | None:
    """Line or curve, in words, and what the one not in the answer says."""
    bend = forecast.bend
    if bend is None:
        return None
    if bend.course is Course.FEW:
        return sentence(
            f"too few readings to say whether wear levels off or speeds up: {FEWEST} or more do"
        )
    odds = f"{bend.chance:.2g}" if bend.chance >= 1e-4 else "below 0.0001"
    if bend.hangs_on is not None and bend.curve is not None:
        turns = "level off" if bend.curve.bend > 0 else "speed up"
        return sentence(
            f"the readings seem to {turns}, but by the one of "
            f"{series.readings[bend.hangs_on].label} alone: read again before it counts"
        )
    if bend.course is Course.LINE:
        return sentence(
            f"a line describes the readings as well as a curve does (chance of such a bend on a "
            f"straight line {odds}, by F)"
        )
    kind = forecast.measure.kind
    seen = (
        f"wear {bend.course} (chance of such a bend on a straight line {odds}, by F; AICc prefers "
        f"the curve by {bend.better_by:.1f})"
    )
    if bend.course is Course.SPEEDS:
        line = forecast.line.meets(forecast.limit) if forecast.line is not None else math.inf
        if not forecast.by_curve or math.isinf(line):
            return sentence(seen)
        return sentence(f"{seen}; a straight line would give {{line}}", line=(line, kind))
    safe = "the line stays the answer, the safe side: it is not sure that the curve stays level"
    early, likely = (bend.earliest, kind), (bend.likely, kind)
    if math.isinf(bend.earliest):
        return sentence(f"{seen}: by that curve the limit is never met; {safe}")
    if math.isinf(bend.likely):
        return sentence(
            f"{seen}: by that curve the limit is likely never met, not before {{early}}; {safe}",
            early=early,
        )
    return sentence(
        f"{seen}: by that curve worn out at {{likely}} or so, not before {{early}}; {safe}",
        likely=likely,
        early=early,
    )
