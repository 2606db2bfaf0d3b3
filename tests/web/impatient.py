"""Splicewright that waits less for a busy register: `python impatient.py SECONDS serve ...`.

People wait ten seconds for another writer before they are told; the tests see the same after two.
"""

from __future__ import annotations

import sys

from splicewright.store.database import opening

if __name__ == "__main__":
    opening.BUSY_SECONDS = float(sys.argv.pop(1))
    from splicewright.cli import run  # what opens the register reads the wait when it is imported

    run()
