"""A vulcanised joint drawn: both ends marked out, every ply in section, the press, the corner.

An end is seen by somebody who looks at its steps, its square line up the sheet: the trailing end
with its carry cover up, the leading end with its pulley cover up. Left is then left on both, and
their lines lean opposite ways, as they do on the belt.
"""

from __future__ import annotations

import math
from itertools import pairwise

from splicewright.errors import OutputError
from splicewright.job import JointPlan
from splicewright.joint import End, StepForm, StepGeometry, StepMark, StepSize, belt_width
from splicewright.quantities import System
from splicewright.sheets.canvas.placement import translated
from splicewright.sheets.canvas.scene import (
    CENTRE,
    CUT,
    HIDDEN,
    OUTLINE,
    THIN,
    Dimension,
    Group,
    Hatch,
    Item,
    Leader,
    Line,
    Marker,
    Pen,
    Point,
    Polyline,
    RunningDimension,
    Scene,
    Text,
    inch_check_bar,
    metric_check_bar,
)
from splicewright.sheets.drawings.belt_end import (
    MM,
    as_the_crew_sees,
    length_text,
    travel_arrow,
    unit_note,
)

_LETTERS = 2.6
_BEHIND = 0.08
"""Belt drawn behind the last line [m]."""
_BARED = (1.0, 0.93, 0.86, 0.79, 0.72, 0.65)
"""Grey of the belt where more and more plies are off."""


def step_joint(plan: JointPlan) -> tuple[StepSize, StepGeometry]:
    """The vulcanised joint of a plan.

    Raises
    ------
    OutputError
        The plan holds none, or is kept from before such joints were drawn.
    """
    best, joint = plan.fastener, plan.step_joint
    if best is None or best.steps is None or joint is None or not joint.lines:
        message = f"plan {plan.id}: holds no vulcanised joint that can be drawn; plan it anew"
        raise OutputError(message)
    return best.steps, joint


def face_up(which: End) -> str:
    """The cover from which an end is bared: the leading end lies on top at the carry cover."""
    return "CARRY COVER UP" if which is End.TRAILING else "PULLEY COVER UP"


def step_marking(plan: JointPlan, system: System = "metric") -> Scene:
    """Both ends side by side: every line from the square line, at both edges and the centreline.

    Returns
    -------
    Scene [mm], 1:1, trailing end left, leading end right

    Raises
    ------
    OutputError
        The plan holds no such joint.
    """
    width = _width(plan)
    apart = 1.78 * width
    items: list[Item] = []
    for which, at in ((End.TRAILING, -apart / 2), (End.LEADING, apart / 2)):
        one = Scene(step_end(plan, which, system))
        items += translated(one, MM * at, 0.0).items
    return Scene(
        tuple(items),
        "Lines of both ends, as the crew sees their steps",
        f"Plan {plan.id}. {unit_note(system)} All lengths from the square line back along the "
        "belt. Each end has its square line up the sheet.",
    )


