"""Time and memory of measuring one photograph of 12 million pixels, against decoding it.

    python -m benchmarks.bench_photographs

Rendered by the tests' own model at its largest size. Aim: 4 s of one core and 600 MB.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from benchmarks.timing import report

ROOT = Path(__file__).parents[1]
_ALONE = """
import json, resource, sys, time
from splicewright.photographs.measuring import Bars, measure_pictures
from splicewright.photographs.picture import read_picture
data = open(sys.argv[1], "rb").read()
began = time.process_time()
picture = read_picture(data, "one.jpg")
decoded = time.process_time()
measure_pictures([picture], Bars(*map(float, sys.argv[2:4])))
done = time.process_time()
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(json.dumps([decoded - began, done - began, peak]))
"""
"""Run in a process of its own: its peak of memory is then that of one photograph."""


def main() -> None:
    """Measure and print."""
    sys.path.insert(0, str(ROOT / "tests"))
    from photographs.rendering import draw, photograph
    from photographs.scenes import bars_of

    scene = draw(5001, size=(4000, 3000), shadows=())
    bars = bars_of(scene, 5001)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "one.jpg"
        file.write_bytes(photograph(scene))
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
