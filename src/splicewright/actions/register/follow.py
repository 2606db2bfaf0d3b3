"""Keep a second register up to date with the first."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from splicewright.store import Head
    from splicewright.store.sql.register import SqlRegister


def follow(register: SqlRegister, to: str | Path) -> tuple[Head, int]:
    """Add to the copy at a file or URL what the register holds beyond it; work may go on.

    The copy holds facts and what they name. Accounts and hooks stand beside the facts: backups
    hold them.

    Returns the end of the copy, and how many facts came. Raises InputError: what lies there is no
    copy of this register. Raises DamagedError: the register's chain does not hold; the copy stays
    as it was.
    """
    return register.follow(to)
