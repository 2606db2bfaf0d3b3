"""How deep the tests go: quick at every change, deep before a release (`make test-deep`).

Both ask the same of the code. The deep run draws more examples, simulates more belts, and kills in
the middle of more writes.
"""

from __future__ import annotations

import os
import subprocess
import threading
from typing import AnyStr

DEEP = bool(os.environ.get("SPLICEWRIGHT_DEEP"))
"""Set by `make test-deep`; read nowhere else."""
ORDER = os.environ.get("SPLICEWRIGHT_ORDER", "")
"""Any word: the tests come in the order that is drawn by it; set by `make test-deep`."""
PICTURES = DEEP or bool(os.environ.get("SPLICEWRIGHT_PICTURES"))
"""Whether pictures of pages are kept in `out/screenshots`; set by `make pictures`."""
_DEEPER = 10


def sized(quick: int, *, deep: int) -> int:
    """A size of a test: of the quick run, or of the deep one."""
    return deep if DEEP else quick


def examples(usual: int) -> int:
    """How many examples a property is tried on: half as many at every change, which are the same
    each time in CI, and ten times as many, drawn anew, in the deep run."""
    return usual * _DEEPER if DEEP else max(4, usual // 2)


PATIENCE = 300.0
"""After so long, what never comes is given up [s]: far more than a busy machine takes."""


def ended(*threads: threading.Thread) -> None:
    """Wait for threads; the test says which never ended instead of waiting for ever."""
    for thread in threads:
        thread.join(PATIENCE)
    left = [thread.name for thread in threads if thread.is_alive()]
    assert not left, f"threads that never ended: {left}"


def next_line(process: subprocess.Popen[AnyStr]) -> AnyStr:
    """What a process says next; it is killed when it says nothing, and the test says so."""
    assert process.stdout is not None
    timer = threading.Timer(PATIENCE, process.kill)
    timer.start()
    try:
        line = process.stdout.readline()
    finally:
        timer.cancel()
    assert line, f"{process.args!r} ended, or said nothing for {PATIENCE} s and was killed"
    return line
