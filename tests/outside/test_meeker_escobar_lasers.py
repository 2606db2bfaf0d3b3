"""Lasers that age: Meeker and Escobar, Statistical Methods for Reliability Data, 1998, table C.17.

15 lasers, rise of the operating current in per cent every 250 h; a laser has failed at 10 %.
Data read in a public copy; the intercepts and slopes of the least-squares lines of the twelve
that did not reach 10 % were read with it. The three others crossed between two readings.
"""

import numpy as np
import pytest

from proof import proves
from splicewright.history.wear.limit_met import Reading, forecast_wear
from splicewright.history.wear.line import fit_line

pytestmark = proves(
    "Wear and life",
    "Fifteen lasers that age",
    "A",
    "Line of each unit and the range of lives.",
    doubt="Data and lines read in a public copy.",
    tolerance="half the last printed digit",
    sketch="wear",
)


RISE = {
    101: [
        0, 0.4741, 0.9255, 2.1147, 2.7168, 3.511, 4.3415, 4.9076, 5.4782,
        5.9925, 6.7224, 7.1303, 8.0006, 8.9193, 9.494, 9.8675, 10.9446,
    ],
    102: [
        0, 0.7078, 1.2175, 1.8955, 2.2954, 2.865, 3.7454, 4.4192, 4.9894,
        5.5148, 6.0668, 6.6385, 7.1615, 7.7778, 8.4242, 8.9092, 9.2834,
    ],
    103: [
        0, 0.7074, 1.1651, 1.7253, 1.9888, 2.5325, 2.9695, 3.2977, 3.9354,
        4.1613, 4.4459, 4.889, 5.2696, 5.6913, 6.0216, 6.4485, 6.8849,
    ],
    104: [
        0, 0.3634, 0.6161, 1.3597, 1.9525, 2.2995, 2.9468, 3.3871, 3.7863,
        4.1116, 4.5013, 4.7209, 4.9766, 5.2812, 5.615, 5.9503, 6.1438,
    ],
    105: [
        0, 0.2707, 0.6144, 1.1093, 1.773, 2.0625, 2.5835, 2.9863, 3.3765,
        4.0491, 4.626, 5.237, 5.6191, 6.0449, 6.3167, 7.0952, 7.5941,
    ],
    106: [
        0, 0.3584, 1.3922, 1.9541, 2.8617, 3.4552, 3.8117, 4.533, 5.3541,
        5.9217, 6.7078, 7.7027, 8.6053, 9.1477, 9.951, 10.4857, 11.0096,
    ],
    107: [
        0, 0.3637, 0.9237, 1.2098, 1.4591, 1.9323, 2.3862, 2.6799, 2.9397,
        3.4183, 4.0857, 4.5843, 4.8402, 5.1145, 5.5691, 6.114, 7.1723,
    ],
    108: [
        0, 0.458, 1.0678, 1.4163, 1.7659, 2.1061, 2.3969, 2.78, 3.0187,
        3.289, 3.7542, 4.1595, 4.7575, 5.1597, 5.4591, 5.8085, 6.245,
    ],
    109: [
        0, 0.5098, 0.9308, 1.5713, 1.9576, 2.5871, 3.2892, 3.6075, 4.1148,
        4.5964, 4.913, 5.3408, 5.8418, 6.3961, 6.8441, 7.2037, 7.8848,
    ],
    110: [
        0, 0.4136, 1.488, 2.381, 2.995, 3.835, 4.501, 5.251, 6.256,
        7.051, 7.803, 8.321, 8.93, 9.554, 10.45, 11.28, 12.21,
    ],
    111: [
        0, 0.4435, 0.9978, 1.5738, 1.9584, 2.5093, 2.8436, 3.4682, 4.007,
        4.5124, 4.8018, 5.2042, 5.6556, 6.1951, 6.5405, 6.9626, 7.4238,
    ],
    112: [
        0, 0.3864, 0.7988, 1.3521, 1.741, 2.979, 3.5871, 4.0315, 4.4393,
        4.7906, 5.2205, 5.4848, 5.9639, 6.2276, 6.9877, 7.3671, 7.8841,
    ],
    113: [
        0, 0.3034, 0.7448, 1.5225, 1.8548, 2.3897, 2.9473, 3.5104, 3.9207,
        5.0316, 5.4708, 5.8362, 6.4962, 6.9372, 7.3883, 7.8472, 8.087,
    ],
    114: [
        0, 0.438, 0.6979, 1.0515, 1.3526, 1.7998, 2.5514, 2.8274, 3.3908,
        3.7159, 4.0906, 4.8296, 5.4145, 5.759, 6.1419, 6.5086, 6.8823,
    ],
    115: [
        0, 0.5056, 0.8349, 1.2864, 1.5191, 1.9148, 2.2697, 2.7763, 3.4153,
        3.7814, 4.1053, 4.3754, 4.6295, 5.3831, 5.8391, 6.1618, 6.6247,
    ],
}  # fmt: skip
HOURS = 250.0 * np.arange(17)
LINES = {
    102: (0.0957294, 0.0023613),
    103: (0.3560078, 0.0016495),
    104: (0.254561, 0.001579),
    105: (-0.262684, 0.001936),
    107: (-0.122859, 0.001673),
    108: (0.1391784, 0.0015081),
    109: (0.101814, 0.001937),
    111: (0.1190569, 0.0018551),
    112: (0.1145294, 0.0019792),
    113: (-0.177375, 0.002156),
    114: (-0.2098549, 0.0017947),
    115: (-0.0261216, 0.0016431),
}


@pytest.mark.parametrize("unit", LINES)
def test_line_of_each_laser(unit: int) -> None:
    line = fit_line(HOURS, RISE[unit])
    # half a unit in the last digit printed
    assert line.intercept == pytest.approx(LINES[unit][0], abs=6e-7)
    assert line.slope == pytest.approx(LINES[unit][1], abs=6e-7)


def test_range_of_lives() -> None:
    # read: 3374.4 to 6538.5 h, from lines for those still below 10 % and from the crossing
    # between two readings for those above
    assert max(fit_line(HOURS, RISE[u]).meets(10.0) for u in LINES) == pytest.approx(
        6538.5, abs=0.5
    )
    crossed = np.interp(10.0, RISE[110], HOURS)
    assert crossed == pytest.approx(3374.4, abs=0.05)


@pytest.mark.parametrize("unit", LINES)
def test_forecast_of_each_laser_lies_ahead(unit: int) -> None:
    readings = [Reading(float(h), r) for h, r in zip(HOURS, RISE[unit], strict=True)]
    result = forecast_wear(readings, 10.0, place=str(unit))
    assert 4000 <= result.earliest <= result.likely <= result.latest
