"""Photographs kept by their digest."""

from __future__ import annotations

from threading import BoundedSemaphore
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from splicewright.store import Register

_DECODING = BoundedSemaphore(2)
"""Decoding takes up to some 300 MB for a moment: two at once, the others wait."""


def keep_photograph(register: Register, data: bytes) -> str:
    """Keep a photograph and give its digest; a fact "photograph added" then names it.

    data : as the camera made it; where and with what it was taken is not kept
    Raises InputError: it is no photograph that can be decoded, or too large.
    """
    from splicewright.sheets.photographs import MEDIA_TYPE, tidy_photograph

    with _DECODING:
        tidy = tidy_photograph(data)
    return register.keep(tidy, MEDIA_TYPE)
