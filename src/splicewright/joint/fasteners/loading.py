"""Fastener range files to ranges, and their JSON Schema."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from splicewright.files.typed_file import Readable
from splicewright.joint.fasteners.ranges import Range


def load_range(path: Readable) -> Range:
    """Read a fastener range file (TOML).

    Raises
    ------
    InputError
        Anything wrong with the file, every fault with key and line.
    """
    from splicewright.files.toml import load, with_lines
    from splicewright.joint.fasteners.file import RangeFile, build

    with with_lines(path):
        return build(load(path, RangeFile), path.name)


def load_ranges(paths: tuple[Readable, ...]) -> tuple[Range, ...]:
    """Read several range files; a folder stands for the *.toml files in it, in order of name.

    Raises
    ------
    InputError
        As `load_range`.
    """
    files: list[Readable] = []
    for path in paths:
        if isinstance(path, Path) and path.is_dir():
            files.extend(sorted(path.glob("*.toml")))
        else:
            files.append(path)
    return tuple(load_range(file) for file in files)


def range_schema() -> dict[str, Any]:
    """The JSON Schema of a range file."""
    from splicewright.joint.fasteners.file import RangeFile

    return RangeFile.model_json_schema(by_alias=True)
