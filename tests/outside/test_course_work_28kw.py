"""Pull at 28 kW.

Source: Ukrainian course work, conveyor drive: N 28 kW, v 1.6 m/s, efficiency 0.8, reserve 1.1,
printed pull "17.68 N".

Error in the source: the unit is kN, and 28/1.6 is 17.50, not 17.68 (1 % rounding). Expected here
is 17.50 kN; the printed number is only shown to be near.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from proof import proves
from splicewright.quantities import Worksheet
from splicewright.tension import LoadCase, demand
from splicewright.tension.resistance.main import motor_power
from splicewright.tension.resistance.traction import nameplate_pull, times
from strategies import published

pytestmark = proves(
    "Tension of the running belt",
    "Pull at 28 kW",
    "A",
    "Pull at the drum from motor power, and that a force printed in the wrong unit is questioned.",
    doubt="The source prints 17.68 N where 28/1.6 is 17.50 kN.",
    tolerance="exact arithmetic; 1.1 % against the printed digits",
    sketch="wrap",
)


def test_pull_at_the_drum() -> None:
    pull = nameplate_pull(28e3, 1.0, 1.6)
    assert pull == pytest.approx(17.50e3)
    assert pull == pytest.approx(17.68e3, rel=0.011)


def test_motor_with_reserve() -> None:
    assert motor_power(1.0, times(1.1, 28e3), 0.8) == pytest.approx(38.5e3)


def test_pull_and_motor_from_the_file() -> None:
    found = demand(published("course-work-28kw"), Worksheet())
    full = found.case(LoadCase.FULL)
    assert full.pull.value * 1.6 == pytest.approx(28e3)
    assert full.power.value == pytest.approx(28e3 / 0.8)  # 35 kW; with the reserve 38.5
    assert found.nameplate is not None
    assert found.nameplate.pull.value == pytest.approx(1.1 * 17.5e3)
    assert full.grip_kept and full.sag_kept


def test_the_printed_newtons_are_questioned() -> None:
    """17.68 N beside a motor of 38.5 kW: the tool says that one of them cannot be."""
    conveyor = published("course-work-28kw")
    stated = conveyor.specials[0]
    printed = replace(stated, inputs=(("force", stated["force"].at(17.68)),))
    found = demand(replace(conveyor, specials=(printed,)), Worksheet())
    said = " ".join(str(s) for s in found.findings)
    assert "The motors could give 19.3 kN, full load needs only 0.0177 kN: check plate" in said
    assert "is about a thousand times too large" in said
    assert "check its unit (drives.1.power)" in said
