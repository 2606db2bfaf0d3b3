"""Back up the register, and bring it back."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from splicewright.store import Head, Register


def back_up(register: Register, to: Path) -> Head:
    """Write a whole copy to a new file that only its owner can read; work may go on.

    Returns the head of the copy. Written down elsewhere, it proves later that nothing was changed.
    Raises OutputError: the file exists or cannot be written.
    """
    return register.back_up(to)


def restore(backup: Path, where: str | Path, *, replace: bool = False) -> tuple[Head, Path | None]:
    """Bring a register back from a backup or dump; the backup is checked whole first.

    backup : what `back_up` or `dump_register` wrote
    where : file or URL of the register
    replace : put an existing file aside first; it is never deleted
    Returns the head of what was restored, and where the old file lies now, None when there was
    none.
    """
    from splicewright.store.sql.restoring import restore as bring_back

    return bring_back(backup, where, replace=replace)
