"""when, stock and decide."""

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
    say_written,
    units_option,
)
from splicewright.cli.by_register import (
    by_the_register,
    moment_of,
    opened,
    refuse_both,
    register_named,
    say_notes,
    today_option,
)

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.actions.register.use import UseName
    from splicewright.quantities import System

_COST = click.FloatRange(0, 1e12)


@click.command("when")
@click.option("--lives", type=FILE, help="Lives of joints (CSV), for the age of renewal.")
@by_the_register
@today_option
@click.option("--shape", type=click.FloatRange(0.2, 10), help="Or the shape of their law ...")
@click.option("--scale", default="", help='... and its scale, such as "9000 h" or "800 kt".')
@click.option("--planned", type=_COST, help="Cost of a planned renewal, or of damage found.")
@click.option("--failure", type=_COST, required=True, help="Cost of a failure, its stop included.")
@click.option("--damage-every", default="", help="Use from one new damage to the next, mean.")
@click.option("--delay", default="", help="Use from damage that can be seen to failure, mean.")
@click.option("--look", type=_COST, help="Cost of one inspection.")
@click.option("--fixed", is_flag=True, help="All delays are alike; otherwise they are random.")
@click.option(
    "--found",
    type=click.FloatRange(0.01, 1),
    default=1.0,
    show_default=True,
    help="Chance that an inspection finds existing damage.",
)
@click.option(
    "--of-belts", is_flag=True, help="By the register: inspections of belts, not of joints."
)
@click.option("--out", type=FILE, help="Folder for the report (PDF) and when.json.")
@units_option
@paper_option
@json_option
@answering
def when_command(
    lives: Path | None,
    where: str,
    conveyor: str,
    use: UseName | None,
    today: datetime | None,
    shape: float | None,
    scale: str,
    planned: float | None,
    failure: float,
    damage_every: str,
    delay: str,
    look: float | None,
    fixed: bool,
    found: float,
    of_belts: bool,
    out: Path | None,
    units: System,
    paper: PaperName,
    as_json: bool,
) -> None:
    """Say at what age to renew a joint, and how often to look at it, by what things cost.

    Renewal needs --planned and --lives (or --register, or --shape and --scale); looks need
    --look, --planned, and --register, or --damage-every and --delay. With both, the register
    comes first where it holds failures enough. Use one currency for all costs.
    """
    from splicewright.actions.inspection_interval.choose import (
        when_to_look,
        when_to_look_recorded,
        write_when,
    )
    from splicewright.actions.renewal import when_to_renew, when_to_renew_recorded
    from splicewright.errors import Fault, InputError
    from splicewright.sheets.words.inspection_interval import look_words
    from splicewright.sheets.words.renewal import renew_words

    if planned is None:
        raise InputError(Fault("planned", "is not given; say what a planned renewal costs"))
    refuse_both(lives, "--lives")
    recorded = lives is None and register_named(where, conveyor)
    renews = lives is not None or shape is not None or bool(scale)
    looks = bool(damage_every or delay or look is not None)
    if not renews and not looks and not recorded:
        said = (
            "give --lives, or --shape and --scale, or --register; or --damage-every, --delay and "
            "--look"
        )
        raise InputError(Fault("when", said))
    given = bool(damage_every) + bool(delay)
    if looks and (look is None or given == 1 or (not given and not recorded)):
        said = "need --look, and --damage-every and --delay, or --register in place of those two"
        raise InputError(Fault("looks", said))
    renewal = inspection = None
    if recorded and not renews:
        with opened(where) as register:
            renewal = when_to_renew_recorded(
                register, moment_of(today), planned, failure, conveyor=conveyor, use=use or ""
            )
    elif renews:
        renewal = when_to_renew(planned, failure, lives=lives, shape=shape, scale=scale)
    if look is not None and recorded:
        with opened(where) as register:
            inspection = when_to_look_recorded(
                register, moment_of(today), look, planned, failure, conveyor=conveyor,
                use=use or "", found=found, belts=of_belts, every=damage_every, delay=delay,
                fixed=fixed,
            )  # fmt: skip
    elif look is not None:
        inspection = when_to_look(
            damage_every, delay, look, planned, failure, fixed=fixed, found=found
        )
    answer = {"renew": plain(renewal), "look": plain(inspection)}
    costs = [("a planned renewal", planned), ("a failure", failure)]
    if look is not None:
        costs.append(("an inspection", look))
    name = lives.stem if lives is not None else conveyor
    written = (
        write_when(renewal, inspection, costs, answer, out, units, paper, name)
        if out is not None
        else ()
    )
    if as_json:
        put_json({**answer, "written": [str(p) for p in written]})
        return
    for line in (*renew_words(renewal, units), *look_words(inspection, units)):
        click.echo(line)
    both = [one for one in (renewal, inspection) if one is not None]
    say_notes(tuple(dict.fromkeys(note for one in both for note in one.notes)))
    say_invented(any(one.invented for one in both))
    say_written(out, "when.pdf", len(written))
