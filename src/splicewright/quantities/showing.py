"""Showing SI numbers as metric or inch text, rounded the same way everywhere."""

from __future__ import annotations

import math
from fractions import Fraction

from splicewright.quantities.units import POLICY, Kind, System

_NOTHING = 1e-9
"""Below this a number in its shown unit is the rounding of floating-point sums: it prints as 0."""


def show(value: float, kind: Kind, system: System = "metric", *, unit: bool = True) -> str:
    """Write `value` as people read it.

    Parameters
    ----------
    value : the number, SI
    kind : what it measures
    system : "metric" or "inch" (lengths then come as fractions of 1/32)
    unit : whether the unit is written behind the number

    Returns
    -------
    str, such as "11.5 mm", "1-3/8 in", "12.3 kN"; "-" when the number is not finite
    """
    if not math.isfinite(value):
        return "-"
    if kind is Kind.TIME:
        return show_time(value)
    if kind is Kind.DISTANCE and abs(value) < 1.0:
        kind = Kind.LENGTH  # nobody reads a short distance in metres or feet
    shown = POLICY[kind].shown(system)
    number = (value - shown.offset) / shown.factor
    if shown.fraction:
        text = show_fraction(number, shown.fraction)
    else:
        if shown.most and abs(number) >= 10**shown.most:
            number = float(f"{number:.{shown.most - 1}e}")
        text = _rounded(number, shown.digits, shown.decimals)
    gap = "" if shown.unit in {"°", ""} else " "
    return f"{text}{gap}{shown.unit}" if unit else text


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
    places = digits - 1 - math.floor(math.log10(abs(number)))
    places = max(0, min(places, decimals) if abs(number) >= 1 else places)
    text = f"{number:.{places}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text
