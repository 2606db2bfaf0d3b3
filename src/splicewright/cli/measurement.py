"""compare."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from splicewright.cli.answers import (
    FILE,
    answering,
    fasteners_option,
    json_option,
    put_json,
    units_option,
)

if TYPE_CHECKING:
    from splicewright.quantities import System


@click.command("compare")
@click.argument("measured", type=FILE)
@click.argument("source", type=FILE)
@click.option("--work", type=FILE, help="Work file, when SOURCE is a conveyor file.")
@click.option(
    "--gauge",
    default="",
    help='Readings of wear: standard deviation of the gauge, such as "0.1 mm".',
)
@fasteners_option
@units_option
@json_option
@answering
def compare_command(
    measured: Path,
    source: Path,
    work: Path | None,
    gauge: str,
    fasteners: tuple[Path, ...],
    units: System,
    as_json: bool,
) -> None:
    """Compare what was measured (MEASURED, CSV) with what SOURCE predicts.

    Columns: figure (a key as `splicewright explain` lists it), measured and uncertainty with their
    units, note. SOURCE is a job folder, a studied conveyor or a conveyor file. With a table of
    readings of wear as SOURCE, MEASURED holds later readings of the same places.
    """
    from splicewright.actions.measurement import compare_measured
    from splicewright.sheets.words.measurement import comparison_lines

    rows, invented = compare_measured(measured, source, work, fasteners, gauge)
    if as_json:
        put_json(
            {
                "invented": invented,
                "rows": [
                    asdict(r)
                    | {
                        "difference": r.difference,
                        "score": _finite(r.score),
                        "verdict": r.verdict.value,
                    }
                    for r in rows
                ],
            }
        )
        return
    for line in comparison_lines(rows, units, wear=source.suffix.lower() == ".csv"):
        click.echo(line)
    if invented:
        click.echo("! Invented data: not for real work.")


def _finite(number: float | None) -> float | None:
    return number if number is not None and abs(number) < float("inf") else None
