"""The crew's folder: names, contents, and that nothing heavy is loaded before it is needed."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from sheets.plans import COMPLETE, example, packed, solid, without_fastener, without_range
from splicewright import sheets
from splicewright.job import JointPlan
from splicewright.sheets.canvas.paper import LETTER
from splicewright.sheets.crew_pack.files import Only, pack

ALWAYS = ["crew-pack.pdf", "dossier.pdf", "plan.json", "loop.svg", "tension.svg", "clamps.svg"]
WITH_JOINT = [
    "marking.svg",
    "marking-card.svg",
    "plate-loads.svg",
    "plate-loads.json",
    "joint.svg",
    "plates-leading.svg",
    "template-leading.dxf",
    "template-leading-tiles.pdf",
    "plates-trailing.svg",
    "template-trailing.dxf",
    "template-trailing-tiles.pdf",
]


@pytest.mark.parametrize("name", COMPLETE)
def test_folder_of_a_plan_with_a_joint(name: str) -> None:
    files = packed(name)
    reverse = ["tension-reverse.svg"] if name == "shuttle" else []
    assert sorted(files) == sorted(ALWAYS + reverse + WITH_JOINT)
    assert all(files.values())


def test_folder_of_a_plan_with_solid_plates() -> None:
    assert sorted(pack(solid())) == sorted(ALWAYS + WITH_JOINT)


@pytest.mark.parametrize("plan", [without_fastener(), without_range()], ids=["misses", "none"])
def test_folder_without_a_joint_has_no_template(plan: JointPlan) -> None:
    assert sorted(pack(plan)) == sorted(ALWAYS)


@pytest.mark.parametrize(("only", "name"), [("crew", "crew-pack.pdf"), ("dossier", "dossier.pdf")])
def test_one_part_alone_is_the_same_pdf_and_the_plan(only: Only, name: str) -> None:
    files = pack(example("incline"), only=only)
    assert sorted(files) == sorted([name, "plan.json"])
    assert files[name] == packed("incline")[name]


def test_plan_comes_back_from_the_folder_and_gives_the_same_folder() -> None:
    files = pack(example("incline"), "inch", LETTER)
    again = JointPlan.from_json(files["plan.json"])
    assert again == example("incline")
    assert pack(again, "inch", LETTER) == files


@pytest.mark.parametrize("name", COMPLETE)
def test_drawings_alone_say_what_they_are(name: str) -> None:
    told = example(name)
    for file, data in packed(name).items():
        if not file.endswith(".svg"):
            continue
        root = ET.fromstring(data)
        words = " ".join(e.text or "" for e in root.iter("{http://www.w3.org/2000/svg}text"))
        assert told.id in words, file
        title = root.findtext("{http://www.w3.org/2000/svg}title")
        assert title is not None
        assert title in words


def test_importing_the_folder_loads_no_heavy_library() -> None:
    code = "import splicewright.sheets.crew_pack.files, sys; print(*sorted(sys.modules))"
    source = str(Path(sheets.__file__).parents[2])
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": source},
    )
    heavy = {"typst", "ezdxf", "segno", "PIL", "numpy", "scipy", "pydantic"}
    assert not set(done.stdout.split()) & heavy


def test_templates_are_beside_the_code() -> None:
    folder = Path(sheets.__file__).parent / "canvas" / "templates"
    assert {path.suffix for path in folder.iterdir()} == {".typ"}
