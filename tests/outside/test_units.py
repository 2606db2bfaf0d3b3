"""Every unit of every kind of quantity against pint, an independent units library.

Our spellings are mapped to pint's where they differ. Tolerance: 1e-12, rounding of floats only;
the factors are exact by definition (NIST Special Publication 811, appendix B). Inch fractions are
checked against fractions.Fraction of the standard library.
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from proof import proves
from splicewright.errors import BeyondError
from splicewright.quantities import POLICY, STANDARD_GRAVITY, Kind, read
from splicewright.quantities.limits import beyond

pytestmark = proves(
    "Drawings and units",
    "Every unit of every kind",
    "B",
    "Every accepted spelling against pint, an independent units library.",
    doubt="Factors exact by definition (NIST SP 811).",
    tolerance="1e-12: rounding of floats",
    sketch="rule",
)


@cache
def units() -> Any:
    """Loaded by the process that asks."""
    import pint

    return pint.UnitRegistry()


PINT: dict[str, str] = {
    '"': "inch",
    "'": "foot",
    "inches": "inch",
    "mm2": "mm**2",
    "cm2": "cm**2",
    "m2": "m**2",
    "in2": "inch**2",
    "ft2": "foot**2",
    "t": "metric_ton",
    "short ton": "short_ton",
    "long ton": "long_ton",
    "kgf": "kilogram_force",
    "lbf": "pound_force",
    "kgf/cm": "kilogram_force/cm",
    "lbf/in": "pound_force/inch",
    "piw": "pound_force/inch",
    "lb/in": "pound_force/inch",
    "lb/ft": "pound/foot",
    "lbf/ft": "pound_force/foot",
    "kg/m2": "kg/m**2",
    "lb/ft2": "pound/foot**2",
    "t/h": "metric_ton/hour",
    "t/min": "metric_ton/minute",
    "kg/min": "kg/minute",
    "short ton/h": "short_ton/hour",
    "long ton/h": "long_ton/hour",
    "lb/h": "pound/hour",
    "lb/min": "pound/minute",
    "m3/h": "m**3/hour",
    "m3/s": "m**3/second",
    "ft3/h": "foot**3/hour",
    "kg/m3": "kg/m**3",
    "t/m3": "metric_ton/m**3",
    "kg/l": "kg/liter",
    "lb/ft3": "pound/foot**3",
    "m/min": "m/minute",
    "km/h": "km/hour",
    "ft/min": "foot/minute",
    "fpm": "foot/minute",
    "ft/s": "foot/second",
    "m/s2": "m/s**2",
    "ft/s2": "foot/s**2",
    "deg": "degree",
    "°": "degree",
    "hp": "horsepower",
    "metric hp": "metric_horsepower",
    "N m": "N*m",
    "Nm": "N*m",
    "kN m": "kN*m",
    "lbf ft": "pound_force*foot",
    "lbf in": "pound_force*inch",
    "ft lb": "foot*pound_force",
    "in lb": "inch*pound_force",
    "ft lbf": "foot*pound_force",
    "N/mm2": "N/mm**2",
    "min": "minute",
    "h": "hour",
    "d": "day",
    "weeks": "week",
    "degC": "degC",
    "°C": "degC",
    "C": "degC",
    "degF": "degF",
    "°F": "degF",
    "F": "degF",
    "%": "percent",
    "kt": "kilometric_ton",
    "Mt": "megametric_ton",
    "turns": "dimensionless",
    "turn": "dimensionless",
    "": "dimensionless",
    "1": "dimensionless",
    "N": "newton",
}
"""Our spelling -> pint's, where pint would read it otherwise or not at all."""

SI: dict[str, str] = {"m2": "m**2", "kg/m2": "kg/m**2", "kg/m3": "kg/m**3", "m/s2": "m/s**2",
                      "m3/s": "m**3/s", "N m": "N*m", "1": "dimensionless"}  # fmt: skip

OURS = [(kind, unit.name) for kind, policy in POLICY.items() for unit in policy.accepted]


def by_pint(number: float, kind: Kind, unit: str) -> float:
    name = PINT.get(unit, unit)
    if unit == "lb" and kind is Kind.FORCE:
        name = "pound_force"  # as crews say it of pulls and clamps
    si = POLICY[kind].si
    quantity = units().Quantity(number, name).to(SI.get(si, si))
    return float(quantity.magnitude)


@pytest.mark.parametrize(("kind", "unit"), OURS)
def test_every_unit_of_every_kind(kind: Kind, unit: str) -> None:
    for number in (1.0, 12.75):
        text = f"{number} {unit}"
        assert read(text, kind) == pytest.approx(by_pint(number, kind, unit), rel=1e-12), text


@given(
    st.sampled_from(OURS),
    st.decimals("0.001", "99999", places=3, allow_nan=False, allow_infinity=False),
)
def test_any_number_in_any_unit(ours: tuple[Kind, str], number: Any) -> None:
    kind, unit = ours
    there = by_pint(float(number), kind, unit)
    if beyond(there, kind):
        with pytest.raises(BeyondError):
            read(f"{number} {unit}", kind)
        return
    assert read(f"{number} {unit}", kind) == pytest.approx(there, rel=1e-12)


@given(st.integers(0, 400), st.integers(1, 63), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_inch_fractions(whole: int, top: int, bottom: int) -> None:
    exact = (whole + Fraction(top, bottom)) * Fraction(254, 10000)
    for text in (
        f"{whole}-{top}/{bottom} in",
        f"{whole} {top}/{bottom} in",
        f'{whole}-{top}/{bottom}"',
        f"{whole}{_signs(top, bottom)} in",
    ):
        assert read(text, Kind.LENGTH) == pytest.approx(float(exact), rel=1e-14)


@given(st.integers(0, 500), st.integers(0, 11), st.integers(0, 31))
def test_feet_inches_and_fractions(feet: int, inches: int, top: int) -> None:
    exact = (12 * feet + inches + Fraction(top, 32)) * Fraction(254, 10000)
    text = f"{feet} ft {inches}-{top}/32 in"
    assert read(text, Kind.DISTANCE) == pytest.approx(float(exact), rel=1e-14)
    assert read(f"{feet}' {inches} {top}/32\"", Kind.DISTANCE) == pytest.approx(
        float(exact), rel=1e-14
    )


@pytest.mark.parametrize(
    ("sign", "value"),
    [("½", Fraction(1, 2)), ("¼", Fraction(1, 4)), ("¾", Fraction(3, 4)), ("⅜", Fraction(3, 8))],
)
def test_fraction_signs(sign: str, value: Fraction) -> None:
    for whole in ("", "3"):
        exact = (int(whole or 0) + value) * Fraction(254, 10000)
        assert read(f"{whole}{sign} in", Kind.LENGTH) == pytest.approx(float(exact), rel=1e-14)


def test_standard_gravity_is_the_one_pint_has() -> None:
    exact = units().Quantity(1, "standard_gravity").to("m/s**2").magnitude
    assert exact == STANDARD_GRAVITY


def test_horsepower_is_not_metric_horsepower() -> None:
    assert read("1 hp", Kind.POWER) > read("1 metric hp", Kind.POWER) * 1.01


def test_every_kind_can_be_read_in_what_it_is_shown_in() -> None:
    for kind, policy in POLICY.items():
        names = {unit.name: unit.factor for unit in policy.accepted}
        for shown in (policy.metric, policy.inch):
            assert names[shown.unit] == pytest.approx(shown.factor, rel=1e-15), kind


def _signs(top: int, bottom: int) -> str:
    """A fraction with the fraction slash, as typographic programs write it."""
    return f" {top}⁄{bottom}"
