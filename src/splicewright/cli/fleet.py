"""fleet."""

from __future__ import annotations

import math
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from splicewright.cli.answers import (
    FILE,
    answering,
    json_option,
    paper_option,
    plain,
    put_json,
    say_invented,
    units_option,
)
from splicewright.cli.by_register import by_the_register, moment_of, opened, today_option

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.actions.register.use import UseName
    from splicewright.quantities import System

_COST = click.FloatRange(0, 1e12)


@click.command("fleet")
@by_the_register
@click.option(
    "--until",
    type=click.DateTime(["%Y-%m-%d"]),
    help="Day of the next planned stop. Without it: four weeks ahead.",
)
@today_option
@click.option("--limit", default="", help="Value worn out, for places without one.")
@click.option("--stop-cost", type=_COST, help="Cost of one hour stopped.")
@click.option("--failure-cost", type=_COST, help="Cost of a failure, apart from the stop.")
@click.option(
    "--out", type=FILE, help="Folder for the report (PDF), list (XLSX), drawings, fleet.json."
)
@units_option
@paper_option
@json_option
@answering
def fleet_command(
    where: str,
    conveyor: str,
    use: UseName | None,
    until: datetime | None,
    today: datetime | None,
    limit: str,
    stop_cost: float | None,
    failure_cost: float | None,
    out: Path | None,
    units: System,
    paper: PaperName,
    as_json: bool,
) -> None:
    """List what is due at all joints and belts of the register, worst first, and why."""
    from splicewright.actions.fleet.fleet import see_fleet, write_fleet
    from splicewright.sheets.words.fleet import fleet_answer, fleet_sections

    with opened(where) as register:
        study = see_fleet(
            register, moment_of(today), until=until.date() if until else None, conveyor=conveyor,
            use=use or "", limit=limit, stop_cost=_or_nan(stop_cost),
            failure_cost=_or_nan(failure_cost),
        )  # fmt: skip
    answer = plain(study) if as_json or out is not None else None
    written = write_fleet(study, answer, out, units, paper) if out is not None else ()
    if as_json:
        put_json({"fleet": answer, "written": [str(p) for p in written]})
        return
    click.echo(f"{study.name}, {study.today}: ages in {study.measure.value}")
    for line in fleet_answer(study, units):
        click.echo(line)
    for section in fleet_sections(study, units):
        click.echo(f"\n{section.title}")
        for line in section.lines():
            click.echo(f"  {line}")
    say_invented(study.invented)
    if out is not None:
        click.echo(f"Report: {out / 'fleet.pdf'}  ({len(written)} files in {out})")


def _or_nan(value: float | None) -> float:
    return math.nan if value is None else value
