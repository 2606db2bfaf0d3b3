"""Writing TOML: a file made of answers, and a file with some of its values changed.

What a person wrote around the values stays: a value is changed in its line where that gives just
what is meant, and the whole is written anew, without comments, only where it does not.
"""

from __future__ import annotations

import itertools
import json
import re
import tomllib
from collections.abc import Mapping
from copy import deepcopy
from typing import Any

from splicewright.files.toml import line_of

Path = tuple[str | int, ...]
"""Keys from the outermost table inwards; places in an array count from 0."""
_BARE = re.compile(r"[A-Za-z0-9_-]+")


def with_values(text: str, changes: Mapping[Path, Any]) -> str:
    """A file with other values; None takes a key out.

    text : valid TOML
    changes : by their paths; a value is a text, a number, a truth value, a list or a table
    """
    for path, value in changes.items():
        meant = deepcopy(tomllib.loads(text))
        _set(meant, path, value)
        for candidate in (_in_its_line(text, path, value), _under_its_header(text, path, value)):
            if candidate is not None and _is(candidate, meant):
                text = candidate
                break
        else:
            text = toml_text(meant)
    return text


def toml_text(data: Mapping[str, Any]) -> str:
    """Tables as TOML; reading it gives the same data back."""
    return "\n".join(_table(data, ())).lstrip("\n") + "\n"


def _is(text: str, meant: dict[str, Any]) -> bool:
    try:
        return tomllib.loads(text) == meant
    except tomllib.TOMLDecodeError:
        return False


def _set(data: dict[str, Any], path: Path, value: Any) -> None:
    at: Any = data
    for part, below in itertools.pairwise(path):
        if isinstance(part, int):
            while len(at) <= part:
                at.append({})
            at = at[part]
        else:
            at = at.setdefault(part, [] if isinstance(below, int) else {})
    last = path[-1]
    if value is None and isinstance(at, dict):
        at.pop(last, None)
    else:
        at[last] = value


def _in_its_line(text: str, path: Path, value: Any) -> str | None:
    """The file with the line of that key changed; None where there is no such line."""
    number = line_of(text, list(path))
    lines = text.splitlines()
    if number is None:
        return None
    line = lines[number - 1]
    key = re.escape(str(path[-1]))
    match = re.match(rf'^(\s*{key}\s*=\s*)("[^"]*"|[^#"]*?)(\s*(#.*)?)$', line)
    if match is None:
        return None
    if value is None:
        del lines[number - 1]
    else:
        lines[number - 1] = match[1] + _value(value) + match[3]
    return "\n".join(lines) + "\n"


def _under_its_header(text: str, path: Path, value: Any) -> str | None:
    """The file with a new line under the header of its table; None where there is none."""
    if value is None or len(path) < 2:
        return None
    number = line_of(text, list(path[:-1]))
    if number is None:
        return None
    lines = text.splitlines()
    lines.insert(number, f"{_key(str(path[-1]))} = {_value(value)}")
    return "\n".join(lines) + "\n"


def _table(data: Mapping[str, Any], path: tuple[str, ...]) -> list[str]:
    lines = [f"{_key(k)} = {_value(v)}" for k, v in data.items() if not _is_table(v)]
    for key, value in data.items():
        if not _is_table(value):
            continue
        if isinstance(value, Mapping):
            below = (*path, key)
            lines += ["", f"[{'.'.join(map(_key, below))}]", *_table(value, below)]
        else:
            below = (*path, key)
            for row in value:
                lines += ["", f"[[{'.'.join(map(_key, below))}]]", *_table(row, below)]
    return lines


def _is_table(value: Any) -> bool:
    if isinstance(value, Mapping):
        return not {"value", "measured", "note"} & set(value)  # a number with its story
    return isinstance(value, list) and bool(value) and all(isinstance(v, Mapping) for v in value)


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else _text(key)


def _text(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    return repr(value)