def step_end(plan: JointPlan, which: End, system: System = "metric") -> tuple[Item, ...]:
    """One end at 1:1: the waste, the bared steps, their lines and lengths."""
    size, joint = step_joint(plan)
    half, marks = _width(plan) / 2, joint.marks(which)
    depth = max(max(m.left, m.right) for m in marks) + _BEHIND
    left, right = -MM * half, MM * half
    bands: list[Item] = []
    edges = [(m.left, m.right) for m in marks] + [(depth, depth)]
    for number, ((l1, r1), (l2, r2)) in enumerate(pairwise(edges)):
        off = len(marks) - 1 - number
        grey = _BARED[min(off, len(_BARED) - 1)]
        ring = ((left, -MM * l1), (right, -MM * r1), (right, -MM * r2), (left, -MM * l2))
        bands.append(Polyline(ring, None, closed=True, fill=grey))
    first = marks[0]
    waste = ((left, 0.0), (right, 0.0), (right, -MM * first.right), (left, -MM * first.left))
    body: list[Item] = [
        Line((left, -MM * min(first.left, 0.0)), (left, -MM * depth), OUTLINE),
        Line((right, 0.0), (right, -MM * depth), OUTLINE),
        *(_line(m, half, CUT if n == 0 else OUTLINE) for n, m in enumerate(marks)),
    ]
    if size.finger_width is not None:
        body.append(_fingers(size, which, half, marks[0], marks[1]))
    names = [
        Text(
            (0.5 * left, -MM * (m.left + m.middle) / 2),
            m.what,
            _LETTERS,
            "middle",
            "middle",
            masked=True,
        )
        for m in marks
    ]
    centre = [
        Text(
            (0.0, -MM * m.middle),
            length_text(m.middle, system),
            _LETTERS,
            "middle",
            "middle",
            bold=True,
            masked=True,
        )
        for m in marks
    ]
    along = "↑ TRAVEL" if which is End.TRAILING else "↓ TRAVEL"
    title = f"{which.value.upper()}, {face_up(which)}, {along}"
    room = 0.09 * MM * 2 * half
    # Numbers between the two ends stand near their belt: those of the other end begin beside them.
    off_left, off_right = (-9.0, 5.0) if which is End.TRAILING else (-5.0, 9.0)
    return (
        Group("belt", (*bands, *body)),
        Group("waste", (Hatch(waste, spacing=2.0),)),
        Group("square line", (Line((left - 12, 0.0), (right + 12, 0.0), HIDDEN),)),
        Group("centreline", (Line((0.0, 12.0), (0.0, -MM * depth - 8), CENTRE),)),
        Group(
            "dimensions",
            (
                _chain(left, [m.left for m in marks], off_left, system),
                _chain(right, [m.right for m in marks], off_right, system),
                *centre,
            ),
        ),
        Group(
            "labels",
            (
                *names,
                Text((0.0, room), title, 2.9, "middle", "middle", bold=True),
                Text((left, -MM * depth - room / 2), "LEFT", 2.9, "start", "middle", bold=True),
                Text((right, -MM * depth - room / 2), "RIGHT", 2.9, "end", "middle", bold=True),
            ),
        ),
    )


def _line(mark: StepMark, half: float, pen: Pen) -> Line:
    return Line((-MM * half, -MM * mark.left), (MM * half, -MM * mark.right), pen)


def _chain(x: float, depths: list[float], offset: float, system: System) -> Item:
    """Lengths from the square line along one edge; where a line meets it there is none to write."""
    away = [d for d in depths if d > 1e-6]
    return RunningDimension(
        (x, 0.0),
        tuple((x, -MM * d) for d in away),
        "y",
        offset,
        tuple(length_text(d, system) for d in away),
        _LETTERS,
    )


def _width(plan: JointPlan) -> float:
    return belt_width(plan.conveyor, plan.work).value


def _fingers(size: StepSize, which: End, half: float, tip: StepMark, root: StepMark) -> Item:
    """The fingers of one end from tip to root; those of the other stand in their gaps."""
    assert size.finger_width is not None
    pitch = size.finger_width / 2
    count = math.ceil(half / pitch)
    points = []
    for n in range(-count, count + 1):
        y = max(-half, min(half, n * pitch))
        share = (y + half) / (2 * half)
        low, high = (m.left + share * (m.right - m.left) for m in (tip, root))
        at_tip = (n % 2 == 0) == (which is End.TRAILING)
        points.append((MM * y, -MM * (low if at_tip else high)))
    return Polyline(tuple(points), CUT)


_TALL, _COVER = 4.6, 5.5
"""Height of a ply and of a cover in the section, which is not to scale upright [mm of paper]."""


