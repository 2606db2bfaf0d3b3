"""choose."""

from __future__ import annotations

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

_COST = click.FloatRange(0, 1e12)


@click.command("choose")
@click.argument("joints", type=FILE, required=False)
@click.option("--window", required=True, help='Time there is, such as "12 h".')
@click.option("--crew", type=click.IntRange(1, 200), required=True, help="People who work.")
@click.option(
    "--gang", type=click.IntRange(1, 50), default=2, show_default=True, help="Of them at one joint."
)
@click.option(
    "--power-share",
    type=click.FloatRange(0.05, 1),
    default=1.0,
    show_default=True,
    help="Share of a renewal's time that it takes with power tools, to see what they buy.",
)
@by_the_register
@today_option
@click.option(
    "--until",
    type=click.DateTime(["%Y-%m-%d"]),
    help="By the register: day of the shutdown after this one.",
)
@click.option("--each", default="", help='By the register: crew hours of one renewal, "20 h".')
@click.option("--opening", default="", help="By the register: crew hours to open up a conveyor.")
@click.option("--failure", type=_COST, help="By the register: cost of a failure.")
@click.option("--renewal", type=_COST, help="By the register: cost of a renewal.")
@click.option("--out", type=FILE, help="Folder for the report (PDF), bars (SVG) and choice.json.")
@paper_option
@json_option
@answering
def choose_command(
    joints: Path | None,
    window: str,
    crew: int,
    gang: int,
    power_share: float,
    where: str,
    conveyor: str,
    use: UseName | None,
    today: datetime | None,
    until: datetime | None,
    each: str,
    opening: str,
    failure: float | None,
    renewal: float | None,
    out: Path | None,
    paper: PaperName,
    as_json: bool,
) -> None:
    """Choose which of JOINTS (CSV) to renew in a shutdown, for the least expected cost.

    Without JOINTS the running joints of the register; then --until, --each, --failure and
    --renewal say what a renewal takes and what a failure costs. All costs in one money.
    """
    from splicewright.actions.choose_joints import (
        choose_joints,
        choose_recorded_joints,
        write_choice,
    )
    from splicewright.errors import Fault, InputError
    from splicewright.sheets.deciding_words import bought, choice_rows, choice_words
    from splicewright.sheets.shutdown_sheet import shutdown_text

    refuse_both(joints, "JOINTS")
    if joints is not None:
        study = choose_joints(joints, window, crew, gang=gang, power_share=power_share)
    elif until is None or not each or failure is None or renewal is None:
        said = "is not given; by the register it must be (or give a table of joints)"
        missing = [
            Fault(key, said)
            for key, value in (
                ("until", until), ("each", each or None), ("failure", failure),
                ("renewal", renewal),
            )
            if value is None
        ]  # fmt: skip
        raise InputError(*missing)
    else:
        with opened(where) as register:
            study = choose_recorded_joints(
                register, moment_of(today), window, crew, until=until.date(), each=each,
                failure_cost=failure, renewal_cost=renewal, opening=opening, gang=gang,
                power_share=power_share, conveyor=conveyor, use=use or "",
            )  # fmt: skip
    answer = plain(study)
    written = write_choice(study, answer, out, paper) if out is not None else ()
    if as_json:
        put_json({"choose": answer, "written": [str(p) for p in written]})
        return
    for line in choice_words(study):
        click.echo(line)
    for joint, why in choice_rows(study):
        click.echo(f"{joint}: {why}")
    if study.schedule is not None:
        for line in bought(study.schedule):
            click.echo(line)
        click.echo("The chosen joints at likely times (# often holds up, | window):")
        for line in shutdown_text(study.schedule):
            click.echo(f"  {line}")
    say_notes(study.asked.notes)
    say_invented(study.asked.invented)
    if out is not None:
        click.echo(f"Report: {out / 'choice.pdf'}  ({len(written)} files in {out})")
