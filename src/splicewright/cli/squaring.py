"""square."""

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
    from splicewright.joint.belt_end.squared_end import SquaredEnd
    from splicewright.quantities import System


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
    from splicewright.actions.squaring import square_file, square_points, write_squaring
    from splicewright.errors import Fault, InputError
    from splicewright.joint.belt_end.squaring import figures

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
