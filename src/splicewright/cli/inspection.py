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
    from splicewright.actions.folder.writing import PaperName
    from splicewright.job.inspection.joint_assessment import JointAssessment
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
    from splicewright.actions.inspection.assess import assess_joint, write_assessment
    from splicewright.job.inspection.assessment import as_tables

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
