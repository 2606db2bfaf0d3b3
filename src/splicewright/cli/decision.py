"""decide."""

from __future__ import annotations

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
    say_written,
    units_option,
)

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.quantities import System


_DEFER = (
    "The tool orders, the crew decides: local law, site rules, the maker and a competent person "
    "go first."
)


@click.command("decide")
@click.argument("options", type=FILE)
@click.option("--out", type=FILE, help="Folder for the sheet (PDF) and decision.json.")
@units_option
@paper_option
@json_option
@answering
def decide_command(
    options: Path, out: Path | None, units: System, paper: PaperName, as_json: bool
) -> None:
    """Set the ways in OPTIONS (TOML) to put a place right beside each other, best first."""
    from splicewright.actions.decision import decide_place, write_decision
    from splicewright.sheets.words.decision import steady_words, verdict_words

    study = decide_place(options)
    answer = plain(study)
    written = write_decision(study, answer, out, units, paper) if out is not None else ()
    if as_json:
        put_json({"decide": answer, "written": [str(p) for p in written]})
        return
    click.echo(study.decision.name)
    for number, verdict in enumerate(study.verdicts, 1):
        for line in verdict_words(verdict, number, units):
            click.echo(line)
    click.echo(steady_words(study))
    say_invented(study.decision.invented)
    click.echo(_DEFER)
    say_written(out, "decision.pdf", len(written))
