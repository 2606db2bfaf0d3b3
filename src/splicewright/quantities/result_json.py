"""Reading a result back from the JSON it was kept as."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from pydantic import TypeAdapter

_Kept = TypeVar("_Kept")


def read_kept(adapter: TypeAdapter[_Kept], text: str | bytes, label: str) -> _Kept:
    """Read a result back.

    adapter : of its type
    text : JSON, as the result was written
    label : names it in the message, such as "plan of format 1"
    Raises InputError: the text is no such result; names the first place where it is not.
    """
    from pydantic import ValidationError

    try:
        return adapter.validate_json(text)
    except ValidationError as error:
        kept, wanted = _format_of(text), label.rsplit(" ", 1)[-1]
        if wanted.isdigit() and kept is not None and str(kept) != wanted:
            earlier = f"is of format {kept}, kept by another version, no {label}: make it again"
            raise InputError(Fault("format", earlier)) from None
        first = error.errors(include_url=False)[0]
        key = ".".join(str(part) for part in first["loc"])
        raise InputError(Fault(key, f"is no {label}: {first['msg']}")) from None


def _format_of(text: str | bytes) -> int | None:
    """The format that a kept result names; None where it names none."""
    import json

    try:
        kept = json.loads(text)
    except ValueError:
        return None
    number = kept.get("format") if isinstance(kept, dict) else None
    return number if isinstance(number, int) else None
