"""NIST Statistical Reference Datasets, linear regression: certified values to their digits.

Norris: data and certified values seen. NoInt1 and NoInt2 (a line from a known start): from
memory; the values are exact fractions of whole numbers and are recomputed as such beside it.
"""

from fractions import Fraction

import pytest

from splicewright.history.line import fit_line, fit_line_from

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
        (
            range(60, 71),
            range(130, 141),
            2.07438016528926,
            0.0165289256198347,
            3.56753034006338,
        ),
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
