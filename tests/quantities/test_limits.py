"""Huge and tiny numbers: refused for every kind by one sentence, wherever one is typed."""

from __future__ import annotations

import math

import pytest

from splicewright.errors import BeyondError, InputError
from splicewright.quantities import POLICY, Kind, read, read_range
from splicewright.quantities.limits import LIMITS, beyond
from splicewright.quantities.measure import read_use


@pytest.mark.parametrize("kind", list(Kind))
def test_each_kind_has_ends_that_are_said(kind: Kind) -> None:
    least, most = LIMITS[kind]
    unit = POLICY[kind].accepted[0]
    for factor in (1e3, 1e-3):
        value = most * factor if factor > 1 else least * factor
        with pytest.raises(BeyondError) as refused:
            read(f"{(value - unit.offset) / unit.factor!r} {unit.name}", kind, "field")
        (fault,) = refused.value.faults
        assert fault.key == "field" and "\n" not in fault.sentence
        assert f"cannot be {kind.noun}; accepted is 0, or a size of 1e" in fault.sentence
    assert not beyond(0.0, kind) and not beyond(most, kind) and not beyond(-least, kind)
    for value in (5e-324, 1e308, math.inf, math.nan):
        assert beyond(value, kind)


@pytest.mark.parametrize(
    ("kind", "sizes"),
    [  # From memory: the smallest and largest of each kind that a conveyor has or has beside it.
        (Kind.LENGTH, (1e-5, 3.0)),  # a hundredth of a millimetre by micrometer; a belt's width
        (Kind.DISTANCE, (1e-3, 100e3)),  # the longest conveyor systems are about 100 km
        (Kind.SPEED, (0.01, 15.0)),
        (Kind.MASS_FLOW, (0.01, 11.2)),  # 40,000 t/h are 11.1 t/s
        (Kind.WIDTH_FORCE, (1e3, 10e6)),  # a steel cord belt of 10,000 N/mm
        (Kind.PRESSURE, (1e3, 210e9)),  # steel's modulus
        (Kind.TONNAGE, (1.0, 1e12)),  # a thousand million tonnes
        (Kind.TEMPERATURE, (220.0, 500.0)),
        (Kind.POWER, (1.0, 30e6)),
        (Kind.SHARE, (1e-9, 1.0)),
    ],
)  # fmt: skip
def test_what_there_is_lies_well_within(kind: Kind, sizes: tuple[float, float]) -> None:
    least, most = LIMITS[kind]
    assert 100 * least <= sizes[0] and 10 * sizes[1] <= most


def test_other_readers_say_the_same() -> None:
    for ask in (lambda: read_use("1e300 h", "use"), lambda: read_range("1 to 1e300 m", Kind.LENGTH),
                lambda: read(1e300, Kind.COUNT)):  # fmt: skip
        with pytest.raises(InputError, match="accepted is 0, or a size of"):
            ask()
