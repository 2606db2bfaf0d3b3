"""Measured beside predicted: verdicts by hand, and how often the range of a reading holds."""

from __future__ import annotations

import math

import numpy as np
import pytest

from depth import sized
from splicewright.actions.measurement import _bound, _half_width
from splicewright.errors import InputError
from splicewright.history.measurement import Agreement, Compared, compare_wear, score
from splicewright.history.wear.limit_met import Reading
from splicewright.history.wear.study import Series
from splicewright.quantities import Figure, Kind, Line, Record


def compared(measured: float, uncertainty: float | None, bound: str = "") -> Agreement:
    return Compared(
        "pull", "pull", Kind.FORCE, 40e3, measured, uncertainty=uncertainty, bound=bound
    ).verdict


def test_score_by_hand() -> None:
    """Derived: 3 and 4 in square are 5; a difference of 10 is two of them."""
    assert score(10.0, 3.0, 4.0) == pytest.approx(2.0)
    assert score(-10.0, 5.0, 0.0) == pytest.approx(-2.0)
    assert score(0.0, 0.0, 0.0) == 0.0
    assert score(-1.0, 0.0, 0.0) == -math.inf


@pytest.mark.parametrize(
    ("measured", "uncertainty", "verdict"),
    [
        (41.9e3, 2e3, Agreement.EXPLAINED),
        (42e3, 2e3, Agreement.EXPLAINED),  # just as far off as it is uncertain
        (38e3, 2e3, Agreement.EXPLAINED),
        (42.1e3, 2e3, Agreement.MORE),
        (37.9e3, 2e3, Agreement.LESS),
        (40e3, None, Agreement.OPEN),
        (80e3, None, Agreement.OPEN),
    ],
)
def test_a_likely_value(measured: float, uncertainty: float | None, verdict: Agreement) -> None:
    assert compared(measured, uncertainty) is verdict


@pytest.mark.parametrize(
    ("measured", "uncertainty", "bound", "verdict"),
    [
        (30e3, 2e3, "largest", Agreement.WITHIN),
        (38e3, 2e3, "largest", Agreement.WITHIN),  # its bad end just at the bound
        (42e3, 2e3, "least", Agreement.WITHIN),
        (40e3, None, "largest", Agreement.WITHIN),
        # Doubt at its bad end: 39 and 2 more may be above 40.
        (39e3, 2e3, "largest", Agreement.BEYOND),
        (41e3, None, "largest", Agreement.BEYOND),
        (43e3, 2e3, "least", Agreement.WITHIN),
        (41e3, 2e3, "least", Agreement.BEYOND),
    ],
)
def test_a_bound_is_not_excused_by_a_poor_measurement(
    measured: float, uncertainty: float | None, bound: str, verdict: Agreement
) -> None:
    assert compared(measured, uncertainty, bound) is verdict


def test_a_typical_value_is_held_against_its_range_and_the_ends_are_bounds() -> None:
    """Plate loads 1.0, 2.0, 3.5 kN: 1.2 kN lies 0.8 below 2.0, and 1.0 of range explains it; 3.9 kN
    lies 1.9 above with 1.5 of range. The ends are held as bounds."""
    lines = [
        Line(Figure(f"loads.worst.{end}", "load", v, Kind.FORCE), "", "", "", (), ())
        for end, v in (("smallest", 1e3), ("typical", 2e3), ("largest", 3.5e3))
    ]
    record = Record((*lines, Line(Figure("pull", "pull", 9.0, Kind.FORCE), "", "", "", (), ())))
    assert _half_width(record, "loads.worst.typical", 1.2e3) == 1e3
    assert _half_width(record, "loads.worst.typical", 3.9e3) == 1.5e3
    assert _half_width(record, "pull", 3.0) is None
    keys = [*(line.figure.key for line in lines), "pull"]
    ends = {k: _bound(record, k) for k in keys}
    assert ends == {
        "loads.worst.smallest": "least", "loads.worst.typical": "",
        "loads.worst.largest": "largest",
        "pull": "",
    }  # fmt: skip


def worn(uses: list[float], values: list[float], place: str = "cover") -> Series:
    readings = [Reading(u, v, f"use {u:g}") for u, v in zip(uses, values, strict=True)]
    return Series(place, tuple(readings), 2e-3)


def test_later_readings_are_explained_as_often_as_is_said() -> None:
    """Drawn by NumPy about a straight line with a scatter of 0.1 mm: 95 of 100 are held."""
    rng = np.random.default_rng(4)
    uses = np.arange(0.0, 1000.0, 125.0)
    runs = sized(200, deep=4000)
    held = 0
    for _ in range(runs):
        drawn = 8e-3 - 4e-6 * np.append(uses, 1250.0) + rng.normal(0, 1e-4, uses.size + 1)
        before, after = worn(uses.tolist(), drawn[:-1].tolist()), worn([1250.0], [drawn[-1]])
        (one,) = compare_wear([before], [after])
        held += one.verdict is Agreement.EXPLAINED
    assert held / runs == pytest.approx(0.95, abs=2.6 * math.sqrt(0.95 * 0.05 / runs) + 0.02)


def test_a_reading_that_is_not_later_and_a_place_unknown_are_refused() -> None:
    before = worn([0.0, 100.0, 200.0, 300.0], [8e-3, 7.6e-3, 7.2e-3, 6.9e-3])
    with pytest.raises(InputError, match="is not later than the readings"):
        compare_wear([before], [worn([300.0], [6.8e-3])])
    with pytest.raises(InputError, match="has no earlier readings; there are: cover"):
        compare_wear([before], [worn([400.0], [6.8e-3], "edge")])
