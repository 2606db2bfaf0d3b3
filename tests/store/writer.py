"""A writer in a process of its own: `python -m store.writer URL PLANT FROM TO [LIMIT]`.

Sends facts FROM to TO one at a time and prints the number of each when it is acknowledged; the
ids are made from the numbers, so that sending again is sending the same.
"""

from __future__ import annotations

import os
import sys
from datetime import UTC, datetime
from uuid import UUID, uuid5

from splicewright.store import Fact
from splicewright.store.facts.plant_facts import StockMoved
from splicewright.store.sql.register import open_register

NAMESPACE = UUID("00000000-0000-4000-8000-00000000beef")
AT = datetime(2026, 5, 4, 6, 0, tzinfo=UTC)


def numbered(number: int, site: UUID) -> Fact:
    what = StockMoved(site, "bolt", 1.0, f"number {number}")
    return Fact(uuid5(NAMESPACE, str(number)), AT, "Ada Example", what, device="writer")


def main(url: str, site: str, first: str, last: str, limit: str = "") -> None:
    if limit:
        import resource
        import signal

        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (int(limit), int(limit)))
    with open_register(url, check=False, busy_seconds=30) as register:
        for number in range(int(first), int(last)):
            register.append(numbered(number, UUID(site)))
            os.write(1, f"{number}\n".encode())  # unbuffered: said means safe


if __name__ == "__main__":
    main(*sys.argv[1:])
