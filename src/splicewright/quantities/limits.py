"""What a number of each kind can be at all: beyond it, somebody slipped or means harm.

The ends are an assumption of this tool, no source: powers of ten well past anything that has to do
with a belt conveyor or is measured beside one. A field knows closer ones of its own. Zero is
within: whether a number may be zero is for the field to say.
"""

from __future__ import annotations

import math
from datetime import date

from splicewright.quantities.units import POLICY, Kind

LIMITS: dict[Kind, tuple[float, float]] = {
    Kind.LENGTH: (1e-7, 1e6),
    Kind.TAPE: (1e-7, 1e6),
    Kind.DISTANCE: (1e-7, 1e7),
    Kind.AREA: (1e-14, 1e12),
    Kind.MASS: (1e-9, 1e12),
    Kind.FORCE: (1e-6, 1e12),
    Kind.WIDTH_FORCE: (1e-6, 1e12),
    Kind.LINE_MASS: (1e-9, 1e9),
    Kind.AREA_MASS: (1e-9, 1e9),
    Kind.MASS_FLOW: (1e-9, 1e9),
    Kind.VOLUME_FLOW: (1e-12, 1e9),
    Kind.DENSITY: (1e-6, 1e6),
    Kind.SPEED: (1e-9, 1e5),
    Kind.ACCELERATION: (1e-9, 1e6),
    Kind.ANGLE: (1e-12, 1e4),
    Kind.POWER: (1e-9, 1e12),
    Kind.TORQUE: (1e-9, 1e12),
    Kind.PRESSURE: (1e-6, 1e14),
    Kind.ENERGY: (1e-9, 1e15),
    Kind.TIME: (1e-6, 1e12),
    Kind.RUN_TIME: (1e-6, 1e12),
    Kind.TONNAGE: (1e-6, 1e15),
    Kind.TURNS: (1e-6, 1e15),
    Kind.TEMPERATURE: (1e-6, 1e5),
    Kind.SHARE: (1e-15, 1e6),
    Kind.WRENCH: (1e-15, 1e6),
    Kind.RATIO: (1e-15, 1e15),
    Kind.COUNT: (1e-6, 1e12),
}
"""Kind -> smallest size that is not zero, and largest [SI]; the sign does not count."""


def beyond(value: float, kind: Kind) -> str:
    """Why a number cannot be one of its kind, as the end of a sentence; empty when it can."""
    least, most = LIMITS[kind]
    if value == 0 or (math.isfinite(value) and least <= abs(value) <= most):
        return ""
    unit = POLICY[kind].si
    gap = f" {unit}" if unit != "1" else ""
    low, high = (f"1e{round(math.log10(end))}" for end in (least, most))
    return f"cannot be {kind.noun}; accepted is 0, or a size of {low} to {high}{gap}"


FIRST_DAY, LAST_DAY = date(1900, 1, 1), date(2200, 1, 1)
"""Of anything that has to do with a belt conveyor: an assumption of this tool, no source."""
UNBELIEVABLE = f"is not believable; accepted is {FIRST_DAY.year} to {LAST_DAY.year}"
"""Of a day or a moment beyond them, as the end of a sentence."""


def beyond_days(day: date) -> str:
    """Why a day cannot be meant, as the end of a sentence; empty when it can."""
    return "" if FIRST_DAY <= day <= LAST_DAY else UNBELIEVABLE
