"""Mine conveyor at 6 deg with unequal strands: strand forces, slip and sag.

Source: V. O. Budishevsky and co-authors, "Proektuvannia transportnykh system enerhoiemnykh
vyrobnytstv" (Design of transport systems of energy-intensive production), Ukrainian university
text, pages 149-150.

Tolerance: 1 N, the last printed digit. The pull of 45 663 N is not an independent check: the
source multiplies the sum of the strands by 1.3, lift included, which this tool does not; the
difference stands in the file as one force (see there).
"""

from __future__ import annotations

import pytest

from proof import proves
from splicewright.job import plan
from splicewright.plant import load_work
from splicewright.quantities import Line
from splicewright.tension import LoadCase, Running
from strategies import published, solved

pytestmark = proves(
    "Tension of the running belt",
    "Mine conveyor at 6 degrees",
    "A",
    "Strand forces, pull, slip and sag of an inclined conveyor of 550 m whose two strands are "
    "not equally long, point by point.",
    doubt=(
        "The source multiplies lift by 1.3, which no standard does: its pull is no "
        "independent check, its strands are. Printed to 1 N."
    ),
    tolerance="1 N, the last printed digit",
    sketch="incline",
)


@pytest.fixture(scope="module")
def full() -> Running:
    return solved(published("mine-incline"))


def strand(full: Running, name: str) -> float:
    force = next(f for f in full.forces if f.run == name)
    return force.main.value + force.secondary.value + force.slope.value


def test_loaded_strand(full: Running) -> None:
    assert strand(full, "loaded strand") == pytest.approx(38188, abs=1)


def test_empty_strand_pulls_downhill(full: Running) -> None:
    assert strand(full, "empty strand") == pytest.approx(-3063, abs=1)


def test_closing_element_only_hangs(full: Running) -> None:
    # Weight of the belt over the height by which the source's strands do not close.
    rise = 550 * 0.104528463 - 500 * 0.104528463  # sin 6 deg
    assert strand(full, "closing element") == pytest.approx(-13.4 * 9.81 * rise, abs=0.1)


def test_pull(full: Running) -> None:
    assert full.pull.value == pytest.approx(45663, abs=1)


def test_slip_minimum(full: Running) -> None:
    assert full.needed[0].value == pytest.approx(6021, abs=1)


def test_sag_minimum() -> None:
    conveyor = published("mine-incline")
    record = plan(conveyor, load_work(None, conveyor)).worksheet
    line = record.find("full.loaded-strand.sag")
    assert isinstance(line, Line)
    assert line.figure.value == pytest.approx(2684, abs=1)


def test_whole_plan_holds_slip_and_sag() -> None:
    # The source chooses 6050 N behind the drive: enough for both limits there, in full running.
    conveyor = published("mine-incline")
    asked = plan(conveyor, load_work(None, conveyor)).demand
    full = asked.case(LoadCase.FULL)
    assert full.behind_drive.value >= 6021
    assert all(c.grip_kept and c.sag_kept for c in asked.cases)
