"""What is written twice is the same, byte for byte, in another process too.

The order of a set is another in each process (PYTHONHASHSEED): within one the same words twice
prove nothing of it.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from planned import SITE

_COMMANDS = f"""
import sys
from click.testing import CliRunner
from splicewright.cli import main

out, site = sys.argv[1], {str(SITE)!r}
for words in (
    ["plan", f"{{site}}/conveyors/incline.toml", f"{{site}}/jobs/incline-worn-joint.toml"],
    ["tension", f"{{site}}/conveyors/flat.toml"],
    ["square", f"{{site}}/squaring/incline-trailing-end.toml"],
    ["assess", f"{{site}}/inspections/incline-edge-plates.toml"],
    ["life", f"{{site}}/history/joint-lives.csv"],
):
    done = CliRunner().invoke(main, [*words, "--out", f"{{out}}/{{words[0]}}"])
    assert done.exit_code == 0, done.output
"""


def _written(folder: Path, seed: str) -> dict[str, bytes]:
    env = os.environ | {"PYTHONHASHSEED": seed}
    subprocess.run([sys.executable, "-c", _COMMANDS, str(folder)], check=True, env=env)
    files = (f for f in folder.rglob("*") if f.is_file())
    return {f.relative_to(folder).as_posix(): f.read_bytes() for f in files}


def test_in_another_process_the_same_bytes_are_written(tmp_path: Path) -> None:
    # With 0 and 4 two kinds of thing that a template's DXF tells of came in another order.
    one, other = (_written(tmp_path / seed, seed) for seed in ("0", "4"))
    assert {Path(name).suffix for name in one} >= {".pdf", ".svg", ".dxf", ".json"}
    assert one.keys() == other.keys()
    assert [name for name in one if one[name] != other[name]] == []
