"""new, check and schema."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from splicewright.actions.files.start import BESIDE, NEXT, TEMPLATES, start_file
from splicewright.cli.answers import FILE, answering, json_option, put_json, units_option

if TYPE_CHECKING:
    from splicewright.actions.files.start import Template
    from splicewright.quantities import System


_BY_MACHINE = {"conveyor-field", "conveyor-overland", "conveyor-tandem"}
JOBS = [
    "worn joint made anew",
    "piece inserted",
    "belt shortened",
    "belt lengthened",
    "new belt",
    "emergency repair",
    "repair along the belt",
    "inspection round",
    "tracking trouble",
]
"""Kinds of job, as the work file has them; a test holds them against it."""
KINDS = ["conveyor", "work", "fasteners", "inspection", "squaring", "shutdown", "decision"]


@click.command("new")
@click.argument("path", type=FILE)
@click.option(
    "--kind",
    type=click.Choice(TEMPLATES),
    default="conveyor",
    show_default=True,
    help="End file: the short conveyor form, the whole loop blank, or by machine with "
    "numbers that close it (field conveyor, overland, tandem drive), a job, a fastener range, a "
    "range of vulcanised step joints, an inspection of a joint, the squaring of a belt end; wear "
    "readings, lives of joints, stock items, joints that could be renewed, a shutdown, a first "
    "decision, what was measured to compare.",
)
@click.option(
    "--job",
    type=click.Choice(JOBS),
    help="With --kind work: which kind of job; asked for at a terminal when left out.",
)
@json_option
@answering
def new_command(path: Path, kind: Template, job: str | None, as_json: bool) -> None:
    """Write a commented file to fill in to PATH; an existing file is not touched."""
    if kind == "work" and job is None and not as_json and sys.stdin.isatty():
        job = click.prompt("Which kind of job", type=click.Choice(JOBS), default=JOBS[0])
    start_file(path, kind, job or "")
    if as_json:
        put_json({"written": str(path)})
        return
    fill = "Add your lines" if path.suffix == ".csv" else 'Fill in every ""'
    if kind in _BY_MACHINE:
        fill = "Overwrite its numbers with yours"
    beside = BESIDE.get(kind, "")
    click.echo(f"{path} written. {fill}, then: splicewright {NEXT[kind]} {path}{beside}")


@click.command("check")
@click.argument("path", type=FILE)
@click.option("--on", type=FILE, help="With a work file: the conveyor it is to be done on.")
@units_option
@json_option
@answering
def check_command(path: Path, on: Path | None, units: System, as_json: bool) -> None:
    """Say what PATH lacks, what was assumed for it, and which unknown matters most.

    PATH is a conveyor, work, fastener range, inspection, squaring, shutdown or decision file.
    Named with --on, a work file is held against its conveyor: run, place, width.
    """
    from splicewright.actions.files.check import check_file

    check = check_file(path, on)
    if as_json:
        put_json(
            {
                "kind": check.kind,
                "name": check.name,
                "assumed": [
                    {
                        "key": g.key,
                        "label": g.label,
                        "value": g.value,
                        "low": g.low,
                        "high": g.high,
                        "reason": g.reason,
                    }
                    for g in check.assumed
                ],
                "matters": [sentence.say(units) for sentence in check.matters],
                "findings": [sentence.say(units) for sentence in check.findings],
            }
        )
        return
    click.echo(f"{path.name}: {check.kind} {check.name}: can be used.")
    if check.assumed:
        click.echo(f"\nNot given, so assumed ({len(check.assumed)}):")
    for given in check.assumed:
        click.echo(f"  {given.key:<34} {given.show(units):>12}  {given.reason}")
    if check.matters:
        click.echo("\nWhat to measure next, most important first:")
    for number, sentence in enumerate(check.matters[:8], 1):
        click.echo(f"  {number}. {sentence.say(units)}")
    if check.findings:
        click.echo("\nLook at:")
    for sentence in check.findings:
        click.echo(f"  ! {sentence.say(units)}")


@click.command("schema")
@click.argument("kind", type=click.Choice(KINDS))
@json_option
@answering
def schema_command(kind: str, as_json: bool) -> None:
    """Print the JSON Schema of a KIND of file."""
    from splicewright.actions.files.schemas import file_schemas

    put_json(file_schemas()[kind])
