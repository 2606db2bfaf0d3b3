"""Rows of plates and of holes measured in photographs against a job's plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from splicewright.actions.photographs.measuring import FILE, need_library, opened
from splicewright.errors import Fault, InputError
from splicewright.store.facts.photo_facts import WhichEnd

if TYPE_CHECKING:
    from splicewright.job import JointPlan
    from splicewright.joint.fasteners.ranges import Size
    from splicewright.joint.layout import Layout
    from splicewright.photographs.adjustment import Adjusted
    from splicewright.photographs.arrays import Array
    from splicewright.photographs.hole_rows import HolesMeasured
    from splicewright.photographs.measures import Value
    from splicewright.photographs.measuring import Bars
    from splicewright.photographs.picture import Picture
    from splicewright.photographs.plate_row import RowMeasured
    from splicewright.photographs.plate_sides import PlannedRow


@dataclass(frozen=True, slots=True)
class MeasuredPlates:
    """A measured row of plates: numbered from the left facing in the direction of travel.

    row : the row; planned : as planned; end : which; standing : whether a tape must confirm it
    pictures : as they were measured; adjusted : the solution behind it
    pins : where the pin seems to stand out of the belt, with the line seen of it
    """

    row: RowMeasured
    planned: PlannedRow
    end: WhichEnd
    standing: str
    pictures: tuple[Picture, ...]
    adjusted: Adjusted
    pins: tuple[tuple[Value, Array], ...] = ()

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
            "seems_to_stand_out": [
                {"key": v.key, "label": v.label, "value": v.value, "half_width_95": v.half_width}
                for v, _ in self.pins
            ],
            "photographs": [picture.name for picture in self.pictures],
            "sheets": list(self.adjusted.sheets),
            "version": __version__,
        }


def measure_plates_in(
    photographs: Sequence[Path],
    bars: Bars,
    plan: JointPlan,
    end: WhichEnd | None,
    trial: Path | None = None,
) -> MeasuredPlates:
    """Measure the plates of one end in one photograph or several of it.

    photographs, bars, trial : as for a belt end
    plan : of the job
    end : which end it is
    Raises InputError, OutputError: as for a belt end.
    """
    need_library()
    if end is None:
        raise InputError(Fault("end", "say which end it is: leading or trailing"))
    pictures, claim = opened(photographs, bars, trial)
    return measured_plates(pictures, bars, plan, end, claim)


def measured_plates(
    pictures: tuple[Picture, ...], bars: Bars, plan: JointPlan, end: WhichEnd, standing: str
) -> MeasuredPlates:
    """As `measure_plates_in`, of pictures that are decoded."""
    from splicewright.photographs.measures import turned
    from splicewright.photographs.measuring import measure_plates
    from splicewright.photographs.pin_ends import Pin
    from splicewright.photographs.plate_sides import PlannedRow

    layout, size = _laid_out(plan)
    row = PlannedRow(
        layout.count, layout.pitch.value, size.plate_width, size.plate_length, size.proud_height
    )
    pinned = plan.fastener is not None and plan.fastener.construction.hinged
    pin = Pin(size.pin, plan.conveyor.belt.thickness.value) if pinned else None
    measured, adjusted, pins = measure_plates(pictures, bars, row, pin)
    if end == "leading":
        measured = measured.turned()
        pins = tuple((turned([v], adjusted.covariance[:1, :1])[0][0], line) for v, line in pins)
    return MeasuredPlates(measured, row, end, standing, pictures, adjusted, pins)


@dataclass(frozen=True, slots=True)
class MeasuredHoles:
    """Measured holes of one end; left and right facing in the direction of travel.

    holes : as measured; turned : whether who looked faced against the travel
    """

    holes: HolesMeasured
    end: WhichEnd
    turned: bool
    standing: str
    pictures: tuple[Picture, ...]
    adjusted: Adjusted

    @property
    def way(self) -> float:
        """Sign of what counts to the left."""
        return -1.0 if self.turned else 1.0

    def as_tables(self) -> dict[str, Any]:
        """All of it in plain data, SI."""
        from splicewright.version import __version__

        way = self.way

        def to_the_left(value: float | None) -> float | None:
            return None if value is None else way * value

        return {
            "standing": self.standing,
            "end": self.end,
            "rows": [
                {
                    "row": row,
                    "further_from_the_cut": {"value": back[0], "half_width_95": back[1]},
                    "left_further_back": {"value": to_the_left(lean[0]), "half_width_95": lean[1]},
                    "to_the_left": {"value": to_the_left(left[0]), "half_width_95": left[1]},
                }
                for row, (back, lean, left) in self.holes.rows.items()
            ],
            "covariance": self.holes.covariance.tolist(),
            "holes": [
                {
                    "plate": h.planned.plate,
                    "row": h.planned.row,
                    "across": to_the_left(h.planned.across),
                    "seems_missing": h.behind is None,
                    "further_from_the_cut": h.behind,
                    "half_width_95": h.behind_half_width,
                    "to_the_left": to_the_left(h.across),
                    "to_the_left_half_width_95": h.across_half_width,
                    "out_of_line": h.out,
                    "out_of_line_half_width_95": h.out_half_width,
                }
                for h in self.holes.holes
            ],
            "photographs": [picture.name for picture in self.pictures],
            "sheets": list(self.adjusted.sheets),
            "version": __version__,
        }


def measure_holes_in(
    photographs: Sequence[Path],
    bars: Bars,
    plan: JointPlan,
    end: WhichEnd | None,
    trial: Path | None = None,
) -> MeasuredHoles:
    """Measure the punched holes of one end; parameters and refusals as for plates."""
    need_library()
    if end is None:
        raise InputError(Fault("end", "say which end it is: leading or trailing"))
    pictures, claim = opened(photographs, bars, trial)
    return measured_holes(pictures, bars, plan, end, claim)


def measured_holes(
    pictures: tuple[Picture, ...], bars: Bars, plan: JointPlan, end: WhichEnd, standing: str
) -> MeasuredHoles:
    """As `measure_holes_in`, of pictures that are decoded."""
    from splicewright.joint.layout import cut_at
    from splicewright.photographs.hole_rows import PlannedHole
    from splicewright.photographs.measuring import measure_holes

    layout, _ = _laid_out(plan)
    mine = layout.leading if end == "leading" else layout.trailing
    # Who stands on the leading end and faces its cut looks against the travel.
    way = -1.0 if end == "leading" else 1.0
    planned = [
        PlannedHole(
            hole.plate,
            hole.row,
            hole.x
            - cut_at(layout.cut_line.value, layout.curve_depth.value, hole.y, layout.width.value),
            way * hole.y,
        )
        for hole in mine.holes
    ]
    measured, adjusted = measure_holes(
        pictures, bars, planned, layout.hole.value, plan.conveyor.belt.thickness.value
    )
    return MeasuredHoles(measured, end, end == "leading", standing, pictures, adjusted)


def write_holes(measured: MeasuredHoles, out: Path) -> tuple[Path, ...]:
    """As `write_measured`, with the rims of the holes drawn over the pictures."""
    from splicewright.actions.folder.writing import as_file, replace_folder
    from splicewright.photographs.overlay import draw_over

    files = {FILE: as_file(measured.as_tables())}
    for number, picture in enumerate(measured.pictures):
        files[f"holes-{number + 1}.jpg"] = draw_over(picture, measured.holes.drawn[number])
    return replace_folder(out, files, FILE)


def _laid_out(plan: JointPlan) -> tuple[Layout, Size]:
    if plan.layout is None or plan.fastener is None or plan.fastener.size is None:
        raise InputError(Fault("job", "the plan has no plates to measure against"))
    return plan.layout, plan.fastener.size


def write_plates(measured: MeasuredPlates, out: Path) -> tuple[Path, ...]:
    """As `write_measured`, with the plates' sides drawn over the pictures."""
    from splicewright.actions.folder.writing import as_file, replace_folder
    from splicewright.photographs.overlay import draw_over

    files = {FILE: as_file(measured.as_tables())}
    for number, picture in enumerate(measured.pictures):
        files[f"plates-{number + 1}.jpg"] = draw_over(picture, measured.row.drawn[number])
    return replace_folder(out, files, FILE)
