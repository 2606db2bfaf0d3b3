"""Reading a TOML file with all its faults at once, each with its key and line."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

from splicewright.errors import Fault, InputError
from splicewright.files.typed_file import Readable, as_text, read_bytes

if TYPE_CHECKING:
    from pydantic import BaseModel
    from pydantic_core import ErrorDetails

LARGEST = 1_000_000
"""Files above this many bytes are refused: no conveyor needs more."""
DEEPEST = 32
"""Parts of a key, such as a.b.c. The reader's time grows with their square; ours have up to 4."""
MOST_FAULTS = 100
"""Faults of one file told at once; of more, how many."""

_PART = r"(?:[A-Za-z0-9_-]++|\"[^\"\n]*+\"|'[^'\n]*+')"
_DEEP = re.compile(rf"(?<![A-Za-z0-9_-])(?:{_PART}[ \t]*+\.[ \t]*+){{{DEEPEST}}}")
_TEXTS = re.compile(
    r"""(?s:"{3}(?:\\.|(?!"{3})[^\\])*+(?:"{3}|\Z))|(?s:'{3}(?:(?!'{3}).)*+(?:'{3}|\Z))"""
    r"""|"(?:\\.|[^"\\\n])*+"?|'[^'\n]*+'?|#[^\n]*+"""
)
_Model = TypeVar("_Model", bound="BaseModel")


def load(path: Readable, model: type[_Model]) -> _Model:
    """Read a TOML file into its model.

    Raises InputError: missing, too large, not UTF-8, not TOML, or with fields that cannot be used;
    every fault names file, line and key.
    """
    advice = "a file of this kind is a few kB"
    name = path.name
    text = as_text(read_bytes(path, LARGEST, "a TOML file", advice), name)
    if _DEEP.search(text) and (deep := _DEEP.search(bare := _without_texts(text))):
        say = f"a key here has more than {DEEPEST} parts; accepted are the keys of docs/files.md"
        raise InputError(Fault("", say, name, bare.count("\n", 0, deep.start()) + 1))
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        place = re.search(r" \(at line (\d+), column \d+\)$", str(error))
        line = int(place.group(1)) if place else None
        wording = str(error) if place is None else str(error)[: place.start()]
        raise InputError(Fault("", f"is not valid TOML: {wording}", name, line)) from None
    except RecursionError:
        raise InputError(Fault("", "is nested deeper than any file of ours", name)) from None
    except ValueError:  # a number of thousands of digits
        raise InputError(Fault("", "holds a number that is too long to be read", name)) from None
    return check(data, model, name, text)


def _without_texts(text: str) -> str:
    """The same lines with nothing in texts and remarks: dots in them part no key."""
    return _TEXTS.sub(lambda match: '""' + "\n" * match[0].count("\n"), text)


def check(data: dict[str, Any], model: type[_Model], name: str, text: str = "") -> _Model:
    """Check data read elsewhere against the model; `name` and `text` serve the messages.

    Raises InputError: as `load`.
    """
    from pydantic import ValidationError

    try:
        return model.model_validate(data)
    except ValidationError as error:
        details = error.errors(include_url=False)
        keys = _keys_of(text)
        faults = [_fault(detail, name, keys) for detail in details[:MOST_FAULTS]]
        if len(details) > MOST_FAULTS:
            more = f"{len(details) - MOST_FAULTS} more faults; mend these first"
            faults.append(Fault("", more, name))
        raise InputError(*faults) from None


def _fault(detail: ErrorDetails, name: str, keys: list[_Place]) -> Fault:
    loc = detail["loc"]
    path = [part for n, part in enumerate(loc) if not _is_tag(n, loc)]
    key = ".".join(f"{part + 1}" if isinstance(part, int) else str(part) for part in path)
    return Fault(key, sentence_of(detail), name, _line_among(keys, path))


_TAGS = {"run", "pulley", "idler tilt", "skirts", "cleaner", "plough", "allowance", "force"}


def _is_tag(position: int, loc: tuple[int | str, ...]) -> bool:
    """pydantic puts the tag of a union into the path; the file has no such key there."""
    return loc[position] in _TAGS and position > 0 and isinstance(loc[position - 1], int)


