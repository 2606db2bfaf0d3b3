"""explain."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

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


@click.command("explain")
@click.argument("source", type=FILE)
@click.argument("key", required=False)
@click.option(
    "--levels",
    type=click.IntRange(0),
    help="So many steps down from the number; without it down to every input.",
)
@click.option("--work", type=FILE, help="Work file, when SOURCE is a conveyor file.")
@fasteners_option
@units_option
@json_option
@answering
def explain_command(
    source: Path,
    key: str | None,
    levels: int | None,
    work: Path | None,
    fasteners: tuple[Path, ...],
    units: System,
    as_json: bool,
) -> None:
    """Say how the number KEY came about: formula, inputs, their origin, source.

    SOURCE is a job folder, its plan.json, a conveyor file, or the folder that a question was
    answered into with --out (a studied conveyor, an assessment, a squaring, inspections and the
    like). Without KEY all numbers are listed; those of a plan's
    plate loads, bolts and pulleys with them.
    """
    from splicewright.actions.explain import lines_of
    from splicewright.quantities import explain

    record = lines_of(source, key, work, fasteners)
    if key is None:
        _list_keys(record, units, as_json)
        return
    if as_json:
        put_json([_entry(entry) for entry in record.below(key, levels)])
        return
    click.echo(explain(record, key, units, levels))


def _list_keys(record: Any, units: System, as_json: bool) -> None:
    from splicewright.quantities import Line

    figures = [e.figure if isinstance(e, Line) else e for e in record.entries]
    if as_json:
        put_json([{"key": f.key, "label": f.label, "value": f.value} for f in figures])
        return
    width = max(len(f.key) for f in figures)
    for figure in figures:
        click.echo(f"{figure.key:<{width}}  {figure.show(units):>14}  {figure.label}")


def _entry(entry: Any) -> dict[str, Any]:
    from dataclasses import asdict

    return asdict(entry)
