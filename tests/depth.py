"""How deep the tests go: quick at every change, deep before a release (`make test-deep`).

Both ask the same of the code. The deep run draws more examples, simulates more belts, and kills in
the middle of more writes.
"""

from __future__ import annotations

import os

DEEP = bool(os.environ.get("SPLICEWRIGHT_DEEP"))
"""Set by `make test-deep`; read nowhere else."""
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
