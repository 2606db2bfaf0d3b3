"""The main job: a warm library plan, the cold command, and --help.

References in the same run: reading the same conveyor file, and starting a bare interpreter.
Aims: plan under 50 ms warm, cold command to the finished crew pack under 1.2 s and to the whole
folder under 2 s, --help under 0.3 s; all on two quiet cores.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from benchmarks.timing import best_of, report
from splicewright import load_conveyor, load_ranges, load_work, plan
from splicewright.sheets.crew_pack.files import pack

SITE = Path(__file__).parents[1] / "examples" / "karst-hollow"
CONVEYOR = SITE / "conveyors" / "incline.toml"
WORK = SITE / "jobs" / "incline-worn-joint.toml"


def _run(*words: str) -> None:
    subprocess.run([sys.executable, *words], check=True, capture_output=True)


def main() -> None:
    """Measure and print."""
    conveyor = load_conveyor(CONVEYOR)
    work = load_work(WORK, conveyor)
    ranges = load_ranges((SITE / "fasteners",))
    joint = plan(conveyor, work, ranges)
    reading = best_of(20, lambda: load_conveyor(CONVEYOR))
    planning = best_of(50, lambda: plan(conveyor, work, ranges))
    report("library plan, warm, no PDF (aim 50 ms)", planning, "reading its conveyor file", reading)
    pack(joint)
    packing = best_of(5, lambda: pack(joint))
    report("the whole folder's content, warm", packing, "the plan itself", planning)
    bare = best_of(5, lambda: _run("-c", "pass"))
    help_ = best_of(5, lambda: _run("-m", "splicewright", "--help"))
    report("splicewright --help (aim 300 ms)", help_, "bare interpreter", bare)
    with tempfile.TemporaryDirectory() as folder:
        words = ["-m", "splicewright", "plan", str(CONVEYOR), str(WORK), "--out", f"{folder}/pack"]
        crew = best_of(5, lambda: _run(*words, "--only", "crew"))
        cold = best_of(5, lambda: _run(*words))
    report("cold command to crew pack (aim 1200 ms)", crew, "bare interpreter", bare)
    report("cold command to folder (aim 2000 ms)", cold, "the crew pack alone", crew)


if __name__ == "__main__":
    main()
