"""Horizontal conveyor of 38 m with an ST400 belt, by the "Tx, Ty, Ts, Te" method.

Source: "Revised Conveyor Belt Cal" (heading "andys belt conveyor design computation"), 66 pages,
uploaded to a document-sharing page on 31 July 2019.

Tolerance: 0.1 %. The source's own arithmetic is off by 0.04 % (Tx) and 0.07 % (Ty), so the
comparison can be no closer; the products of its inputs are compared to 1e-9 beside it.
"""

from __future__ import annotations

import pytest

from proof import proves
from splicewright.tension import Running
from splicewright.tension.resistance.traction import slack_side_for_grip
from strategies import published, solved

pytestmark = proves(
    "Tension of the running belt",
    "Level conveyor of 38 m with a 400 N/mm belt",
    "A",
    "Resistances Tx, Ty, Ts and pull Te of a short level conveyor.",
    doubt="The source's own arithmetic is off by 0.04 % and 0.07 %.",
    tolerance=(
        "0.1 %, what the source itself is off by; the products of its inputs to 1e-9 beside it"
    ),
    sketch="level",
)


LENGTH = 1.95 * 38  # Lc, printed 74.1 m
TX = 9.81 * (13.5 + 53.3 + 12.8) * 0.02 * LENGTH
TY = 9.81 * (13.5 + 44.44) * 0.03 * LENGTH


@pytest.fixture(scope="module")
def full() -> Running:
    return solved(published("belt-st400"))


def steady(full: Running) -> float:
    return sum(f.main.value + f.secondary.value for f in full.forces)


def test_computed_length() -> None:
    assert pytest.approx(74.1) == LENGTH


@pytest.mark.parametrize(("own", "printed"), [(TX, 1157.7), (TY, 1262.6)])
def test_source_agrees_with_its_inputs(own: float, printed: float) -> None:
    assert own == pytest.approx(printed, rel=1e-3)


def test_tx_and_ty(full: Running) -> None:
    assert steady(full) == pytest.approx(TX + TY, rel=1e-9)
    assert steady(full) == pytest.approx(1157.7 + 1262.6, rel=1e-3)


def test_tx_alone_is_what_the_return_run_and_the_rolls_take(full: Running) -> None:
    back = next(f for f in full.forces if f.run == "return run")
    rolls_of_carry = 9.81 * 53.3 * 0.02 * LENGTH
    assert back.main.value + back.secondary.value + rolls_of_carry == pytest.approx(
        1157.7, rel=1e-3
    )


def test_ts(full: Running) -> None:
    special = sum(f.special.value for f in full.forces if f.special is not None)
    assert special == pytest.approx(605, rel=1e-3)


def test_te(full: Running) -> None:
    assert full.pull.value == pytest.approx(3025.51, rel=1e-3)


def test_slack_side_factor() -> None:
    # K printed 0.50 for 180 deg.
    assert slack_side_for_grip(1.0, 1.0, 0.35, 3.141592653589793) == pytest.approx(0.50, abs=5e-3)
