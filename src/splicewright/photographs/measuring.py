"""From photographs and printed bars to a measured belt end, or a refusal with what to do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from splicewright.errors import Fault, InputError
from splicewright.photographs import refusals
from splicewright.photographs.adjustment import Adjusted, Printed, Sighting, adjust
from splicewright.photographs.arrays import Array
from splicewright.photographs.belt_end import measure_end
from splicewright.photographs.detection import find_sheets
from splicewright.photographs.edge_damage import sides_of
from splicewright.photographs.gap import measure_gap
from splicewright.photographs.hole_rows import HolesMeasured, PlannedHole, find_holes
from splicewright.photographs.measures import EndMeasured, Value
from splicewright.photographs.outline import Outline, Seek, find_outline
from splicewright.photographs.picture import Picture
from splicewright.photographs.pin_ends import Pin, pin_ends
from splicewright.photographs.plate_row import RowMeasured, measure_row
from splicewright.photographs.plate_sides import PlannedRow
from splicewright.photographs.scale_sheet import BAR, CROSS_BAR, LARGEST, SMALLEST
from splicewright.photographs.square_line import measure_line, measure_width

READING = 0.25e-3
"""A bar read to half a millimetre is within this of what is typed [m]."""
UNEVEN = 1.5e-3
"""What a printer's scales along and across differ by, where only one bar was measured, standard
deviation [1]; assumption of this tool."""


@dataclass(frozen=True, slots=True)
class Bars:
    """The printed bars as the crew measured them.

    along : the long bar [m]; across : the short one, None where it was not measured [m]
    reading : how far a reading may be off [m]
    """

    along: float
    across: float | None = None
    reading: float = READING

    def printed(self) -> Printed:
        """How large the sheets were printed.

        Raises
        ------
        InputError
            A bar no printer makes.
        """
        for key, value, drawn in (("bar", self.along, BAR), ("cross bar", self.across, CROSS_BAR)):
            if value is not None and not SMALLEST * drawn <= value <= LARGEST * drawn:
                say = (
                    f"{value * 1e3:g} mm cannot be: it is drawn {drawn * 1e3:g} mm long, accepted "
                    f"is {SMALLEST * drawn * 1e3:.0f} to {LARGEST * drawn * 1e3:.0f} mm"
                )
                raise InputError(Fault(key, say))
        # Anywhere within the reading is as likely: standard deviation of a flat range.
        along, spread = self.along / BAR, self.reading / BAR / 3**0.5
        if self.across is None:
            return Printed(along, along, spread, (spread**2 + UNEVEN**2) ** 0.5)
        return Printed(along, self.across / CROSS_BAR, spread, self.reading / CROSS_BAR / 3**0.5)


@dataclass(frozen=True, slots=True)
class Measured:
    """A belt end measured by photograph.

    end : measures, covariance, outline; adjusted : the solution behind it
    pictures : names; sheets : numbers seen
    """

    end: EndMeasured
    adjusted: Adjusted
    pictures: tuple[str, ...]
    sheets: tuple[int, ...]


def measure_pictures(
    pictures: Sequence[Picture], bars: Bars, template_depth: float | None = None
) -> Measured:
    """Measure one cut belt end, its notches and its sides, in one photograph or several of it.

    Parameters
    ----------
    pictures : of the same end with the same sheets, which lay still between them
    bars : as measured on a printed sheet
    template_depth : curve depth the cut was to have [m]

    Raises
    ------
    InputError
        What does not allow it, for each picture, with what to do.
    """
    names, adjusted, outlines = _adjusted_with_outlines(pictures, bars, "cut")
    end = measure_end(adjusted, outlines, template_depth)
    _refuse(refusals.in_measures(names, end))
    return _measured(
        names, adjusted, _with_sides(end, adjusted, pictures, outlines, "behind the cut")
    )


def measure_square_line(pictures: Sequence[Picture], bars: Bars) -> Measured:
    """Measure a chalked square line ahead of the sheets; arguments and refusals alike."""
    names, adjusted, outlines = _adjusted_with_outlines(pictures, bars, "chalk")
    end = measure_line(adjusted, outlines)
    _refuse(refusals.in_measures(names, end))
    return _measured(names, adjusted, end)


def measure_edges(pictures: Sequence[Picture], bars: Bars) -> Measured:
    """Measure width, wear and tears of both edges by the sheets; arguments, refusals alike."""
    names, adjusted, outlines = _adjusted_with_outlines(pictures, bars, "sides")
    end = measure_width(adjusted, outlines)
    _refuse(refusals.in_measures(names, end))
    return _measured(
        names, adjusted,
        _with_sides(end, adjusted, pictures, outlines, "behind the middle of the sheets"),
    )  # fmt: skip


def measure_two_ends(pictures: Sequence[Picture], bars: Bars, thickness: float) -> Measured:
    """Measure the gap between two ends and their edges against each other, sheets on both ends.

    Parameters
    ----------
    pictures, bars : as for a belt end
    thickness : of the belt [m]

    Raises
    ------
    InputError
        As for a belt end.
    """
    names, adjusted = _adjusted(pictures, bars)
    end = measure_gap(adjusted, pictures, thickness)
    _refuse(refusals.in_gap(names, end))
    assert end is not None
    return _measured(names, adjusted, end)


def measure_plates(
    pictures: Sequence[Picture], bars: Bars, row: PlannedRow, pin: Pin | None = None
) -> tuple[RowMeasured, Adjusted, tuple[tuple[Value, Array], ...]]:
    """Measure the row of plates ahead of the sheets, from one photograph or several.

    Parameters
    ----------
    pictures, bars : as for a belt end
    row : as planned; pin : the hinge pin, looked for beyond the outermost plates

    Returns
    -------
    the row, the solution, and where a pin seems to stand out, with the line to be drawn

    Raises
    ------
    InputError
        As for a belt end; or no such row can be told.
    """
    names, adjusted, outlines = _adjusted_with_outlines(pictures, bars, "sides")
    measured = measure_row(adjusted, pictures, outlines, row)
    _refuse(refusals.in_row(names, row.count, measured))
    assert measured is not None
    ends = (
        pin_ends(adjusted, pictures, outlines, measured.drawn, row, pin) if pin is not None else []
    )
    return measured, adjusted, tuple(ends)


def measure_holes(
    pictures: Sequence[Picture],
    bars: Bars,
    planned: Sequence[PlannedHole],
    hole: float,
    thickness: float,
) -> tuple[HolesMeasured, Adjusted]:
    """Measure the punched holes of a cut end.

    Parameters
    ----------
    pictures, bars : as for a belt end
    planned, hole, thickness : as for `find_holes`

    Raises
    ------
    InputError
        As for a belt end; or too few holes are seen.
    """
    names, adjusted, outlines = _adjusted_with_outlines(pictures, bars, "cut")
    measured = find_holes(adjusted, pictures, outlines, planned, hole, thickness)
    _refuse(refusals.in_holes(names, len(planned), measured))
    assert measured is not None
    return measured, adjusted


def _with_sides(
    end: EndMeasured,
    adjusted: Adjusted,
    pictures: Sequence[Picture],
    outlines: Sequence[Outline],
    of: str,
) -> EndMeasured:
    values, drawn = sides_of(adjusted, pictures, outlines, of)
    with_them = end.joined(values)
    return replace(with_them, drawn=({**end.drawn[0], **drawn}, *end.drawn[1:]))


def _measured(names: list[str], adjusted: Adjusted, end: EndMeasured) -> Measured:
    return Measured(end, adjusted, tuple(names), adjusted.sheets)


def _adjusted_with_outlines(
    pictures: Sequence[Picture], bars: Bars, seek: Seek
) -> tuple[list[str], Adjusted, list[Outline]]:
    names, adjusted = _adjusted(pictures, bars)
    return names, adjusted, _outlines(pictures, names, adjusted, seek)


def _adjusted(pictures: Sequence[Picture], bars: Bars) -> tuple[list[str], Adjusted]:
    printed = bars.printed()
    if not pictures:
        raise InputError(Fault("", "no photograph given: give one or more"))
    names = [picture.name for picture in pictures]
    detected = [find_sheets(picture) for picture in pictures]
    _refuse([f for n, d in zip(names, detected, strict=True) for f in refusals.in_detection(n, d)])
    seen = [Sighting(d.sheets, p.size, p.focal) for d, p in zip(detected, pictures, strict=True)]
    adjusted = adjust(seen, printed)
    _refuse(refusals.in_adjustment(names, adjusted))
    assert adjusted is not None
    return names, adjusted


def _outlines(
    pictures: Sequence[Picture], names: Sequence[str], adjusted: Adjusted, seek: Seek
) -> list[Outline]:
    outlines = [find_outline(picture, adjusted, n, seek) for n, picture in enumerate(pictures)]
    every = list(zip(names, outlines, strict=True))
    _refuse([f for n, o in every for f in refusals.in_outline(n, o, seek)])
    view = [refusals.in_view(name, adjusted, n, o) for n, (name, o) in enumerate(every)]
    _refuse([fault for faults in view for fault in faults])
    return outlines


def _refuse(faults: list[Fault]) -> None:
    if faults:
        raise InputError(*faults)