def sentence_of(detail: ErrorDetails) -> str:
    """What is wrong with a field, and what is accepted, by what pydantic found."""
    kind, given, context = detail["type"], detail["input"], detail.get("ctx", {})
    if kind == "entry":
        return str(detail["msg"])
    if kind == "missing":
        return "is missing; it must be given"
    if kind == "extra_forbidden":
        return "is no key of this file; docs/files.md lists those that are"
    if kind in {"enum", "literal_error"}:
        return f"{given!r} is not known; accepted is {context['expected']}"
    if kind == "union_tag_not_found":
        return "has no kind; docs/files.md lists those that are accepted"
    if kind == "union_tag_invalid":
        return f"kind {context['tag']!r} is not known; accepted is {context['expected_tags']}"
    shown = repr(given) if isinstance(given, str | int | float | bool) else "this"
    return f"{shown} cannot be used: {detail['msg'][0].lower()}{detail['msg'][1:]}"


_KEY = re.compile(r"[A-Za-z0-9_.\"' -]+")


def _header_of(line: str) -> tuple[str, bool] | None:
    """The path of a [table] or [[array]] line, and whether it is an array."""
    line = line.strip()
    if not line.startswith("["):
        return None
    double = line.startswith("[[")
    path, closed, _ = line[2 if double else 1 :].partition("]")
    return (path.strip(), double) if closed and path.strip() and "#" not in path else None


def _key_of(line: str) -> str | None:
    """The key of a key = value line."""
    key, equals, _ = line.partition("=")
    key = key.strip()
    return key if equals and _KEY.fullmatch(key) else None


def line_of(text: str, path: list[int | str]) -> int | None:
    """The line of `text` (from 1) on which the key of `path` stands; else of its table.

    What stands inside inline tables is found at the line of the outer key, what is wrong with a
    whole array at its first table.
    """
    return _line_among(_keys_of(text), path)


_Place = tuple[int, list[int | str], bool]
"""A line, what stands on it, and whether that is the first table of an array."""


def _keys_of(text: str) -> list[_Place]:
    """The [table], [[array]] and key = value lines, read once for all faults."""
    counts: dict[str, int] = {}
    table: list[int | str] = []
    places: list[_Place] = []
    for number, line in enumerate(text.splitlines(), 1):
        header, key = _header_of(line), _key_of(line)
        if header:
            header_path, double = header
            table = []
            names = [part.strip(" \"'") for part in header_path.split(".")]
            for place, part in enumerate(names, 1):
                table.append(part)
                joined = ".".join(names[:place])
                if double and place == len(names):
                    counts[joined] = counts.get(joined, -1) + 1
                    if counts[joined] == 0:
                        places.append((number, list(table), True))
                if joined in counts:
                    table.append(counts[joined])
            places.append((number, table, False))
        elif key:
            here = [*table, *(part.strip(" \"'") for part in key.split("."))]
            places.append((number, here, False))
    return places


def _line_among(keys: list[_Place], path: list[int | str]) -> int | None:
    best, depth = None, 0
    for number, here, first in keys:
        if first:
            if best is None and path == here:
                best = number
        elif len(here) > depth and path[: len(here)] == here:
            best, depth = number, len(here)
    return best


@contextmanager
def with_lines(path: Readable) -> Iterator[None]:
    """Give faults of this file that name a key but no line the line of that key, and its name."""
    try:
        yield
    except InputError as error:
        if all(fault.line is not None for fault in error.faults):
            raise
        try:
            raw = path.read_bytes()
        except OSError:
            raise error from None
        raise _all_placed(error, raw, path.name) from None


def _all_placed(error: InputError, raw: bytes, name: str) -> InputError:
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return error
    keys = _keys_of(text)
    return InputError(*(_placed(fault, keys, name) for fault in error.faults))


def _placed(fault: Fault, keys: list[_Place], name: str) -> Fault:
    if fault.line is not None or fault.file not in {"", name}:
        return fault
    if not fault.key:
        return replace(fault, file=name)
    path = [int(p) - 1 if p.isdigit() else p for p in fault.key.split(".")]
    return replace(fault, file=name, line=_line_among(keys, path))
