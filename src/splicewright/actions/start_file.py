"""Start a new file: a commented conveyor, work or fastener range file to fill in."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from typing import Literal

from splicewright.actions.writing import write_new

Template = Literal["conveyor", "conveyor-loop", "work", "fasteners"]
TEMPLATES: tuple[Template, ...] = ("conveyor", "conveyor-loop", "work", "fasteners")


def template_text(which: Template) -> str:
    """The text of a template."""
    return (files("splicewright.actions") / "templates" / f"{which}.toml").read_text("utf-8")


def start_file(path: Path, which: Template) -> Path:
    """Write a template to a new file.

    Raises
    ------
    OutputError
        The file exists, or cannot be written.
    """
    write_new(path, template_text(which))
    return path
