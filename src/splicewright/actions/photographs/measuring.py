"""A belt end measured in photograph files; the sheets that lie on it; the trial."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from splicewright.errors import Fault, InputError, OutputError
from splicewright.store.facts.photo_facts import MOST_PHOTOGRAPHS, Shows, WhichEnd

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.job import JointPlan
    from splicewright.photographs.measures import EndMeasured
    from splicewright.photographs.measuring import Bars, Measured
    from splicewright.photographs.picture import Picture
    from splicewright.photographs.trial import Trial

FILE = "measured.json"


def write_scale_sheets(out: Path, paper: PaperName) -> Path:
    """Write scale-sheets.pdf into a folder, which is made if it is not there.

    Raises OutputError: it is there already, or cannot be written.
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
    plan: JointPlan | None = None,
    end: WhichEnd | None = None,
    trial: Path | None = None,
    shows: Shows = "cut",
    thickness: float | None = None,
) -> MeasuredEnd:
    """Measure what one photograph shows, or several of it, but for plates and holes.

    bars : printed bars as measured
    plan : of the job; its curve depth is the template's
    end : which end it is; left and right are then those of the direction of travel
    trial : result of the field trial
    shows : a cut, a square line, two ends or edges; thickness : of the belt, of two ends [m]
    Raises InputError: a file cannot be used, or what it shows does not allow measuring; with what
    to do. Raises OutputError: the picture library is not installed.
    """
    need_library()
    if plan is not None and end is None:
        raise InputError(Fault("end", "say which end it is: leading or trailing"))
    pictures, claim = opened(photographs, bars, trial)
    return measured_end(pictures, bars, plan, end, claim, shows, thickness)


def measured_end(
    pictures: tuple[Picture, ...],
    bars: Bars,
    plan: JointPlan | None,
    end: WhichEnd | None,
    standing: str,
    shows: Shows = "cut",
    thickness: float | None = None,
) -> MeasuredEnd:
    """As `measure_photographs`, of pictures that are decoded; `standing` is what a trial allows."""
    from splicewright.photographs.measuring import (
        measure_edges,
        measure_pictures,
        measure_square_line,
        measure_two_ends,
    )

    layout = None if plan is None else plan.layout
    if shows == "line":
        measured = measure_square_line(pictures, bars)
    elif shows == "edges":
        measured = measure_edges(pictures, bars)
    elif shows == "gap":
        thick = thickness if plan is None else plan.conveyor.belt.thickness.value
        if thick is None:
            say = "is needed to measure a gap: it hides part of the floor; give it, or the job"
            raise InputError(Fault("thickness", say))
        measured = measure_two_ends(pictures, bars, thick)
    else:
        depth = None if layout is None else layout.curve_depth.value
        measured = measure_pictures(pictures, bars, depth)
    turned = measured.end.turned() if end == "leading" else measured.end
    sides = (
        "left and right of who stands on the belt behind the sheets and faces along their arrows"
        if end is None
        else f"{end} end; left and right facing in the direction of travel"
    )
    planned = []
    by_key = {value.key: value.value for value in turned.values}
    for key, (label, value) in planned_of(plan, end).items():
        if key in by_key:
            planned.append((label, value, by_key[key] - value))
    return MeasuredEnd(measured, turned, sides, standing, tuple(planned), pictures)


def planned_of(plan: JointPlan | None, end: WhichEnd | None) -> dict[str, tuple[str, float]]:
    """What the plan says of measures of an end: key -> label and value [m]."""
    if plan is None or plan.layout is None:
        return {}
    layout = plan.layout
    planned = {
        "width": ("belt width", layout.width.value),
        "curve_depth": ("curve depth", layout.curve_depth.value),
    }
    mine = layout.leading if end == "leading" else layout.trailing
    if mine.notch_width > 0:
        for side in ("left", "right"):
            planned[f"notch_width_{side}"] = (f"notch width {side}", mine.notch_width)
            planned[f"notch_length_{side}"] = (f"notch length {side}", mine.notch_length)
    return planned


def write_measured(measured: MeasuredEnd, out: Path) -> tuple[Path, ...]:
    """Write measured.json and each picture with its outline into a folder, all or nothing.

    Raises OutputError: the folder holds something else, or cannot be written.
    """
    from splicewright.actions.folder.writing import as_file, replace_folder
    from splicewright.photographs.overlay import draw_over

    files = {FILE: as_file(measured.as_tables())}
    for number, picture in enumerate(measured.pictures):
        files[f"outline-{number + 1}.jpg"] = draw_over(picture, measured.measured.end.drawn[number])
    return replace_folder(out, files, FILE)


def opened(
    photographs: Sequence[Path], bars: Bars, trial: Path | None
) -> tuple[tuple[Picture, ...], str]:
    """The pictures, and what the trial on file lets be said; whatever is wrong is refused."""
    from splicewright.photographs.picture import read_picture
    from splicewright.photographs.trial import standing

    bars.printed()
    if not 0 < len(photographs) <= MOST_PHOTOGRAPHS:
        say = f"{len(photographs)} photographs given; accepted is 1 to {MOST_PHOTOGRAPHS}"
        raise InputError(Fault("", say))
    claim = standing(None if trial is None else _bytes(trial), "" if trial is None else trial.name)
    return tuple(read_picture(_bytes(path), path.name) for path in photographs), claim


def run_trial(table: Path) -> Trial:
    """Measure every photograph of a field trial and compare it with the steel rule.

    table : CSV; photographs are looked for beside it
    Raises InputError: the table cannot be used. Raises OutputError: the picture library is not
    installed.
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
            by_key = {v.key: v for v in measure_pictures([picture], row.bars).end.values}
        except InputError as error:
            refused.append((row.photograph, str(error)))
            continue
        for key, rule in row.by_rule.items():
            if key in by_key:
                value = by_key[key]
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
