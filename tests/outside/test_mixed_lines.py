"""Lines that scatter from unit to unit: two published mixed-model fits.

Sleep study: Belenky et al., Journal of Sleep Research 12 (2003) 1; data read in a public copy;
the fit is that of the R package lme4 (from memory): intercept 251.405 (6.825), slope 10.467
(1.546), spreads 24.741 and 5.922, correlation .066, noise 25.592, criterion 1743.628.

Growth of 27 children: Potthoff and Roy, Biometrika 51 (1964) 313; data read in a public copy; fit
of Pinheiro and Bates, Mixed-Effects Models in S and S-PLUS, 2000 (from memory): 16.7611 (.7752),
.6602 (.07125), spreads 2.3270 and .2264, correlation -.609, noise 1.3100, criterion 442.637.
"""

import pytest

from proof import proves
from splicewright.history.wear.belts_alike import AlikeLines, fit_alike
from splicewright.history.wear.limit_met import Reading

pytestmark = proves(
    "Wear and life",
    "Lines that scatter from unit to unit",
    "A",
    "Two published mixed-model fits.",
    doubt="Data read; fits from memory.",
    tolerance="half the last printed digit",
    sketch="wear",
)


SLEEP: list[list[float]] = [
    [249.56, 258.7047, 250.8006, 321.4398, 356.8519,
     414.6901, 382.2038, 290.1486, 430.5853, 466.3535],
    [222.7339, 205.2658, 202.9778, 204.707, 207.7161,
     215.9618, 213.6303, 217.7272, 224.2957, 237.3142],
    [199.0539, 194.3322, 234.32, 232.8416, 229.3074,
     220.4579, 235.4208, 255.7511, 261.0125, 247.5153],
    [321.5426, 300.4002, 283.8565, 285.133, 285.7973,
     297.5855, 280.2396, 318.2613, 305.3495, 354.0487],
    [287.6079, 285, 301.8206, 320.1153, 316.2773,
     293.3187, 290.075, 334.8177, 293.7469, 371.5811],
    [234.8606, 242.8118, 272.9613, 309.7688, 317.4629,
     309.9976, 454.1619, 346.8311, 330.3003, 253.8644],
    [283.8424, 289.555, 276.7693, 299.8097, 297.171,
     338.1665, 332.0265, 348.8399, 333.36, 362.0428],
    [265.4731, 276.2012, 243.3647, 254.6723, 279.0244,
     284.1912, 305.5248, 331.5229, 335.7469, 377.299],
    [241.6083, 273.9472, 254.4907, 270.8021, 251.4519,
     254.6362, 245.4523, 235.311, 235.7541, 237.2466],
    [312.3666, 313.8058, 291.6112, 346.1222, 365.7324,
     391.8385, 404.2601, 416.6923, 455.8643, 458.9167],
    [236.1032, 230.3167, 238.9256, 254.922, 250.7103,
     269.7744, 281.5648, 308.102, 336.2806, 351.6451],
    [256.2968, 243.4543, 256.2046, 255.5271, 268.9165,
     329.7247, 379.4445, 362.9184, 394.4872, 389.0527],
    [250.5265, 300.0576, 269.8939, 280.5891, 271.8274,
     304.6336, 287.7466, 266.5955, 321.5418, 347.5655],
    [221.6771, 298.1939, 326.8785, 346.8555, 348.7402,
     352.8287, 354.4266, 360.4326, 375.6406, 388.5417],
    [271.9235, 268.4369, 257.2424, 277.6566, 314.8222,
     317.2135, 298.1353, 348.1229, 340.28, 366.5131],
    [225.264, 234.5235, 238.9008, 240.473, 267.5373,
     344.1937, 281.1481, 347.5855, 365.163, 372.2288],
    [269.8804, 272.4428, 277.8989, 281.7895, 279.1705,
     284.512, 259.2658, 304.6306, 350.7807, 369.4692],
    [269.4117, 273.474, 297.5968, 310.6316, 287.1726,
     329.6076, 334.4818, 343.2199, 369.1417, 364.1236],
]  # fmt: skip
GROWTH: list[list[float]] = [
    [26.0, 25.0, 29.0, 31.0],
    [21.5, 22.5, 23.0, 26.5],
    [23.0, 22.5, 24.0, 27.5],
    [25.5, 27.5, 26.5, 27.0],
    [20.0, 23.5, 22.5, 26.0],
    [24.5, 25.5, 27.0, 28.5],
    [22.0, 22.0, 24.5, 26.5],
    [24.0, 21.5, 24.5, 25.5],
    [23.0, 20.5, 31.0, 26.0],
    [27.5, 28.0, 31.0, 31.5],
    [23.0, 23.0, 23.5, 25.0],
    [21.5, 23.5, 24.0, 28.0],
    [17.0, 24.5, 26.0, 29.5],
    [22.5, 25.5, 25.5, 26.0],
    [23.0, 24.5, 26.0, 30.0],
    [22.0, 21.5, 23.5, 25.0],
    [21.0, 20.0, 21.5, 23.0],
    [21.0, 21.5, 24.0, 25.5],
    [20.5, 24.0, 24.5, 26.0],
    [23.5, 24.5, 25.0, 26.5],
    [21.5, 23.0, 22.5, 23.5],
    [20.0, 21.0, 21.0, 22.5],
    [21.5, 22.5, 23.0, 25.0],
    [23.0, 23.0, 23.5, 24.0],
    [20.0, 21.0, 22.0, 21.5],
    [16.5, 19.0, 19.0, 19.5],
    [24.5, 25.0, 28.0, 28.0],

]  # fmt: skip


def fit(rows: list[list[float]], uses: list[float]) -> AlikeLines:
    return fit_alike(
        {
            str(i): [Reading(u, v) for u, v in zip(uses, row, strict=True)]
            for i, row in enumerate(rows)
        }
    )


def test_sleep_study() -> None:
    lines = fit(SLEEP, [float(d) for d in range(10)])
    assert lines.typical.intercept == pytest.approx(251.405, abs=6e-4)
    assert lines.typical.intercept_error == pytest.approx(6.825, abs=6e-4)
    assert lines.typical.slope == pytest.approx(10.467, abs=6e-4)
    assert lines.typical.slope_error == pytest.approx(1.546, abs=6e-4)
    assert lines.spread_start == pytest.approx(24.741, abs=2e-3)
    assert lines.spread_rate == pytest.approx(5.922, abs=6e-4)
    assert lines.correlation == pytest.approx(0.066, abs=6e-4)
    assert lines.noise == pytest.approx(25.592, abs=6e-4)
    assert lines.criterion == pytest.approx(1743.628, abs=6e-4)


def test_growth() -> None:
    lines = fit(GROWTH, [8.0, 10.0, 12.0, 14.0])
    assert lines.typical.intercept == pytest.approx(16.7611, abs=6e-5)
    assert lines.typical.intercept_error == pytest.approx(0.7752, abs=1e-4)
    assert lines.typical.slope == pytest.approx(0.6602, abs=6e-5)
    assert lines.typical.slope_error == pytest.approx(0.07125, abs=1e-5)
    assert lines.spread_start == pytest.approx(2.3270, abs=3e-4)
    assert lines.spread_rate == pytest.approx(0.2264, abs=1e-4)
    assert lines.correlation == pytest.approx(-0.609, abs=6e-4)
    assert lines.noise == pytest.approx(1.3100, abs=1e-4)
    assert lines.criterion == pytest.approx(442.637, abs=6e-4)
