"""The documentation site: every page of docs/ is led to by a door, every job has its conveyor."""

from __future__ import annotations

import importlib.util
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parent.parent
DOCS = ROOT / "docs"
_spec = importlib.util.spec_from_file_location("docs_site", ROOT / "tools" / "docs_site.py")
assert _spec is not None and _spec.loader is not None
site: Any = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(site)


def test_every_page_stands_behind_a_door() -> None:
    made = site.with_doors((DOCS / "index.md").read_text("utf-8"))
    led_to = set(re.findall(r"^([\w/-]+)$", made.partition("```{toctree}")[2], re.MULTILINE))
    pages = {p.relative_to(DOCS).with_suffix("").as_posix() for p in DOCS.rglob("*.md")}
    assert led_to == pages - {"index"} | {"gallery", "proof"}
    assert made.count("```{toctree}") == 4
    assert "[The book of proof](proof.md)" in made
    assert "[Example jobs and their packs](gallery.md)" in made


@pytest.mark.parametrize(
    "job", sorted((ROOT / "examples" / "karst-hollow" / "jobs").glob("*.toml"))
)
def test_every_example_job_can_be_in_the_gallery(job: Path) -> None:
    conveyor = site.conveyor_of(job.stem)
    text = job.read_text("utf-8")
    assert text.startswith("# Invented. ")
    work = tomllib.loads(text)["work"]
    assert work["kind"]
    assert work["run"].split(",")[0].split()[0] in conveyor.read_text("utf-8") + "return carry"


def test_the_gallery_shows_every_kind_of_job() -> None:
    from splicewright.plant.work import JobKind

    jobs = (ROOT / "examples" / "karst-hollow" / "jobs").glob("*.toml")
    kinds = {tomllib.loads(j.read_text("utf-8"))["work"]["kind"] for j in jobs}
    assert kinds == {kind.value for kind in JobKind}


def test_limits_are_linked_where_a_reader_begins() -> None:
    for page in (ROOT / "README.md", DOCS / "index.md", DOCS / "tutorial.md"):
        assert "known-limits.md" in page.read_text("utf-8"), page
