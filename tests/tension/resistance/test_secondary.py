"""Secondary terms: physics worked another way, hand sums, and the assumptions they carry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from proof import proves
from splicewright.plant import Carcass
from splicewright.quantities import Figure, Kind, Worksheet, explain, stated
from splicewright.tension.resistance.main import GRAVITY, skirt_resistance
from splicewright.tension.resistance.secondary import (
    belt_wrap,
    feed_acceleration,
    feed_zone_friction,
    feed_zone_length,
    pulley_bearings,
)
from splicewright.tension.resistance.secondary_sum import (
    Feed,
    PulleyPass,
    SecondaryTerms,
    remembered_bearings,
    remembered_bending,
    remembered_feed_friction,
    secondary_terms,
)

pytestmark = proves(
    "Tension of the running belt",
    "Secondary resistances one by one",
    "C",
    "Feed zone, skirts, belt wrap and bearings worked by hand.",
    doubt="Forms of the standard from memory, arithmetic exact.",
    tolerance="rounding of floats: both sides are the same relation written twice",
    sketch="level",
)


@given(st.floats(1.0, 6.0), st.floats(0.0, 0.9), st.floats(0.3, 0.8))
def test_the_feed_zone_is_the_way_of_a_grain_dragged_to_belt_speed(
    speed: float, share: float, friction: float
) -> None:
    feed = share * speed
    time = (speed - feed) / (friction * GRAVITY)
    way = solve_ivp(lambda t, y: [y[1], friction * GRAVITY], (0, time), [0.0, feed]).y[0, -1]
    assert feed_zone_length(speed, feed, friction) == pytest.approx(way, rel=1e-6)


def test_a_feed_faster_than_the_belt_drives_it_and_needs_no_zone() -> None:
    assert float(feed_acceleration(0.1, 1600.0, 2.0, 3.0)) < 0
    assert feed_zone_length(2.0, 3.0, 0.6) == 0.0


def test_momentum_of_one_second_of_load() -> None:
    # 0.5 m3/s of 950 kg/m3 is 475 kg each second, brought from 1 to 2.5 m/s: 712.5 N.
    assert feed_acceleration(0.5, 950.0, 2.5, 1.0) == pytest.approx(712.5)


def test_fed_at_belt_speed_the_boards_rub_as_beyond_the_feed_zone() -> None:
    here = feed_zone_friction(0.6, 0.5, 950.0, 3.0, 2.5, 2.5, 0.5)
    assert here == pytest.approx(skirt_resistance(0.6, 0.5, 950.0, 3.0, 2.5, 0.5))
    # Half the mean speed heaps the load twice as deep: four times the side force.
    slow = feed_zone_friction(0.6, 0.5, 950.0, 3.0, 2.5, 0.0, 0.5)
    assert slow == pytest.approx(4 * float(here))


def test_belt_wrap_by_hand() -> None:
    # Textile, remembered: 9 x 1 m x (140 + 0.01 x 50 000) x 0.01/0.8 = 72 N.
    assert belt_wrap(9.0, 1.0, 140.0, 0.01, 50e3, 0.01, 0.8) == pytest.approx(72.0)
    # Steel cord: 12 x 1.2 x (200 + 0.01 x 200 000/1.2) x 0.02/1.0 = 537.6 N.
    assert belt_wrap(12.0, 1.2, 200.0, 0.01, 200e3, 0.02, 1.0) == pytest.approx(537.6)


def test_bearings_by_hand() -> None:
    assert pulley_bearings(0.005, 0.12, 0.6, 40e3) == pytest.approx(40.0)


def figure(key: str, value: float, kind: Kind) -> Figure:
    return stated(key, key, value, kind)


def worked(sheet: Worksheet) -> SecondaryTerms:
    feed = Feed(
        "chute",
        figure("rate", 500.0, Kind.MASS_FLOW),
        figure("density", 950.0, Kind.DENSITY),
        figure("feed_speed", 0.0, Kind.SPEED),
        remembered_feed_friction("secondary.on_belt", "friction of load on belt"),
        remembered_feed_friction("secondary.on_boards", "friction of load on boards"),
        figure("between", 0.5, Kind.LENGTH),
    )
    tail = PulleyPass(
        "tail",
        figure("tail_tension", 11e3, Kind.FORCE),
        figure("tail_diameter", 0.63, Kind.LENGTH),
        figure("tail_shaft", 0.12, Kind.LENGTH),
        figure("tail_resultant", 22e3, Kind.FORCE),
    )
    head = PulleyPass(
        "head", figure("head_tension", 60e3, Kind.FORCE), figure("head_d", 0.8, Kind.LENGTH)
    )
    return secondary_terms(
        feeds=[feed],
        pulleys=[tail, head],
        tilts=[],
        speed=figure("v", 2.5, Kind.SPEED),
        width=figure("width", 1.4, Kind.LENGTH),
        thickness=figure("thickness", 0.012, Kind.LENGTH),
        bending=remembered_bending(Carcass.POLYESTER),
        bearing_factor=remembered_bearings(),
        main=figure("F_H", 6909.0, Kind.FORCE),
        coefficient=figure("C", 1.92, Kind.RATIO),
        sheet=sheet,
        key="full.secondary_terms",
    )


def test_the_sum_beside_the_coefficient_by_hand() -> None:
    found = worked(Worksheet())
    flow = 500.0 / 950.0
    zone = 2.5**2 / (2 * GRAVITY * 0.6)
    boards = 0.6 * flow**2 * 950 * GRAVITY * zone / (1.25**2 * 0.5**2)
    wraps = [
        9 * 1.4 * (140 + 0.01 * t / 1.4) * 0.012 / d for t, d in ((11e3, 0.63), (60e3, 0.8))
    ]  # fmt: skip
    bearings = 0.005 * 0.12 / 0.63 * 22e3
    assert found.feeds[0].value == pytest.approx(500.0 * 2.5)
    assert found.zones[0].value == pytest.approx(zone)
    assert [w.value for w in found.wraps] == pytest.approx(wraps)
    assert [b.value for b in found.bearings] == pytest.approx([bearings])
    total = 1250.0 + boards + sum(wraps) + bearings
    assert found.total.value == pytest.approx(total)
    assert found.by_coefficient.value == pytest.approx(0.92 * 6909.0)
    assert found.equal_coefficient is not None
    assert found.equal_coefficient.value == pytest.approx(1 + total / 6909.0)


def test_what_is_remembered_stands_among_the_assumptions() -> None:
    sheet = Worksheet()
    worked(sheet)
    record = sheet.finish()
    assert {given.key for given in record.assumptions()} == {
        "secondary.wrap_factor",
        "secondary.wrap_base",
        "secondary.wrap_share",
        "secondary.bearing_factor",
        "secondary.on_belt",
        "secondary.on_boards",
    }
    assert "from memory" in explain(record, "full.secondary_terms.wrap.1")


REMEMBERED = {
    "secondary.wrap_factor": (9.0, 7.2, 10.8),
    "secondary.wrap_base": (140.0, 112.0, 168.0),
    "secondary.wrap_share": (0.01, 0.008, 0.012),
    "secondary.bearing_factor": (0.005, 0.003, 0.008),
    "secondary.on_belt": (0.6, 0.5, 0.7),
    "secondary.on_boards": (0.6, 0.5, 0.7),
}
"""Value and both ends. Frictions 0.5 to 0.7, wrap and bearings from memory of the standard; their
spans, a fifth either way and 0.003 to 0.008, are assumptions of ours."""


def test_each_remembered_value_has_the_span_of_its_source() -> None:
    sheet = Worksheet()
    worked(sheet)
    given = {g.key: g for g in sheet.finish().assumptions()}
    for key, span in REMEMBERED.items():
        assert (given[key].value, given[key].low, given[key].high) == pytest.approx(span), key


def test_steel_cord_bends_harder_than_textile() -> None:
    """k = 12 and c = 200 N/m for steel cord, from memory of the standard; a fifth either way."""
    cord = remembered_bending(Carcass.STEEL_CORD)
    assert (cord.factor.value, cord.factor.low, cord.factor.high) == pytest.approx((12, 9.6, 14.4))
    assert (cord.base.value, cord.base.low, cord.base.high) == pytest.approx((200, 160, 240))
    assert "steel cord belt" in cord.factor.reason


def test_terms_broadcast() -> None:
    speeds = np.array([1.0, 2.0])
    assert feed_acceleration(0.1, 1000.0, speeds, 0.0) == pytest.approx([100.0, 200.0])
    assert feed_zone_length(speeds, 0.0, 0.5) == pytest.approx(speeds**2 / GRAVITY)
