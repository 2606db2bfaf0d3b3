"""What is cut to length in the workshop or on the belt: pin, wear sleeve, bedding strips."""

from __future__ import annotations

import math
from dataclasses import dataclass

from splicewright.joint import Candidate, Layout
from splicewright.quantities import Figure, Given, Kind, Worksheet, formula, stated


@dataclass(frozen=True, slots=True)
class CutLengths:
    """Lengths to cut [m]; None where this kind of joint has no such part.

    span: cut line to cut line across the finished joint, along the belt.
    """

    span: Figure
    pin: Figure | None
    liner: Figure | None
    seating_strip: Figure | None
    seating_strips: int
    retainers: int


@dataclass(frozen=True, slots=True)
class _Data:
    inset: Given
    liner_over: Given
    seating_over: Given


_PIN_STEP, _TRIM_STEP = 0.005, 0.01
"""A pin is sawn by the tape to whole 5 mm, what is trimmed afterwards to whole 10 mm (common
practice, no source)."""
_SAME = 1e-6
"""Of a step: the noise of sums."""


@formula(
    "L_pin = w_j - 2 i, down to whole 5 mm",
    gives=("L_pin", Kind.LENGTH),
    symbols={"width": "w_j", "inset": "i"},
    source="anatomy",
)
def pin_length(width: float, inset: float) -> float:
    """Length of the hinge pin [m] from the joint width [m] and the inset at each side [m].

    Rounded down, so that no end stands past a plate edge.
    """
    return _PIN_STEP * math.floor((width - 2 * inset) / _PIN_STEP + _SAME)


@formula(
    "L_liner = w_j + o, up to whole 10 mm",
    gives=("L_liner", Kind.LENGTH),
    symbols={"width": "w_j", "over": "o"},
    source="anatomy",
    limits="trimmed flush once the pin is in",
)
def liner_length(width: float, over: float) -> float:
    """Length of the wear sleeve [m] from the joint width [m] and what it is cut over [m]."""
    return _TRIM_STEP * math.ceil((width + over) / _TRIM_STEP - _SAME)


@formula(
    "L_strip = B + o, up to whole 10 mm",
    gives=("L_strip", Kind.LENGTH),
    symbols={"width": "B", "over": "o"},
    source="anatomy",
    limits="one end pointed to thread it in; trimmed at the belt edges",
)
def seating_strip_length(width: float, over: float) -> float:
    """Length of one bedding strip [m] from the belt width [m] and what it is cut over [m]."""
    return _TRIM_STEP * math.ceil((width + over) / _TRIM_STEP - _SAME)


@formula(
    "s = 2 (a + d)",
    gives=("s", Kind.LENGTH),
    symbols={"cut": "a", "depth": "d"},
    source="anatomy",
    limits="measured on the centreline; under load the middle of the curved ends is tight",
)
def joint_span(cut: float, depth: float) -> float:
    """Distance between the two cut lines on the centreline of the finished joint.

    Parameters
    ----------
    cut : pin axis to cut line at the edges [m]
    depth : curve depth of each end [m]

    Returns
    -------
    float [m]
    """
    return 2 * (cut + depth)


def cut_lengths(candidate: Candidate, layout: Layout, sheet: Worksheet) -> CutLengths:
    """Work out what is cut to length for one joint."""
    size = candidate.size
    span = sheet.work(
        "lengths.span",
        "cut line to cut line across the joint",
        joint_span,
        cut=layout.cut_line,
        depth=layout.curve_depth,
    )
    if not candidate.construction.hinged:
        return CutLengths(span, None, None, None, 0, 0)
    note = f"range data, {size.name}"
    data = _Data(
        stated("range.pin_inset", "pin inset at each side", size.pin_inset, Kind.LENGTH, note),
        stated("range.liner_over", "wear sleeve cut over by", size.liner_over, Kind.LENGTH, note),
        stated("range.seating_over", "strips cut over by", size.seating_over, Kind.LENGTH, note),
    )
    pin = sheet.work(
        "lengths.pin", "hinge pin", pin_length, width=layout.joint_width, inset=data.inset
    )
    liner = sheet.work(
        "lengths.liner",
        candidate.words.wear_sleeve,
        liner_length,
        width=layout.joint_width,
        over=data.liner_over,
    )
    strip = sheet.work(
        "lengths.seating_strip",
        candidate.words.bedding_strip,
        seating_strip_length,
        width=layout.width,
        over=data.seating_over,
    )
    return CutLengths(span, pin, liner, strip, 4, 2)
