"""Smallest pulley a belt may bend round: the DIN table, group by group, and surface pressure.

Lengths are metres here and millimetres in the table, as printed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from splicewright.errors import Fault, InputError
from splicewright.plant import Carcass
from splicewright.quantities import Kind, Number, formula, percent, show


class Group(StrEnum):
    """What a pulley does, as the table tells pulleys apart."""

    A = "drive, or high tension"
    B = "low tension"
    C = "snub, wrap up to 30°"


FACTOR: dict[Carcass, float] = {
    Carcass.COTTON: 80.0,
    Carcass.POLYAMIDE: 90.0,
    Carcass.POLYESTER: 108.0,
    Carcass.STEEL_CORD: 145.0,
}
"""c_Tr, pulley diameter over carcass thickness (steel cord: over cord diameter), by
GB 50431 clause 8.2.1. One published copy has 106 for polyester; the larger is taken."""

SNUB_WRAP = math.radians(30)
"""Largest wrap of group C [rad]."""

HEAVY_USE, LIGHT_USE = 0.6, 0.3
"""Where the table's bands of use of the permitted tension meet."""

_STEP = 1.25
"""Ratio of neighbouring rows: a value more than one step under the first row has none."""

# Row: rounded c d; then A, B, C for 60-100 %, 30-60 % and up to 30 % of permitted tension; mm.
TABLE: dict[int, tuple[tuple[int, int, int], ...]] = {
    200: ((200, 160, 125), (160, 125, 100), (125, 125, 100)),
    250: ((250, 200, 160), (200, 160, 125), (160, 160, 125)),
    315: ((315, 250, 200), (250, 200, 160), (200, 200, 160)),
    400: ((400, 315, 250), (315, 250, 200), (250, 250, 200)),
    500: ((500, 400, 315), (400, 315, 250), (315, 315, 250)),
    630: ((630, 500, 400), (500, 400, 315), (400, 400, 315)),
    800: ((800, 630, 500), (630, 500, 400), (500, 500, 400)),
    1000: ((1000, 800, 630), (800, 630, 500), (630, 630, 500)),
    1250: ((1250, 1000, 800), (1000, 800, 630), (800, 800, 630)),
    1400: ((1400, 1250, 1000), (1250, 1000, 800), (1000, 1000, 800)),
    1600: ((1600, 1250, 1000), (1250, 1000, 800), (1000, 1000, 800)),
    1800: ((1800, 1400, 1250), (1400, 1250, 1000), (1250, 1250, 1000)),
    2000: ((2000, 1600, 1250), (1600, 1250, 1000), (1250, 1250, 1000)),
}
"""Least pulley diameters of DIN 22101 [mm] by rounded c d, use of permitted tension, group."""


@dataclass(frozen=True, slots=True)
class LeastPulley:
    """Least diameter for a pulley [m], the row of the table it was read in [m], and remarks.

    outside: the value lies below the table's first row, which is then taken (safe side).
    """

    diameter: float
    row: float
    computed: float
    outside: bool
    remark: str


@formula(
    "D_Tr = c_Tr d_Gk",
    gives=("D_Tr", Kind.LENGTH),
    symbols={"factor": "c_Tr", "thickness": "d_Gk"},
    source="din22101-pulley",
    limits="before rounding to the table's row; group A at full use of the permitted tension",
)
def pulley_from_carcass(factor: Number, thickness: Number) -> Number:
    """Pulley diameter that suits a carcass.

    Parameters
    ----------
    factor : c_Tr [-]
    thickness : of the carcass, or diameter of the cords [m]

    Returns
    -------
    float or array [m]
    """
    return factor * thickness


@formula(
    "p = 2 T/(D B)",
    gives=("p", Kind.PRESSURE),
    symbols={"tension": "T", "diameter": "D", "width": "B"},
    source=("statics", "gb50431-pressure"),
    limits="T mean of both sides; any wrap",
)
def surface_pressure(tension: Number, diameter: Number, width: Number) -> Number:
    """Mean pressure between belt and pulley.

    Parameters
    ----------
    tension : mean of entering and leaving [N]
    diameter : of the pulley [m]
    width : of the belt [m]

    Returns
    -------
    float or array [Pa]
    """
    return 2 * tension / (diameter * width)


def group_of(driven: bool, high_tension: bool, wrap: float) -> Group:
    """The table's group of a pulley.

    Parameters
    ----------
    driven : whether a drive turns it
    high_tension : whether it lies on the tight side of the loop
    wrap : [rad]
    """
    if driven:
        return Group.A
    if wrap <= SNUB_WRAP * (1 + 1e-9):
        return Group.C
    return Group.A if high_tension else Group.B


def least_pulley(carcass: Carcass, thickness: float, group: Group, use: float) -> LeastPulley:
    """Least pulley diameter by the DIN table.

    c d is rounded up to the next row, and a use on the border of two bands (60 %) is read in
    the heavier one: safe side.

    Parameters
    ----------
    carcass : of the belt
    thickness : of the carcass, or diameter of the cords [m]
    group : what the pulley does
    use : largest tension there over the permitted tension of the belt [-]

    Raises
    ------
    InputError
        No published factor for the carcass, thickness not above 0, c d beyond the table, or
        the belt overloaded.
    """
    if carcass not in FACTOR:
        known = ", ".join(c.value for c in FACTOR)
        raise InputError(
            Fault("carcass", f"no published pulley factor for {carcass.value}; known are {known}")
        )
    if not (math.isfinite(thickness) and thickness > 0):
        raise InputError(
            Fault("thickness", f"{thickness * 1e3:g} mm is no carcass thickness; give more than 0")
        )
    if not 0 <= use <= 1:
        raise InputError(
            Fault(
                "use",
                f"{percent(use)} of the permitted tension lies outside the table; accepted is 0 to "
                "100 %: beyond, the belt itself is too weak",
            )
        )
    computed = float(pulley_from_carcass(FACTOR[carcass], thickness))
    rows = list(TABLE)
    if computed > rows[-1] / 1e3 * (1 + 1e-9):
        raise InputError(
            Fault(
                "thickness",
                f"{show(thickness, Kind.LENGTH)} of {carcass.value} wants a pulley of "
                f"{show(computed, Kind.LENGTH)}, the table ends at {rows[-1]} mm; ask the belt's "
                "maker",
            )
        )
    row = next(r for r in rows if computed <= r / 1e3 * (1 + 1e-9))
    band = 0 if use >= HEAVY_USE else 1 if use > LIGHT_USE else 2
    outside = computed < rows[0] / 1e3 / _STEP
    return LeastPulley(
        TABLE[row][band][list(Group).index(group)] / 1e3,
        row / 1e3,
        computed,
        outside,
        f"below the table, its first row {rows[0]} mm taken" if outside else "",
    )
