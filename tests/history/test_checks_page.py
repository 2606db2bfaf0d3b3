"""The page of checks names tests that are there."""

import re
from pathlib import Path

import pytest

TESTS = Path(__file__).parent.parent
PAGE = (TESTS.parent / "docs" / "checks-life.md").read_text("utf-8")
NAMED = re.findall(r"`((?:outside|history|files|simulation)/[\w/]+\.py)::(test_\w+)`", PAGE)


def test_every_row_names_a_test() -> None:
    rows = [line for line in PAGE.splitlines() if line.startswith("| ") and "---" not in line]
    assert len(rows) > 30
    for row in rows:
        if not row.startswith(("| set ", "| joints ", "| 6 ", "| 10 ", "| 20 ")):
            assert "::test_" in row, row


@pytest.mark.parametrize(("file", "name"), sorted(set(NAMED)))
def test_the_test_is_there(file: str, name: str) -> None:
    assert f"def {name}(" in (TESTS / file).read_text("utf-8")
