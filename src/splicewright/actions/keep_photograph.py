"""Keep a photograph: decoded, made plain, and named by its digest."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from splicewright.store import Register


def keep_photograph(register: Register, data: bytes) -> str:
    """Keep a photograph and give its digest; a fact "photograph added" then names it.

    Parameters
    ----------
    register : where to
    data : as the camera made it; where and with what it was taken is not kept

    Raises
    ------
    InputError
        It is no photograph that can be decoded, or too large.
    """
    from splicewright.sheets.photograph import MEDIA_TYPE, tidy_photograph

    return register.keep(tidy_photograph(data), MEDIA_TYPE)
