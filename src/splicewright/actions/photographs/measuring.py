"""A belt end or its plates measured in photograph files; the sheets that lie on it; the trial."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from splicewright.errors import Fault, InputError, OutputError
from splicewright.store.facts.photo_facts import MOST_PHOTOGRAPHS, WhichEnd

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.joint.fasteners.ranges import Size
    from splicewright.joint.layout import Layout
    from splicewright.photographs.adjustment import Adjusted
    from splicewright.photographs.belt_end import EndMeasured
    from splicewright.photographs.measuring import Bars, Measured
    from splicewright.photographs.picture import Picture
    from splicewright.photographs.plate_row import RowMeasured
    from splicewright.photographs.plate_sides import PlannedRow
    from splicewright.photographs.trial import Trial

FILE = "measured.json"


def write_scale_sheets(out: Path, paper: PaperName) -> Path:
    """Write scale-sheets.pdf into a folder, which is made if it is not there.

    Raises
    ------
    OutputError
        It is there already, or cannot be written.
    """
    from splicewright.actions.folder.writing import write_new
    from splicewright.sheets.canvas.paper import PAPERS
    from splicewright.sheets.scale_sheets import scale_sheets

    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        msg = f"{out.name} cannot be made: {error.strerror}; name a folder"
        raise OutputError(msg) from None
    path = out / "scale-sheets.pdf"
    write_new(path, scale_sheets(PAPERS[paper]))
    return path


@dataclass(frozen=True, slots=True)
class MeasuredEnd:
    """A measured end with what is said of it.

    measured : by the photographs; end : its measures, sides as `sides` says
    sides : how left and right are to be read; standing : whether a tape must confirm it
    planned : (label, planned value, measured less planned) of the job's plan [m]
    pictures : as they were measured
    """

    measured: Measured
    end: EndMeasured
    sides: str
    standing: str
    planned: tuple[tuple[str, float, float], ...]
    pictures: tuple[Picture, ...]

    def as_tables(self) -> dict[str, Any]:
        """All of it in plain data, lengths in metres."""
        from splicewright.version import __version__

        adjusted = self.measured.adjusted
        cameras = [adjusted.camera(n) for n in range(len(self.pictures))]
        return {
            "standing": self.standing,
            "sides": self.sides,
            "values": [
                {"key": v.key, "label": v.label, "value": v.value, "half_width_95": v.half_width}
                for v in self.end.values
            ],
            "covariance": self.end.covariance.tolist(),
            "planned": [
                {"label": label, "planned": planned, "measured_less_planned": off}
                for label, planned, off in self.planned
            ],
            "photographs": list(self.measured.pictures),
            "focal_lengths_px": [camera.focal for camera in cameras],
            "sheets": list(self.measured.sheets),
            "corner_spread_px": adjusted.spread,
            "version": __version__,
        }


def measure_photographs(
    photographs: Sequence[Path],
    bars: Bars,
    layout: Layout | None = None,
    end: WhichEnd | None = None,
    trial: Path | None = None,
) -> MeasuredEnd:
    """Measure the belt end in one photograph or several of it.

    Parameters
    ----------
    bars : printed bars as measured
    layout : of the job's plan; its curve depth is the template's
    end : which end it is; left and right are then those of the direction of travel
    trial : result of the field trial

    Raises
    ------
    InputError
        A file cannot be used, or what it shows does not allow measuring; with what to do.
    OutputError
        The picture library is not installed.
    """
    need_library()
    if layout is not None and end is None:
        raise InputError(Fault("end", "say which end it is: leading or trailing"))
    pictures, said = _opened(photographs, bars, trial)
    return measured_end(pictures, bars, layout, end, said)


def measured_end(
    pictures: tuple[Picture, ...],
    bars: Bars,
    layout: Layout | None,
    end: WhichEnd | None,
    standing: str,
) -> MeasuredEnd:
    """As `measure_photographs`, of pictures that are decoded; `standing` is what a trial allows."""
    from splicewright.photographs.measuring import measure_pictures

    depth = None if layout is None else layout.curve_depth.value
    made = measure_pictures(pictures, bars, depth)
    turned = made.end.turned() if end == "leading" else made.end
    sides = (
        "left and right of who stands on the belt and faces the cut"
        if end is None
        else f"{end} end; left and right facing in the direction of travel"
    )
    planned = []
    if layout is not None:
        found = {value.key: value.value for value in turned.values}
        for key, label, figure in (
            ("width", "belt width", layout.width),
            ("curve_depth", "curve depth", layout.curve_depth),
        ):
            planned.append((label, figure.value, found[key] - figure.value))
    return MeasuredEnd(made, turned, sides, standing, tuple(planned), pictures)


def write_measured(made: MeasuredEnd, out: Path) -> tuple[Path, ...]:
    """Write measured.json and each picture with its outline into a folder, all or nothing.

    Raises
    ------
    OutputError
        The folder holds something else, or cannot be written.
    """
    from splicewright.actions.folder.writing import as_file, replace_folder
    from splicewright.photographs.overlay import draw_over

    files = {FILE: as_file(made.as_tables())}
    for number, picture in enumerate(made.pictures):
        files[f"outline-{number + 1}.jpg"] = draw_over(picture, made.measured.end.drawn[number])
    return replace_folder(out, files, FILE)


@dataclass(frozen=True, slots=True)
class MeasuredPlates:
    """A measured row of plates: numbered from the left facing in the direction of travel.

    row : the row; planned : as planned; end : which; standing : whether a tape must confirm it
    pictures : as they were measured; adjusted : the solution behind it
    """

    row: RowMeasured
    planned: PlannedRow
    end: WhichEnd
    standing: str
    pictures: tuple[Picture, ...]
    adjusted: Adjusted

    def as_tables(self) -> dict[str, Any]:
        """All of it in plain data, SI."""
        from splicewright.version import __version__

        row = self.row
        return {
            "standing": self.standing,
            "end": self.end,
            "pitch": {"value": row.pitch, "half_width_95": row.pitch_half_width},
            "planned_pitch": self.planned.pitch,
            "middle": {"value": row.middle, "half_width_95": row.middle_half_width},
            "setbacks": [
                None if s is None else {"value": s[0], "half_width_95": s[1]} for s in row.setbacks
            ],
            "covariance": row.covariance.tolist(),
            "plates": [
                {
                    "number": p.number,
                    "seems_missing": p.missing,
                    "place": p.place,
                    "off": p.off,
                    "half_width_95": p.half_width,
                    "tilt": p.tilt,
                    "tilt_half_width_95": p.tilt_half_width,
                    "lifts": p.lifts,
                    "lift_half_width_95": p.lift_half_width,
                    "seems_to_stand_off": p.stands_off,
                }
                for p in row.plates
            ],
            "photographs": [picture.name for picture in self.pictures],
            "sheets": list(self.adjusted.sheets),
            "version": __version__,
        }


def measure_plates_in(
    photographs: Sequence[Path],
    bars: Bars,
    layout: Layout,
    size: Size,
    end: WhichEnd | None,
    trial: Path | None = None,
) -> MeasuredPlates:
    """Measure the plates of one end in one photograph or several of it.

    Parameters
    ----------
    photographs, bars, trial : as for a belt end
    layout, size : of the job's plan and its fastener
    end : which end it is

    Raises
    ------
    InputError, OutputError
        As for a belt end.
    """
    need_library()
    if end is None:
        raise InputError(Fault("end", "say which end it is: leading or trailing"))
    pictures, said = _opened(photographs, bars, trial)
    return measured_plates(pictures, bars, layout, size, end, said)


def measured_plates(
    pictures: tuple[Picture, ...],
    bars: Bars,
    layout: Layout,
    size: Size,
    end: WhichEnd,
    standing: str,
) -> MeasuredPlates:
    """As `measure_plates_in`, of pictures that are decoded."""
    from splicewright.photographs.measuring import measure_plates
    from splicewright.photographs.plate_sides import PlannedRow

    row = PlannedRow(
        layout.count, layout.pitch.value, size.plate_width, size.plate_length, size.proud_height
    )
    made, adjusted = measure_plates(pictures, bars, row)
    turned = made.turned() if end == "leading" else made
    return MeasuredPlates(turned, row, end, standing, pictures, adjusted)


def write_plates(made: MeasuredPlates, out: Path) -> tuple[Path, ...]:
    """As `write_measured`, with the plates' sides drawn over the pictures."""
    from splicewright.actions.folder.writing import as_file, replace_folder
    from splicewright.photographs.overlay import draw_over

    files = {FILE: as_file(made.as_tables())}
    for number, picture in enumerate(made.pictures):
        files[f"plates-{number + 1}.jpg"] = draw_over(picture, made.row.drawn[number])
    return replace_folder(out, files, FILE)


