"""Start a new file: a commented file of any of our kinds to fill in."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from typing import Literal, get_args

from splicewright.actions.writing import write_new

Template = Literal[
    "conveyor", "conveyor-loop", "work", "fasteners", "fasteners-step", "inspection", "squaring"
]
TEMPLATES: tuple[Template, ...] = get_args(Template)


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