def step_section(plan: JointPlan, system: System = "metric", wide: float = 180.0) -> Scene:
    """A section along the belt: every ply of both ends, the cover strips, platens over the length.

    Steel cord shows its pattern from above instead: every line of cords that repeats.

    Parameters
    ----------
    plan : with a vulcanised joint
    system : "metric" or "inch", for the lettering only
    wide : room on paper [mm]

    Returns
    -------
    Scene in millimetres of paper, travel to the right, upright not to scale

    Raises
    ------
    OutputError
        The plan holds no such joint.
    """
    size, joint = step_joint(plan)
    far = joint.overlap.value / 2
    reach = far + size.transition + 0.16
    k = 0.97 * wide / (2 * reach)
    rows = (
        _cord_rows(size, far, reach, k)
        if size.form is StepForm.CORD
        else _ply_rows(size, joint, far, reach, k)
    )
    low = min(_low(row) for row in rows)
    places = sorted({line.at for line in joint.lines if abs(line.at) <= far + 1e-9})
    chain = [
        Dimension((k * a, low), (k * b, low), "x", -7.0, length_text(b - a, system), _LETTERS)
        for a, b in pairwise(places)
    ]
    whole = (
        [
            Dimension(
                (k * places[0], low),
                (k * places[-1], low),
                "x",
                -14.0,
                length_text(places[-1] - places[0], system),
                _LETTERS,
            )
        ]
        if len(places) > 2
        else []
    )
    words = (
        Text((-k * reach, 2.0), "TRAILING END", 2.6, "start", "base", bold=True),
        Text((k * reach, 2.0), "LEADING END, TRAVEL →", 2.6, "end", "base", bold=True),
    )
    title = "Pattern of cords" if size.form is StepForm.CORD else "Section along the belt"
    return Scene(
        (*rows, Group("dimensions", (*chain, *whole)), Group("labels", words)),
        f"{title}, carry cover up",
        "Grey: trailing end. White: leading end. Crossed: new rubber. Heights are not to scale.",
    )


def _low(item: Item) -> float:
    assert isinstance(item, Group)
    return min(p[1] for part in item.items for p in _corners(part))


def _corners(part: Item) -> tuple[Point, ...]:
    match part:
        case Polyline():
            return part.points
        case Hatch():
            return part.boundary
        case Text():
            return (part.at,)
        case _:
            return ((0.0, math.inf),)


def _ply_rows(
    size: StepSize, joint: StepGeometry, far: float, reach: float, k: float
) -> list[Group]:
    """Covers and plies from the carry cover down; x by `k`, each row its own height."""
    places = sorted(line.at for line in joint.lines)
    first, last = places[0], places[-1]
    strip = (size.cover_strip or 0.06) / 2
    lap = size.form is StepForm.OVERLAP
    seams = [last, first] if lap else places if size.form is StepForm.STEP else [0.0]
    plies: list[Item] = []
    y = -_COVER
    for number, seam in enumerate(seams, 1):
        if size.form is StepForm.FINGER:
            plies += [
                _box(k * -reach, k * -far, y, 0.8),
                _box(k * far, k * reach, y, 1.0),
                Hatch(_ring(k * -far, k * far, y), spacing=1.6),
                Polyline(_ring(k * -far, k * far, y), THIN, closed=True),
                Text(
                    (0.0, y - _TALL / 2),
                    "fingers of both ends",
                    _LETTERS,
                    "middle",
                    "middle",
                    masked=True,
                ),
            ]
        elif lap:
            # The leading end lies on the trailing one.
            ahead = (first, reach, 1.0) if number == 1 else (-reach, last, 0.8)
            plies.append(_box(k * ahead[0], k * ahead[1], y, ahead[2]))
        else:
            plies += [_box(k * -reach, k * seam, y, 0.8), _box(k * seam, k * reach, y, 1.0)]
            plies += [
                Text((k * x, y - _TALL / 2), f"ply {number}", 2.5, "middle", "middle")
                for x in (-reach + 0.03, reach - 0.03)
            ]
        y -= _TALL
    covers: list[Item] = []
    for top, seam in ((0.0, first), (y, last)):
        low = top - _COVER
        ends = (k * (seam - strip), k * (seam + strip))
        ring = ((ends[0], top), (ends[1], top), (ends[1], low), (ends[0], low))
        covers += [
            _slab(k * -reach, ends[0], top, 0.8),
            _slab(ends[1], k * reach, top, 1.0),
            Hatch(ring, spacing=1.5, crossed=True),
            Polyline(ring, OUTLINE, closed=True),
        ]
    named = (
        # Where the seam lies far out, its cover is named on the other end's side.
        Text((k * reach - 2, -_COVER / 2), "carry cover", 2.5, "end", "middle"),
        Text((k * -reach + 2, y - _COVER / 2), "pulley cover", 2.5, "start", "middle"),
    )
    return [Group("plies", tuple(plies)), Group("covers", (*covers, *named))]


