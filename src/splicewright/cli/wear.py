"""wear and life."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

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
    from splicewright.actions.wear.forecast import forecast_recorded_wear, forecast_wear, write_wear
    from splicewright.sheets.words.wear import course_words

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
        if place.when:
            click.echo(f"   {place.when}")
        for wild in place.forecast.wild:
            click.echo(f"   ! far off the line and counted less: {wild.reading.label}")
        for line in course_words(place, units):
            click.echo(f"   {line}")
    say_notes(study.notes)
    say_invented(study.invented)
    say_written(out, "wear.pdf", len(written))
