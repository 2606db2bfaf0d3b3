"""report: what a customer gets after a job."""

from __future__ import annotations

from datetime import UTC, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from splicewright.cli.answers import FILE, answering, paper_option, units_option
from splicewright.cli.opening import opened_register, register_option

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.quantities import System


@click.command("report")
@click.argument("job")
@click.option("--out", type=FILE, required=True, help="PDF to write; it must not be there yet.")
@register_option
@click.option(
    "--today",
    type=click.DateTime(["%Y-%m-%d"]),
    help="Date that counts as today. Without it: the calendar's.",
)
@units_option
@paper_option
@answering
def report_command(
    job: str, out: Path, where: str, today: datetime | None, units: System, paper: PaperName
) -> None:
    """Write the customer's report on JOB, by its name or id, from the register.

    What was found, done and measured, photographs, parts used, hours, recommendations, and room
    for signatures.
    """
    from splicewright.actions.folder.writing import write_new
    from splicewright.actions.job.customer_report import find_job, report_on_job

    now = datetime.now(UTC)
    if today is not None:
        now = datetime.combine(today.date(), time(23, 59), UTC)
    with opened_register(where) as register:
        pdf = report_on_job(register, find_job(register, job), now, units, paper)
    write_new(out, pdf)
    click.echo(f"Report: {out}")