def _cord_rows(size: StepSize, far: float, reach: float, k: float) -> list[Group]:
    """Each line of the repeating pattern as two bars, one under the other."""
    items: list[Item] = []
    for number, line in enumerate(size.cords):
        y = -7.0 * number
        if line.trailing is not None:
            items.append(_bar(k * -reach, k * (line.trailing - far), y, 0.55))
        if line.leading is not None:
            items.append(_bar(k * (line.leading - far), k * reach, y, 1.0))
        items.append(Text((k * -reach - 1.5, y - 1.6), str(number + 1), 2.5, "end", "middle"))
    return [Group("cords", tuple(items))]


def _ring(x1: float, x2: float, top: float, tall: float = _TALL) -> tuple[Point, ...]:
    return ((x1, top), (x2, top), (x2, top - tall), (x1, top - tall))


def _box(x1: float, x2: float, top: float, grey: float) -> Polyline:
    return Polyline(_ring(x1, x2, top), OUTLINE, closed=True, fill=grey)


def _slab(x1: float, x2: float, top: float, grey: float) -> Polyline:
    return Polyline(_ring(x1, x2, top, _COVER), THIN, closed=True, fill=grey)


def _bar(x1: float, x2: float, top: float, grey: float) -> Polyline:
    return Polyline(_ring(x1, x2, top, 3.2), OUTLINE, closed=True, fill=grey)


def press_drawing(plan: JointPlan, system: System = "metric") -> Scene:
    """The joint from above with every heat of the press, edge irons and stretch marks.

    Returns
    -------
    Scene [mm], 1:1, seen on the cover that lies up, travel up the sheet

    Raises
    ------
    OutputError
        The plan holds no such joint.
    """
    _, joint = step_joint(plan)
    cure = joint.curing
    assert cure is not None  # with lines there is one
    half = MM * _width(plan) / 2
    lean = MM * joint.bias_offset.value / 2
    reach = MM * (joint.belt_needed.value / 2 + cure.beyond.value) + 160.0
    lines = [
        Line(
            (-half, MM * line.at + lean),
            (half, MM * line.at - lean),
            CUT if n in {0, len(joint.lines) - 1} else THIN,
        )
        for n, line in enumerate(joint.lines)
    ]
    platen = MM * (cure.platen or cure.press_length).value
    wide = plan.work.press_width
    over = MM * wide.value / 2 if wide is not None else half + 90.0
    press_lean = over * math.tan(plan.work.press_bias.value) if plan.work.press_bias else 0.0
    heats: list[Item] = []
    for number, middle in enumerate(cure.places, 1):
        low, high = MM * middle - platen / 2, MM * middle + platen / 2
        ring = (
            (-over, low + press_lean),
            (over, low - press_lean),
            (over, high - press_lean),
            (-over, high + press_lean),
        )
        side = -1.0 if number % 2 else 1.0
        heats += [
            Polyline(ring, HIDDEN, closed=True),
            Text(
                (side * (over + 62), MM * middle),
                f"heat {number}" if len(cure.places) > 1 else "press",
                2.8,
                "middle",
                "middle",
                90.0,
                bold=True,
            ),
        ]
    top = max(p[1] for item in heats if isinstance(item, Polyline) for p in item.points)
    reach = max(reach, top + 40.0)  # what names the edges stands clear of the platens
    irons = [
        Polyline(((x, -top), (x + w, -top), (x + w, top), (x, top)), THIN, closed=True, fill=0.6)
        for x, w in ((-half - 28.0, 24.0), (half + 4.0, 24.0))
    ]
    measured = [
        Dimension(
            (over, -MM * cure.press_length.value / 2),
            (over, MM * cure.press_length.value / 2),
            "y",
            14.0,
            length_text(cure.press_length.value, system),
            _LETTERS,
        ),
        Dimension(
            (-half, MM * joint.lines[-1].at + lean),
            (-half, MM * joint.lines[0].at + lean),
            "y",
            -22.0,
            length_text(joint.lines[-1].at - joint.lines[0].at, system),
            _LETTERS,
        ),
    ]
    seen = Scene(
        (
            Group(
                "belt",
                (
                    Line((-half, -reach), (-half, reach)),
                    Line((half, -reach), (half, reach)),
                ),
            ),
            Group("edge irons", tuple(irons)),
            Group("joint", tuple(lines)),
            Group("centreline", (Line((0.0, -reach - 20), (0.0, reach + 20), CENTRE),)),
            Group("press", tuple(heats)),
            Group("dimensions", tuple(measured)),
            Group(
                "labels",
                (
                    Leader((half + 16.0, 0.72 * top), (half + 150.0, 0.86 * top), "edge iron", 2.6),
                    Text((-half, reach + 0.03 * half), "LEFT", 2.8, "start", "base", bold=True),
                    Text((half, reach + 0.03 * half), "RIGHT", 2.8, "end", "base", bold=True),
                ),
            ),
            travel_arrow((over + 130.0, -reach + 30.0), 180.0, "TRAVEL", 2.8),
        ),
        "Where the press stands, carry cover up",
        f"Plan {plan.id}. {unit_note(system)} Dashed: platens. Grey: edge irons. The longer "
        "measure is what the platens must cover, the other is from outermost line to outermost "
        "line.",
    )
    return as_the_crew_sees(seen, plan)


