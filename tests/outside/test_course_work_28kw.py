"""Pull at 28 kW.

Source: Ukrainian course work, conveyor drive: N 28 kW, v 1.6 m/s, efficiency 0.8, reserve 1.1,
printed pull "17.68 N".

Error in the source: the unit is kN, and 28/1.6 is 17.50, not 17.68 (1 % rounding). Expected here
is 17.50 kN; the printed number is only shown to be near.
"""

from __future__ import annotations

import pytest

from splicewright.tension.resistance import motor_power
from splicewright.tension.traction import nameplate_pull, times


def test_pull_at_the_drum() -> None:
    pull = nameplate_pull(28e3, 1.0, 1.6)
    assert pull == pytest.approx(17.50e3)
    assert pull == pytest.approx(17.68e3, rel=0.011)


def test_motor_with_reserve() -> None:
    assert motor_power(1.0, times(1.1, 28e3), 0.8) == pytest.approx(38.5e3)
