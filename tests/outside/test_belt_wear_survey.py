"""Ultrasonic wear surveys of three belts of one conveyor. Read.

Data: the open repository rleadbett/thesis, Example_beltwear_data (licence text MIT, name left
open), reduced to the largest wear of each survey; the scale of tonnes is anonymised. No
forecast of a plain line was published for them, so they test behaviour on real readings:
numpy's line, and how often the next reading falls where it was expected. Lines and the rolling
check were also worked by scipy when the data were read (intercept, slope, scatter in mm), from
tonnes that are rounded to 0.001 here: half of that is 0.0075 mm of wear.
"""

import numpy as np
import pytest

from proof import proves
from splicewright.history.wear.bending import Course
from splicewright.history.wear.limit_met import Reading, forecast_wear
from splicewright.history.wear.line import fit_line
from splicewright.quantities.measure import Measure

pytestmark = proves(
    "Wear and life",
    "Wear surveys of three real belts",
    "A",
    "Ultrasonic readings of three belts: lines, and how often the next reading falls where it "
    "was expected.",
    doubt=(
        "Scale of tonnes anonymised and rounded to 0.001. No forecast was published: the "
        "only real wear data in this book."
    ),
    tolerance="0.0075 mm, half the rounding of tonnes",
    sketch="wear",
)


# (tonnes on an anonymised scale, largest wear of the survey in mm)
SURVEYS = {
    "A": [
        (0, 0.4), (0.128, 2.2), (0.219, 4.1), (0.256, 5.8), (0.315, 5.7), (0.502, 7.6),
        (0.635, 10.8), (0.819, 10.1), (1.000, 15.9),
    ],
    "B": [
        (0, 0.4), (0.292, 5.9), (0.602, 8.8), (0.643, 11.0), (0.665, 11.0), (0.755, 11.6),
        (0.874, 12.4), (1.014, 17.8),
    ],
    "C": [(0, 0.7), (0.173, 2.9), (0.295, 7.8), (0.477, 7.7), (0.881, 15.3), (1.131, 17.8)],
}  # fmt: skip
SOFT_LIMIT = 25e-3


def readings(belt: str) -> list[Reading]:
    return [Reading(use, worn * 1e-3) for use, worn in SURVEYS[belt]]


@pytest.mark.parametrize("belt", SURVEYS)
def test_lines_agree_with_numpy(belt: str) -> None:
    use, worn = np.array(SURVEYS[belt]).T
    slope, intercept = np.polyfit(use, worn, 1)
    line = fit_line(use, worn)
    assert (line.intercept, line.slope) == pytest.approx((intercept, slope), rel=1e-9)


@pytest.mark.parametrize("belt", SURVEYS)
def test_the_limit_is_forecast_ahead_with_both_ends(belt: str) -> None:
    result = forecast_wear(readings(belt), SOFT_LIMIT, place=belt, measure=Measure.MASS)
    assert result.now < result.earliest < result.likely < result.latest < 3 * result.now
    assert not result.met


def test_wear_that_reads_less_than_before_is_kept() -> None:
    # belt A read 10.8 and then 10.1: spots differ from look to look, nothing is clipped
    result = forecast_wear(readings("A"), SOFT_LIMIT, measure=Measure.MASS)
    assert result.wild == ()
    assert result.line is not None
    assert result.line.freedom == len(SURVEYS["A"]) - 2


def test_next_readings_fall_where_they_were_expected() -> None:
    # from the fifth reading on, each reading against the 95 % range drawn from those before
    inside = total = 0
    for belt, survey in SURVEYS.items():
        for k in range(5, len(survey)):
            past = forecast_wear(readings(belt)[:k], SOFT_LIMIT, confidence=0.95)
            low, high = past.next_reading(survey[k][0])
            total += 1
            inside += low <= survey[k][1] * 1e-3 <= high
    assert total == 8
    assert inside >= 7


@pytest.mark.parametrize(
    ("belt", "line"),
    [("A", (0.962, 13.924, 1.175)), ("B", (0.529, 15.408, 1.137)), ("C", (1.192, 15.234, 1.320))],
)
def test_lines_worked_when_the_data_were_read(belt: str, line: tuple[float, float, float]) -> None:
    fitted = fit_line(*np.array(SURVEYS[belt]).T)
    assert (fitted.intercept, fitted.slope, fitted.spread) == pytest.approx(line, abs=7.5e-3)


def test_rolling_check_of_the_plain_line() -> None:
    inside, missed = 0, []
    for belt, survey in SURVEYS.items():
        for k in range(4, len(survey)):
            use, worn = survey[k]
            line = fit_line(*np.array(survey[:k]).T)
            half = line.half_width(use, 0.95, reading=True)
            if abs(worn - line.at(use)) <= half:
                inside += 1
            else:
                missed.append((belt, k, line.at(use), half))
    assert inside == 10
    ((belt, k, middle, half),) = missed
    assert (belt, k) == ("A", 7)
    assert (middle, middle - half, middle + half) == pytest.approx((13.44, 10.82, 16.06), abs=0.015)


def test_no_belt_bends_for_sure() -> None:
    for belt in SURVEYS:
        found = forecast_wear(readings(belt), SOFT_LIMIT, measure=Measure.MASS).bend
        assert found is not None
        assert found.course is Course.LINE
