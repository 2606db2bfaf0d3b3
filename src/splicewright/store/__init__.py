"""The register: appended facts, and the present state derived from them."""

from splicewright.store.accounts import (
    Account,
    AccountChange,
    Accounts,
    Change,
    Invitation,
    Key,
    Scope,
    Session,
    Token,
    Units,
)
from splicewright.store.authority import CONSOLE, NOBODY, Actor
from splicewright.store.facts import Correction, Fact, Stored, typed_value
from splicewright.store.kinds import Stream, What
from splicewright.store.plant_facts import PersonRole
from splicewright.store.present import State
from splicewright.store.refusals import (
    BusyError,
    ConflictError,
    DamagedError,
    FullError,
    NotAllowedError,
    TooOftenError,
)
from splicewright.store.register import (
    Content,
    DueItem,
    Head,
    LeftItem,
    Receipt,
    Register,
    Verified,
)

__all__ = [
    "CONSOLE",
    "NOBODY",
    "Account",
    "AccountChange",
    "Accounts",
    "Actor",
    "BusyError",
    "Change",
    "ConflictError",
    "Content",
    "Correction",
    "DamagedError",
    "DueItem",
    "Fact",
    "FullError",
    "Head",
    "Invitation",
    "Key",
    "LeftItem",
    "NotAllowedError",
    "PersonRole",
    "Receipt",
    "Register",
    "Scope",
    "Session",
    "State",
    "Stored",
    "Stream",
    "Token",
    "TooOftenError",
    "Units",
    "Verified",
    "What",
    "typed_value",
]
