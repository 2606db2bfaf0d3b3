"""Cure time, heats and drying of a vulcanised joint: by hand, and by trying every point."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from splicewright.joint import StepGeometry, StepSize, lay_steps
from splicewright.joint.curing import cure_held
from splicewright.joint.fasteners.ranges import CureTime
from splicewright.plant import Work, load_work
from splicewright.quantities import Given, Kind, Worksheet, stated
from strategies import conveyor_of, outline, step_size

PLANT = conveyor_of(outline())
WORK = load_work(None, PLANT)
TABLE = (
    CureTime(0.012, 418.15, 1500.0),
    CureTime(0.016, 418.15, 1800.0),
    CureTime(0.016, 413.15, 2700.0),
)


def laid(size: StepSize, width: float = 1.0, work: Work = WORK) -> StepGeometry:
    wide = stated("w", "belt width", width, Kind.LENGTH)
    thick = stated("belt.thickest", "thickest", 0.010, Kind.LENGTH)
    return lay_steps(size, wide, PLANT, work, thick, Worksheet())


def length(value: float, key: str = "press.length") -> Given:
    return stated(key, key, value, Kind.DISTANCE)


def test_the_longer_time_is_taken_between_rows() -> None:
    """Read by hand off the table: 14 mm at 143 °C takes the row of 16 mm at 140 °C."""
    size = step_size(cures=TABLE)
    assert cure_held(size, 0.010, None) == 1500.0
    assert cure_held(size, 0.0121, None) == 1800.0
    assert cure_held(size, 0.014, 416.15) == 2700.0
    assert cure_held(size, 0.0161, None) is None
    assert cure_held(size, 0.010, 405.0) is None


def test_without_a_table_a_colder_press_has_no_time() -> None:
    size = step_size()
    assert cure_held(size, 0.02, None) == size.cure_time
    assert cure_held(size, 0.02, size.cure_temperature - 5) is None


@given(st.floats(0.008, 0.016), st.floats(413.15, 425.0))
def test_a_thicker_belt_or_a_colder_press_is_never_held_shorter(thick: float, at: float) -> None:
    size = step_size(cures=TABLE)
    held = cure_held(size, thick, at)
    assert held is not None
    for other in ((thick - 0.001, at), (thick, at + 3.0)):
        shorter = cure_held(size, *other)
        assert shorter is not None and shorter <= held


@given(
    platen=st.floats(0.3, 2.5), lap=st.floats(0.02, 0.2), bias=st.floats(0.0, 0.5),
    press=st.floats(0.0, 0.5),
)  # fmt: skip
def test_the_heats_cover_every_point_of_the_joint(
    platen: float, lap: float, bias: float, press: float
) -> None:
    """Points of the joint and 100 mm past it on a grid: each lies under some heat, neighbours lap
    by what the range asks, and one heat fewer would leave a point bare."""
    size = step_size(bias=bias, press_beyond=0.1, heat_overlap=lap, step_length=0.25)
    work = replace(
        WORK, press_length=length(platen),
        press_bias=stated("press.bias", "bias", press, Kind.ANGLE),
    )  # fmt: skip
    joint = laid(size, 0.9, work)
    cure = joint.curing
    assert cure is not None
    half = joint.overlap.value / 2 + 0.1
    for y in (-0.45, -0.2, 0.0, 0.3, 0.45):
        for n in range(41):
            x = (n / 20 - 1) * half + y * math.tan(bias)
            under = [abs(x - y * math.tan(press) - p) <= platen / 2 + 1e-9 for p in cure.places]
            assert any(under), (x, y)
    steps = [b - a for a, b in zip(cure.places, cure.places[1:], strict=False)]
    assert all(platen - step >= lap - 1e-9 for step in steps)
    if len(cure.places) > 1:
        fewer = len(cure.places) - 1
        assert fewer * platen - (fewer - 1) * lap < cure.press_length.value


def test_every_heat_has_its_own_heating_cure_and_cooling() -> None:
    """By hand: 2 x 0.2 m and 0.8 tan 0.35 and twice 0.1 m is 0.892 m: two heats of 0.6 m."""
    size = step_size(press_beyond=0.1, heat_overlap=0.1)
    once = laid(size, 0.8)
    twice = laid(size, 0.8, replace(WORK, press_length=length(0.6)))
    assert twice.curing is not None and twice.curing.heats.value == 2
    assert once.press_time.value == (45 + 25 + 60) * 60
    assert twice.press_time.value == 2 * once.press_time.value
    assert twice.curing.press_length.value == pytest.approx(0.4 + 0.8 * 0.365028 + 0.2, abs=1e-5)


def test_humidity_nobody_measured_is_saturated() -> None:
    """Unknown is unsafe: dew at the temperature of the air, faces warmer by the margin."""
    cure = laid(step_size(dew_margin=4.0)).curing
    assert cure is not None
    assert cure.dew.value == pytest.approx(cure.air.value)
    assert cure.face.value == pytest.approx(cure.air.value + 4.0)
    dry = laid(
        step_size(), 1.0, replace(WORK, humidity=stated("air.humidity", "h", 0.5, Kind.SHARE))
    ).curing
    assert dry is not None and dry.dew.value < cure.dew.value - 5


def test_drying_is_every_coat_after_the_other() -> None:
    cure = laid(step_size(coats=3, drying=1200.0)).curing
    assert cure is not None and cure.drying is not None and cure.drying.value == 3600.0
    silent = laid(step_size(coats=3)).curing
    assert silent is not None and silent.drying is None
