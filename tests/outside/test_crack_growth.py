"""Cracks of ten units at nine looks: RP2017_crack-growth.csv of rleadbett/thesis (MIT text). Read.

After Rodriguez-Picon et al., 2018. No fit of lines was published; numpy's is the check.
"""

import numpy as np
import pytest

from splicewright.history.wear.bending import Course
from splicewright.history.wear.limit_met import Reading, forecast_wear
from splicewright.history.wear.line import fit_line

CRACKS = np.array(
    """0.01,0.09,0.01,0.016,0.036,0.014,0.037,0.035,0.067,0.025
0.03,0.161,0.06,0.076,0.096,0.102,0.064,0.086,0.148,0.052
0.055,0.172,0.081,0.087,0.176,0.112,0.078,0.105,0.161,0.064
0.107,0.247,0.118,0.104,0.204,0.194,0.096,0.174,0.173,0.076
0.165,0.259,0.142,0.127,0.242,0.277,0.124,0.267,0.184,0.151
0.183,0.281,0.158,0.198,0.281,0.289,0.164,0.277,0.218,0.187
0.2,0.371,0.169,0.208,0.325,0.305,0.234,0.347,0.219,0.205
0.26,0.401,0.232,0.218,0.415,0.335,0.254,0.361,0.229,0.222
0.302,0.429,0.262,0.258,0.495,0.391,0.326,0.384,0.275,0.262""".replace("\n", ",").split(","),
    dtype=float,
).reshape(9, 10)
LOOKS = np.arange(1, 10) / 10


@pytest.mark.parametrize("unit", range(10))
def test_lines_agree_with_numpy(unit: int) -> None:
    slope, intercept = np.polyfit(LOOKS, CRACKS[:, unit], 1)
    line = fit_line(LOOKS, CRACKS[:, unit])
    assert (line.intercept, line.slope) == pytest.approx((intercept, slope), rel=1e-9)


def test_an_end_is_forecast_for_each_and_few_bend() -> None:
    courses = []
    for unit in range(10):
        seen = zip(LOOKS.tolist(), CRACKS[:, unit].tolist(), strict=True)
        readings = [Reading(u, v) for u, v in seen]
        found = forecast_wear(readings, 0.5, place=f"unit {unit + 1}")
        assert 0.9 <= found.earliest <= found.likely <= found.latest
        assert found.bend is not None
        courses.append(found.bend.course)
    assert courses.count(Course.LINE) >= 6
