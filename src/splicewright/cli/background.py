"""background: a worker alone."""

from __future__ import annotations

import click

from splicewright.cli.answers import answering, count_option
from splicewright.cli.opening import register_option


@click.command("background")
@count_option("--threads", 1, 16, 1, "How many tasks are done at the same time.")
@click.option(
    "--patience",
    type=click.FloatRange(1, 3600),
    default=15.0,
    show_default=True,
    help="Seconds without a sign of life after which another worker's task is taken up.",
)
@click.option("--while-parent", is_flag=True, help="Also stop when standard input is closed.")
@register_option
@answering
def background_command(threads: int, patience: float, while_parent: bool, where: str) -> None:
    """Do background tasks until stopped: imports, bundles of job folders, forecasts.

    `splicewright serve` starts one of these by itself; start more where there is much to do.
    """
    import gc
    import logging

    from splicewright.background.worker import run_worker
    from splicewright.store.database.opening import data_folder

    gc.enable()  # `run` stops it for commands that live for a second
    logging.basicConfig(level=logging.WARNING, format="%(asctime)s %(name)s %(message)s")
    run_worker(
        where or data_folder() / "register.sqlite",
        threads=threads,
        patience=patience,
        while_parent=while_parent,
    )
