"""How accurately a joint must be made: one set of limits for the steps, the sheets and the check.

Worked like the loads and "can it run?": both belt ends and the pin as one system, the belt in
finite elements. Of all that is assumed the cases that ask most are worked, and the typical one
with the belt guided all along and with nothing that guides it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from splicewright.joint.belt_end.centreline import READING
from splicewright.joint.fasteners.ranges import Size
from splicewright.joint.layout import Layout
from splicewright.joint.loads.membrane import PlateRow
from splicewright.joint.loads.stiffness import (
    PIN_OVER_PITCH,
    REFINE,
    TEXTURES,
    Case,
    assumed_plate_stiffness,
    assumed_strips,
    hinged_cases,
    pins,
    spread_cases,
)
from splicewright.joint.loads.tolerances import (
    LOSS,
    Error,
    Tolerance,
    cost,
    thickness_limit,
    tolerance,
)
from splicewright.plant import Belt, Carcass
from splicewright.plant.assumptions import CLAMP_ROOM
from splicewright.quantities import (
    Figure,
    Given,
    Kind,
    Sentence,
    System,
    Worksheet,
    assumed,
    formula,
    percent,
    sentence,
    stated,
)

_BACK = 2.0
"""The point on the centreline lies this many belt widths behind the square line, at most."""
_CLAMP_DEPTH = 0.1
"""What a pulling clamp takes of the room at a belt end [m]: a tape does not lie flat over it."""

DERIVED = (
    "derived from mechanics, smallest of the assumed cases; the maker's value takes precedence"
)


BOTH_ENDS = "what each end can have is counted on both, the worse way round"


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
    "Δ = s l/√(l² + B²/4)",
    gives=("Δ", Kind.TAPE),
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
    gives=("Δ", Kind.TAPE),
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
class Guided:
    """What costs a tenth of the margin, by what guides the belt; None: no amount was found.

    held, loose : with the belt guided all along, and with nothing that guides it; unit as of the
    limit
    """

    held: Figure | None
    loose: Figure | None

    def shown(self, system: System = "metric") -> tuple[str, str]:
        """Both in words."""
        held, loose = (
            "no limit" if side is None else side.show(system) for side in (self.held, self.loose)
        )
        return held, loose


@dataclass(frozen=True, slots=True)
class MakingLimit:
    """How much of one error is accepted.

    smallest, typical : amount that costs a tenth of the margin, of all assumptions and of the
    typical ones [m], for tightness a share [-]; practice : what the trade asks beside it, common
    practice without a source; guided : the same as typical, by what guides the belt; None in plans
    that were made before the two were told apart
    """

    what: str
    smallest: Figure
    typical: Figure
    practice: Sentence
    guided: Guided | None = None

    def guidance(self, system: System = "metric") -> str:
        """Both limits of side guidance, in words."""
        if self.guided is None:
            return "guided and not guided were not told apart"
        held, loose = self.guided.shown(system)
        if held == loose:
            return f"{held}, whatever guides the belt"
        return f"{held} guided all along, {loose} not guided"


@dataclass(frozen=True, slots=True)
class MakingLimits:
    """All limits of one joint, and what they come to where they are measured.

    back: of the point on the centreline, and of the marks on the edges, behind the line [m];
    arcs: difference of the two lengths from the point to the ends of the line [m];
    diagonals: difference of the diagonals of the cut end [m];
    hole_line_cost: share of the margin that one plate of each end out of line by a tape's
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
        return (self.out_of_square, self.hole_line, self.off_centre, self.tightness, self.thickness)


