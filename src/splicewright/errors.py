"""Every error Splicewright raises on purpose, and where those of one room stand.

    SplicewrightError
    ├── InputError              what the user gave cannot be used; carries every fault found
    │   ├── UnitError           one text that is no number with a unit of the right kind
    │   │   └── BeyondError     a number larger or smaller than anything of its kind
    │   ├── KeyAwayError        the key that opens a sealed secret is away (store.database.sealing)
    │   └── NotAllowedError     a role or a program's key does not let them say it (store.refusals)
    ├── OutputError             what was asked for cannot be written or drawn
    ├── ConflictError           a fact with a known id and other content (store.refusals)
    ├── BusyError               the register is locked or away: send again (store.refusals)
    ├── FullError               the disk is full: nothing was recorded (store.refusals)
    ├── TooOftenError           too many tries to sign in: wait (store.refusals)
    ├── DamagedError            the register's file or chain is damaged (store.refusals)
    ├── CancelledError          somebody cancelled long work (store.background)
    ├── LostError               long work was taken up elsewhere (store.background)
    └── NotYoursError           an account of that role is not theirs to change (actions.people)

What a page or a room tells only itself (sign-in needed, no layout for this width) is no
SplicewrightError and never reaches a user as it is.

A message is one clear sentence: which field, what is wrong, what is accepted.
"""

from __future__ import annotations

from dataclasses import dataclass


class SplicewrightError(Exception):
    """Anything Splicewright refuses or cannot do, said in words for the user."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with the input: the file and its line, the key, and a sentence."""

    key: str
    sentence: str
    file: str = ""
    line: int | None = None

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        return ": ".join(part for part in (place, self.key, self.sentence) if part)


class InputError(SplicewrightError):
    """The input cannot be used; `faults` holds all that was found, not only the first."""

    def __init__(self, *faults: Fault) -> None:
        self.faults = faults
        super().__init__("\n".join(str(fault) for fault in faults))


class UnitError(InputError):
    """A text that should be a number with a unit, and is not."""


class BeyondError(UnitError):
    """A number larger or smaller than anything of its kind (`quantities.limits`)."""


class OutputError(SplicewrightError):
    """A result that cannot be written or drawn; nothing was left half-written."""
