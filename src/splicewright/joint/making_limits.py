"""How true a joint must be made: one set of limits for the steps, the sheets and the check.

Worked with the closed form of a belt whose sides are held all along. Of the limits of side
guidance that is the one in which an error moves the plate loads most, so its limits are the
smallest; the belt and plate stiffness are taken at the end of their range that makes them
smaller still. Off centre it is the other way round: there the belt that nothing guides rules.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from splicewright.joint.layout import Layout
from splicewright.joint.membrane import EdgeCompliance, PlateRow, Strip, locked_compliance
from splicewright.joint.ranges import Size
from splicewright.joint.squaring import READING
from splicewright.joint.stiffness import TEXTURES, Case, assumed_plate_stiffness, assumed_strips
from splicewright.joint.tolerances import LOSS, Error, cost, thickness_limit, tolerance
from splicewright.plant import Belt
from splicewright.quantities import (
    Figure,
    Given,
    Kind,
    Sentence,
    Worksheet,
    assumed,
    formula,
    sentence,
    stated,
)

_MODES = 600
_BACK = 2.0
"""The point on the centreline lies this many belt widths behind the square line."""

DERIVED = "derived from mechanics, smallest of the assumed cases; the maker's value goes first"


@formula(
    "F_R = t_R B/N",
    gives=("F_R", Kind.FORCE),
    symbols={"rated": "t_R", "width": "B", "count": "N"},
    source="range",
    limits="the rating of the range shared evenly by all plates",
)
def plate_rating(rated: float, width: float, count: float) -> float:
    """Pull one plate may carry in running.

    Parameters
    ----------
    rated : tension per width of the range [N/m]
    width : of the belt [m]
    count : plates of one end
    """
    return rated * width / count


@formula(
    "a = (1/(1 - c) - 1) (N + 1) p/3",
    gives=("a", Kind.LENGTH),
    symbols={"loss": "c", "count": "N", "pitch": "p"},
    source="statics",
    limits="even row, nothing guides the belt: each end carries the moment F a/2 as a row of "
    "bolts does, the outermost plate gaining 6/(N (N + 1)) F a/(2 p)",
)
def off_centre_limit(loss: float, count: float, pitch: float) -> float:
    """How far the lines of pull of two ends may lie apart.

    Parameters
    ----------
    loss : share of the margin that may go [-]
    count : plates of one end
    pitch : [m]
    """
    return (1 / (1 - loss) - 1) * (count + 1) * pitch / 3


@formula(
    "Δ = s l/√(l² + B²/4)",
    gives=("Δ", Kind.LENGTH),
    symbols={"out": "s", "back": "l", "width": "B"},
    source="geometry",
    limits="s small against B",
)
def arc_difference(out: float, back: float, width: float) -> float:
    """Difference of the two lengths from a point on the centreline to the ends of a line across.

    Parameters
    ----------
    out : of square, over the belt width [m]
    back : from the line to the point [m]
    width : of the belt [m]
    """
    return out * back / math.hypot(back, width / 2)


@formula(
    "Δ = 2 s l/√(l² + B²)",
    gives=("Δ", Kind.LENGTH),
    symbols={"out": "s", "back": "l", "width": "B"},
    source="geometry",
    limits="s small against B; l marked back from the cut along both edges",
)
def diagonal_difference(out: float, back: float, width: float) -> float:
    """Difference of the two diagonals of a cut end.

    Parameters
    ----------
    out : of square, over the belt width [m]
    back : length marked back along both edges [m]
    width : of the belt [m]
    """
    return 2 * out * back / math.hypot(back, width)


@dataclass(frozen=True, slots=True)
class MakingLimit:
    """How much of one error is accepted.

    smallest, typical : amount that costs a tenth of the margin, of all assumptions and of the
    typical ones; [m], for tightness a share [-]; practice : what the trade asks beside it,
    common practice without a source
    """

    what: str
    smallest: Figure
    typical: Figure
    practice: Sentence


@dataclass(frozen=True, slots=True)
class MakingLimits:
    """All limits of one joint, and what they come to where they are measured.

    back: of the point on the centreline, and of the marks on the edges, behind the line [m];
    arcs: difference of the two lengths from the point to the ends of the line [m];
    diagonals: difference of the diagonals of the cut end [m];
    hole_line_cost: share of the margin that one plate out of line by a tape's
    step (1 mm) costs [-]
    """

    plate_rating: Figure
    out_of_square: MakingLimit
    hole_line: MakingLimit
    off_centre: MakingLimit
    tightness: MakingLimit
    thickness: MakingLimit
    back: Figure
    arcs: Figure
    diagonals: Figure
    hole_line_cost: Figure

    @property
    def every(self) -> tuple[MakingLimit, ...]:
        """The limits in the order of the work."""
        return (
            self.out_of_square,
            self.hole_line,
            self.off_centre,
            self.tightness,
            self.thickness,
        )


def making_limits(
    size: Size, layout: Layout, belt: Belt, running: Figure, thinnest: Figure, sheet: Worksheet
) -> MakingLimits:
    """Work the limits of one joint.

    Parameters
    ----------
    size, layout : the chosen joint
    belt : stiffness and carcass
    running : governing running tension per width [N/m]
    thinnest : belt thickness at its thinnest place [m]
    sheet : takes the lines
    """
    rated = _rated(size)
    width, count = layout.width, _count(sheet)
    rating = sheet.work("limit.plate_rating", "rating of one plate", plate_rating,
                        rated=rated, width=width, count=count)  # fmt: skip
    plate = assumed_plate_stiffness(rating.value)
    parts = [belt.modulus, *belt_texture(belt), plate, running, width, count, layout.pitch]
    pull = running.value * width.value
    ends = _ends(row_of(layout, size), width.value, belt, plate)

    def found(key: str, what: str, error: Error, end: int, kind: Kind, practice: Sentence
              ) -> MakingLimit:  # fmt: skip
        figures = [
            sheet.found(f"limit.{key}{tail}", f"{what}, {said}", amount, kind,
                        f"costs {LOSS:.0%} of the margin: closed form of the belt end, {case.name}",
                        parts, "membrane")
            for tail, said, case in (("", "limit", ends[end]), (".typical", "typical", ends[2]))
            for amount in (_reached(error, case, pull),)
        ]  # fmt: skip
        return MakingLimit(what, figures[0], figures[1], practice)

    square = found("out_of_square", "out of square over the belt width", Error.OUT_OF_SQUARE, 0,
                   Kind.LENGTH, sentence("equal as a tape reads, {tape}",
                                         tape=(READING, Kind.LENGTH)))  # fmt: skip
    holes = found("hole_line", "one plate out of the hole line", Error.HOLE_LINE, 0, Kind.LENGTH,
                  sentence("as the template punches"))  # fmt: skip
    tight = found("tightness", "bolts tighter and slacker than the mean, plate by plate",
                  Error.TIGHTNESS, 1, Kind.SHARE,
                  sentence("all alike, in rounds from the middle"))  # fmt: skip
    lose = assumed("limit.loss", "share of the margin one error may cost", LOSS, Kind.SHARE,
                   "a tenth taken", (0.05, 0.2))  # fmt: skip
    off = sheet.work("limit.off_centre", "ends off each other's centreline, limit",
                     off_centre_limit, loss=lose, count=count, pitch=layout.pitch)  # fmt: skip
    thick = sheet.work("limit.thickness", "difference in thickness of the two belts, limit",
                       thickness_limit, thickness=thinnest, loss=lose)  # fmt: skip
    back = sheet.found("limit.back", "point and marks behind the square line",
                       round(_BACK * width.value, 1), Kind.DISTANCE,
                       "two belt widths, rounded to what is easily measured", [width])  # fmt: skip
    return MakingLimits(
        plate_rating=rating,
        out_of_square=square,
        hole_line=holes,
        off_centre=MakingLimit(
            "ends off each other's centreline", off, off,
            sentence("belt edges in line through the joint"),
        ),
        tightness=tight,
        thickness=MakingLimit(
            "difference in thickness of the two belts", thick, thick,
            sentence("skive the thicker end"),
        ),
        back=back,
        arcs=sheet.work("limit.arcs", "difference of the two lengths at the square line",
                        arc_difference, out=square.smallest, back=back, width=width),
        diagonals=sheet.work("limit.diagonals", "difference of the diagonals of the cut end",
                             diagonal_difference, out=square.smallest, back=back, width=width),
        hole_line_cost=sheet.found(
            "limit.hole_line.cost", "margin lost by one plate a tape's step out of the hole line",
            cost(Error.HOLE_LINE, ends[0], pull, READING), Kind.SHARE,
            f"one plate {READING * 1e3:g} mm ahead: closed form of the belt end, {ends[0].name}",
            parts, "membrane",
        ),
    )  # fmt: skip


def row_of(layout: Layout, size: Size) -> PlateRow:
    """The plates of the leading end; the trailing end's are its mirror image."""
    return PlateRow(tuple(plate.y for plate in layout.leading.plates), size.plate_width)