def making_limits(
    size: Size,
    layout: Layout,
    belt: Belt,
    running: Figure,
    thinnest: Figure,
    sheet: Worksheet,
    *,
    hinged: bool,
) -> MakingLimits:
    """Work the limits of one joint.

    Parameters
    ----------
    size, layout : the chosen joint
    belt : stiffness and carcass
    running : governing running tension per width [N/m]
    thinnest : belt thickness at its thinnest place [m]
    sheet : takes the lines
    hinged : whether a pin joins the ends; else every plate is one piece across them
    """
    rated = _rated(size)
    width, count = layout.width, _count(sheet)
    rating = sheet.work(
        "limit.plate_rating",
        "rating of one plate",
        plate_rating,
        rated=rated,
        width=width,
        count=count,
    )
    plate = assumed_plate_stiffness(rating.value)
    parts = [belt.modulus, *belt_texture(belt), plate, running, width, count, layout.pitch]
    pull = running.value * width.value
    rows = [PlateRow(tuple(at.y for at in end.plates), size.plate_width) for end in layout.ends]
    pin = (size.pin or PIN_OVER_PITCH * size.pitch) if hinged else None
    worked = _worked((rows[0], rows[1]), width.value, belt.modulus, belt.carcass, plate, pull, pin)

    def limit(key: str, label: str, error: Error, kind: Kind, practice: Sentence) -> MakingLimit:
        least, middle = worked.least[error], worked.typical[error]
        named = min(least.cases, key=lambda c: math.inf if c.amount is None else c.amount).case

        def figure(tail: str, qualifier: str, amount: float | None, case: str) -> Figure | None:
            if amount is None:
                return None
            return sheet.found(
                f"limit.{key}{tail}",
                f"{label}, {qualifier}",
                amount,
                kind,
                f"costs {percent(LOSS)} of the margin: {_SYSTEM}, {case}",
                parts,
                "membrane",
            )

        typical, held, loose = middle.cases
        # Where even the end of the search costs less, that is taken: no wider limit is asked for.
        figures = [
            figure(tail, qualifier, middle.searched_to if amount is None else amount, case)
            for tail, qualifier, amount, case in (
                ("", "limit", least.smallest, named),
                (".typical", "typical", typical.amount, typical.case),
            )
        ]
        assert figures[0] is not None and figures[1] is not None
        return MakingLimit(
            label,
            figures[0],
            figures[1],
            practice,
            Guided(
                figure(".held", "typical, belt guided all along", held.amount, held.case),
                figure(".loose", "typical, nothing guides the belt", loose.amount, loose.case),
            ),
        )

    square = limit(
        "out_of_square",
        "out of square over the belt width",
        Error.OUT_OF_SQUARE,
        Kind.TAPE,
        sentence("equal as a tape reads, {tape}", tape=(READING, Kind.TAPE)),
    )
    holes = limit(
        "hole_line",
        "one plate of each end out of the hole line",
        Error.HOLE_LINE,
        Kind.TAPE,
        sentence("as the template punches"),
    )
    off = limit(
        "off_centre",
        "ends off each other's centreline",
        Error.OFF_CENTRE,
        Kind.TAPE,
        sentence("belt edges in line through the joint"),
    )
    tight = limit(
        "tightness",
        "bolts alternately tighter and slacker than the mean",
        Error.TIGHTNESS,
        Kind.WRENCH,
        sentence("all alike, in rounds from the middle"),
    )
    lose = assumed(
        "limit.loss",
        "share of the margin one error may cost",
        LOSS,
        Kind.SHARE,
        "a tenth taken",
        (0.05, 0.2),
    )
    thick = sheet.work(
        "limit.thickness",
        "difference in thickness of the two belts, limit",
        thickness_limit,
        thickness=thinnest,
        loss=lose,
    )
    back = sheet.found(
        "limit.back",
        "point and marks behind the square line",
        round(min(_BACK * width.value, CLAMP_ROOM.value - _CLAMP_DEPTH), 1),
        Kind.DISTANCE,
        "two belt widths, and no more than lies free before the pulling clamp; rounded to what is "
        "easily measured",
        [width],
    )
    return MakingLimits(
        plate_rating=rating,
        out_of_square=square,
        hole_line=holes,
        off_centre=off,
        tightness=tight,
        thickness=MakingLimit(
            "difference in thickness of the two belts",
            thick,
            thick,
            sentence("skive the thicker end"),
            Guided(thick, thick),
        ),
        back=back,
        arcs=sheet.work(
            "limit.arcs",
            "difference of the two lengths at the square line",
            arc_difference,
            out=square.smallest,
            back=back,
            width=width,
        ),
        diagonals=sheet.work(
            "limit.diagonals",
            "difference of the diagonals of the cut end",
            diagonal_difference,
            out=square.smallest,
            back=back,
            width=width,
        ),
        hole_line_cost=sheet.found(
            "limit.hole_line.cost",
            "margin lost by one plate of each end a tape's step out of the hole line",
            worked.hole_line_cost,
            Kind.SHARE,
            f"one plate of each end {READING * 1e3:g} mm ahead: {_SYSTEM}, belt and plates stiff",
            parts,
            "membrane",
        ),
    )


