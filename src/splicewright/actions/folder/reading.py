"""Reading back a folder that a command wrote."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from splicewright.errors import Fault, InputError

_Result = TypeVar("_Result")


def read_result(source: Path, name: str, parse: Callable[[bytes], _Result]) -> _Result | None:
    """The result the user points at, a folder or its JSON file; None where there is none.

    name : of the JSON file in such a folder
    Raises InputError: it cannot be read.
    """
    file = source / name if source.is_dir() else source
    if file.name != name or not file.is_file():
        return None
    try:
        return parse(file.read_bytes())
    except OSError as error:
        raise InputError(Fault("", f"cannot be read: {error.strerror}", str(file))) from None
    except InputError as error:
        raise InputError(*(Fault(f.key, f.sentence, file.name) for f in error.faults)) from None
