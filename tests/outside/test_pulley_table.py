"""DIN 22101 pulley diameters, as a published belt table copies them.

Source: "Minimum Pulley Diameter", scribd document 134461858; factors of GB 50431 clause 8.2.1.
The page prints the middle band as "30 to 80 %"; 60 % is meant, since the first begins at 60.
"""

from __future__ import annotations

import pytest

from proof import proves
from splicewright.plant import Carcass
from splicewright.tension.second_look.pulleys import (
    FACTOR,
    Group,
    least_pulley,
    pulley_from_carcass,
)

pytestmark = proves(
    "Transition, trough and curves",
    "Least pulley, every cell of a published table",
    "A",
    "Diameters for thirteen carcasses, three groups and three uses.",
    doubt="The page prints 30 to 80 % for the middle band where 60 % is meant.",
    tolerance="none: equal to the printed diameter",
    sketch="wrap",
)


# c d | 60-100 % A B C | 30-60 % A B C | up to 30 % A B C, mm, as printed.
PRINTED = """
200 | 200 160 125 | 160 125 100 | 125 125 100
250 | 250 200 160 | 200 160 125 | 160 160 125
315 | 315 250 200 | 250 200 160 | 200 200 160
400 | 400 315 250 | 315 250 200 | 250 250 200
500 | 500 400 315 | 400 315 250 | 315 315 250
630 | 630 500 400 | 500 400 315 | 400 400 315
800 | 800 630 500 | 630 500 400 | 500 500 400
1000 | 1000 800 630 | 800 630 500 | 630 630 500
1250 | 1250 1000 800 | 1000 800 630 | 800 800 630
1400 | 1400 1250 1000 | 1250 1000 800 | 1000 1000 800
1600 | 1600 1250 1000 | 1250 1000 800 | 1000 1000 800
1800 | 1800 1400 1250 | 1400 1250 1000 | 1250 1250 1000
2000 | 2000 1600 1250 | 1600 1250 1000 | 1250 1250 1000
"""
ROWS = [line.split("|") for line in PRINTED.strip().splitlines()]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row[0].strip())
@pytest.mark.parametrize("carcass", list(FACTOR))
def test_every_cell(row: list[str], carcass: Carcass) -> None:
    thickness = float(row[0]) / 1e3 / FACTOR[carcass]
    for band, use in enumerate((0.8, 0.45, 0.15), 1):
        found = [least_pulley(carcass, thickness, g, use).diameter for g in Group]
        assert found == [int(n) / 1e3 for n in row[band].split()]


def test_factors() -> None:
    assert [FACTOR[c] for c in (Carcass.COTTON, Carcass.POLYAMIDE, Carcass.POLYESTER)] == [
        80,
        90,
        108,
    ]
    assert FACTOR[Carcass.STEEL_CORD] == 145


def test_published_drum_of_a_980_t_h_conveyor() -> None:
    # Anonymous sheet, coal 980 t/h, 540 m (777doc.com 2806925): carcass 7.2 mm of polyamide,
    # drum at least 90 x 7.2 = 648 mm.
    assert pulley_from_carcass(FACTOR[Carcass.POLYAMIDE], 7.2e-3) == pytest.approx(0.648)