_ACROSS = 0.17
"""Belt that the corner template shows across [m]: it lies on one sheet."""


def corner_template(plan: JointPlan, which: End, system: System = "metric") -> Scene:
    """The corner where the bias begins, at 1:1: edge, square line, cut and the next line.

    Returns
    -------
    Scene [mm], 1:1, laid on the face that is bared, square line up the sheet

    Raises
    ------
    OutputError
        The plan holds no such joint.
    """
    _, joint = step_joint(plan)
    marks = joint.marks(which)
    width = _width(plan)
    # Trailing end: the cut begins at the left corner; leading end: at the right one.
    side = -1.0 if marks[0].left <= marks[0].right else 1.0
    across = min(_ACROSS, width)
    slope = (marks[0].right - marks[0].left) / width
    inner = -side * MM * across
    items: list[Item] = []
    depth = across * abs(slope)
    for number, mark in enumerate(marks[:2]):
        at = mark.left if side < 0 else mark.right
        far = at + across * abs(slope)
        if number and at > 0.26:
            continue
        depth = max(depth, far)
        pen = CUT if number == 0 else OUTLINE
        items += [
            Line((0.0, -MM * at), (inner, -MM * far), pen),
            Text(
                (0.5 * inner, -MM * (at + far) / 2 - 4.0),
                f"{mark.what}, {length_text(at, system)} at this edge",
                3.0,
                "middle",
                "top",
                masked=True,
            ),
        ]
    foot = -MM * depth - 18.0
    word = "LEFT" if side < 0 else "RIGHT"
    middle = 0.5 * inner
    bar = (min(0.0, inner) + 12.0, 22.0)
    along = "↑ TRAVEL" if which is End.TRAILING else "↓ TRAVEL"
    return Scene(
        (
            Group("belt", (Line((0.0, 10.0), (0.0, foot), OUTLINE),)),
            Group("square line", (Line((-side * -8.0, 0.0), (inner, 0.0), HIDDEN),)),
            Group("lines", tuple(items)),
            Group("registration", (
                Marker((0.12 * inner, foot + 8.0), "registration", 8.0),
                Marker((0.9 * inner, 6.0), "registration", 8.0),
            )),
            Group("lettering", (
                Text((middle, 5.0), "square line (first square cut)", 3.0, "middle", "base"),
                Text((middle, foot + 12.0), f"{which.value.upper()}, {face_up(which)}, {along}",
                     3.4, "middle", "base", bold=True),
                Text((middle, foot + 5.0), f"{word} edge, plan {plan.id}, bias "
                     f"{joint.bias.show(system)}", 3.0, "middle", "base"),
            )),
            Group("check bars", (metric_check_bar(bar), inch_check_bar((bar[0], bar[1] + 13.0)))),
        ),
        f"Corner template, {which.value}, {face_up(which).lower()}, plan {plan.id}",
        f"1:1. Lay it on the bared face, its edge on the {word.lower()} belt edge.",
    )  # fmt: skip
