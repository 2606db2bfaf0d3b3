"""wear and life."""

from __future__ import annotations

from datetime import date, datetime
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
    units_option,
)
from splicewright.cli.recorded import (
    by_the_register,
    moment_of,
    opened,
    refuse_both,
    say_notes,
    today_option,
)

if TYPE_CHECKING:
    from splicewright.actions.from_register import UseName
    from splicewright.actions.plan_joint import PaperName
    from splicewright.quantities import System


@click.command("wear")
@click.argument("readings", type=FILE, required=False)
@click.option(
    "--limit", default="", help='Value worn out, such as "3 mm", where the file has none.'
)
@click.option("--new", default="", help="Value at use 0, known for sure, where the file has none.")
@click.option("--gauge", default="", help="Standard deviation of the gauge, such as 0.1 mm.")
@confidence_option
@today_option
@by_the_register
@click.option("--out", type=FILE, help="Folder for the report (PDF), drawings (SVG) and wear.json.")
@units_option
@paper_option
@json_option
@answering
def wear_command(
    readings: Path | None,
    where: str,
    conveyor: str,
    use: UseName | None,
    limit: str,
    new: str,
    gauge: str,
    confidence: float,
    today: datetime | None,
    out: Path | None,
    units: System,
    paper: PaperName,
    as_json: bool,
) -> None:
    """Say when each place in READINGS (CSV) is worn out, and which goes first.

    Without READINGS the readings are those of the register.
    """
    from splicewright.actions.forecast_wear import (
        forecast_recorded_wear,
        forecast_wear,
        write_wear,
    )
    from splicewright.sheets.history_words import course_words

    refuse_both(readings, "READINGS")
    if readings is not None:
        day = today.date() if today else date.today()
        study = forecast_wear(
            readings, day, limit=limit, new=new, gauge=gauge, confidence=confidence
        )
    else:
        with opened(where) as register:
            study = forecast_recorded_wear(
                register, moment_of(today), conveyor=conveyor, use=use or "", limit=limit,
                new=new, gauge=gauge, confidence=confidence,
            )  # fmt: skip
    answer = plain(study)
    written = write_wear(study, answer, out, units, paper) if out is not None else ()
    if as_json:
        put_json({"wear": answer, "written": [str(p) for p in written]})
        return
    several = len(study.places) > 1
    click.echo(f"{study.name}: by {study.measure.value}, {study.confidence:.0%} ranges")
    for number, place in enumerate(study.places, 1):
        turn = f"{number}. " if several else ""
        first = f" [first with a chance of {place.chance_first:.0%}]" if several else ""
        click.echo(f"{turn}{place.series.place}: {place.answer.say(units)}{first}")
        if place.dates is not None and place.enough and not place.forecast.met:
            d = place.dates
            click.echo(f"   dates: likely {d.likely}, between {d.earliest} and {d.latest}")
        elif place.dates is None:
            click.echo(f"   no dates: {place.no_dates}")
        for wild in place.forecast.wild:
            click.echo(f"   ! far off the line and counted less: {wild.reading.label}")
        for line in course_words(place, units):
            click.echo(f"   {line}")
    say_notes(study.notes)
    say_invented(study.invented)
    _told(out, "wear.pdf", len(written))


@click.command("life")
@click.argument("lives", type=FILE, required=False)
@click.option("--cause", default="", help="Count only this cause as failure; others end the watch.")
@click.option(
    "--by",
    type=click.Choice(["conveyor", "kind"]),
    help="Groups that lean on each other. Without it: conveyors, where there are several.",
)
@click.option(
    "--next", "further", default="", help='Use to look ahead for running joints, such as "2000 h".'
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
    from splicewright.actions.study_lives import study_lives, study_recorded_lives, write_life
    from splicewright.sheets.history_words import life_answer, life_tables, life_words

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
    _told(out, "life.pdf", len(written))


def _told(out: Path | None, report: str, number: int) -> None:
    if out is not None:
        click.echo(f"Report: {out / report}  ({number} files in {out})")
