"""Backups that keep themselves: each restored beside and verified, old ones thinned out."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable, Hashable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

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
    """A backup that was written and holds: under which name, its head, and what was removed."""

    name: str
    head: Head
    removed: tuple[str, ...]


class Shelf(Protocol):
    """Where backups are kept. Errors: `OutputError`."""

    def write(self, register: Register, name: str) -> Head:
        """Write a backup under a name."""

    def fetch(self, name: str, beside: Path) -> Path:
        """A backup as it lies there, as a file; `beside` is a folder for it that is removed."""

    def workshop(self) -> Path | None:
        """Where there is room to restore one beside it; None for the system's place."""

    def set_aside(self, name: str) -> None:
        """Keep one that does not hold under a name that ends in ".damaged"."""

    def names(self) -> list[str]:
        """What lies there, other things too."""

    def finish(self, line: str, removed: Sequence[str]) -> None:
        """Note a backup that holds in the list of heads, then remove old ones."""


class Folder:
    """Backups in a folder of this machine, or one that is mounted; made when missing."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def write(self, register: Register, name: str) -> Head:
        """Write a backup under a name."""
        try:
            self.path.mkdir(parents=True, exist_ok=True, mode=0o700)
        except OSError as error:
            msg = f"{self.path.name} cannot be made: {error.strerror}; nothing was written"
            raise OutputError(msg) from None
        return back_up(register, self.path / name)

    def fetch(self, name: str, beside: Path) -> Path:
        """The file itself."""
        return self.path / name

    def workshop(self) -> Path | None:
        """The folder: there was room for the backup."""
        return self.path

    def set_aside(self, name: str) -> None:
        """Rename it."""
        (self.path / name).rename(self.path / f"{name}.damaged")

    def names(self) -> list[str]:
        """Files."""
        return [p.name for p in self.path.iterdir() if p.is_file()] if self.path.is_dir() else []

    def finish(self, line: str, removed: Sequence[str]) -> None:
        """Note it in the list of heads, then remove old ones."""
        try:
            with (self.path / HEADS).open("a", encoding="utf-8") as heads:
                heads.write(line)
            for name in removed:
                (self.path / name).unlink(missing_ok=True)
        except OSError as error:
            msg = f"a backup was written and holds; {self.path.name}: {error.strerror}"
            raise OutputError(msg) from None


def back_up_onto(register: Register, shelf: Shelf, keep: Retention, now: datetime) -> Backed:
    """Write a backup, restore it beside, verify that, then thin out the old ones.

    register : work in it may go on
    shelf : where they are kept; things of other names there are left alone
    keep : how many stay
    now : the moment; names the backup, or the next second does that names none yet
    Raises OutputError: it cannot be written, or what was written does not hold: nothing was removed
    then, and it is kept under a name that ends in ".damaged".
    """
    there: set[str] = set()
    with suppress(OutputError):  # what is written next tells it better
        there.update(shelf.names())
    while (name := f"register-{now.astimezone(UTC).strftime(_STAMP)}.backup") in there:
        now += timedelta(seconds=1)
    head = shelf.write(register, name)
    _prove(shelf, name, head)
    removed = tuple(superseded(shelf.names(), keep))
    moment = now.astimezone(UTC).isoformat(timespec="seconds")
    shelf.finish(f"{moment} {name} {head}\n", removed)
    return Backed(name, head, removed)


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


def _prove(shelf: Shelf, name: str, head: Head) -> None:
    """Restore a backup beside itself; every fact and content of the copy is verified by that."""
    from splicewright.store.refusals import DamagedError

    try:
        with tempfile.TemporaryDirectory(prefix=".proof-", dir=shelf.workshop()) as beside:
            there = shelf.fetch(name, Path(beside))
            restored, _ = restore(there, Path(beside) / "register.sqlite")
    except (DamagedError, InputError) as error:
        why = str(error)
    else:
        if restored == head:
            return
        why = f"its chain ends at {restored.seq} and not at {head.seq}"
    shelf.set_aside(name)
    msg = (
        f"{name} was written and does not hold ({why}): kept as {name}.damaged, no older "
        "backup was removed; check the register with: splicewright register verify"
    )
    raise OutputError(msg)


def _moment(name: str) -> datetime:
    match = _NAME.fullmatch(name)
    assert match is not None
    return datetime.strptime(match[1], _STAMP).replace(tzinfo=UTC)
