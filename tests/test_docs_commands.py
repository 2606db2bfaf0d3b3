"""Every command that README and docs/ show can be typed as it stands; those of the lessons are run.

A lesson is followed from top to bottom by one who does only what it says: a file is saved where it
says `Save this as`, a line is changed where it says `Change`, and what is said to be meant to fail
fails. Commands on a register are run in tests/web/test_docs_on_a_register.py.
"""

from __future__ import annotations

import re
import shlex
import subprocess
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from splicewright.cli import main

ROOT = Path(__file__).parent.parent
PAGES = ("README", "tutorial", "tutorial-no-signal", "how-to", "measurement")
_WORDS = {
    "CONVEYOR": "examples/karst-hollow/conveyors/flat.toml",
    "JOB": "examples/karst-hollow/jobs/flat-torn-belt.toml",
    "DIR": "planned",
}
"""What a reader puts where README has a word in capitals."""
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
    words = [_WORDS.get(w, w) for w in shlex.split(line.partition("  #")[0])]
    if words[0] == "make":  # what it would do: every file it needs is there or is made
        made = subprocess.run(
            ["make", "-n", "-C", str(ROOT), *words[1:]], capture_output=True, text=True, check=False
        )
        assert made.returncode == 0, f"{line}\n{made.stderr}"
        return
    if words[0] == "source" or words[1:3] == ["-m", "venv"]:
        return
    if words[0] == ".venv/bin/pip":  # tests/test_release.py builds and installs
        assert all((ROOT / w).exists() for w in words if "/" in w[1:] or w == ".")
        return
    assert words[0].removeprefix(".venv/bin/") == "splicewright", line
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
    page = ROOT / ("README.md" if name == "README" else f"docs/{name}.md")
    for before, code, after in blocks(page.read_text("utf-8")):
        if code.startswith("from "):
            continue
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


def test_the_python_of_readme_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    site = ROOT / "examples" / "karst-hollow"
    for name, file in (
        ("K7.toml", "conveyors/flat.toml"),
        ("job.toml", "jobs/flat-torn-belt.toml"),
        ("hinge.toml", "fasteners/hinged.toml"),
    ):
        (tmp_path / name).write_bytes((site / file).read_bytes())
    monkeypatch.chdir(tmp_path)
    (code,) = (
        c for _, c, _ in blocks((ROOT / "README.md").read_text("utf-8")) if c.startswith("from ")
    )
    names: dict[str, object] = {}
    exec(code, names)
    assert getattr(names["joint"], "complete", False)


def typed() -> list[tuple[str, str]]:
    """Every command of this program that a page shows, on a line of its own or in a sentence."""
    found = []
    for page in (ROOT / "README.md", ROOT / "CONTRIBUTING.md", *(ROOT / "docs").rglob("*.md")):
        text = page.read_text("utf-8")
        alone = re.findall(r"^    (?:[A-Z_]+=\S+ )?(?:\.venv/bin/)?(splicewright .*)$", text, re.M)
        within = re.findall(r"`(?:[A-Z_]+=\S+ )?(splicewright [^`]+)`", text)
        found += [(page.name, " ".join(line.split())) for line in (*alone, *within)]
    return sorted(set(found))


@pytest.mark.parametrize(("page", "line"), typed())
def test_a_command_can_be_typed_as_it_is_shown(page: str, line: str) -> None:
    """Command, commands below it and options exist; files need not be there."""
    words = [w for w in shlex.split(line.partition(" #")[0])[1:] if w != "..."]
    command: click.Command = main
    context = click.Context(main)
    while isinstance(command, click.Group) and words and not words[0].startswith("-"):
        name, found, words = command.resolve_command(context, words)
        assert found is not None, (page, line)
        command, context = found, click.Context(found, info_name=name, parent=context)
    if words and words[-1].startswith("--") and len(words) == 1:  # an option is named, not used
        assert words[-1] in {o for p in command.get_params(context) for o in p.opts}, (page, line)
        return
    command.make_parser(context).parse_args([w for w in words if w != "--help"])


def test_pictures_are_those_that_are_taken_for_the_lessons() -> None:
    taken = (ROOT / "tests" / "web" / "test_lessons.py").read_text("utf-8")
    shown = {
        found
        for page in (ROOT / "docs").glob("*.md")
        for found in re.findall(r"\]\(pictures/([^)]+)\.png\)", page.read_text("utf-8"))
    }
    assert shown == set(re.findall(r'keep\(\w+, "([^"]+)"', taken))
