"""The short form with two drives, and with more than half a turn at the driven pulley.

A belt that comes back on itself has turned once round: what it turns about the pulleys inside the
loop, less what it turns about those outside, is 360 degrees (plane geometry).
"""

from __future__ import annotations

import math

import pytest

from splicewright.errors import InputError
from splicewright.plant import Conveyor, Cover
from strategies import conveyor_of, outline


def turned(conveyor: Conveyor) -> float:
    """Turns of the belt about all pulleys, those on the carry cover the other way [deg]."""
    return math.degrees(
        sum(
            p.wrap.value if p.touches is Cover.PULLEY else -p.wrap.value for p in conveyor.pulleys()
        )
    )


@pytest.mark.parametrize("kind", ["gravity", "screw"])
@pytest.mark.parametrize("end", ["head", "tail"])
@pytest.mark.parametrize("wrap", [180, 205, 230])
def test_a_loop_with_any_wrap_closes(kind: str, end: str, wrap: int) -> None:
    given = outline(take_up={"kind": kind})
    given["outline"] |= {"drive_at": end, "drive_wrap": f"{wrap} deg"}
    conveyor = conveyor_of(given)
    assert turned(conveyor) == pytest.approx(360.0)
    driven = next(p for p in conveyor.pulleys() if p.drive)
    assert driven.name == f"{end} pulley"
    assert math.degrees(driven.wrap.value) == pytest.approx(wrap)
    names = [p.name for p in conveyor.pulleys()]
    assert ("snub pulley" in names) == (wrap > 180)
    if wrap > 180:
        # Beside the driven pulley, on the return side of it.
        apart = (names.index("snub pulley") - names.index(f"{end} pulley")) % len(names)
        assert apart == (1 if end == "head" else len(names) - 1)


@pytest.mark.parametrize("end", ["head", "tail"])
def test_two_drives_turn_head_and_tail(end: str) -> None:
    given = outline(drives=[{"name": "main", "power": "55 kW"}, {"name": "aid", "power": "30 kW"}])
    given["outline"]["drive_at"] = end
    turns = {p.name: p.drive for p in conveyor_of(given).pulleys() if p.drive}
    other = "tail" if end == "head" else "head"
    assert turns == {f"{end} pulley": "main", f"{other} pulley": "aid"}


def test_three_drives_want_the_long_form() -> None:
    given = outline(drives=[{"name": n, "power": "30 kW"} for n in "abc"])
    with pytest.raises(InputError, match=r"drives: 3 are given; the short form takes two"):
        conveyor_of(given)
