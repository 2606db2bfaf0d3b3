"""when, stock and decide."""

from __future__ import annotations

from dataclasses import replace
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
from splicewright.cli.recorded import (
    by_the_register,
    moment_of,
    opened,
    refuse_both,
    register_named,
    say_notes,
    today_option,
)

if TYPE_CHECKING:
    from splicewright.actions.from_register import UseName
    from splicewright.actions.plan_joint import PaperName
    from splicewright.quantities import System

_COST = click.FloatRange(0, 1e12)
_DEFER = (
    "The tool orders, the crew decides: local law, site rules, the maker and a competent person "
    "go first."
)


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
@click.option("--look", type=_COST, help="Cost of one look.")
@click.option("--fixed", is_flag=True, help="All delays are alike; otherwise they are random.")
@click.option(
    "--found",
    type=click.FloatRange(0.01, 1),
    default=1.0,
    show_default=True,
    help="Chance that a look finds damage that is there.",
)
@click.option("--of-belts", is_flag=True, help="By the register: looks at belts, not at joints.")
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
    comes first where it holds failures enough. All costs in one money.
    """
    from splicewright.actions.choose_when import (
        when_to_look,
        when_to_look_recorded,
        when_to_renew,
        when_to_renew_recorded,
        write_when,
    )
    from splicewright.errors import Fault, InputError
    from splicewright.sheets.deciding_words import look_words, renew_words

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
        costs.append(("a look", look))
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
    _told(out, "when.pdf", len(written))


@click.command("stock")
@click.argument("items", type=FILE, required=False)
@click.option(
    "--service",
    type=click.FloatRange(0.5, 0.9999),
    default=0.95,
    show_default=True,
    help="Chance that nobody waits for the item.",
)
@click.option("--lives", type=FILE, help="Lives of the joints that use items (CSV).")
@click.option("--use-a-day", default="", help='How fast those joints age, such as "16 h".')
@by_the_register
@today_option
@click.option("--lead-time", default="", help="Of items that only the register names.")
@click.option("--plan", type=FILE, help="Job folder or plan.json: is its kit in the store?")
@click.option("--out", type=FILE, help="Folder for the report (PDF) and stock.json.")
@paper_option
@json_option
@answering
def stock_command(
    items: Path | None,
    service: float,
    lives: Path | None,
    use_a_day: str,
    where: str,
    conveyor: str,
    use: UseName | None,
    today: datetime | None,
    lead_time: str,
    plan: Path | None,
    out: Path | None,
    paper: PaperName,
    as_json: bool,
) -> None:
    """Say how many of each item in ITEMS (CSV) to hold, and how many to order now.

    With --register (or without ITEMS) what lies there, what was taken out and the joints that use
    it come from the register.
    """
    from splicewright.actions.size_stock import (
        kit_against_stock,
        size_recorded_stock,
        size_stock,
        write_stock,
    )
    from splicewright.errors import Fault, InputError
    from splicewright.sheets.deciding_words import stock_words

    recorded = items is None or register_named(where, conveyor)
    if lives is not None and (recorded and items is None):
        said = "goes with a table of items; by the register its own joints count"
        raise InputError(Fault("lives", said))
    if items is not None and (not recorded or lives is not None):
        sized = size_stock(items, service, lives=lives, use_a_day=use_a_day)
        if plan is not None:
            raise InputError(Fault("plan", "its kit is held against the register's store; give "
                                   "--register in place of --lives"))  # fmt: skip
    else:
        from splicewright.actions.plan_joint import read_plan

        with opened(where) as register:
            now = moment_of(today)
            sized = size_recorded_stock(
                register, now, service, items=items, lead=lead_time, conveyor=conveyor,
                use=use or "",
            )  # fmt: skip
            if plan is not None:
                lacks = kit_against_stock(read_plan(plan), register, now, conveyor)
                sized = replace(sized, missing=lacks)
    answer = plain(sized.items)
    written = write_stock(sized, answer, out, paper) if out is not None else ()
    if as_json:
        put_json({"stock": answer, "kit lacks": plain(sized.missing),
                  "written": [str(p) for p in written]})  # fmt: skip
        return
    for one in sized.items:
        first, second = stock_words(one)
        click.echo(f"{first}\n  {second}")
    for lack in sized.missing or ():
        click.echo(f"The job's kit lacks {lack.missing:g} {lack.item}: {lack.there:g} there, "
                   f"{lack.needed:g} needed")  # fmt: skip
    if sized.missing == ():
        click.echo("The job's kit is in the store, spares included.")
    say_notes(sized.notes)
    say_invented(sized.invented)
    _told(out, "stock.pdf", len(written))


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
    from splicewright.actions.decide_place import decide_place, write_decision
    from splicewright.sheets.deciding_words import steady_words, verdict_words

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
    _told(out, "decision.pdf", len(written))


def _told(out: Path | None, report: str, number: int) -> None:
    if out is not None:
        click.echo(f"Report: {out / report}  ({number} files in {out})")
