"""The register that a command works with: where it is, and who records."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from splicewright.store.progress import Tell
    from splicewright.store.sql.register import SqlRegister


def progress() -> Tell:
    """Says now and then on the error channel how far long work is."""
    from splicewright.store.progress import now_and_then

    return now_and_then(lambda line: click.echo(line, err=True))


register_option = click.option(
    "--register",
    "where",
    envvar="SPLICEWRIGHT_REGISTER",
    default="",
    help="File, or postgresql:// URL, of the register; also by SPLICEWRIGHT_REGISTER. Without it: "
    "a file in your data folder.",
)


by_option = click.option(
    "--by", required=True, help="Your name; it is recorded with what you enter."
)


def opened_register(where: str, *, make: bool = False, check: bool = True) -> SqlRegister:
    """The register at a place, or the one in the data folder."""
    from splicewright.store.sql.register import open_register

    return open_register(where or default_register(), make=make, check=check, tell=progress())


def default_register() -> Path:
    """Where the register lies when nobody says."""
    from splicewright.store.database.opening import data_folder

    return data_folder() / "register.sqlite"
