"""life."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from splicewright.cli.answers import (
    FILE,
    answering,
    confidence_option,
    json_option,
    paper_option,
    plain,
    put_json,
    say_invented,
    say_written,
    units_option,
)
from splicewright.cli.by_register import (
    by_the_register,
    moment_of,
    opened,
    refuse_both,
    say_notes,
    today_option,
)

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.actions.register.use import UseName
    from splicewright.quantities import System


@click.command("life")
@click.argument("lives", type=FILE, required=False)
@click.option("--cause", default="", help="Count only this cause as failure; others end the watch.")
@click.option(
    "--by",
    type=click.Choice(["conveyor", "kind"]),
    help="Groups that lean on each other. Without it: conveyors, where there are several.",
)
@click.option(
    "--next", "further", default="", help='Use ahead for running joints, such as "2000 h".'
)
@click.option(
    "--shape",
    type=click.FloatRange(0.2, 10),
    default=2.0,
    show_default=True,
    help="Shape assumed where the lives settle none.",
)
@confidence_option
@today_option
@by_the_register
@click.option("--out", type=FILE, help="Folder for the report (PDF), diagram (SVG) and life.json.")
@units_option
@paper_option
@json_option
@answering
def life_command(
    lives: Path | None,
    where: str,
    conveyor: str,
    use: UseName | None,
    today: datetime | None,
    cause: str,
    by: Literal["conveyor", "kind"] | None,
    further: str,
    shape: float,
    confidence: float,
    out: Path | None,
    units: System,
    paper: PaperName,
    as_json: bool,
) -> None:
    """Say how long the joints in LIVES (CSV) last, by kind and conveyor, and which fails next.

    Without LIVES the joints are those of the register.
    """
    from splicewright.actions.life.study import study_lives, study_recorded_lives, write_life
    from splicewright.sheets.words.life import life_answer, life_tables, life_words

    refuse_both(lives, "LIVES")
    if lives is not None:
        study = study_lives(
            lives, cause=cause, by=by or "", further=further, confidence=confidence, shape=shape
        )
    else:
        with opened(where) as register:
            study = study_recorded_lives(
                register, moment_of(today), conveyor=conveyor, use=use or "", cause=cause,
                by=by or "", further=further, confidence=confidence, shape=shape,
            )  # fmt: skip
    answer = plain(study)
    written = write_life(study, answer, out, units, paper) if out is not None else ()
    if as_json:
        put_json({"life": answer, "written": [str(p) for p in written]})
        return
    click.echo(f"{study.name}: by {study.measure.value}, {study.confidence:.0%} limits")
    for line in (*life_answer(study, units), *life_words(study)):
        click.echo(line)
    for section in life_tables(study, units):
        click.echo(f"\n{section.title}")
        for line in section.lines():
            click.echo(f"  {line}")
    say_notes(study.notes)
    say_invented(study.invented)
    say_written(out, "life.pdf", len(written))
