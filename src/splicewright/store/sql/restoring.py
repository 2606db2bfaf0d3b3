"""Bringing a register back from a backup: checked whole before it takes the place of anything."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from splicewright.errors import Fault, InputError, OutputError
from splicewright.store.database import opening
from splicewright.store.refusals import DamagedError
from splicewright.store.register import Head
from splicewright.store.sql.register import SqlRegister, open_register

_SQLITE = b"SQLite format 3\x00"
_BESIDE = ("", "-wal", "-shm")


def restore(backup: Path, where: str | Path, *, replace: bool = False) -> tuple[Head, Path | None]:
    """Bring the register at `where` back from a backup or a dump.

    Parameters
    ----------
    backup : a SQLite file from `back_up`, or JSON lines from `dump`
    where : file or URL, as `open_register`; must not hold facts unless `replace`
    replace : put an existing SQLite file aside under a new name first

    Returns
    -------
    The head of what was restored, and where the old file was put, None when there was none.

    Raises
    ------
    InputError
        The backup cannot be read, or there is something in its place.
    DamagedError
        The backup is damaged or tampered with; nothing was changed.
    """
    kind = _kind(backup)
    url = opening.read_url(where)
    if url.drivername != "sqlite":
        if kind == "sqlite":
            say = "a SQLite backup is restored into a file; for PostgreSQL take a dump"
            raise InputError(Fault("register", say))
        with open_register(where) as register:
            return _load(register, backup), None
    target = Path(str(url.database))
    if target.exists() and not replace and not _empty(target):
        say = f"{target.name} is already there; --replace puts it aside and restores"
        raise InputError(Fault("register", say))
    return _into_file(backup, kind, target)


def _into_file(backup: Path, kind: str, target: Path) -> tuple[Head, Path | None]:
    try:
        target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        folder = Path(tempfile.mkdtemp(prefix=f".{target.name}.", dir=target.parent))
    except OSError as error:
        msg = f"{target.name} cannot be written: {error.strerror}; nothing was changed"
        raise OutputError(msg) from None
    fresh = folder / target.name
    try:
        if kind == "sqlite":
            shutil.copyfile(backup, fresh)
            fresh.chmod(0o600)
        with open_register(fresh) as register:
            head = _load(register, backup) if kind == "dump" else register.head()
            faults = register.verify().faults
        if faults:
            msg = f"{backup.name} is not as it was written: {faults[0]}; nothing was changed"
            raise DamagedError(msg)
        with fresh.open("rb+") as file:
            os.fsync(file.fileno())
        aside = _swap(fresh, target)
    except OSError as error:
        msg = f"{target.name} cannot be written: {error.strerror}"
        raise OutputError(msg) from None
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    return head, aside


def _swap(fresh: Path, target: Path) -> Path | None:
    """Give the fresh register the name of the old one, which is put back if that fails."""
    aside = _put_aside(target)
    try:
        fresh.rename(target)
    except OSError:
        if aside is not None:
            _rename(aside, target)
        raise
    return aside


def _rename(old: Path, new: Path) -> None:
    """Rename a register with what SQLite keeps beside it."""
    for ending in _BESIDE:
        with contextlib.suppress(FileNotFoundError):
            old.with_name(old.name + ending).rename(new.with_name(new.name + ending))


def _put_aside(target: Path) -> Path | None:
    """Give an existing register another name, with what SQLite keeps beside it."""
    if not target.exists():
        return None
    if _empty(target):
        for ending in _BESIDE:
            with contextlib.suppress(FileNotFoundError):
                target.with_name(target.name + ending).unlink()
        return None
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S.%f")
    aside = target.with_name(f"{target.name}.before-{stamp}")
    _rename(target, aside)
    return aside


def _empty(target: Path) -> bool:
    """Whether a file is a register in which nothing was ever recorded."""
    if target.stat().st_size == 0:
        return True
    try:
        with open_register(target) as register:
            return register.head().seq == 0
    except (DamagedError, InputError):
        return False


def _load(register: SqlRegister, backup: Path) -> Head:
    try:
        with backup.open(encoding="utf-8") as lines:
            return register.load(lines)
    except UnicodeDecodeError:
        raise InputError(Fault("", "is no dump of a register", backup.name)) from None


def _kind(backup: Path) -> str:
    try:
        with backup.open("rb") as file:
            return "sqlite" if file.read(len(_SQLITE)) == _SQLITE else "dump"
    except FileNotFoundError:
        raise InputError(Fault("", f"there is no file {backup.name}", backup.name)) from None
    except OSError as error:
        say = f"cannot be read: {error.strerror}"
        raise InputError(Fault("", say, backup.name)) from None
