"""The register: appended facts, and the present state derived from them."""

from splicewright.store.facts import Correction, Fact, Stored, typed_value
from splicewright.store.kinds import Stream, What
from splicewright.store.present import State
from splicewright.store.refusals import BusyError, ConflictError, DamagedError, FullError
from splicewright.store.register import (
    Content,
    DueItem,
    Head,
    Receipt,
    Register,
    Verified,
)

__all__ = [
    "BusyError",
    "ConflictError",
    "Content",
    "Correction",
    "DamagedError",
    "DueItem",
    "Fact",
    "FullError",
    "Head",
    "Receipt",
    "Register",
    "State",
    "Stored",
    "Stream",
    "Verified",
    "What",
    "typed_value",
]
