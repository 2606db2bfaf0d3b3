"""Wear from the table to the answer in words."""

from __future__ import annotations

import math
from datetime import date, timedelta
from pathlib import Path

import pytest

from splicewright.errors import InputError
from splicewright.history.wear.file import load_readings
from splicewright.history.wear.limit_met import Reading
from splicewright.history.wear.study import PlaceWear, Series, WearStudy, study_wear
from splicewright.quantities.measure import Measure

TODAY = date(2026, 6, 1)


def study(tmp_path: Path, text: str, limit: float | None = None) -> WearStudy:
    path = tmp_path / "readings.csv"
    path.write_text(text, "utf-8")
    series, measure, invented = load_readings(path, limit)
    return study_wear(series, today=TODAY, measure=measure, invented=invented)


def only(study: WearStudy) -> PlaceWear:
    (place,) = study.places
    return place


def refused(tmp_path: Path, text: str, limit: float | None = 0.003) -> list[str]:
    with pytest.raises(InputError) as caught:
        study(tmp_path, text, limit)
    return str(caught.value).splitlines()


LINE = "use [kt],value [mm],date\n0,8,2025-01-01\n100,7,2025-04-11\n200,6,2025-07-20\n"


def test_readings_on_a_line_end_where_the_line_does(tmp_path: Path) -> None:
    # 1 mm to 100 kt from 8 mm: 3 mm at 500 kt; 1 kt a day, so 300 days after 2025-07-20
    place = only(study(tmp_path, LINE, 0.003))
    assert place.forecast.measure is Measure.MASS
    assert place.forecast.likely == pytest.approx(500e6)
    assert place.dates is not None
    assert place.dates.likely == date(2026, 5, 16)


def test_a_date_that_has_passed_is_told_as_past(tmp_path: Path) -> None:
    # 2026-05-16 lies two weeks back on 2026-06-01; nothing was read for ten months
    place = only(study(tmp_path, LINE, 0.003))
    assert place.past == date(2026, 5, 16)
    assert place.when.startswith("likely worn out since 2026-05-16")
    assert place.when.endswith("last read on 2025-07-20: read it now")
    ahead = only(study(tmp_path, LINE, 0.002))
    assert ahead.past is None
    assert ahead.when.startswith("likely 2026-08-24")


def test_level_readings_of_a_gauge_with_an_error_give_a_lower_bound() -> None:
    # reproduced: three equal readings, a gauge of 0.1 mm, and "not enough data to say"
    readings = tuple(Reading(use * 3600e3, 0.010, str(use)) for use in (0, 1, 2))
    place = only(study_wear([Series("cover", readings, 0.003)], today=TODAY, gauge_error=1e-4))
    f = place.forecast
    assert math.isinf(f.likely)
    assert f.now < f.earliest < math.inf
    assert place.answer.say().startswith("not worn out before ")
    # by hand: rounded to 1 mm, so 1/sqrt(12) mm; Student's t of one degree 6.314, three readings at
    # 0, 1, 2 kh: 7 = 6.314/sqrt(12) sqrt(1 + 1/3 + (u - 1)^2/2), so u = 6.18 kh
    assert f.earliest == pytest.approx(6.18e3 * 3600, rel=0.002)


@pytest.mark.parametrize(
    ("limit", "end"),
    [
        (0.005, 300 * 1.04),  # two readings, so no range: to a little past the likely end
        (0.0005, 4 * 100),  # likely at 750 kt: no further than four times what was run
        (0.0068, 1.25 * 100 * 1.04),  # worn out soon: past the last reading by a quarter
    ],
)
def test_the_chart_of_wear_ends_past_the_end_and_within_four_times_the_use(
    tmp_path: Path, limit: float, end: float
) -> None:
    """8 mm new, 7 mm after 100 kt."""
    text = "use [kt],value [mm]\n0,8\n100,7\n"
    band = only(study(tmp_path, text, limit)).band
    assert (band[0].use, band[-1].use) == pytest.approx((0.0, end * 1e6))
    assert (band[0].line, band[-1].line) == pytest.approx((0.008, 0.008 - end * 1e-5))
    assert all(math.isnan(point.low) and math.isnan(point.high) for point in band)


def test_a_thickness_that_rises_is_questioned() -> None:
    grows = tuple(
        Reading(use * 3600e3, 0.0080 + 0.0004 * use + 0.00002 * (use % 2), str(use))
        for use in range(6)
    )
    place = only(study_wear([Series("cover", grows, 0.003)], today=TODAY))
    assert "the readings move away from the limit" in place.answer.say()
    level = tuple(Reading(use * 3600e3, 0.0080 + 0.0001 * (use % 2), str(use)) for use in range(6))
    place = only(study_wear([Series("cover", level, 0.003)], today=TODAY))
    assert "move away" not in place.answer.say()


def test_wear_depths_rise_to_their_limit(tmp_path: Path) -> None:
    text = "use [h],value [mm]\n0,0\n1000,0.5\n2000,1\n"
    assert only(study(tmp_path, text, 0.0025)).forecast.likely == pytest.approx(5000 * 3600)


