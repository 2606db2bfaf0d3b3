"""Belt markings: order by the open designation standards (width, carcass, strength, plies,
covers)."""

from __future__ import annotations

import pytest

from splicewright.plant import Carcass, read_marking
from splicewright.plant.belt import Marking, marking_refused


@pytest.mark.parametrize(
    ("text", "marking"),
    [
        ("EP 500/3 5+2", Marking(Carcass.POLYESTER, 500e3, 3, 0.005, 0.002, None)),
        ("EP500/3", Marking(Carcass.POLYESTER, 500e3, 3, None, None, None)),
        ("1000 ST 1600 8+6", Marking(Carcass.STEEL_CORD, 1600e3, None, 0.008, 0.006, 1.0)),
        ("1200 mm EP 800/4 6+3", Marking(Carcass.POLYESTER, 800e3, 4, 0.006, 0.003, 1.2)),
        ("NN 1200/6 6+1.5", Marking(Carcass.POLYAMIDE, 1200e3, 6, 0.006, 0.0015, None)),
        ("1000x EP 630/4 5 mm + 1.5 mm", Marking(Carcass.POLYESTER, 630e3, 4, 0.005, 0.0015, 1.0)),
        ("ep 400/3 5+2 x", Marking(Carcass.POLYESTER, 400e3, 3, 0.005, 0.002, None)),
        ("PVG 1000 4+2", Marking(Carcass.SOLID_WOVEN, 1000e3, None, 0.004, 0.002, None)),
        ("EP400/3-5/1.5", Marking(Carcass.POLYESTER, 400e3, 3, 0.005, 0.0015, None)),
        ("CC 200/2, 3+1", Marking(Carcass.COTTON, 200e3, 2, 0.003, 0.001, None)),
    ],
)
def test_read(text: str, marking: Marking) -> None:
    assert read_marking(text) == marking


@pytest.mark.parametrize("text", ["", "belt", "EP", "500/3", "XX 500/3", "EP 500/3 5", "EP 5/3"])
def test_not_read(text: str) -> None:
    assert read_marking(text) is None


def test_steel_cord_is_no_textile() -> None:
    assert [c for c in Carcass if not c.textile] == [Carcass.STEEL_CORD]


def test_a_working_rating_is_no_strength_and_the_sentence_says_what_to_write() -> None:
    """A rating is what the belt may pull in service; how it stands to the strength is not told."""
    assert read_marking("3-ply 330 3/16 x 1/16") is None
    said = marking_refused("3-ply 330 3/16 x 1/16")
    for words in ("working rating of 330 lbf/in", "no breaking strength", "plies = 3",
                  'top_cover = "3/16 in"', 'bottom_cover = "1/16 in"'):  # fmt: skip
        assert words in said
    assert "accepted is carcass" in marking_refused("belt")
