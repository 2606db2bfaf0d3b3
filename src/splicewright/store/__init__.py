"""The register: appended facts, and the present state derived from them."""

from splicewright.store.accounts.accounts import Account, Accounts, Change, Session, Units
from splicewright.store.authority import CONSOLE, NOBODY, Actor, Scope
from splicewright.store.facts.facts import Correction, Fact, Stored
from splicewright.store.facts.kinds import Stream, What
from splicewright.store.facts.plant_facts import PersonRole
from splicewright.store.present.present import State
from splicewright.store.refusals import (
    BusyError,
    ConflictError,
    DamagedError,
    FullError,
    NotAllowedError,
    TooOftenError,
)
from splicewright.store.register import DueItem, Head, LeftItem, Receipt, Register, Verified

__all__ = [
    "CONSOLE",
    "NOBODY",
    "Account",
    "Accounts",
    "Actor",
    "BusyError",
    "Change",
    "ConflictError",
    "Correction",
    "DamagedError",
    "DueItem",
    "Fact",
    "FullError",
    "Head",
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
    "TooOftenError",
    "Units",
    "Verified",
    "What",
]