def test_the_worst_place_stands_first(tmp_path: Path) -> None:
    text = "place,use [h],value [mm]\n" + "".join(
        f"{place},{100 * k},{10 - rate * k + (k % 2) * 0.05}\n"
        for place, rate in (("left", 0.2), ("right", 0.5))
        for k in range(8)
    )
    found = study(tmp_path, text, 0.003)
    assert [p.series.place for p in found.places] == ["right", "left"]
    assert found.places[0].chance_first > 0.99
    assert found.places[0].dates is None
    assert found.places[0].no_dates == "two dated readings or more turn use into dates"


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("0,8\n", "not enough data to say: one use only has been read"),
        ("0,8\n100,7\n", "not enough data to say how sure that is"),
        ("0,6\n100,6.5\n200,6.2\n300,6.9\n", ": the readings show no wear toward"),
        ("0,8\n100,8.2\n200,7.7\n300,7.9\n", "not enough data to say when at the latest"),
        ("0,4\n100,3.4\n200,2.9\n", "worn out: the limit is met"),
    ],
)
def test_not_enough_is_an_answer(tmp_path: Path, rows: str, words: str) -> None:
    place = only(study(tmp_path, "use [h],value [mm]\n" + rows, 0.003))
    assert words in place.answer.say()
    assert place.enough == place.forecast.met


def test_a_jump_needs_the_word_of_the_user(tmp_path: Path) -> None:
    rows = "use [h],value [mm],checked\n0,12,\n100,0.45,{}\n"
    (said,) = refused(tmp_path, rows.format(""), 0.0002)
    assert said == (
        "place, line 3: jumps from 12 mm to 0.45 mm, as if inches and millimetres had been mixed; "
        "give all readings in one unit, or mark this one as checked if the wear is real"
    )
    assert study(tmp_path, rows.format("yes"), 0.0002).places[0].forecast.line is not None


def test_a_meter_that_jumps_needs_it_too(tmp_path: Path) -> None:
    rows = "use [h],value [mm],date,checked\n2,8,2026-01-01,\n3000,7,2026-05-20,{}\n"
    (said,) = refused(tmp_path, rows.format(""))
    assert said.startswith("place, 2026-05-20: the total jumps from 2 h to 3000 h in 139 days")
    assert only(study(tmp_path, rows.format("yes"), 0.003)).dates is not None


def test_faults_of_the_file_name_line_and_column(tmp_path: Path) -> None:
    text = (
        "place,use [h],value [mm],date,limit [mm]\n"
        "left,500,8,2026-01-01,3\n"
        "left,300,7,2026-02-01,3\n"
        "left,600,7,2025-12-01,4\n"
        "left,700,6,2025-12-01,3\n"
        "left,,6,,3\n"
    )
    assert refused(tmp_path, text) == [
        "readings.csv:4: limit: differs from the limit given before for left",
        "readings.csv:6: use: is empty; it must be given",
        'readings.csv:3: use: "300" is less than in the line before of the same place; use does '
        "not run backwards: add what a changed or reset meter had counted before",
        "readings.csv:4: date: 2025-12-01 comes after 2026-02-01; dates must not fall",
        'readings.csv:5: use: "700" differs from another reading of 2025-12-01',
    ]


def test_no_limit_and_future_dates(tmp_path: Path) -> None:
    assert refused(tmp_path, "use [h],value [mm]\n0,8\n", None) == [
        "readings.csv: limit: is not given for place; state the value worn out"
    ]
    late = "use [h],value [mm],date\n0,8,2026-01-01\n9,7,2026-07-01\n"
    assert refused(tmp_path, late) == ["place, 2026-07-01: lies in the future; today is 2026-06-01"]


def test_a_reading_of_today_counts(tmp_path: Path) -> None:
    today = only(study(tmp_path, LINE + f"300,4.5,{TODAY}\n", 0.003))
    assert today.forecast.now == pytest.approx(300e6)
    assert today.dates is not None and (today.dates.likely or TODAY) > TODAY


def test_a_new_reading_moves_the_forecast(tmp_path: Path) -> None:
    before = only(study(tmp_path, LINE, 0.003)).forecast.likely
    after = only(study(tmp_path, LINE + "300,4.5,2025-10-28\n", 0.003)).forecast.likely
    assert after < 0.95 * before


def test_the_earlier_end_leads_whichever_way_wear_bends() -> None:
    use = [500.0 * k for k in range(1, 15)]

    def place(name: str, worn: list[float], limit: float) -> Series:
        readings = tuple(Reading(u, w, f"look {u:g}") for u, w in zip(use, worn, strict=True))
        days = tuple((date(2025, 1, 1) + timedelta(days=int(u / 10)), u) for u in use)
        return Series(name, readings, limit, days=days)

    ripple = [2e-5 * (-1) ** k for k in range(14)]
    fast = [12e-3 - 3e-4 * math.expm1(u / 3000) + r for u, r in zip(use, ripple, strict=True)]
    slow = [12e-3 + 2e-3 * math.exp(-u / 1500) + r for u, r in zip(use, ripple, strict=True)]
    study = study_wear(
        [place("pin", slow, 11e-3), place("cover", fast, 4e-3)], today=date(2027, 1, 1)
    )
    cover = next(p for p in study.places if p.series.place == "cover")
    pin = next(p for p in study.places if p.series.place == "pin")
    assert cover.answer.say().startswith("wear speeds up: worn out at ")
    assert cover.course is not None
    assert "; a straight line would give " in cover.course.say()
    assert cover.dates is not None
    assert cover.other_dates is not None
    assert cover.dates.latest is not None
    assert cover.other_dates.likely is not None
    assert cover.dates.latest < cover.other_dates.likely
    assert pin.answer.say().startswith("worn out at ")
    assert pin.course is not None
    assert "by that curve the limit is never met; the line stays the answer" in pin.course.say()
