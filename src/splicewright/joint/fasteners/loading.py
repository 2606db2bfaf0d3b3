"""Fastener range files to ranges, and their JSON Schema."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from splicewright.joint.fasteners.ranges import Range


def load_range(path: Path) -> Range:
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


def read_range(raw: bytes, name: str) -> Range:
    """As `load_range`, for a file that lies in memory; `name` serves the messages."""
    from splicewright.files.toml import parse, with_lines_of
    from splicewright.joint.fasteners.file import RangeFile, build

    with with_lines_of(raw, name):
        return build(parse(raw, RangeFile, name), name)


def load_ranges(paths: tuple[Path, ...]) -> tuple[Range, ...]:
    """Read several range files; a folder stands for the *.toml files in it, in order of name.

    Raises
    ------
    InputError
        As `load_range`.
    """
    files: list[Path] = []
    for path in paths:
        files.extend(sorted(path.glob("*.toml")) if path.is_dir() else [path])
    return tuple(load_range(file) for file in files)


def range_schema() -> dict[str, Any]:
    """The JSON Schema of a range file."""
    from splicewright.joint.fasteners.file import RangeFile

    return RangeFile.model_json_schema(by_alias=True)
