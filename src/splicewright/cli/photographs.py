"""scale-sheets, measure and photo-trial."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import click

from splicewright.cli.answers import (
    FILE,
    answering,
    json_option,
    paper_option,
    put_json,
    units_option,
)
from splicewright.quantities import Kind, percent, read

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.actions.photographs.measuring import MeasuredEnd
    from splicewright.actions.photographs.rows import MeasuredHoles, MeasuredPlates
    from splicewright.job import JointPlan
    from splicewright.photographs.trial import Trial
    from splicewright.quantities import System
    from splicewright.store.facts.photo_facts import Shows, WhichEnd


@click.command("scale-sheets")
@click.option("--out", type=FILE, required=True, help="Folder to write scale-sheets.pdf into.")
@paper_option
@answering
def scale_sheets_command(out: Path, paper: PaperName) -> None:
    """Write the sheets that lie on the belt when it is measured by photograph."""
    from splicewright.actions.photographs.measuring import write_scale_sheets

    click.echo(f"Scale sheets: {write_scale_sheets(out, paper)}")
    click.echo("Print at 100 %, measure both bars with a steel rule, and write their lengths down.")


@click.command("measure")
@click.argument("photographs", metavar="PHOTO...", type=FILE, nargs=-1, required=True)
@click.option("--bar", required=True, help="Long bar of a printed sheet, as measured.")
@click.option("--cross-bar", help="Short bar, as measured; without it the width is less certain.")
@click.option(
    "--bar-reading",
    default="0.25 mm",
    show_default=True,
    help="How far a reading of the bars may be off: a quarter of a millimetre by rule.",
)
@click.option("--job", type=FILE, help="Job folder or plan.json, to compare with its cut.")
@click.option(
    "--end", type=click.Choice(["leading", "trailing"]), help="Which end it is; needed with --job."
)
@click.option(
    "--shows",
    type=click.Choice(["line", "cut", "holes", "plates", "gap", "edges"]),
    default="cut",
    show_default=True,
    help="What the photographs show; holes and plates need --job.",
)
@click.option("--plates", "shows", flag_value="plates", help="The same as --shows plates.")
@click.option("--thickness", help="Belt thickness, for a gap without --job.")
@click.option("--trial", type=FILE, help="Result of photo-trial, where one is on file.")
@click.option(
    "--out", type=FILE, help="Folder for the pictures with their outline and the numbers."
)
@units_option
@json_option
@answering
def measure_command(
    photographs: tuple[Path, ...],
    bar: str,
    cross_bar: str | None,
    bar_reading: str,
    job: Path | None,
    end: WhichEnd | None,
    shows: Shows,
    thickness: str | None,
    trial: Path | None,
    out: Path | None,
    units: System,
    as_json: bool,
) -> None:
    """Measure what one PHOTO shows, or several of it, with scale sheets lying on the belt.

    A square line before the cut; a cut end with its notches and sides; the punched holes or the
    plates of an end against the plan; the gap between two ends; edges worn or torn. Each value with
    the range it lies in 95 times in 100. What seems missing, torn or standing out is for you to
    look at. A photograph that does not allow it is refused, with what to do.
    """
    from splicewright.actions.photographs.measuring import measure_photographs, write_measured
    from splicewright.actions.photographs.rows import (
        measure_holes_in,
        measure_plates_in,
        write_holes,
        write_plates,
    )
    from splicewright.actions.plan.plan import read_plan
    from splicewright.errors import Fault, InputError
    from splicewright.photographs.measuring import Bars

    bars = Bars(
        read(bar, Kind.LENGTH, "bar"),
        None if cross_bar is None else read(cross_bar, Kind.LENGTH, "cross bar"),
        read(bar_reading, Kind.LENGTH, "bar reading"),
    )
    plan = None if job is None else read_plan(job)
    thick = None if thickness is None else read(thickness, Kind.LENGTH, "thickness")
    written: tuple[Path, ...] = ()
    if shows in ("plates", "holes"):
        if plan is None:
            raise InputError(Fault("job", f"{shows} are measured against a plan: give --job"))
        if shows == "plates":
            row = measure_plates_in(photographs, bars, plan, end, trial)
            tables, lines = row.as_tables(), _plates_said(row, units)
            written = write_plates(row, out) if out is not None else ()
        else:
            holes = measure_holes_in(photographs, bars, plan, end, trial)
            tables, lines = holes.as_tables(), _holes_said(holes, units)
            written = write_holes(holes, out) if out is not None else ()
    else:
        _has_cut(plan)
        belt_end = measure_photographs(photographs, bars, plan, end, trial, shows, thick)
        tables, lines = belt_end.as_tables(), _end_lines(belt_end, units)
        written = write_measured(belt_end, out) if out is not None else ()
    if as_json:
        put_json({**tables, "written": [str(p) for p in written]})
        return
    for line in lines:
        click.echo(line)
    for path in written:
        click.echo(f"Written: {path}")


def _has_cut(plan: JointPlan | None) -> None:
    from splicewright.errors import Fault, InputError

    if plan is not None and plan.layout is None:
        raise InputError(Fault("job", "the plan has no plates and so no cut to compare with"))


def _end_lines(belt_end: MeasuredEnd, units: System) -> list[str]:
    from splicewright.actions.photographs.proposals import shown_length

    lines = [f"{', '.join(belt_end.measured.pictures)}: {belt_end.sides}"]
    for value in belt_end.end.values:
        lines.append(
            f"  {shown_length(value.value, units):>12} ± {shown_length(value.half_width, units):<9}"
            f" {value.label}"
        )
    for label, planned, off in belt_end.planned:
        lines.append(
            f"  {label} in the plan {shown_length(planned, units)}: measured "
            f"{shown_length(abs(off), units)} {'more' if off >= 0 else 'less'}"
        )
    lines.append("± is the range it lies in 95 times in 100, as far as the photographs tell.")
    return [*lines, belt_end.standing]


def _plates_said(plates: MeasuredPlates, units: System) -> list[str]:
    from splicewright.actions.photographs.proposals import shown_length

    row = plates.row
    pitch, planned, middle = (
        shown_length(v, units) for v in (row.pitch, plates.planned.pitch, row.middle)
    )
    wide, aside = (shown_length(v, units) for v in (row.pitch_half_width, row.middle_half_width))
    lines = [
        f"Plates of the {plates.end} end, numbered from the left facing in the direction of travel",
        f"  pitch {pitch} ± {wide}, planned {planned}; middle of the row {middle} ± {aside} left "
        "of the belt's",
        "plate    from the belt's middle   off the even row            turned",
    ]
    for p in row.plates:
        if p.place is None or p.off is None or p.half_width is None:
            lines.append(f"{p.number:>5}    nothing like a plate is seen here: look, and say so")
            continue
        tilt, spread = math.degrees(p.tilt or 0.0), math.degrees(p.tilt_half_width or 0.0)
        lines.append(
            f"{p.number:>5} {shown_length(p.place, units):>18} {shown_length(p.off, units):>18} ± "
            f"{shown_length(p.half_width, units):<9} {tilt:>6.1f} ± {spread:.1f}°"
        )
    for side, setback in zip(("left", "right"), row.setbacks, strict=True):
        if setback is not None:
            value, half = (shown_length(v, units) for v in setback)
            lines.append(f"  set-back {side} {value} ± {half}")
    for pin, _ in plates.pins:
        out, half = shown_length(pin.value, units), shown_length(pin.half_width, units)
        lines.append(f"  {pin.label}: seems to stand out {out} ± {half}: look, and say so")
    for p in row.plates:
        if p.stands_off and p.lifts is not None:
            high = shown_length(max(p.lifts), units)
            lines.append(
                f"  plate {p.number} seems bent or to stand off by {high}: look, and say so"
            )
    return [*lines, plates.standing]


def _holes_said(end_holes: MeasuredHoles, units: System) -> list[str]:
    from splicewright.actions.photographs.proposals import shown_length

    def both(value: tuple[float, float]) -> str:
        return f"{shown_length(value[0], units)} ± {shown_length(value[1], units)}"

    holes, way = end_holes.holes, end_holes.way
    lines = [
        f"Holes of the {end_holes.end} end against the plan, numbered from the left facing in the "
        "direction of travel"
    ]
    for row, (back, lean, left) in holes.rows.items():
        leaning, moved = both((way * lean[0], lean[1])), both((way * left[0], left[1]))
        lines.append(
            f"  row {row}: {both(back)} further from the cut; left edge {leaning} further back "
            f"than the right; {moved} to the left"
        )
    lines.append("plate row   further from the cut       to the left       out of its line")
    for h in holes.holes:
        if h.behind is None or h.across is None or h.out is None or h.out_half_width is None:
            lines.append(
                f"{h.planned.plate:>5} {h.planned.row:>3}   nothing like a hole is seen: look, and "
                "say so"
            )
            continue
        lines.append(
            f"{h.planned.plate:>5} {h.planned.row:>3} {shown_length(h.behind, units):>22} "
            f"{shown_length(way * h.across, units):>17} {both((h.out, h.out_half_width)):>21}"
        )
    return [*lines, end_holes.standing]


@click.command("photo-trial")
@click.argument("table", type=FILE)
@click.option("--out", type=FILE, help="File (JSON) to write the result to; it must not be there.")
@json_option
@answering
def photo_trial_command(table: Path, out: Path | None, as_json: bool) -> None:
    """Compare the photographs in TABLE (CSV) with what a steel rule said.

    Twenty photographs or more by two phones; the result is what `measure --trial` takes.
    """
    import json

    from splicewright.actions.folder.writing import write_new
    from splicewright.actions.photographs.measuring import run_trial

    trial = run_trial(table)
    if out is not None:
        write_new(out, trial.to_json())
    if as_json:
        put_json(json.loads(trial.to_json()))
        return
    for line in _compared(trial):
        click.echo(line)


def _compared(trial: Trial) -> list[str]:
    from splicewright.photographs.trial import FEWEST_PHONES, FEWEST_PHOTOGRAPHS, LEAST_WITHIN

    lines = [
        f"{line.photograph}: {line.key.replace('_', ' ')} {line.value * 1e3:.1f} ± "
        f"{line.half_width * 1e3:.1f} mm, rule {line.rule * 1e3:.1f} mm"
        + ("" if line.within else "  OUTSIDE")
        for line in trial.lines
    ]
    lines += [f"{name}: not measured: {why.splitlines()[0]}" for name, why in trial.refused]
    for key, (often, mean, rms) in trial.errors().items():
        lines.append(
            f"{key.replace('_', ' ')}: {often} compared, photograph less rule {mean * 1e3:+.2f} mm "
            f"in the mean, {rms * 1e3:.2f} mm rms"
        )
    lines.append(
        f"{trial.photographs} photographs by {trial.phones} phones, "
        f"{percent(trial.within)} within the "
        f"stated range; needed are {FEWEST_PHOTOGRAPHS}, {FEWEST_PHONES} and "
        f"{percent(LEAST_WITHIN)}"
    )
    if trial.invented:
        lines.append("Invented data: it proves nothing.")
    lines.append("The trial passed." if trial.passed else "The trial did not pass.")
    return lines
