"""Showing SI numbers as metric or inch text, rounded the same way everywhere."""

from __future__ import annotations

import math
from fractions import Fraction

from splicewright.quantities.units import POLICY, Kind, System

_NOTHING = 1e-9
"""Below this a number in its shown unit is the rounding of floating-point sums: it prints as 0."""


_FEET_AND_INCHES = 100.0
"""Distances below this many feet are written in feet and inches."""

_NEAR = 1e-6
"""So far short of a whole step of the tool is the noise of sums."""

_CALLIPER = 0.001
"""A fraction this near is as good as the number itself [in]."""


def show(value: float, kind: Kind, system: System = "metric", *, unit: bool = True) -> str:
    """Write `value` as people read it.

    value : the number, SI
    kind : what it measures
    system : "metric" or "inch"; lengths then come as fractions of 1/32, below an inch as
        decimals where no fraction is near, distances as feet and inches below 100 ft
    unit : whether the unit is written behind the number
    Returns a text such as "11.5 mm", "1-3/8 in", "12.3 kN"; "-" when the number is not finite.
    """
    if not math.isfinite(value):
        return "-"
    if kind is Kind.TIME:
        return show_time(value)
    if kind is Kind.DISTANCE and abs(value) < 1.0:
        kind = Kind.LENGTH  # nobody reads a short distance in metres or feet
    shown = POLICY[kind].shown(system)
    number = (value - shown.offset) / shown.factor
    if shown.step:
        if abs(number) < shown.step * (1 - _NEAR):
            least = show_fraction(shown.step, shown.fraction) if shown.fraction else "1"
            return f"under {least} {shown.unit}" if shown.down else f"{shown.step:g} {shown.unit}"
        steps = number / shown.step
        number = shown.step * (math.floor(steps + _NEAR) if shown.down else round(steps))
    if kind is Kind.DISTANCE and system == "inch" and abs(number) < _FEET_AND_INCHES:
        text = show_feet(number)
        return text if unit else text.removesuffix(" in").removesuffix(" ft")
    if shown.fraction and unit and _NOTHING < abs(number) < 0.5 / shown.fraction:
        text = _rounded(number, 2, 4)  # a limit, not a mark to be made: 0 would be untrue
    elif shown.fraction and abs(number) < 1 and not _near_fraction(number, shown.fraction):
        text = _rounded(number, 3, 3)
    elif shown.fraction:
        text = show_fraction(number, shown.fraction)
    else:
        if shown.most and abs(number) >= 10**shown.most:
            number = float(f"{number:.{shown.most - 1}e}")
        text = _rounded(number, shown.digits, shown.decimals)
    gap = "" if shown.unit in {"°", ""} else " "
    return f"{text}{gap}{shown.unit}" if unit else text


def as_wrench_sets(share: float) -> float:
    """A share [-] as a wrench can be set to it: whole tenths, one at least (from memory: torque
    set by hand scatters by a tenth or more). What is judged and what is printed are then one."""
    step = POLICY[Kind.WRENCH].metric
    # Divided as `show` divides, or a half would go one way on paper and the other in judging.
    return max(1, round(share / step.factor / step.step)) * step.step * step.factor


def percent(share: float, decimals: int = 0) -> str:
    """Write a share in hundredths, as `show` does, with as many decimals as asked: "84 %"."""
    return f"{100 * share:.{decimals}f} %"


def show_time(seconds: float) -> str:
    """Write a time as people say it: "25 min", "3 h 20 min", "4 d", "2 weeks".

    `seconds` [s]; whole minutes below a day, then half days, then weeks.
    """
    sign = "-" if seconds < 0 else ""
    minutes = round(abs(seconds) / 60)
    if abs(seconds) < 60:
        return f"{sign}{abs(seconds):.0f} s"
    if minutes < 60:
        return f"{sign}{minutes} min"
    if minutes < 48 * 60:
        hours, rest = divmod(minutes, 60)
        return f"{sign}{hours} h" + (f" {rest} min" if rest else "")
    days = abs(seconds) / 86400
    if days >= 14 and math.isclose(days % 7, 0, abs_tol=1e-6):
        return f"{sign}{days / 7:.0f} weeks"
    return f"{sign}{_rounded(days, 2, 1)} d"


def show_feet(feet: float) -> str:
    """Write feet as feet and inches to the nearest 1/8 in: 12.25 -> "12 ft 3 in".

    `feet` [ft].
    """
    sign = "-" if feet < 0 else ""
    eighths = round(abs(feet) * 96)
    whole, rest = divmod(eighths, 96)
    inches = show_fraction(rest / 8, 8)
    return f"{sign}{whole} ft" + (f" {inches} in" if rest else "")


def _near_fraction(inches: float, denominator: int) -> bool:
    """Whether the nearest fraction is as good as a calliper can tell."""
    steps = abs(inches) * denominator
    return abs(steps - round(steps)) / denominator < _CALLIPER


def show_fraction(inches: float, denominator: int) -> str:
    """Write inches as whole and fraction to the nearest 1/`denominator`: 1.375 -> "1-3/8".

    `inches` [in]. From 1000 in on it is rounded to whole inches: nobody marks out fractions.
    """
    sign = "-" if inches < 0 else ""
    if abs(inches) >= 1000:
        return f"{sign}{round(abs(inches))}"
    steps = round(abs(inches) * denominator)
    whole, rest = divmod(steps, denominator)
    if rest == 0:
        return f"{sign if steps else ''}{whole}"
    part = Fraction(rest, denominator)
    text = f"{part.numerator}/{part.denominator}"
    return f"{sign}{whole}-{text}" if whole else f"{sign}{text}"


def _rounded(number: float, digits: int, decimals: int) -> str:
    """Round to at least `digits` significant digits, never past the kind's `decimals` for
    numbers of one and more, and drop trailing zeros."""
    if abs(number) < _NOTHING:
        return "0"
    if abs(number) < 1:
        digits = min(digits, 3)
    places = digits - 1 - math.floor(math.log10(abs(number)))
    places = max(0, min(places, decimals) if abs(number) >= 1 else places)
    # Halves go away from zero, whatever their last binary digit: 17.75 is 17.8 on every sheet.
    text = f"{number + math.copysign(_NOTHING, number):.{places}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text
