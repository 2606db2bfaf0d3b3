"""Splicewright with a clock that may be set: `python set_clock.py FILE serve ...`.

FILE holds by how many seconds the clock of the served process is off; what is written into it
counts from then on, as when somebody sets the clock of the machine. The product reads the time in
two places, and those are given this clock; nothing in it knows of this.
"""

from __future__ import annotations

import sys
from datetime import datetime, timedelta, tzinfo
from pathlib import Path

from splicewright.cli import run
from splicewright.store.sql import register
from splicewright.web import start

_OFF = Path(sys.argv.pop(1))


class SetClock(datetime):
    """Tells the time as the file sets it."""

    @classmethod
    def now(cls, tz: tzinfo | None = None) -> datetime:  # type: ignore[override]
        """The time now, and so much off."""
        return datetime.now(tz) + timedelta(seconds=float(_OFF.read_text()))


if __name__ == "__main__":
    for module in (register, start):
        module.datetime = SetClock  # type: ignore[attr-defined]
    run()
