"""What a release is made of: the same wheel twice, and a bill of materials that names every pin."""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

from depth import sized

ROOT = Path(__file__).parent.parent
_PIN = re.compile(r"^([A-Za-z0-9._-]+)==([^\s;\\]+)", re.MULTILINE)
_HASH = re.compile(r"--hash=sha256:([0-9a-f]{64})")


def built(folder: Path, when: float, mask: int) -> Path:
    """A wheel of a copy of the project that lies elsewhere, with files of another age."""
    for part in ("src", "examples/karst-hollow"):
        there = folder / part
        shutil.copytree(
            ROOT / part, there, ignore=shutil.ignore_patterns("__pycache__", "*.pyc", "*.sqlite*")
        )
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, folder / name)
    for path in folder.rglob("*"):
        os.utime(path, (when, when))
        if path.is_file():
            path.chmod(0o666 & ~mask)
    words = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", "dist"]
    subprocess.run(words, cwd=folder, check=True, capture_output=True, umask=mask)
    (wheel,) = (folder / "dist").glob("*.whl")
    return wheel


def test_the_same_files_make_the_same_wheel(tmp_path: Path) -> None:
    """Wherever it is built, and whatever the age and rights of the files."""
    marks = set()
    for number in range(sized(2, deep=4)):
        folder = tmp_path / f"copy {number}"
        folder.mkdir()
        wheel = built(folder, 1.7e9 + 86400 * number, (0o022, 0o077)[number % 2])
        marks.add(hashlib.sha256(wheel.read_bytes()).hexdigest())
        with zipfile.ZipFile(wheel) as opened:
            names = opened.namelist()
        assert "splicewright/cli/__init__.py" in names
        assert any(name.startswith("splicewright/example_site/conveyors/") for name in names)
        assert not [n for n in names if "__pycache__" in n or n.startswith(("tests", "docs"))]
    assert len(marks) == 1


def test_the_bill_of_materials_names_every_pin(tmp_path: Path) -> None:
    """CycloneDX: each name, version and hash of the pins, and no other; twice the same bytes."""
    pins = (ROOT / "requirements" / "run.txt").read_text("utf-8")
    wanted = {(name.lower(), version) for name, version in _PIN.findall(pins)}
    assert len(wanted) > 40
    made = []
    for number in range(sized(0, deep=2)):  # the tool takes four seconds to load
        to = tmp_path / f"{number}.json"
        words = [
            "requirements", "--pyproject", "pyproject.toml", "--output-reproducible", "--of",
            "JSON", "-o", str(to), "requirements/run.txt",
        ]  # fmt: skip
        tool = str(Path(sys.executable).parent / "cyclonedx-py")
        subprocess.run([tool, *words], cwd=ROOT, check=True, capture_output=True)
        made.append(to.read_bytes())
    for bill in {json.dumps(json.loads(one)) for one in made}:
        assert len(set(made)) == 1
        told = json.loads(bill)
        assert told["bomFormat"] == "CycloneDX"
        assert told["metadata"]["component"]["name"] == "splicewright"
        assert {(p["name"].lower(), p["version"]) for p in told["components"]} == wanted
        hashes = {
            one["content"]
            for part in told["components"]
            for there in part["externalReferences"]
            for one in there.get("hashes", ())
        }
        assert hashes == set(_HASH.findall(pins))