def belt_texture(belt: Belt) -> tuple[Given, Given]:
    """Stiffness across the belt and in shear over that along it, as named assumptions [-]."""
    texture = TEXTURES[belt.carcass]
    made = [
        assumed(f"belt.{key}", label, typical, Kind.SHARE,
                f"nobody measured it: range for {belt.carcass.value} belts, from memory of cloth "
                "and rubber", (low, high))
        for key, label, (low, typical, high) in (
            ("weft_share", "belt stiffness across over along", texture.weft),
            ("shear_share", "belt stiffness in shear over along", texture.shear),
        )
    ]  # fmt: skip
    return made[0], made[1]


def _rated(size: Size) -> Given:
    return stated("range.rated_tension", "rated tension", size.rated_tension, Kind.WIDTH_FORCE,
                  f"range data, {size.name}")  # fmt: skip


def _count(sheet: Worksheet) -> Figure:
    count = sheet.get("layout.count")
    assert count is not None  # lay_plates has worked it
    return count


def _ends(row: PlateRow, width: float, belt: Belt, plate: Given) -> tuple[Case, Case, Case]:
    """Stiff belt with stiff plates, stiff belt with soft plates, all typical.

    An error of place pulls in proportion to stiffness; uneven tightness parts the load most
    where the plates give more than the belt.
    """
    _, typical, stiff = assumed_strips(width, belt.modulus, belt.carcass)
    edge, middle = _locked(stiff, row), _locked(typical, row)
    held = "sides held"
    return (
        Case(f"belt stiff, plates stiff, {held}", edge, plate.high, None),
        Case(f"belt stiff, plates soft, {held}", edge, plate.low, None),
        Case(f"belt typical, plates typical, {held}", middle, plate.value, None),
    )


@lru_cache(maxsize=16)
def _locked(strip: Strip, row: PlateRow) -> EdgeCompliance:
    return locked_compliance(strip, row, modes=_MODES)


def _reached(error: Error, case: Case, pull: float) -> float:
    """The limit; the end of the search where even that costs less."""
    found = tolerance(error, [case], pull)
    return found.searched_to if found.typical is None else found.typical
