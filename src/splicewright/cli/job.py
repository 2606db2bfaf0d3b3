"""report: what a customer gets after a job."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from splicewright.cli.answers import FILE, answering, paper_option, units_option
from splicewright.cli.by_register import moment_of, opened, today_option
from splicewright.cli.opening import register_option

if TYPE_CHECKING:
    from datetime import datetime

    from splicewright.actions.folder.writing import PaperName
    from splicewright.quantities import System


@click.command("report")
@click.argument("job")
@click.option("--out", type=FILE, required=True, help="PDF to write; it must not be there yet.")
@register_option
@today_option
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

    with opened(where) as register:
        made = report_on_job(register, find_job(register, job), moment_of(today), units, paper)
    write_new(out, made)
    click.echo(f"Report: {out}")
