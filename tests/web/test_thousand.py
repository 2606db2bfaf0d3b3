"""A thousand inputs in bad faith: none ends in a traceback, hangs, or takes the machine's memory.

What is measured is the process that takes them all (`thousand.py`). A hang is counted in seconds of
a processor, so that a busy machine fails no test; what waits without working is ended after
`PATIENCE` and told with the place where it waits.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

from depth import PATIENCE, sized

TESTS = Path(__file__).parents[1]
LONGEST = 10.0
"""Of one input [s of a processor]."""
LARGEST = 1e9
"""Memory of the process at its peak [byte]; it holds server, commands and the test's own client."""


def test_a_thousand_inputs_in_bad_faith(tmp_path: Path) -> None:
    count = sized(60, deep=1000)
    words = [sys.executable, "-m", "web.thousand", str(tmp_path), "1129", str(count)]
    paths = os.pathsep.join([str(TESTS.parent / "src"), str(TESTS)])
    done = subprocess.run(
        words, cwd=tmp_path, check=False, capture_output=True, text=True,
        env={**os.environ, "PYTHONPATH": paths}, timeout=count * PATIENCE,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-4000:]
    *inputs, whole = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(inputs) == count
    faults = [one for one in inputs if one["fault"]]
    assert not faults, faults[:3]
    slow = [one for one in inputs if one["worked"] > LONGEST]
    assert not slow, slow[:3]
    assert whole["verify"] == []
    assert whole["peak"] < LARGEST, (whole, max(inputs, key=lambda one: one["grew"]))
