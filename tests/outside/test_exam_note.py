"""Capacity and power of a belt.

Source: Mining GATE study notes (2026), worked question: A 0.05 m2, v 2.5 m/s, rho 900 kg/m3,
Te 18 kN give 405 t/h and 45 kW. Exact.

Its list of traps is tested with it: radians in the Euler exponent; Te, not T1, in the power; 3.6
against 3600; divide by the efficiency.
"""

from __future__ import annotations

import math

import pytest

from proof import proves
from splicewright.quantities import Kind, read, show
from splicewright.tension.resistance.main import mass_flow_of, motor_power, pulley_power
from splicewright.tension.resistance.traction import slack_side_for_grip
from strategies import conveyor_of, published, small_loop, solved

pytestmark = proves(
    "Tension of the running belt",
    "Capacity and power of an examination question",
    "A",
    "405 t/h and 45 kW from section, speed and pull, and the list of traps that goes with it.",
    doubt="Exact arithmetic.",
    tolerance="rounding of floats",
    sketch="level",
)


def test_capacity() -> None:
    rate = mass_flow_of(0.05 * 900, 2.5)
    assert rate == pytest.approx(read("405 t/h", Kind.MASS_FLOW))
    assert show(rate, Kind.MASS_FLOW) == "405 t/h"


def test_power() -> None:
    assert pulley_power(18e3, 2.5) == pytest.approx(45e3)


def test_rate_pull_and_power_from_the_file() -> None:
    conveyor = published("exam-note-405")
    full = solved(conveyor)
    rate = mass_flow_of(conveyor.material.line_mass.value, conveyor.speed.value)
    assert show(rate, Kind.MASS_FLOW) == "405 t/h"
    assert full.pull.value == pytest.approx(18e3)
    assert full.power.value == pytest.approx(45e3)
    # The tight side is the pull and the slack side together, and does not make the power.
    head = full.at("head pulley")
    assert head.entering.value - head.leaving.value == pytest.approx(18e3)
    assert head.leaving.value > 0


def test_trap_radians() -> None:
    half_turn = read("180 deg", Kind.ANGLE)
    assert slack_side_for_grip(1.0, 1.0, 0.35, half_turn) == pytest.approx(
        1 / (math.exp(0.35 * math.pi) - 1)
    )


def test_trap_power_from_the_pull_not_from_the_tight_side() -> None:
    full = solved(conveyor_of(small_loop(drives=[{"name": "head", "efficiency": 1.0}])))
    assert full.power.value == pytest.approx(full.pull.value * 2.0)
    assert full.pull.value < full.at("carry").leaving.value


def test_trap_divide_by_the_efficiency() -> None:
    assert motor_power(1.0, 45e3, 0.9) == pytest.approx(50e3)
    assert motor_power(1.0, -45e3, 0.9) == pytest.approx(-40.5e3)  # braking: the losses help
