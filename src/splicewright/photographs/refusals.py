"""When a photograph is not measured, why, and what to do: the one place of these limits.

Each was set where simulated photographs (docs/photographs.md) that were made worse step by step
began to miss their stated range, with room on the safe side; none is from real photographs yet.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from splicewright.errors import Fault
from splicewright.photographs.adjustment import Adjusted
from splicewright.photographs.arrays import Array
from splicewright.photographs.detection import Detected
from splicewright.photographs.hole_rows import HolesMeasured
from splicewright.photographs.measures import EndMeasured
from splicewright.photographs.outline import Outline, Seek
from splicewright.photographs.plate_row import RowMeasured
from splicewright.photographs.surface import MOST, SPREAD
from splicewright.quantities import percent

FEWEST_SHEETS = 2
SMALLEST_SQUARE = 22.0
"""Side of a sheet's square in the picture [px]: below, a mark's cells are under 3 px."""
MOST_BLUR = 2.2
"""Standard deviation of the blur [px]."""
LEAST_CONTRAST = 0.55
"""White less black over white, in linear light: glare, haze or fog on the lens lower it [1]."""
MOST_RESIDUAL = 0.22
"""Of a sheet's corners from where the adjustment puts them, rms of a coordinate [px]."""
LEAST_STEEPNESS = math.radians(30)
"""Of the line from the cut's middle up to the lens over the belt [rad]."""
LEAST_COVERAGE = 0.4
"""Of the belt width that the middles of the outermost sheets are apart [1]."""
MOST_TURN = math.radians(20)
"""Of a sheet from the others' mean direction [rad]: its arrow does not point to the cut."""
WIDEST = {"out_of_square": 4e-3, "curve_depth": 3e-3, "width": 6e-3}
"""Half-width of a measure's 95 % range beyond which the photograph is no use, per metre of
belt width [m]."""


def in_detection(name: str, detected: Detected) -> list[Fault]:
    """What is wrong with the sheets that were found in one picture."""
    if detected.twice:
        numbers = " and ".join(map(str, detected.twice))
        say = f"sheet {numbers} lies there twice; take one of them away and photograph again"
        return [Fault("", say, name)]
    if len(detected.sheets) < FEWEST_SHEETS:
        seen = (
            "no scale sheet" if not detected.sheets else f"only sheet {detected.sheets[0].number}"
        )
        say = (
            f"{seen} could be read, two or more are needed; see that whole sheets are in the "
            "picture, sharp, clean, dry and without glare"
        )
        return [Fault("", say, name)]
    faults = []
    small = min(detected.sheets, key=lambda s: s.square)
    if small.square < SMALLEST_SQUARE:
        say = (
            f"sheet {small.number} is too small in the picture (its squares {small.square:.0f} "
            f"pixels, accepted is {SMALLEST_SQUARE:.0f}); go nearer, or send the original"
        )
        faults.append(Fault("", say, name))
    soft = max(detected.sheets, key=lambda s: s.blur)
    if soft.blur > MOST_BLUR:
        say = (
            f"sheet {soft.number} is blurred by {soft.blur:.1f} pixels, accepted is up to "
            f"{MOST_BLUR:g}; hold still, tap on the sheet to focus, wipe the lens"
        )
        faults.append(Fault("", say, name))
    pale = min(detected.sheets, key=lambda s: s.contrast)
    if pale.contrast < LEAST_CONTRAST:
        say = (
            f"black is not dark on sheet {pale.number} (contrast "
            f"{percent(pale.contrast)}, accepted is "
            f"{percent(LEAST_CONTRAST)} or more): glare or haze; shade the sheet or move aside"
        )
        faults.append(Fault("", say, name))
    return faults


def in_adjustment(names: Sequence[str], adjusted: Adjusted | None) -> list[Fault]:
    """What is wrong with the solution of all pictures."""
    if adjusted is None:
        say = "the sheets do not fit together; each photograph must show a sheet that another shows"
        return [Fault("", say, ", ".join(names))]
    faults = []
    for (picture, sheet), off in adjusted.residuals.items():
        if off > MOST_RESIDUAL:
            say = (
                f"sheet {sheet} does not lie flat, or moved: its corners are {off:.2f} pixels "
                f"off, accepted is up to {MOST_RESIDUAL:g}; lay it flat, hold its corners down, "
                "take all photographs again"
            )
            faults.append(Fault("", say, names[picture]))
    poses = dict(zip(adjusted.sheets, adjusted.sheet_poses, strict=True))
    for sheet, pose in poses.items():
        if abs(pose[2]) > MOST_TURN:
            say = f"the arrow of sheet {sheet} does not point to the cut; lay it as the others lie"
            faults.append(Fault("", say, names[0]))
    bent = np.abs(adjusted.numbers[2:5]) > MOST * SPREAD[:3]
    if bent.any():
        say = (
            "the belt does not lie flat: it is bowed or twisted more than this measuring allows; "
            "lay it on something flat, or use the tape"
        )
        faults.append(Fault("", say, names[0]))
    for one, other in ((1, 2), (3, 4)):
        if one in poses and other in poses and poses[one][1] <= poses[other][1]:
            say = f"sheets {one} and {other} lie on each other's side: {one} goes to your left"
            faults.append(Fault("", say, names[0]))
    return faults


