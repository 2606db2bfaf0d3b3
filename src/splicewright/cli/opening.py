"""The register that a command works with: where it is, and who records."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from splicewright.store.sql.register import SqlRegister


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

    return open_register(where or default_register(), make=make, check=check)


def default_register() -> Path:
    """Where the register lies when nobody says."""
    from splicewright.store.database.opening import data_folder

    return data_folder() / "register.sqlite"
