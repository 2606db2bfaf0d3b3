"""Keep a plan, a conveyor file or a photograph, after a look that it is what it is said to be."""

from __future__ import annotations

import hashlib
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.store import Register

_BEGINS: dict[str, tuple[tuple[int, bytes], ...]] = {
    "image/jpeg": ((0, b"\xff\xd8\xff"),),
    "image/png": ((0, b"\x89PNG\r\n\x1a\n"), (12, b"IHDR")),
    "image/webp": ((0, b"RIFF"), (8, b"WEBP")),
}
"""How files of each kind begin: place and bytes, as their specifications say."""


def keep_content(register: Register, data: bytes, media_type: str, digest: str = "") -> str:
    """Keep a content and give its digest; keeping it again is harmless.

    Parameters
    ----------
    register : where
    data : the whole file
    media_type : "application/json" (a plan), "application/toml" (a conveyor file), or a photograph
    digest : what its SHA-256 must be; empty where nobody said

    Raises
    ------
    InputError
        It is not what it is said to be, too large, or of a type that is not kept.
    """
    found = hashlib.sha256(data).hexdigest()
    if digest and found != digest:
        say = f"the bytes have the SHA-256 {found}; accepted is the digest of the very bytes sent"
        raise InputError(Fault("digest", say))
    begins = _BEGINS.get(media_type)
    if begins is not None and not all(data[at:].startswith(sign) for at, sign in begins):
        say = f"the bytes are no {media_type}; accepted is a photograph of the type that is named"
        raise InputError(Fault("content", say))
    if media_type == "application/json":
        from splicewright.job import JointPlan

        JointPlan.from_json(data)
    if media_type == "application/toml":
        from splicewright.plant import load_conveyor

        with tempfile.TemporaryDirectory(prefix="splicewright-") as folder:
            file = Path(folder) / "conveyor.toml"
            file.write_bytes(data)
            load_conveyor(file)
    return register.keep(data, media_type)
