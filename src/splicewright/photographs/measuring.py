"""From photographs and printed bars to a measured belt end, or a refusal with what to do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from splicewright.errors import Fault, InputError
from splicewright.photographs import refusals
from splicewright.photographs.adjustment import Adjusted, Printed, Seen, adjust
from splicewright.photographs.belt_end import EndMeasured, measure_end
from splicewright.photographs.detection import find_sheets
from splicewright.photographs.outline import find_outline
from splicewright.photographs.picture import Picture
from splicewright.photographs.scale_sheet import BAR, CROSS_BAR, LARGEST, SMALLEST

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
    """Measure one belt end from one photograph or several of it.

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
    printed = bars.printed()
    if not pictures:
        raise InputError(Fault("", "no photograph given: give one or more"))
    names = [picture.name for picture in pictures]
    detected = [find_sheets(picture) for picture in pictures]
    _refuse([f for n, d in zip(names, detected, strict=True) for f in refusals.in_detection(n, d)])
    seen = [Seen(d.sheets, p.size, p.focal) for d, p in zip(detected, pictures, strict=True)]
    adjusted = adjust(seen, printed)
    _refuse(refusals.in_adjustment(names, adjusted))
    assert adjusted is not None
    outlines = [find_outline(picture, adjusted, n) for n, picture in enumerate(pictures)]
    _refuse([f for n, o in zip(names, outlines, strict=True) for f in refusals.in_outline(n, o)])
    _refuse(
        [
            fault
            for n, (name, outline) in enumerate(zip(names, outlines, strict=True))
            for fault in refusals.in_view(name, adjusted, n, outline)
        ]
    )
    end = measure_end(adjusted, outlines, template_depth)
    _refuse(refusals.in_measures(names, end))
    return Measured(end, adjusted, tuple(names), adjusted.sheets)


def _refuse(faults: list[Fault]) -> None:
    if faults:
        raise InputError(*faults)
