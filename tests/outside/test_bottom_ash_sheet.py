"""Bottom ash, 960 t/h over 100 m at 14 deg, after IS 11592: what can be followed of it.

Source: "Conveyor Design-Draft.xls" on two document-sharing pages; its own first line warns that
its values are not linked.

The printed total of 17 822 N contradicts its inputs, and the printed main resistance of 2717 N
follows from no reading of them. Neither is used as an expected value; the tests show the
contradiction. Expected values are the products of the printed inputs.
"""

from __future__ import annotations

import math

import pytest

from proof import proves
from splicewright.tension import Running
from splicewright.tension.resistance.main import mass_flow_of
from strategies import published, solved

pytestmark = proves(
    "Tension of the running belt",
    "Bottom ash, 960 t/h at 14 degrees",
    "A",
    "What can be followed of a published sheet, and that its printed total contradicts its inputs.",
    doubt=(
        "Its total and its main resistance are wrong by its own inputs and are used for nothing."
    ),
    tolerance="rounding of floats against the products of the printed inputs",
    sketch="incline",
)


SLOPE = math.radians(14)


@pytest.fixture(scope="module")
def full() -> Running:
    return solved(published("bottom-ash-960"))


def test_load_per_metre() -> None:
    # Printed 93.912 kg/m beside 960 t/h at 2.84 m/s: 0.02 % apart.
    load = published("bottom-ash-960").material.line_mass.value
    assert 3.6 * mass_flow_of(load, 2.84) == pytest.approx(960, rel=3e-4)


def test_main_resistance_of_the_printed_inputs(full: Running) -> None:
    expected = 0.02 * 100 * 9.81 * (15 + 15 + (2 * 7.7285 + 93.912) * math.cos(SLOPE))
    assert expected == pytest.approx(2670.7, abs=0.05)  # not the printed 2717
    assert sum(f.main.value for f in full.forces) == pytest.approx(expected, rel=1e-9)


def test_lift_alone_exceeds_the_printed_total(full: Running) -> None:
    lift = sum(f.slope.value for f in full.forces)
    assert lift == pytest.approx(93.912 * 9.81 * 100 * math.sin(SLOPE), rel=1e-9)
    assert lift > 17822
    assert full.pull.value > 17822
