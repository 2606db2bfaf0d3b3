"""Time and memory of measuring one photograph of 12 million pixels, for each kind of `--shows`.

    python -m benchmarks.bench_photographs

Rendered by the tests' own model at its largest size. Aim: 4 s of one core and 600 MB each.
"""

from __future__ import annotations

import importlib
import json
import pickle
import subprocess
import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any

from benchmarks.timing import report

ROOT = Path(__file__).parents[1]
_SIZE, _SEED = (4000, 3000), 9101
_ALONE = """
import json, pickle, sys, time
from splicewright.photographs import measuring
from splicewright.photographs.picture import read_picture
data = open(sys.argv[1], "rb").read()
name, arguments = pickle.load(open(sys.argv[2], "rb"))
began = time.process_time()
picture = read_picture(data, "one.jpg")
decoded = time.process_time()
getattr(measuring, name)([picture], *arguments)
done = time.process_time()
status = open("/proc/self/status").read()
peak = int(status.split("VmHWM:")[1].split()[0]) / 1024
print(json.dumps([decoded - began, done - began, peak]))
"""
"""Run in a process of its own: its peak of memory is then that of one photograph. The system tells
it of the program itself (VmHWM); `getrusage` would tell that of the process that began it."""


def scenes() -> dict[str, tuple[Any, str, tuple[Any, ...]]]:
    """Of each kind: scene, function that measures it, what it is given beside pictures and bars."""
    sys.path.insert(0, str(ROOT / "tests"))
    drawn = importlib.import_module("photographs.scenes")
    draw = importlib.import_module("photographs.rendering").draw
    row = importlib.import_module("splicewright.photographs.plate_sides").PlannedRow
    pin = importlib.import_module("splicewright.photographs.pin_ends").Pin
    hole = importlib.import_module("splicewright.photographs.hole_rows").PlannedHole
    plain = draw(_SEED, shadows=())
    punched, plan, _, _ = drawn.punched(_SEED)
    facing, pinned = drawn.facing(_SEED)[0], drawn.pinned(9100)[0]
    plates = row(drawn.COUNT, drawn.PITCH, drawn.PLATE, drawn.LONG, drawn.HIGH)
    holes = [hole(*one) for one in plan]
    return {
        "cut": (drawn.notched(_SEED)[0], "measure_pictures", ()),
        "line": (replace(plain, uncut=True, depth=0.0), "measure_square_line", ()),
        "holes": (punched, "measure_holes", (holes, drawn.HOLE, punched.thickness)),
        "plates": (pinned, "measure_plates", (plates, pin(0.007, pinned.thickness))),
        "gap": (facing, "measure_two_ends", (facing.thickness,)),
        "edges": (drawn.frayed(_SEED)[0], "measure_edges", ()),
    }


def main() -> None:
    """Measure and print."""
    made = scenes()
    render = importlib.import_module("photographs.rendering").photograph
    bars_of = importlib.import_module("photographs.scenes").bars_of
    with tempfile.TemporaryDirectory() as folder:
        file, asked = Path(folder) / "one.jpg", Path(folder) / "asked"
        for kind, (scene, name, more) in made.items():
            file.write_bytes(render(replace(scene, size=_SIZE)))
            asked.write_bytes(pickle.dumps((name, (bars_of(scene, _SEED), *more))))
            done = subprocess.run(
                [sys.executable, "-c", _ALONE, str(file), str(asked)],
                capture_output=True, check=False, text=True,
            )  # fmt: skip
            if done.returncode:
                print(f"{kind}: refused, {done.stderr.strip().splitlines()[-1][:90]}")
                continue
            decoding, measuring, peak = json.loads(done.stdout)
            report(f"12 MP, {kind}, of one core", measuring, "decoding it", decoding)
            print(f"  peak memory {peak:.0f} MB")


if __name__ == "__main__":
    main()
