"""Where every plate and hole goes, on both ends of the belt.

Axes as in docs/anatomy.md: each end has x from the pin axis into the belt and y across from the
centreline, positive to the left when facing in the direction of travel. Lengths in metres.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from splicewright.joint.fasteners.ranges import EdgeSets, Size
from splicewright.plant import Travel
from splicewright.quantities import (
    Figure,
    Given,
    Kind,
    Sentence,
    Worksheet,
    formula,
    sentence,
    stated,
)

FEWEST_PLATES = 3
NOTCH_RATIO = 3
"""An edge notch is three times as long as it is wide (common practice, no source)."""
_CLEAR, _NOTCH = 0.003, 0.025


class End(StrEnum):
    """The two ends, told apart by the direction of travel."""

    LEADING = "leading end"
    TRAILING = "trailing end"


@dataclass(frozen=True, slots=True)
class Plate:
    """One plate pair of one end: number from the left, middle y, root x on the cut line [m].

    piece: number of the set it belongs to.
    """

    number: int
    y: float
    root: float
    piece: int


@dataclass(frozen=True, slots=True)
class Hole:
    """One hole: its plate and row (from 1), centre x from the pin axis and y [m]."""

    plate: int
    row: int
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class EndLayout:
    """Plates and holes of one end, with its cut line and notch.

    setback_left, setback_right: belt edge to nearest plate [m]; notch_width 0 for none;
    cut_line: points (x, y) from left to right, without the notches.
    """

    which: End
    plates: tuple[Plate, ...]
    holes: tuple[Hole, ...]
    setback_left: float
    setback_right: float
    notch_width: float
    notch_length: float
    cut_line: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """The joint laid out on both ends."""

    width: Figure
    count: int
    strip: bool
    pieces: tuple[int, ...]
    pitch: Figure
    setback: Figure
    span: Figure
    joint_width: Figure
    curve_depth: Figure
    cut_line: Figure
    mesh_offset: Figure
    hole: Figure
    leading: EndLayout
    trailing: EndLayout
    remarks: tuple[Sentence, ...]

    @property
    def ends(self) -> tuple[EndLayout, EndLayout]:
        """Leading end first."""
        return self.leading, self.trailing


@formula(
    "N = ⌊(B - 2 (e_min + m/2) - b)/p⌋ + 1",
    gives=("N", Kind.COUNT),
    symbols={"width": "B", "setback": "e_min", "mesh": "m", "plate": "b", "pitch": "p"},
    source="anatomy",
    limits="the most plates whose set-backs keep the least allowed on all four corners",
)
def plate_count(width: float, setback: float, mesh: float, plate: float, pitch: float) -> float:
    """Most plates of one end that fit the belt width.

    Parameters
    ----------
    width : belt [m]
    setback : least edge set-back [m]
    mesh : offset between the ends [m]
    plate : plate width [m]
    pitch : [m]

    Returns
    -------
    float, a whole number, 0 or less when none fits
    """
    room = width - 2 * (setback + mesh / 2) - plate
    return math.floor(room / pitch + 1e-9) + 1.0


@formula(
    "w_p = (N - 1) p + b",
    gives=("w_p", Kind.LENGTH),
    symbols={"count": "N", "pitch": "p", "plate": "b"},
    source="anatomy",
)
def plates_span(count: float, pitch: float, plate: float) -> float:
    """Width over all plates of one end [m] from their count, pitch and width [m]."""
    return (count - 1) * pitch + plate


@formula(
    "e = (B - w_p)/2",
    gives=("e", Kind.LENGTH),
    symbols={"width": "B", "span": "w_p"},
    source="anatomy",
    limits="mean of left and right; the two ends differ from it by half the mesh offset",
)
def mean_setback(width: float, span: float) -> float:
    """Mean edge set-back [m] from belt width and width over the plates [m]."""
    return (width - span) / 2


@formula(
    "w_j = w_p + m",
    gives=("w_j", Kind.LENGTH),
    symbols={"span": "w_p", "mesh": "m"},
    source="anatomy",
)
def joint_width(span: float, mesh: float) -> float:
    """Width over the meshed plates of both ends [m]."""
    return span + mesh


@formula(
    "d = R - √(R² - B²/4)",
    gives=("d", Kind.LENGTH),
    symbols={"radius": "R", "width": "B"},
    source="geometry",
)
def arc_depth(radius: float, width: float) -> float:
    """Depth of an end cut along an arc.

    Parameters
    ----------
    radius : of the arc [m]
    width : of the belt [m]

    Returns
    -------
    float [m]

    Raises
    ------
    ValueError
        The arc is smaller than the belt is wide.
    """
    if radius < width / 2:
        msg = f"an arc of {radius:g} m cannot span a belt of {width:g} m"
        raise ValueError(msg)
    # The same as the printed form, without the loss of digits for a large radius.
    return (width / 2) ** 2 / (radius + math.sqrt(radius**2 - (width / 2) ** 2))


@formula(
    "x_cut(y) = a + d [1 - (2 y/B)²]",
    gives=("x_cut", Kind.LENGTH),
    symbols={"cut": "a", "depth": "d", "y": "y", "width": "B"},
    source="anatomy",
    limits="parabola; an arc of the same depth differs by less than d³/B² ",
)
def cut_at(cut: float, depth: float, y: float, width: float) -> float:
    """Distance of the cut line from the pin axis.

    Parameters
    ----------
    cut : a, pin axis to the cut at the belt edges [m]
    depth : the middle is cut back behind the edges by this much [m]
    y : across from the centreline [m]
    width : of the belt [m]

    Returns
    -------
    float [m]
    """
    return cut + depth * (1 - (2 * y / width) ** 2)


class NoLayoutError(ValueError):
    """No whole number of plates keeps the set-backs of this size on this belt width.

    `sentence` says so with the widths that would fit, for metric or inch readers.
    """

    def __init__(self, reason: Sentence) -> None:
        self.sentence = reason
        super().__init__(str(reason))


def lay_plates(
    size: Size,
    width: Figure,
    trough: float,
    travel: Travel,
    sheet: Worksheet,
    *,
    curve: Given | None = None,
    notch: Given | None = None,
) -> Layout:
    """Lay the joint out.

    Parameters
    ----------
    size : fastener of the range
    width : belt width at the joint [m]
    trough : deepest trough angle the joint passes [rad]
    travel : what is known of the direction of travel; decides where notches go
    sheet : takes the lines
    curve : depth of the end stated for this job, in place of the range's [m]
    notch : notch width stated for this job [m]

    Raises
    ------
    NoLayoutError
        No plate count fits; the message says which widths do.
    """
    data = _data(size)
    count_figure = sheet.work(
        "layout.count",
        "plates of one end",
        plate_count,
        width=width,
        setback=data["setback"],
        mesh=data["mesh"],
        plate=data["plate"],
        pitch=data["pitch"],
    )
    count = round(count_figure.value)
    span = sheet.work(
        "layout.span",
        "width over the plates of one end",
        plates_span,
        count=count_figure,
        pitch=data["pitch"],
        plate=data["plate"],
    )
    setback = sheet.work(
        "layout.setback", "mean edge set-back", mean_setback, width=width, span=span
    )
    most = size.setback[1] - size.mesh_offset / 2
    if count < FEWEST_PLATES or setback.value > most + 1e-9:
        raise NoLayoutError(_no_layout(size, width.value, count))
    strip = any(abs(w - width.value) <= 0.005 for w in size.strip_widths)
    pieces = (count,) if strip else sets_across(count, size.edge_sets, trough)
    depth, curve_remark = _curve(size, width, strip, curve, sheet)
    over = sheet.work(
        "layout.joint_width",
        "width over the meshed plates",
        joint_width,
        span=span,
        mesh=data["mesh"],
    )
    width_of_notch, notch_remark = _notch(setback.value, size, notch)
    both = travel is not Travel.KNOWN
    ends = [
        _end(
            which,
            size,
            width.value,
            depth.value,
            count,
            pieces,
            width_of_notch if both or which is End.TRAILING else 0.0,
        )
        for which in (End.LEADING, End.TRAILING)
    ]
    remarks = [curve_remark, notch_remark]
    remarks.append(
        sentence("Direction of travel not known or reversing: both ends are notched.")
        if both
        else sentence("Notches go on the trailing end only.")
    )
    layout = Layout(
        width=sheet.note(width),
        count=count,
        strip=strip,
        pieces=pieces,
        pitch=sheet.note(data["pitch"]),
        setback=setback,
        span=span,
        joint_width=over,
        curve_depth=depth,
        cut_line=sheet.note(data["cut"]),
        mesh_offset=sheet.note(data["mesh"]),
        hole=sheet.note(data["hole"]),
        leading=ends[0],
        trailing=ends[1],
        remarks=tuple(remarks),
    )
    _check(layout, size)
    return layout


def sets_across(count: int, rules: tuple[EdgeSets, ...], trough: float) -> tuple[int, ...]:
    """How many plates each piece has, from left to right.

    Where pieces of several plates stand is a maker's choice: the range's data say it, trough by
    trough. Without data, or in a deeper trough than they speak of, single plates are laid.

    Parameters
    ----------
    count : plates of one end
    rules : of the range, the shallowest trough first
    trough : [rad]

    Returns
    -------
    tuple of int, adding up to `count`, the same from left and right
    """
    rule = next((r for r in rules if trough <= r.trough_up_to + 1e-9), None)
    if rule is None:
        return (1,) * count
    each = min(rule.each_edge or count, count // (2 * rule.plates))
    middle = count - 2 * each * rule.plates
    return (rule.plates,) * each + (1,) * middle + (rule.plates,) * each


def _data(size: Size) -> dict[str, Given]:
    def given(key: str, label: str, value: float) -> Given:
        return stated(f"range.{key}", label, value, Kind.LENGTH, f"range data, {size.name}")

    return {
        "pitch": given("pitch", "plate pitch", size.pitch),
        "plate": given("plate_width", "plate width", size.plate_width),
        "mesh": given("mesh_offset", "mesh offset of the two ends", size.mesh_offset),
        "setback": given("setback", "least edge set-back", size.setback[0]),
        "cut": given("cut_line", "pin axis to cut line at the edges", size.cut_line),
        "hole": given("hole", "hole", size.hole),
    }


def _no_layout(size: Size, width: float, count: int) -> Sentence:
    low = size.setback[0] + size.mesh_offset / 2
    high = size.setback[1] - size.mesh_offset / 2
    near, numbers = [], {}
    for name, n in (("less", count), ("more", count + 1)):
        if n >= FEWEST_PLATES and high >= low:
            over = (n - 1) * size.pitch + size.plate_width
            near.append(f"{{{name}_low}} to {{{name}_high}}")
            numbers[f"{name}_low"] = (over + 2 * low, Kind.LENGTH)
            numbers[f"{name}_high"] = (over + 2 * high, Kind.LENGTH)
    return sentence(
        "no number of plates keeps the edge set-backs of {low} to {high} on a belt of {width}"
        + ("; near it fit " + " and ".join(near) if near else ""),
        low=(size.setback[0], Kind.LENGTH),
        high=(size.setback[1], Kind.LENGTH),
        width=(width, Kind.LENGTH),
        **numbers,
    )


def _curve(
    size: Size, width: Figure, strip: bool, curve: Given | None, sheet: Worksheet
) -> tuple[Figure, Sentence]:
    key, label = "layout.curve_depth", "curve depth of the end"
    if strip:
        straight = stated(key, label, 0.0, Kind.LENGTH, "a strip in one piece needs a straight end")
        remark = "" if curve is None or curve.value == 0 else " The stated curve depth is not used."
        return sheet.note(straight), sentence(
            f"The strip is one piece: the end is cut straight.{remark}"
        )
    if curve is not None:
        return sheet.note(curve), sentence("Curve depth as stated for this job.")
    if size.curve_depth is not None:
        depth = stated(key, label, size.curve_depth, Kind.LENGTH, "template of the range")
        return sheet.note(depth), sentence("Curve depth of the range's template.")
    if size.curve_radius is not None:
        radius = stated(
            "range.curve_radius",
            "arc of the template",
            size.curve_radius,
            Kind.DISTANCE,
            "template of the range",
        )
        return (
            sheet.work(key, label, arc_depth, radius=radius, width=width),
            sentence("Curve depth from the arc of the range's template."),
        )
    straight = stated(key, label, 0.0, Kind.LENGTH, "neither job nor range states a curve")
    return sheet.note(straight), sentence(
        "No curve stated by job or range: the end is cut straight."
    )


def _notch(setback: float, size: Size, notch: Given | None) -> tuple[float, Sentence]:
    """Notch width that stays clear of the outermost plate, and what to say of it."""
    room = setback - size.mesh_offset / 2 - _CLEAR
    if room <= 0:
        return 0.0, sentence(
            "No room for an edge notch beside the outermost plate: trim the corners round."
        )
    if notch is not None:
        if notch.value <= room:
            return notch.value, sentence("Notch width as stated for this job.")
        return room, sentence(
            "The stated notch of {notch} would reach the outermost plate; {room} taken.",
            notch=notch,
            room=(room, Kind.LENGTH),
        )
    return min(room, _NOTCH), sentence(
        "Notch width: {clear} clear of the outermost plate, {most} at the most (assumption).",
        clear=(_CLEAR, Kind.LENGTH),
        most=(_NOTCH, Kind.LENGTH),
    )


def _end(
    which: End,
    size: Size,
    width: float,
    depth: float,
    count: int,
    pieces: tuple[int, ...],
    notch: float,
) -> EndLayout:
    """One end: the leading end's plates are shifted half the mesh offset to the left."""
    shift = size.mesh_offset / 2 * (1 if which is End.LEADING else -1)
    ys = [shift + size.pitch * ((count - 1) / 2 - n) for n in range(count)]
    plates: list[Plate] = []
    holes: list[Hole] = []
    number = 0
    for piece, members in enumerate(pieces, 1):
        own = ys[number : number + members]
        # A set is rigid: its plates stand on one line, the mean of the cut line over the set.
        root = sum(cut_at(size.cut_line, depth, y, width) for y in own) / members
        for y in own:
            number += 1
            plates.append(Plate(number, y, root, piece))
            for row, bolts in enumerate(size.rows, 1):
                holes.extend(
                    Hole(number, row, root + bolts.from_cut, y - across) for across in bolts.across
                )
    half = size.plate_width / 2
    points = 49 if depth else 2
    line = []
    for n in range(points):
        y = width / 2 - width * n / (points - 1)
        line.append((cut_at(size.cut_line, depth, y, width), y))
    return EndLayout(
        which=which,
        plates=tuple(plates),
        holes=tuple(holes),
        setback_left=width / 2 - (ys[0] + half),
        setback_right=width / 2 + (ys[-1] - half),
        notch_width=notch,
        notch_length=NOTCH_RATIO * notch,
        cut_line=tuple(line),
    )


def _check(layout: Layout, size: Size) -> None:
    """The answer is checked before it is given out."""
    half = layout.width.value / 2
    low, high = size.setback
    for end in layout.ends:
        inside = all(abs(h.y) + size.hole / 2 < half for h in end.holes)
        kept = all(low - 1e-9 <= e <= high + 1e-9 for e in (end.setback_left, end.setback_right))
        if not inside or not kept or len(end.plates) != layout.count:
            msg = f"{end.which}: plates or holes outside the belt; this is a fault of the program"
            raise AssertionError(msg)