def _opened(
    photographs: Sequence[Path], bars: Bars, trial: Path | None
) -> tuple[tuple[Picture, ...], str]:
    """The pictures, and what the trial on file lets be said; whatever is wrong is refused."""
    from splicewright.photographs.picture import read_picture
    from splicewright.photographs.trial import standing

    bars.printed()
    if not 0 < len(photographs) <= MOST_PHOTOGRAPHS:
        say = f"{len(photographs)} photographs given; accepted is 1 to {MOST_PHOTOGRAPHS}"
        raise InputError(Fault("", say))
    said = standing(None if trial is None else _bytes(trial), "" if trial is None else trial.name)
    return tuple(read_picture(_bytes(path), path.name) for path in photographs), said


def run_trial(table: Path) -> Trial:
    """Measure every photograph of a field trial and compare it with the steel rule.

    Parameters
    ----------
    table : CSV; photographs are looked for beside it

    Raises
    ------
    InputError
        The table cannot be used.
    OutputError
        The picture library is not installed.
    """
    need_library()
    from splicewright.photographs.measuring import measure_pictures
    from splicewright.photographs.picture import read_picture
    from splicewright.photographs.trial import Line, judge, load_trial

    rows, invented = load_trial(table)
    lines: list[Line] = []
    refused = []
    for row in rows:
        try:
            picture = read_picture(_bytes(table.parent / row.photograph), row.photograph)
            found = {v.key: v for v in measure_pictures([picture], row.bars).end.values}
        except InputError as error:
            refused.append((row.photograph, str(error)))
            continue
        for key, rule in row.said.items():
            if key in found:
                value = found[key]
                near = abs(value.value - rule) <= (value.half_width**2 + row.rule**2) ** 0.5
                at = (row.photograph, row.phone, key, rule)
                lines.append(Line(*at, value.value, value.half_width, near))
    return judge(lines, refused, invented)


def need_library() -> None:
    """Refuse where the picture library is not installed."""
    try:
        import cv2  # noqa: F401
    except ImportError:
        msg = "measuring needs the picture library: pip install 'splicewright[photographs]'"
        raise OutputError(msg) from None


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        say = f"cannot be read: {error.strerror}"
        raise InputError(Fault("", say, path.name)) from None