def row_of(layout: Layout, size: Size) -> PlateRow:
    """The plates of the leading end; the trailing end's are its mirror image."""
    return PlateRow(tuple(plate.y for plate in layout.leading.plates), size.plate_width)


def belt_texture(belt: Belt) -> tuple[Given, Given]:
    """Stiffness across the belt and in shear over that along it, as named assumptions [-]."""
    texture = TEXTURES[belt.carcass]
    shares = [
        assumed(
            f"belt.{key}",
            label,
            typical,
            Kind.SHARE,
            f"not measured: range for {belt.carcass.value} belts, from memory of cloth and rubber",
            (low, high),
        )
        for key, label, (low, typical, high) in (
            ("weft_share", "belt stiffness across over along", texture.weft),
            ("shear_share", "belt stiffness in shear over along", texture.shear),
        )
    ]
    return shares[0], shares[1]


def _rated(size: Size) -> Given:
    return stated(
        "range.rated_tension",
        "rated tension",
        size.rated_tension,
        Kind.WIDTH_FORCE,
        f"range data, {size.name}",
    )


def _count(sheet: Worksheet) -> Figure:
    count = sheet.get("layout.count")
    assert count is not None  # lay_plates has worked it
    return count


_SYSTEM = "both ends and the pin as one"


@dataclass(frozen=True, slots=True)
class _Worked:
    """Limits of each error where most is asked, and typically: as it is, held and loose."""

    least: Mapping[Error, Tolerance]
    typical: Mapping[Error, Tolerance]
    hole_line_cost: float


@lru_cache(maxsize=32)
def _worked(
    rows: tuple[PlateRow, PlateRow],
    width: float,
    modulus: Given,
    carcass: Carcass,
    plate: Given,
    pull: float,
    pin: float | None,
) -> _Worked:
    """The mechanics of all limits; kept, for a plan is made again with every answer changed.

    pin : diameter [m]; None where there is none
    """
    strips = assumed_strips(width, modulus, carcass)
    if pin is None:
        cases = spread_cases(strips, rows[0], plate, pull, refine=REFINE)
    else:
        cases = hinged_cases(strips, rows, plate, pull, pins(pin), refine=REFINE)
    holes = asking_most(cases, Error.HOLE_LINE)
    return _Worked(
        {error: tolerance(error, asking_most(cases, error), pull) for error in Error},
        {error: tolerance(error, _typical(cases), pull) for error in Error},
        max(cost(Error.HOLE_LINE, case, pull, READING) for case in holes),
    )


def _typical(cases: Sequence[Case]) -> list[Case]:
    """The typical case, then the same guided all along and not guided at all."""
    first = cases[0]
    alike = [
        case
        for case in cases
        if case.edge is first.edge
        and case.plate_stiffness == first.plate_stiffness
        and (case.hinge is None or first.hinge is None or case.hinge.bending == first.hinge.bending)
    ]
    alike.sort(key=_swing)
    return [first, alike[0], alike[-1]]


def asking_most(cases: Sequence[Case], error: Error) -> list[Case]:
    """The cases in which the least of an error costs as much; any pin.

    An error of place pulls in proportion to stiffness, more where guides hold the belt straight.
    Uneven tightness parts the load most where the plates give more than the belt. The moment of
    belts off centre gathers in the outermost plates where the belt gives more than the plates;
    with a pin it is the same whatever guides the belt, without one guides carry it off and any
    belt and plate may be the one.
    """
    if error is Error.OFF_CENTRE and cases[0].hinge is None:
        return _of(cases, _swing, max)
    belt, level = (min, max) if error is Error.OFF_CENTRE else (max, max)
    if error is Error.TIGHTNESS:
        level = min
    by_belt = _of(cases, lambda case: case.edge.strip.warp_modulus, belt)
    return _of(_of(by_belt, lambda case: case.plate_stiffness, level), _swing, min)


def _of(
    cases: Sequence[Case],
    quantity: Callable[[Case], float],
    end: Callable[[Iterable[float]], float],
) -> list[Case]:
    """The cases at one end of what is assumed."""
    wanted = end(quantity(case) for case in cases)
    return [case for case in cases if quantity(case) == wanted]


def _swing(case: Case) -> float:
    assert case.guidance is not None  # every case of a belt with free sides has one
    return case.guidance.swing
