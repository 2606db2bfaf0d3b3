"""Cross-section of the load on the belt: how much the trough holds, level and on a slope.

Two caps are published, which differ by a factor 1.5 for the same surcharge angle: the parabola
of ISO 5048 (divisor 6) and the triangle of DIN 22101 (divisor 4). A surcharge angle belongs to
one of them. Splicewright judges capacity by the smaller, ISO 5048, and says so.
"""

from __future__ import annotations

import numpy as np

from splicewright.plant import Conveyor, Run, Side
from splicewright.plant import assumptions as assume
from splicewright.plant.filling.origin import assuming
from splicewright.quantities import Figure, Given, Kind, Number, Worksheet, assumed, formula


@formula(
    "b = 0.9 B - 0.05 m  (B ≤ 2 m),  b = B - 0.25 m above",
    gives=("b", Kind.LENGTH),
    symbols={"width": "B"},
    source="iso5048-section",
)
def usable_width(width: float) -> float:
    """Width of belt that carries load [m] from the belt width [m]."""
    # The two branches cross at 2 m, so the larger is always the one that applies.
    return np.maximum(0.9 * width - 0.05, width - 0.25)


@formula(
    "S_2 = [l_3 + (b - l_3)/2 · cos λ] (b - l_3)/2 · sin λ",
    gives=("S_2", Kind.AREA),
    symbols={"usable": "b", "middle": "l_3", "trough": "λ"},
    source="iso5048-section",
    limits="three rolls; a flat belt has l_3 = b, two rolls l_3 = 0",
)
def trough_area(usable: float, middle: float, trough: float) -> float:
    """Area of the load below the edges.

    Parameters
    ----------
    usable : b [m]
    middle : length of the middle roll under the belt [m]
    trough : angle lambda [rad]

    Returns
    -------
    float [m2]
    """
    wing = (usable - middle) / 2
    return (middle + wing * np.cos(trough)) * wing * np.sin(trough)


@formula(
    "S_1 = [l_3 + (b - l_3) cos λ]² tan θ / 6",
    gives=("S_1", Kind.AREA),
    symbols={"usable": "b", "middle": "l_3", "trough": "λ", "surcharge": "θ"},
    source="iso5048-section",
    limits="parabolic cap; the angle must be meant for it",
)
def cap_area_parabola(usable: float, middle: float, trough: float, surcharge: float) -> float:
    """Area of the load above the edges, parabolic cap of ISO 5048 [m2].

    Parameters
    ----------
    usable, middle : b and l_3 [m]
    trough, surcharge : angles lambda and theta [rad]
    """
    return (middle + (usable - middle) * np.cos(trough)) ** 2 * np.tan(surcharge) / 6


@formula(
    "δ = arcsin(|h|/l)",
    gives=("δ", Kind.ANGLE),
    symbols={"rise": "h", "length": "l"},
    source="geometry",
)
def slope_of(rise: Number, length: Number) -> Number:
    """Slope of a run, up or down [rad], from its rise and length [m]."""
    return np.arcsin(np.minimum(1.0, np.abs(rise) / length))


@formula(
    "S = S_2 + k_1 S_1,  k_1 = √[(cos² δ - cos² θ)/(1 - cos² θ)]",
    gives=("S", Kind.AREA),
    symbols={"below": "S_2", "above": "S_1", "slope": "δ", "surcharge": "θ"},
    source="iso5048-slope-section",
    limits="the cap alone is less on a slope; none is left where the slope reaches the angle",
)
def area_on_slope(below: Number, above: Number, slope: Number, surcharge: Number) -> Number:
    """Area of the load that lies on a sloping belt.

    Parameters
    ----------
    below, above : area below and above the edges on a level belt [m2]
    slope : of the belt, up or down [rad]
    surcharge : angle [rad]

    Returns
    -------
    float or array [m2]
    """
    steep, rest = np.cos(slope) ** 2, np.cos(surcharge) ** 2
    left = np.maximum(0.0, steep - rest) / np.maximum(1 - rest, 1e-12)
    return below + above * np.sqrt(np.minimum(left, 1.0))


@formula(
    "A = q_G/ρ",
    gives=("A", Kind.AREA),
    symbols={"load": "q_G", "density": "ρ"},
    source="arithmetic",
)
def load_area(load: float, density: float) -> float:
    """Area the load fills [m2] from its mass per length [kg/m] and bulk density [kg/m3]."""
    return load / density


def middle_roll(run: Run, width: Figure) -> Given:
    """Part of the belt that lies on the middle roll: stated, or by the number of rolls [m]."""
    if run.idlers.middle is not None:
        return run.idlers.middle
    rolls = run.idlers.rolls
    share, low, high = assume.MIDDLE_ROLL[min(rolls, 3)]
    wide = width.value
    return assumed(
        "load.middle_roll" if rolls == 3 else f"load.middle_roll_of_{rolls}",
        "middle roll under the belt",
        share * wide,
        Kind.LENGTH,
        f"not given; {share:g} of the belt width for {rolls} rolls",
        (low * wide, high * wide),
    )


def carry_section(conveyor: Conveyor, sheet: Worksheet) -> Figure | None:
    """What the trough holds by ISO 5048 where the belt is steepest; None without a carry run.

    An unknown surcharge is taken as 15 deg.
    """
    runs = [r for r in conveyor.runs() if r.side is Side.CARRY]
    if not runs:
        return None
    run = min(runs, key=lambda r: r.idlers.trough.value)
    width = conveyor.belt.width
    usable = sheet.work("load.usable", "usable belt width", usable_width, width=width)
    middle = middle_roll(run, width)
    surcharge = conveyor.material.surcharge or assuming(
        "material.surcharge", "surcharge angle", assume.SURCHARGE
    )
    below = sheet.work(
        "load.trough_area",
        "trough area",
        trough_area,
        usable=usable,
        middle=middle,
        trough=run.idlers.trough,
    )
    above = sheet.work(
        "load.cap_area",
        "cap area, parabola",
        cap_area_parabola,
        usable=usable,
        middle=middle,
        trough=run.idlers.trough,
        surcharge=surcharge,
    )
    level = sheet.total("load.room", "cross-section the trough holds, level", [below, above])
    steepest = max(runs, key=lambda r: abs(r.rise.value) / r.length.value)
    slope = sheet.work(
        "load.slope",
        "steepest slope of the carry side",
        slope_of,
        rise=steepest.rise,
        length=steepest.length,
    )
    if slope.value <= 0:
        return level
    return sheet.work(
        "load.room_on_slope",
        "cross-section the trough holds on its steepest slope",
        area_on_slope,
        below=below,
        above=above,
        slope=slope,
        surcharge=surcharge,
    )
