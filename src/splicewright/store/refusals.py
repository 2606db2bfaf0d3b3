"""What the register refuses, beside faults of input.

SplicewrightError
├── InputError
│   └── NotAllowedError  whoever says it may not; the sentence says who may
├── ConflictError   the fact meets another that says otherwise; a person must look
├── BusyError       not now: locked, or the server is away; sending again is harmless
├── FullError       the disk took nothing more; nothing was recorded
├── TooOftenError   too many tries to sign in; wait
└── DamagedError    the register cannot be trusted as it is; with advice
"""

from __future__ import annotations

from uuid import UUID

from splicewright.errors import InputError, SplicewrightError


class NotAllowedError(InputError):
    """Somebody's role, or a program's key, does not let them say this (`store.authority`)."""


class ConflictError(SplicewrightError):
    """A fact with a known id but other content, or written on an old view of its subject.

    fact : id of the refused fact; version : the subject's version now, 0 when that is not the
    trouble
    """

    def __init__(self, sentence: str, fact: UUID, version: int = 0) -> None:
        self.fact = fact
        self.version = version
        super().__init__(sentence)


class BusyError(SplicewrightError):
    """The register is locked or away; send again, what was recorded is not recorded twice."""


class FullError(SplicewrightError):
    """The disk is full or refused to write; what was not acknowledged was not recorded."""


class TooOftenError(SplicewrightError):
    """Too many tries to sign in; `wait` says for how long none is looked at [s]."""

    def __init__(self, wait: float) -> None:
        self.wait = max(1.0, wait)
        minutes = max(1, round(self.wait / 60 + 0.5))
        unit = "minute" if minutes == 1 else "minutes"
        super().__init__(f"too many tries to sign in; try again in {minutes} {unit}")


class DamagedError(SplicewrightError):
    """The register's file or chain is damaged, or was made by a newer Splicewright."""
