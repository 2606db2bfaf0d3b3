"""Which browser tests take the pictures that the documentation shows, for `make docs-site`."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parent.parent
_SHOWN = re.compile(r"\]\(pictures/([^)]+)\.png\)")


def shown() -> set[str]:
    """Names of all pictures of pages that docs/ shows."""
    pages = (ROOT / "docs").glob("*.md")
    return {name for page in pages for name in _SHOWN.findall(page.read_text("utf-8"))}


def takers() -> list[str]:
    """The tests that keep them, as pytest wants them named."""
    found = []
    for path in sorted((ROOT / "tests" / "web").rglob("test_*.py")):
        for test in path.read_text("utf-8").split("\ndef ")[1:]:
            kept = set(re.findall(r'picture\(\w+, "([^"]+)"\)', test))
            if kept & shown() and test.startswith("test_"):
                found.append(f"{path.relative_to(ROOT)}::{test.partition('(')[0]}")
    return found


if __name__ == "__main__":
    print(*takers())
