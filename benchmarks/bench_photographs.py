"""Time and memory of measuring one photograph of 12 million pixels, against decoding it.

    python -m benchmarks.bench_photographs

Rendered by the tests' own model at its largest size. Aim: 4 s of one core and 600 MB.
"""

from __future__ import annotations

import importlib
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from benchmarks.timing import report

ROOT = Path(__file__).parents[1]
_ALONE = """
import json, sys, time
from splicewright.photographs.measuring import Bars, measure_pictures
from splicewright.photographs.picture import read_picture
data = open(sys.argv[1], "rb").read()
began = time.process_time()
picture = read_picture(data, "one.jpg")
decoded = time.process_time()
measure_pictures([picture], Bars(*map(float, sys.argv[2:4])))
done = time.process_time()
status = open("/proc/self/status").read()
peak = int(status.split("VmHWM:")[1].split()[0]) / 1024
print(json.dumps([decoded - began, done - began, peak]))
"""
"""Run in a process of its own: its peak of memory is then that of one photograph. The system tells
it of the program itself (VmHWM); `getrusage` would tell that of the process that began it."""


def main() -> None:
    """Measure and print."""
    sys.path.insert(0, str(ROOT / "tests"))
    rendering = importlib.import_module("photographs.rendering")
    scene = rendering.draw(5001, size=(4000, 3000), shadows=())
    bars = importlib.import_module("photographs.scenes").bars_of(scene, 5001)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "one.jpg"
        file.write_bytes(rendering.photograph(scene))
        began = time.perf_counter()
        done = subprocess.run(
            [sys.executable, "-c", _ALONE, str(file), str(bars.along), str(bars.across)],
            capture_output=True, check=True, text=True,
        )  # fmt: skip
        whole = time.perf_counter() - began
    decoding, measuring, peak = json.loads(done.stdout)
    report("12 MP measured, of one core", measuring, "decoding it", decoding)
    report("the same in a process of its own", whole, "of one core", measuring)
    print(f"peak memory {peak:.0f} MB")


if __name__ == "__main__":
    main()
