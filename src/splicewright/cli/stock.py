"""stock."""

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
    say_written,
)
from splicewright.cli.by_register import (
    by_the_register,
    moment_of,
    opened,
    register_named,
    say_notes,
    today_option,
)

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.actions.register.use import UseName


@click.command("stock")
@click.argument("items", type=FILE, required=False)
@click.option(
    "--service",
    type=click.FloatRange(0.5, 0.9999),
    default=0.95,
    show_default=True,
    help="Chance that the next job finds the item.",
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
    from splicewright.actions.stock.size import (
        kit_against_stock,
        size_recorded_stock,
        size_stock,
        write_stock,
    )
    from splicewright.errors import Fault, InputError
    from splicewright.sheets.words.stock import RISK_HEAD, risk_rows, stock_words

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
        from splicewright.actions.plan.plan import read_plan

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
        rows = [RISK_HEAD[1:], *(row[1:] for row in risk_rows(one))]
        wide = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
        for row in rows:
            cells = (cell.ljust(width) for cell, width in zip(row, wide, strict=True))
            click.echo(f"  {'  '.join(cells).rstrip()}")
    for lack in sized.missing or ():
        click.echo(f"The job's kit lacks {lack.missing:g} {lack.item}: {lack.there:g} there, "
                   f"{lack.needed:g} needed")  # fmt: skip
    if sized.missing == ():
        click.echo("The job's kit is in the store, spares included.")
    say_notes(sized.notes)
    say_invented(sized.invented)
    say_written(out, "stock.pdf", len(written))
