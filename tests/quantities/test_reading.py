"""Reading numbers with units: what is accepted, and each refusal word for word."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from splicewright.errors import InputError, UnitError
from splicewright.quantities import POLICY, Kind, read, read_range

LENGTHS = "mm, cm, dm, m, km, in, inch, inches, \", ft, feet, ', yd"
A_LENGTH = f"accepted is a length such as 11.5 mm or 19/32 in (units: {LENGTHS})"
A_TEMPERATURE = (
    "accepted is a temperature such as 20 degC or 68 degF (units: degC, °C, C, K, degF, °F, F)"
)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("11.5 mm", Kind.LENGTH, 0.0115),
        ("11.5mm", Kind.LENGTH, 0.0115),
        ("  11.5   mm  ", Kind.LENGTH, 0.0115),
        (".5 m", Kind.LENGTH, 0.5),
        ("5e3 mm", Kind.LENGTH, 5.0),
        ("6 ft 3 in", Kind.DISTANCE, 75 * 0.0254),
        ("-6 ft 3 in", Kind.DISTANCE, -75 * 0.0254),
        ("6′ 3″", Kind.DISTANCE, 75 * 0.0254),
        ("1\u00a01/2\u00a0in", Kind.LENGTH, 0.0381),
        ("-1/2 in", Kind.LENGTH, -0.0127),
        ("−5 °C", Kind.TEMPERATURE, 268.15),
        ("-40 degF", Kind.TEMPERATURE, 233.15),
        ("5 kg/m³", Kind.DENSITY, 5.0),
        ("0.2 m/s^2", Kind.ACCELERATION, 0.2),
        ("5 N·m", Kind.TORQUE, 5.0),
        ("5 N*m", Kind.TORQUE, 5.0),
        ("80 N / mm", Kind.WIDTH_FORCE, 80e3),
        ("2 h 30 min", Kind.TIME, 9000.0),
        ("85 %", Kind.SHARE, 0.85),
        ("0.85", Kind.SHARE, 0.85),
        (0.85, Kind.SHARE, 0.85),
        (3, Kind.COUNT, 3.0),
        ("5 MM", Kind.LENGTH, 0.005),
        ("300 Kg", Kind.MASS, 300.0),
        ("2 kn", Kind.FORCE, 2000.0),
    ],
)
def test_accepted(text: object, kind: Kind, value: float) -> None:
    assert read(text, kind) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", f"is empty; {A_LENGTH}"),
        ("12", f'"12" has no unit; {A_LENGTH}'),
        (12, f"12 has no unit; {A_LENGTH}"),
        ("12 kg", f'"12 kg" has the unit "kg"; {A_LENGTH}'),
        ("1/0 in", f'"1/0 in" divides by zero; {A_LENGTH}'),
        ("nan mm", f'"nan mm" cannot be read as a number with a unit; {A_LENGTH}'),
        ("inf mm", f'"inf mm" cannot be read as a number with a unit; {A_LENGTH}'),
        ("1e999 m", f'"1e999 m" is not a finite number; {A_LENGTH}'),
        ("1,5 mm", f'"1,5 mm" has a comma: write decimals with a point; {A_LENGTH}'),
        (True, f"True is no number with a unit; {A_LENGTH}"),
        (None, f"None is no number with a unit; {A_LENGTH}"),
        ("x" * 81, f"a text of 81 characters is no number with a unit; {A_LENGTH}"),
        ("--5 mm", f'"--5 mm" cannot be read as a number with a unit; {A_LENGTH}'),
        ("5 mm extra", f'"5 mm extra" has the unit "mm extra"; {A_LENGTH}'),
        ("6 ft -3 in", f'"6 ft -3 in" holds more than one number; {A_LENGTH}'),
        ("5 M", f'"5 M" has the unit "M"; {A_LENGTH}'),
    ],
)
def test_refused_lengths(text: object, sentence: str) -> None:
    with pytest.raises(UnitError) as caught:
        read(text, Kind.LENGTH, "belt.thickness")
    assert str(caught.value) == f"belt.thickness: {sentence}"


@pytest.mark.parametrize(
    ("text", "kind", "start"),
    [
        (float("nan"), Kind.RATIO, "nan is not a finite number"),
        (float("inf"), Kind.RATIO, "inf is not a finite number"),
        ("12 kg 3 kg", Kind.MASS, '"12 kg 3 kg" holds more than one number'),
        ("-300 degC", Kind.TEMPERATURE, '"-300 degC" is below absolute zero'),
        (
            "600 tph",
            Kind.MASS_FLOW,
            '"600 tph": tons differ: write t/h (metric, 1000 kg), short ton/h (2000 lb) or long '
            "ton/h",
        ),
        (
            "5 tons",
            Kind.MASS,
            '"5 tons": tons differ: write t (metric, 1000 kg), short ton (2000 lb) or long ton',
        ),
        ("5 mN", Kind.FORCE, '"5 mN" has the unit "mN"'),
        ("5 mW", Kind.POWER, '"5 mW" has the unit "mW"'),
    ],
)
def test_refused_others(text: object, kind: Kind, start: str) -> None:
    with pytest.raises(UnitError) as caught:
        read(text, kind)
    assert str(caught.value).startswith(f"{start}; accepted is {kind.noun} such as ")


def test_refusal_of_a_temperature_word_for_word() -> None:
    with pytest.raises(UnitError, match=r"^ambient: ") as caught:
        read("20", Kind.TEMPERATURE, "ambient")
    assert str(caught.value) == f'ambient: "20" has no unit; {A_TEMPERATURE}'


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("10 to 12 mm", 0.010, 0.012),
        ("10 mm to 12 mm", 0.010, 0.012),
        ("3/8 to 1/2 in", 0.009525, 0.0127),
        ("12 mm to 1/2 in", 0.012, 0.0127),
        ("-5 to 5 mm", -0.005, 0.005),
    ],
)
def test_ranges(text: str, low: float, high: float) -> None:
    assert read_range(text, Kind.LENGTH) == pytest.approx(((low + high) / 2, low, high))


def test_a_plain_number_is_its_own_range() -> None:
    assert read_range("11 mm", Kind.LENGTH) == (0.011, 0.011, 0.011)


def test_range_of_temperatures() -> None:
    assert read_range("-10 to 30 degC", Kind.TEMPERATURE)[1:] == (263.15, 303.15)


def test_range_from_high_to_low_is_refused() -> None:
    with pytest.raises(UnitError) as caught:
        read_range("12 to 10 mm", Kind.LENGTH, "thickness")
    assert str(caught.value) == f'thickness: "12 to 10 mm" runs from high to low; {A_LENGTH}'


def test_range_without_a_unit_is_refused() -> None:
    with pytest.raises(UnitError, match=r'^"12" has no unit'):
        read_range("10 mm to 12", Kind.LENGTH)


@given(st.text(max_size=90), st.sampled_from(list(Kind)))
def test_any_text_is_read_or_refused_in_one_sentence(text: str, kind: Kind) -> None:
    try:
        low, high = read_range(text, kind, "field")[1:]
    except InputError as error:
        assert len(error.faults) == 1
        assert error.faults[0].key == "field"
    else:
        assert low <= high


@pytest.mark.parametrize("kind", list(Kind))
def test_the_example_of_every_kind_can_be_read(kind: Kind) -> None:
    values = [read(part, kind) for part in POLICY[kind].example.split(" or ")]
    # Both halves of an example say about the same thing.
    assert max(values) <= 1.3 * min(values) or kind is Kind.TIME or min(values) < 1


@pytest.mark.parametrize(
    ("text", "kind", "likely", "low", "high"),
    [
        ("9,5 mm", Kind.LENGTH, 0.0095, 0.0095, 0.0095),
        ("12,25 kN", Kind.FORCE, 12250.0, 12250.0, 12250.0),
        ("200 t/hr", Kind.MASS_FLOW, 200 / 3.6, 200 / 3.6, 200 / 3.6),
        ("8 hours", Kind.TIME, 28800.0, 28800.0, 28800.0),
        ("9-10 mm", Kind.LENGTH, 0.0095, 0.009, 0.010),
        ("9 – 10 mm", Kind.LENGTH, 0.0095, 0.009, 0.010),
        ("9…10 mm", Kind.LENGTH, 0.0095, 0.009, 0.010),
        ("9,5-10,5 mm", Kind.LENGTH, 0.010, 0.0095, 0.0105),
        ("1-3/8 in", Kind.LENGTH, 1.375 * 0.0254, 1.375 * 0.0254, 1.375 * 0.0254),
        ("1 - 3/8 in", Kind.LENGTH, 1.375 * 0.0254, 1.375 * 0.0254, 1.375 * 0.0254),
        ("180-190 t/hr", Kind.MASS_FLOW, 185 / 3.6, 180 / 3.6, 190 / 3.6),
    ],
)
def test_as_people_write_it(text: str, kind: Kind, likely: float, low: float, high: float) -> None:
    assert read_range(text, kind) == pytest.approx((likely, low, high), rel=1e-12)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("about 300 mm", 'is no number alone: write "300 mm", or the span it lies in'),
        ("ca. 300 mm", 'write "300 mm"'),
        ("~300 mm", 'write "300 mm"'),
        ("1,500 mm", "may mean 1500 or 1.500: write one of them"),
        ("10-9 mm", "runs from high to low"),
    ],
)
def test_what_cannot_be_read_says_the_nearest_form_that_can(text: str, message: str) -> None:
    with pytest.raises(UnitError) as refused:
        read_range(text, Kind.LENGTH)
    assert message in str(refused.value)


@given(st.floats(1.0, 900.0), st.floats(1.0, 900.0))
def test_a_span_with_a_dash_is_the_span_with_to(one: float, other: float) -> None:
    low, high = sorted((round(one, 2), round(other, 2)))
    dashed = read_range(f"{low}-{high} mm", Kind.LENGTH)
    assert dashed == read_range(f"{low} to {high} mm", Kind.LENGTH)
