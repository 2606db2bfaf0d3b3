"""Writing so that a crash, a full disk or a kill leaves the old state or the new, never half."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Literal

from splicewright.errors import OutputError


def replace_folder(folder: Path, files: Mapping[str, bytes], known: str) -> tuple[Path, ...]:
    """Put `files` into `folder`, all or none.

    The files are written and flushed in a new folder beside it, which then takes its name. An
    existing folder is replaced only if it is empty or holds the file `known`: it is then one of
    ours.

    folder : to make or replace
    files : name -> content
    known : name of the file that marks a folder as ours
    Raises OutputError: the folder holds something else, or cannot be written.
    """
    folder = folder.absolute()
    if folder.exists() and not folder.is_dir():
        msg = f"{folder.name} is a file; name a folder to write into"
        raise OutputError(msg)
    if folder.is_dir() and any(folder.iterdir()) and not (folder / known).is_file():
        msg = f"{folder.name} holds other things and no {known}; name a new or empty folder"
        raise OutputError(msg)
    fresh: Path | None = None
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        fresh = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", dir=folder.parent))
        fresh.chmod(0o755)
        for name, content in files.items():
            _write(fresh / name, content)
        _flush_folder(fresh)
        _swap(fresh, folder)
        _flush_folder(folder.parent)
    except OSError as error:
        if fresh is not None:
            shutil.rmtree(fresh, ignore_errors=True)
        msg = f"{folder.name} cannot be written: {error.strerror}; nothing was changed"
        raise OutputError(msg) from None
    return tuple(folder / name for name in files)


def as_file(answer: object) -> bytes:
    """An answer in plain data as the JSON file beside a report."""
    return json.dumps(answer, indent=1, ensure_ascii=False).encode()


def write_new(path: Path, content: str | bytes) -> None:
    """Write a file that must not exist yet.

    Raises OutputError: it exists, or cannot be written.
    """
    try:
        with path.open("xb") as file:
            file.write(content.encode() if isinstance(content, str) else content)
    except FileExistsError:
        msg = f"{path.name} is already there; it was not touched"
        raise OutputError(msg) from None
    except OSError as error:
        msg = f"{path.name} cannot be written: {error.strerror}"
        raise OutputError(msg) from None


def _write(path: Path, content: bytes) -> None:
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _flush_folder(folder: Path) -> None:
    with contextlib.suppress(OSError):  # not every file system can
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _swap(fresh: Path, folder: Path) -> None:
    """Give `fresh` the name `folder`; the old one goes only when the new one stands."""
    if not folder.exists():
        fresh.rename(folder)
        return
    old = Path(tempfile.mkdtemp(prefix=f".{folder.name}.old.", dir=folder.parent)) / folder.name
    folder.rename(old)
    try:
        fresh.rename(folder)
    except OSError:
        old.rename(folder)
        old.parent.rmdir()
        raise
    shutil.rmtree(old.parent, ignore_errors=True)


PaperName = Literal["A4", "Letter"]
