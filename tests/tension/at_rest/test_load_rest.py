"""Whether load stays on a sloping belt, by the block on an incline."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from proof import proves
from splicewright.plant import Conveyor
from splicewright.quantities import Given, Worksheet
from splicewright.tension import LoadRest, load_rests
from splicewright.tension.across.load_section import slope_of
from splicewright.tension.at_rest.load_rest import Rest, jerk_it_bears, rest_findings
from strategies import conveyor_of, outline

pytestmark = proves(
    "The stopped belt",
    "Whether load stays on a slope",
    "C",
    "A block on an incline: the angle at which it slides, and the jerk it bears uphill and "
    "downhill.",
    doubt="Exact for a block; real load is a heap, whose friction is a range from memory.",
    tolerance="rounding of floats",
    sketch="incline",
)


G = 9.81


def sloping(degrees: float, **material: Any) -> Conveyor:
    """120 m at one slope."""
    lift = 120 * math.sin(math.radians(degrees))
    stated = {"rate": "400 t/h", "density": "1500 kg/m3", **material}
    return conveyor_of(outline(outline={"lift": f"{lift} m"}, material=stated))


def rest(conveyor: Conveyor) -> LoadRest:
    [one] = load_rests(conveyor, Worksheet())
    return one


def test_a_block_on_an_incline() -> None:
    # At rest it slides where tan(slope) passes the friction: no jerk is left then.
    for friction in (0.3, 0.5, 0.7):
        assert jerk_it_bears(friction, math.atan(friction)) == pytest.approx(0, abs=1e-12)
    assert jerk_it_bears(0.5, 0.0) == pytest.approx(0.5 * G)
    # m a = friction less weight along the slope, by components.
    slope = math.radians(14)
    assert jerk_it_bears(0.5, slope) == pytest.approx(
        G * 0.5 * math.cos(slope) - G * math.sin(slope)
    )
    assert slope_of(-30.0, 60.0) == pytest.approx(math.radians(30))
    many = jerk_it_bears(np.array([0.4, 0.5]), np.array([0.1, 0.2]))
    assert many == pytest.approx([jerk_it_bears(0.4, 0.1), jerk_it_bears(0.5, 0.2)])


@pytest.mark.parametrize(
    ("degrees", "material", "expected"),
    [
        (8.0, {"surcharge": "20 deg", "friction": 0.6}, Rest.STAYS),
        (-8.0, {"surcharge": "20 deg", "friction": 0.6}, Rest.STAYS),
        # Nothing stated: 15 deg taken, 5 deg possible.
        (8.0, {}, Rest.UNSURE),
        (8.0, {"surcharge": "20 deg", "friction": "0.1 to 0.9"}, Rest.UNSURE),
        (16.0, {}, Rest.FLOWS),
        (24.0, {"surcharge": "20 deg", "friction": 0.6}, Rest.FLOWS),
        # tan 16 deg is 0.287: 0.3 leaves 0.125 m/s2, less than the jerk of 0.3 m/s2.
        (16.0, {"surcharge": "20 deg", "friction": 0.3}, Rest.MOVED),
        (17.0, {"surcharge": "20 deg", "friction": 0.3}, Rest.SLIDES),
    ],
)  # fmt: skip
def test_verdicts(degrees: float, material: dict[str, Any], expected: Rest) -> None:
    one = rest(sloping(degrees, **material))
    assert one.rest is expected
    assert one.slope.value == pytest.approx(math.radians(abs(degrees)))
    said = " ".join(str(s) for s in rest_findings((one,)))
    assert bool(said) is (expected is not Rest.STAYS)
    words = {
        Rest.UNSURE: "stays only if it holds as taken",
        Rest.FLOWS: "is steeper than the load's surcharge angle",
        Rest.MOVED: "slides when the belt is jerked by more than 0.125 m/s",
        Rest.SLIDES: "slides on the standing belt: clear it from the top down",
        Rest.STAYS: "",
    }
    assert words[expected] in said


def test_assumptions_are_named() -> None:
    sheet = Worksheet()
    load_rests(sloping(10.0), sheet)
    record = sheet.finish()
    for key in ("material.friction", "material.surcharge", "load.jerk"):
        entry = record.find(key)
        assert isinstance(entry, Given) and entry.assumed and entry.low < entry.high


def test_no_load_and_no_slope() -> None:
    level = conveyor_of(outline(outline={"lift": "0 m"}))
    bare = conveyor_of(outline(material={"rate": "0 t/h"}))
    assert load_rests(level, Worksheet()) == load_rests(bare, Worksheet()) == ()
