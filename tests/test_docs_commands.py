"""Every command that the lessons show is run as it is shown, by one who does only what they say.

A page is followed from top to bottom: a file is saved where it says `Save this as`, a line is
changed where it says `Change`, and what is said to be meant to fail fails.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from splicewright.cli import main

ROOT = Path(__file__).parent.parent
PAGES = ("tutorial", "tutorial-no-signal", "how-to", "measurement")
_SAVE = re.compile(r"Save this as `([^`]+)`:\s*$")
_CHANGE = re.compile(r"(?:^|\s)[Cc]hange [^`]*`([^`]+)`[^`]*:\s*$")


def blocks(page: str) -> Iterator[tuple[str, str, str]]:
    """Paragraph before, block of code, paragraph after."""
    parts = [
        p.strip("\n") for p in re.split(r"\n((?:    [^\n]*\n|\n)+)", page) if p and p.strip("\n")
    ]
    for n, part in enumerate(parts):
        if part.startswith("    "):
            before = parts[n - 1] if n else ""
            after = parts[n + 1] if n + 1 < len(parts) else ""
            yield before, re.sub("^    ", "", part, flags=re.MULTILINE), after


def changed(text: str, lines: str) -> str:
    """The file with each line in place of the one with its key."""
    for line in lines.splitlines():
        key = line.partition("=")[0].strip()
        text, count = re.subn(rf"(?m)^{re.escape(key)} = .*$", line.replace("\\", r"\\\\"), text)
        assert count == 1, f"{key} stands {count} times"
    return text


def run(line: str, *, fails: bool) -> None:
    words = shlex.split(line.partition("  #")[0])
    if words[0] == "make":
        assert re.search(rf"^{words[1]}:", (ROOT / "Makefile").read_text("utf-8"), re.MULTILINE)
        return
    if words[0] == "source":
        return
    assert words[0] == "splicewright", line
    if words[1] == "serve" and "--help" not in words:  # tests/web/test_start.py serves
        words = ["splicewright", "serve", "--help"]
    done = CliRunner().invoke(main, words[1:])
    assert done.exit_code == (2 if fails else 0), f"{line}\n{done.output}"


@pytest.mark.parametrize("name", PAGES)
def test_a_lesson_can_be_followed(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "examples").symlink_to(ROOT / "examples")
    monkeypatch.chdir(tmp_path)
    ran = 0
    for before, code, after in blocks((ROOT / "docs" / f"{name}.md").read_text("utf-8")):
        save, change = _SAVE.search(before), _CHANGE.search(before)
        if save:
            Path(save[1]).write_text(code + "\n", "utf-8")
        elif change:
            file = Path(change[1])
            file.write_text(changed(file.read_text("utf-8"), code), "utf-8")
        else:
            for line in filter(None, code.splitlines()):
                run(line, fails="meant to fail" in after.split("\n\n")[0])
                ran += 1
    assert ran >= 1


def test_pictures_are_those_that_are_taken_for_the_lessons() -> None:
    taken = (ROOT / "tests" / "web" / "lesson_pictures.py").read_text("utf-8")
    shown = {
        found
        for page in (ROOT / "docs").glob("*.md")
        for found in re.findall(r"\]\(pictures/([^)]+)\.png\)", page.read_text("utf-8"))
    }
    assert shown == set(re.findall(r'keep\(\w+, "([^"]+)"', taken))
