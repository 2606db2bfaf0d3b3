"""NIST Statistical Reference Datasets, regression: certified values to their digits.

Norris: data and certified values seen. NoInt1 and NoInt2 (a line from a known start): from
memory; the values are exact fractions of whole numbers and are recomputed as such beside it.
Misra1a to 1d (curves that level off): data and certified values seen. Longley: certified values
seen, data from memory; so hard a set reproduces them only if every figure is right.
"""

import math
from fractions import Fraction

import numpy as np
import pytest

from proof import proves
from splicewright.history.arrays import Array
from splicewright.history.wear.bending import Course, judge_bend
from splicewright.history.wear.curve import fit_curve
from splicewright.history.wear.line import fit_line, fit_line_from

pytestmark = proves(
    "Wear and life",
    "Certified regressions",
    "A",
    "Lines, lines from a known start, curves that level off.",
    doubt="Certified digits; two small sets from memory, recomputed as fractions.",
    tolerance="1e-11 to 1e-13 where certified",
    sketch="wear",
)


NORRIS_X = [
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5,
    666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2,
    999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
]  # fmt: skip
NORRIS_Y = [
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1,
    668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0,
    998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
]  # fmt: skip


def test_norris() -> None:
    line = fit_line(NORRIS_X, NORRIS_Y)
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-11)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-13)
    assert line.intercept_error == pytest.approx(0.232818234301152, rel=1e-12)
    assert line.slope_error == pytest.approx(0.429796848199937e-3, rel=1e-12)
    assert line.spread == pytest.approx(0.884796396144373, rel=1e-12)


@pytest.mark.parametrize(
    ("x", "y", "slope", "error", "spread"),
    [
        (range(60, 71), range(130, 141), 2.07438016528926, 0.0165289256198347, 3.56753034006338),
        ([4, 5, 6], [3, 4, 4], 0.727272727272727, 0.0420827318078432, 0.369274472937998),
    ],
    ids=["NoInt1", "NoInt2"],
)
def test_line_from_a_known_start(
    x: list[int], y: list[int], slope: float, error: float, spread: float
) -> None:
    line = fit_line_from(0.0, list(x), list(y))
    exact = Fraction(sum(a * b for a, b in zip(x, y, strict=True)), sum(a * a for a in x))
    assert slope == pytest.approx(float(exact), rel=1e-14)
    assert line.slope == pytest.approx(slope, rel=1e-13)
    assert line.slope_error == pytest.approx(error, rel=1e-12)
    assert line.spread == pytest.approx(spread, rel=1e-12)


MISRA_Y = [
    10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47,
    81.78,
]  # fmt: skip
MISRA_X = [
    77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0,
]  # fmt: skip


@pytest.mark.parametrize(
    ("power", "first", "second", "rest"),
    [
        (math.inf, 238.94212918, 5.5015643181e-4, 0.12455138894),
        (2.0, 337.99746163, 3.9039091287e-4, 0.075464681533),
        (0.5, 636.42725809, 2.0813627256e-4, 0.040966836971),
    ],
    ids=["Misra1a", "Misra1b", "Misra1c"],
)
def test_curves_that_level_off(power: float, first: float, second: float, rest: float) -> None:
    curve = fit_curve(MISRA_X, MISRA_Y, start=0.0, power=power)
    # certified as b1 (1 - ...): the height it levels off at, and the bend
    assert curve.rate / curve.bend == pytest.approx(first, rel=1e-9)
    assert curve.bend == pytest.approx(second, rel=1e-9)
    assert curve.rest == pytest.approx(rest, rel=1e-9)


def test_misra1d_with_its_error() -> None:
    curve = fit_curve(MISRA_X, MISRA_Y, start=0.0, power=1.0)
    assert curve.rate / curve.bend == pytest.approx(437.36970754, rel=1e-10)
    turn = np.array([1 / curve.bend, -curve.rate / curve.bend**2])
    error = curve.spread * math.sqrt(float(turn @ np.array(curve.unit_covariance) @ turn))
    assert error == pytest.approx(3.6489174345, rel=1e-9)


def test_readings_of_misra_are_said_to_level_off() -> None:
    found = judge_bend(MISRA_X, MISRA_Y, 100.0, start=0.0)
    assert found.course is Course.LEVELS
    # by the certified curve: 1 - exp(-b2 x) = 100/b1
    assert found.likely == pytest.approx(
        -math.log(1 - 100 / 238.94212918) / 5.5015643181e-4, rel=1e-8
    )


LONGLEY = """60323 83.0 234289 2356 1590 107608 1947
61122 88.5 259426 2325 1456 108632 1948
60171 88.2 258054 3682 1616 109773 1949
61187 89.5 284599 3351 1650 110929 1950
63221 96.2 328975 2099 3099 112075 1951
63639 98.1 346999 1932 3594 113270 1952
64989 99.0 365385 1870 3547 115094 1953
63761 100.0 363112 3578 3350 116219 1954
66019 101.2 397469 2904 3048 117388 1955
67857 104.6 419180 2822 2857 118734 1956
68169 108.4 442769 2936 2798 120445 1957
66513 110.8 444546 4681 2637 121950 1958
68655 112.6 482704 3813 2552 123366 1959
69564 114.2 502601 3931 2514 125368 1960
69331 115.7 518173 4806 2572 127852 1961
70551 116.9 554894 4007 2827 130081 1962"""


@pytest.mark.parametrize(("last", "value"), [(1, 15.0618722713733), (6, 1829.15146461355)])
def test_longley_one_line_at_a_time(last: int, value: float) -> None:
    """Six columns that nearly repeat each other, by our line alone.

    Each column is freed from those before it by a line through zero; the slope of what is left of
    y over what is left of the last column is its coefficient (successive orthogonalisation).
    """
    y, *columns = np.array([row.split() for row in LONGLEY.splitlines()], dtype=float).T
    columns = [np.ones(16), *(c for i, c in enumerate(columns, 1) if i != last), columns[last - 1]]
    free: list[Array] = []
    for column in columns:
        for _ in range(2):  # twice is enough
            for other in free:
                column = column - fit_line_from(0.0, other, column).slope * other  # noqa: PLW2901
        free.append(column)
    for other in free[:-1]:
        y = y - fit_line_from(0.0, other, y).slope * other
    line = fit_line_from(0.0, free[-1], y)
    assert line.slope == pytest.approx(value, rel=1e-9)
    # 16 readings less the 7 numbers fitted; a line from zero counts one
    assert line.spread * math.sqrt(15 / 9) == pytest.approx(304.854073561965, rel=1e-9)