def in_outline(name: str, outline: Outline, seek: Seek = "cut") -> list[Fault]:
    """What of the outline is missing or doubtful in one picture."""
    wanted = {"left": "the left edge", "right": "the right edge"}
    if seek == "cut":
        wanted["cut"] = "the cut"
    if seek == "chalk":
        wanted["chalk"] = "the chalk line"
    faults: list[Fault] = []
    for key, words in wanted.items():
        edge = getattr(outline, key)
        if edge is None and key == "chalk":
            say = (
                "the chalk line could not be found ahead of the sheets; snap it white and whole, "
                "have all of it in the picture, keep sheets 5 cm clear of it"
            )
            return [*faults, Fault("", say, name)]
        if edge is None:
            say = (
                f"{words} could not be found; put something light and plain under and beside the "
                "belt end, have all of it in the picture, keep sheets 5 cm clear of it"
            )
            return [*faults, Fault("", say, name)]
        if edge.doubtful:
            say = (
                f"there are two lines that could be {words}; take away what lies along it, or a "
                "shadow's edge, and photograph again"
            )
            faults.append(Fault("", say, name))
    return faults


def in_view(name: str, adjusted: Adjusted, picture: int, outline: Outline) -> list[Fault]:
    """What is wrong with where the photograph was taken from, and where the sheets lie."""
    camera, surface = adjusted.camera(picture), adjusted.surface()
    eye = camera.place

    def laid(key: str) -> Array:
        return surface.meet(eye, camera.rays(getattr(outline, key).pixels))

    left, right = laid("left"), laid("right")
    # Without a cut there are plates ahead of the sheets: what is looked at is some way ahead.
    ahead = max(float(left[:, 0].max()), float(right[:, 0].max()))
    cut = laid("cut") if outline.cut else np.array([[ahead, float(left[0, 1] + right[0, 1]) / 2]])
    faults = []
    if eye[0] > cut[:, 0].min():
        say = (
            "was taken from beyond the cut, where the cut's own face hides the edge; stand on "
            "the belt behind the sheets"
        )
        faults.append(Fault("", say, name))
    elif not right[:, 1].mean() < eye[1] < left[:, 1].mean():
        say = "was taken from beside the belt; hold the phone over the belt, between its edges"
        faults.append(Fault("", say, name))
    middle = cut.mean(axis=0)
    steep = math.atan2(eye[2], float(np.linalg.norm(eye[:2] - middle)))
    if steep < LEAST_STEEPNESS:
        say = (
            f"looks at the cut at {math.degrees(steep):.0f}°, accepted is "
            f"{math.degrees(LEAST_STEEPNESS):.0f}° or steeper; hold the phone higher, go nearer"
        )
        faults.append(Fault("", say, name))
    across = adjusted.sheet_poses[:, 1]
    share = float(np.ptp(across)) / float(left[:, 1].mean() - right[:, 1].mean())
    if share < LEAST_COVERAGE:
        say = (
            f"the sheets span {percent(share)} of the belt's width, accepted is "
            f"{percent(LEAST_COVERAGE)} "
            "or more; lay them near both edges"
        )
        faults.append(Fault("", say, name))
    return faults


def in_row(names: Sequence[str], count: int, measured: RowMeasured | None) -> list[Fault]:
    """Plates that cannot be told."""
    if measured is not None:
        return []
    say = (
        f"no row of {count} plates could be told ahead of the sheets; have the whole row in the "
        "picture, clean, evenly lit, sheets close behind it, and see that the plan is this joint's"
    )
    return [Fault("", say, ", ".join(names))]


def in_holes(names: Sequence[str], count: int, measured: HolesMeasured | None) -> list[Fault]:
    """Holes that cannot be told."""
    if measured is not None:
        return []
    say = (
        f"too few of the {count} holes could be told where the plan has them; see that the plan is "
        "this end's and the right face lies up, wipe the holes clean, rub chalk over the cover "
        "around them, go nearer"
    )
    return [Fault("", say, ", ".join(names))]


def in_gap(names: Sequence[str], measured: EndMeasured | None) -> list[Fault]:
    """Two ends that cannot be told."""
    if measured is not None:
        return []
    say = (
        "the edges of both ends could not be told; lay sheets 1 and 2 on the end you stand on, 3 "
        "and 4 on the other, all arrows one way, with something light beside the edges"
    )
    return [Fault("", say, ", ".join(names))]


def in_measures(names: Sequence[str], measured: EndMeasured) -> list[Fault]:
    """Measures that came out too uncertain to be of use."""
    width = max(measured.values[0].value, 0.3)
    faults = []
    for value in measured.values:
        most = WIDEST.get(value.key)
        if most is not None and value.half_width > most * width:
            say = (
                f"{value.label}: only known within {value.half_width * 1e3:.1f} mm, of use is "
                f"{most * width * 1e3:.1f} mm or less; use four sheets, go nearer, or take one "
                "more photograph from a step to the side"
            )
            faults.append(Fault("", say, ", ".join(names)))
    return faults
