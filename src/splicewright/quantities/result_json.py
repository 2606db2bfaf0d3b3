"""Reading a result back from the JSON it was kept as."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from pydantic import TypeAdapter

_Kept = TypeVar("_Kept")


def read_kept(adapter: TypeAdapter[_Kept], text: str | bytes, what: str) -> _Kept:
    """Read a result back.

    Parameters
    ----------
    adapter : of its type
    text : JSON, as the result was written
    what : names it in the message, such as "plan of format 1"

    Raises
    ------
    InputError
        The text is no such result; names the first place where it is not.
    """
    from pydantic import ValidationError

    try:
        return adapter.validate_json(text)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        key = ".".join(str(part) for part in first["loc"])
        raise InputError(Fault(key, f"is no {what}: {first['msg']}")) from None
