"""Docs cannot lie: pages made from the code are current, commands and examples are real."""

from __future__ import annotations

import importlib.util
import json
import re
from functools import cache
from pathlib import Path

import click
import jsonschema
import pytest

from splicewright.cli import main

ROOT = Path(__file__).parent.parent
DOCS = ROOT / "docs"

_spec = importlib.util.spec_from_file_location("docs_make", DOCS / "make.py")
assert _spec is not None and _spec.loader is not None
_make = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_make)


@cache
def pages() -> dict[str, str]:
    """What `make docs` would write now."""
    made: dict[str, str] = _make.pages()
    return made


def _commands() -> list[tuple[str, click.Command]]:
    context = click.Context(main)
    found = []
    for name in main.list_commands(context):
        command = main.get_command(context, name)
        assert command is not None
        found.append((name, command))
    return found


def test_generated_pages_are_current_and_none_is_left_over() -> None:
    wanted = pages()
    stale = [page for page, text in wanted.items() if (DOCS / page).read_text("utf-8") != text]
    assert stale == [], "run: make docs"
    there = {p.relative_to(DOCS).as_posix() for p in DOCS.glob("methods/*.md")}
    assert there == {page for page in wanted if page.startswith("methods/")}


@pytest.mark.parametrize(("name", "command"), _commands())
def test_every_command_and_option_is_documented(name: str, command: click.Command) -> None:
    page = (DOCS / "cli.md").read_text("utf-8")
    assert f"## splicewright {name}" in page
    pages = [page, (DOCS / "questions.md").read_text("utf-8")]
    section = "".join(
        text.split(f"## splicewright {name}", 1)[1].split("\n## ", 1)[0]
        for text in pages
        if f"## splicewright {name}" in text
    )
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            assert parameter.opts[0] in section, parameter.opts[0]
    assert command.help


def test_links_lead_somewhere() -> None:
    for page in [ROOT / "README.md", *DOCS.rglob("*.md")]:
        for target in re.findall(r"\]\(([^)#]+)\)", page.read_text("utf-8")):
            if target.startswith("pictures/"):  # taken when the site is built
                continue
            assert (page.parent / target).exists(), f"{page.name}: {target}"


def test_readme_commands_are_in_the_makefile() -> None:
    makefile = (ROOT / "Makefile").read_text("utf-8")
    for target in re.findall(r"`?make ([\w-]+)`?", (ROOT / "README.md").read_text("utf-8")):
        assert re.search(rf"^{target}:", makefile, re.MULTILINE), target


@pytest.mark.parametrize("kind", ["conveyor", "work", "fasteners", "inspection", "squaring"])
def test_examples_fit_the_published_schemas(kind: str) -> None:
    import tomllib

    schema = json.loads((DOCS / "schema" / f"{kind}.json").read_text("utf-8"))
    folder = {"conveyor": "conveyors", "inspection": "inspections", "work": "jobs"}.get(kind, kind)
    files = list((ROOT / "examples").glob(f"*/{folder}/*.toml"))
    assert files
    for file in files:
        jsonschema.validate(tomllib.loads(file.read_text("utf-8")), schema)
