"""Backups into a folder: each restored beside and verified after writing, old ones thinned out."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from splicewright.actions.register.backup import back_up, restore
from splicewright.errors import InputError, OutputError

if TYPE_CHECKING:
    from splicewright.store import Head, Register

HEADS = "heads.txt"
"""Beside the backups: when, which file, its head. Keep a copy elsewhere: it shows later changes."""
_STAMP = "%Y%m%dT%H%M%SZ"
_NAME = re.compile(r"register-(\d{8}T\d{6}Z)\.backup")


@dataclass(frozen=True, slots=True)
class Retention:
    """How many are kept: the newest of each of so many days, ISO weeks and months that have one.

    The newest of all is always kept.
    """

    days: int = 7
    weeks: int = 5
    months: int = 12


@dataclass(frozen=True, slots=True)
class Backed:
    """A backup that was written and holds: where, its head, and what was removed for it."""

    path: Path
    head: Head
    removed: tuple[Path, ...]


def back_up_into(register: Register, folder: Path, keep: Retention, now: datetime) -> Backed:
    """Write a backup into a folder, restore it beside, verify that, then thin out the old ones.

    Parameters
    ----------
    register : work in it may go on
    folder : made when missing; files of other names in it are left alone
    keep : how many stay
    now : the moment; names the file

    Raises
    ------
    OutputError
        It cannot be written, or what was written does not hold: nothing was removed then, and the
        file is kept under a name that ends in ".damaged".
    """
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError as error:
        msg = f"{folder.name} cannot be made: {error.strerror}; nothing was written"
        raise OutputError(msg) from None
    path = folder / f"register-{now.astimezone(UTC).strftime(_STAMP)}.backup"
    head = back_up(register, path)
    _prove(path, head)
    removed = tuple(folder / name for name in superseded((p.name for p in _there(folder)), keep))
    try:
        with (folder / HEADS).open("a", encoding="utf-8") as heads:
            heads.write(f"{now.astimezone(UTC).isoformat(timespec='seconds')} {path.name} {head}\n")
        for old in removed:
            old.unlink(missing_ok=True)
    except OSError as error:
        msg = f"{path.name} was written and holds; {folder.name} cannot be kept: {error.strerror}"
        raise OutputError(msg) from None
    return Backed(path, head, removed)


def superseded(names: Iterable[str], keep: Retention) -> list[str]:
    """Names of backups that no day, week or month keeps any more, the oldest first."""
    there = sorted(name for name in names if _NAME.fullmatch(name))
    kept = set(there[-1:])
    spans: tuple[tuple[int, Callable[[datetime], Hashable]], ...] = (
        (keep.days, lambda t: t.date()),
        (keep.weeks, lambda t: t.isocalendar()[:2]),
        (keep.months, lambda t: (t.year, t.month)),
    )
    for most, of in spans:
        newest = {of(_moment(name)): name for name in there}
        kept |= set(list(newest.values())[-most:] if most else ())
    return [name for name in there if name not in kept]


def _prove(path: Path, head: Head) -> None:
    """Restore a backup beside itself; every fact and content of the copy is verified by that."""
    from splicewright.store.refusals import DamagedError

    try:
        with tempfile.TemporaryDirectory(prefix=".proof-", dir=path.parent) as beside:
            found, _ = restore(path, Path(beside) / "register.sqlite")
    except (DamagedError, InputError) as error:
        why = str(error)
    else:
        if found == head:
            return
        why = f"its chain ends at {found.seq} and not at {head.seq}"
    path.rename(path.with_name(f"{path.name}.damaged"))
    msg = (
        f"{path.name} was written and does not hold ({why}): kept as {path.name}.damaged, no older "
        "backup was removed; check the register with: splicewright register verify"
    )
    raise OutputError(msg)


def _there(folder: Path) -> list[Path]:
    return [p for p in folder.iterdir() if _NAME.fullmatch(p.name) and p.is_file()]


def _moment(name: str) -> datetime:
    match = _NAME.fullmatch(name)
    assert match is not None
    return datetime.strptime(match[1], _STAMP).replace(tzinfo=UTC)
