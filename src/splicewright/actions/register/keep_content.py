"""Keep a plan, a conveyor file or a photograph, after a look that it is what it is said to be."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from splicewright.actions.photographs.keep import keep_photograph
from splicewright.errors import Fault, InputError
from splicewright.files.typed_file import InMemory

if TYPE_CHECKING:
    from splicewright.store import Register

_PHOTOGRAPHS = {"image/jpeg", "image/png", "image/webp"}


def keep_content(register: Register, data: bytes, media_type: str, digest: str = "") -> str:
    """Keep a content and give the digest of what is kept; keeping it again is harmless.

    A photograph is decoded and written anew, as one from a phone is: place and camera are not
    kept, so its digest is another than that of what was sent. One that is kept already stays as it
    is.

    media_type : "application/json" (a plan), "application/toml" (a conveyor file), or a photograph
    digest : what the SHA-256 of `data` must be; empty where nobody said
    Raises InputError: it is not what it is said to be, too large, or of a type that is not kept.
    """
    actual = hashlib.sha256(data).hexdigest()
    if digest and actual != digest:
        say = f"the bytes have the SHA-256 {actual}; accepted is the digest of the very bytes sent"
        raise InputError(Fault("digest", say))
    if media_type in _PHOTOGRAPHS:
        there = register.has_content(actual)
        return actual if there else keep_photograph(register, data)
    if media_type == "application/json":
        from splicewright.job import JointPlan

        JointPlan.from_json(data)
    if media_type == "application/toml":
        from splicewright.plant import load_conveyor

        load_conveyor(InMemory("conveyor.toml", data))
    return register.keep(data, media_type)
