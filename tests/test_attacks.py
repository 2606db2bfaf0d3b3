"""The page of attacks names tests and modules that are there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PAGE = (ROOT / "docs" / "attacks.md").read_text("utf-8")
TESTS = sorted(set(re.findall(r"`(tests/[\w/]+\.py)::(\w+)`", PAGE)))
MODULES = sorted(set(re.findall(r"`([a-z][\w/]+\.py)`", PAGE)))


def test_every_row_names_a_test() -> None:
    rows = [line for line in PAGE.splitlines() if line.startswith("| ")]
    found = [row for row in rows if "---" not in row and not row.startswith("| found ")]
    assert len(found) >= 25
    assert all("::test_" in row for row in found)


@pytest.mark.parametrize(("file", "name"), TESTS)
def test_the_test_is_there(file: str, name: str) -> None:
    text = (ROOT / file).read_text("utf-8")
    assert f"def {name}(" in text or f"class {name}(" in text


@pytest.mark.parametrize("module", MODULES)
def test_the_module_is_there(module: str) -> None:
    assert (ROOT / "src" / "splicewright" / module).is_file()
