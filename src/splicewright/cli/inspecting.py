"""assess and square."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from splicewright.cli.answers import (
    FILE,
    answering,
    fasteners_option,
    json_option,
    paper_option,
    put_json,
    units_option,
)

if TYPE_CHECKING:
    from splicewright.actions.plan_joint import PaperName
    from splicewright.job.assessment import JointAssessment
    from splicewright.joint.square_end import SquaredEnd
    from splicewright.quantities import System


@click.command("assess")
@click.argument("inspection", type=FILE)
@click.option(
    "--out", type=FILE, help="Folder for the pages (PDF), the drawing (SVG) and assessment.json."
)
@fasteners_option
@units_option
@paper_option
@json_option
@answering
def assess_command(
    inspection: Path,
    out: Path | None,
    fasteners: tuple[Path, ...],
    units: System,
    paper: PaperName,
    as_json: bool,
) -> None:
    """Say what the damaged joint in INSPECTION can still carry, and who must decide.

    The answer is a calculation over everything that is not known of belt and plates; it is
    never leave to run. `explain` takes the folder and says how each number came about.
    """
    from splicewright.actions.assess_joint import assess_joint, write_assessment
    from splicewright.job.assessment import as_tables

    made = assess_joint(inspection, fasteners)
    written = write_assessment(made, out, units, paper) if out is not None else ()
    if as_json:
        put_json({**as_tables(made), "written": [str(p) for p in written]})
        return
    lines = _assessed(made, units)
    if out is not None:
        where = f"Pages: {out / 'assessment.pdf'}  ({len(written)} files in {out})"
        lines = [*lines[:-1], where, "", lines[-1]]
    for line in lines:
        click.echo(line)


@click.command("square")
@click.argument("measured", type=FILE, required=False)
@click.option("--width", help="Belt width, in place of a file.")
@click.option(
    "--station",
    "stations",
    nargs=2,
    multiple=True,
    metavar="AT OFFSET",
    help="Distance from the end and offset of the belt's middle from a stretched line, left "
    "positive; three or more, in place of a file.",
)
@click.option("--limit", help="Out of square over the width that may pass, in place of a file.")
@click.option(
    "--out", type=FILE, help="Folder for the page (PDF), the drawing (SVG) and squaring.json."
)
@fasteners_option
@units_option
@paper_option
@json_option
@answering
def square_command(
    measured: Path | None,
    width: str | None,
    stations: tuple[tuple[str, str], ...],
    limit: str | None,
    out: Path | None,
    fasteners: tuple[Path, ...],
    units: System,
    paper: PaperName,
    as_json: bool,
) -> None:
    """Square a belt end from the points in MEASURED, and judge the cut.

    Without MEASURED give --width and three or more --station. Corrections are for both edges;
    every answer says how far it may be off.
    """
    from splicewright.actions.square_belt_end import square_file, square_points, write_squaring
    from splicewright.errors import Fault, InputError
    from splicewright.joint.square_end import figures

    if measured is not None and (width or stations or limit):
        raise InputError(Fault("", "give a file, or --width and --station; not both"))
    if measured is not None:
        made = square_file(measured, fasteners)
    elif width is None:
        raise InputError(Fault("", "nothing to square: give a file, or --width and --station"))
    else:
        made = square_points(width, stations, limit)
    written = write_squaring(made, out, units, paper) if out is not None else ()
    if as_json:
        put_json(
            {
                "name": made.name,
                "passes": made.passes,
                "figures": {f.key: f.value for f in figures(made)},
                "said": [s.say(units) for s in (*made.said, *made.remarks)],
                "assumed": [s.say(units) for s in made.assumptions],
                "written": [str(p) for p in written],
            }
        )
        return
    for line in _squared(made, units):
        click.echo(line)
    if out is not None:
        click.echo(f"Page: {out / 'squaring.pdf'}  ({len(written)} files in {out})")


def _squared(made: SquaredEnd, units: System) -> list[str]:
    lines = [made.name]
    if made.invented:
        lines.append("DEMONSTRATION with invented data: not for real work.")
    lines += [f"- {said.say(units)}" for said in made.said]
    lines += [f"! {said.say(units)}" for said in made.remarks]
    return [*lines, *(f"Assumed: {said.say(units)}" for said in made.assumptions)]


def _assessed(made: JointAssessment, units: System) -> list[str]:
    from splicewright.joint import Which
    from splicewright.quantities import Kind, show

    lines = [made.name]
    if made.invented:
        lines.append("DEMONSTRATION with invented data: not for real work.")
    lines += ["", made.verdict.value.upper(), ""]
    lines += [f"- {said.say(units)}" for said in made.reasons]
    lines += ["", f"Plates from the left, {made.place}:"]
    for end in Which:
        if end is not made.end and not any(p.state for p in made.of(end)):
            most = max(p.high or 0.0 for p in made.of(end))
            lines += ["", f"{end.value}: nothing found; up to {show(most, Kind.FORCE, units)}"]
            continue
        lines += ["", f"{end.value}:"]
        lines.append(f"{'plate':>6} {'left of it':>11} {'load':>12} {'up to':>12} {'used':>8}")
        for plate in made.of(end):
            load, high = (
                "-" if value is None else show(value, Kind.FORCE, units)
                for value in (plate.load, plate.high)
            )
            used = "-" if plate.used is None else show(plate.used, Kind.SHARE)
            kept = show(plate.kept, Kind.SHARE)
            line = f"{plate.number:>6} {kept:>11} {load:>12} {high:>12} {used:>8}  {plate.state}"
            lines.append(line.rstrip())
    lines += ["", "Assumed:"]
    lines += [f"- {said.say(units)}" for said in made.assumptions]
    return [*lines, "", made.decision]
