"""Start a new file: a commented file of any of our kinds to fill in."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from typing import Literal, get_args

from splicewright.actions.folder.writing import write_new

Template = Literal[
    "conveyor", "conveyor-loop", "conveyor-field", "conveyor-overland", "conveyor-tandem",
    "work", "fasteners", "fasteners-step", "inspection", "squaring",
    "readings", "lives", "items", "renewals", "shutdown", "decision",
]  # fmt: skip
TEMPLATES: tuple[Template, ...] = get_args(Template)
NEXT: dict[Template, str] = {
    "conveyor": "check",
    "conveyor-loop": "check",
    "conveyor-field": "check",
    "conveyor-overland": "check",
    "conveyor-tandem": "check",
    "work": "check",
    "fasteners": "check",
    "fasteners-step": "check",
    "inspection": "assess",
    "squaring": "square",
    "readings": "wear",
    "lives": "life",
    "items": "stock",
    "renewals": "choose",
    "shutdown": "shutdown",
    "decision": "decide",
}
"""Template -> the command that reads the file once it is filled in."""


def template_text(which: Template) -> str:
    """The text of a template."""
    folder = files("splicewright.actions.files") / "templates"
    found = next(f for f in folder.iterdir() if f.name.rsplit(".", 1)[0] == which)
    return found.read_text("utf-8")


def start_file(path: Path, which: Template) -> Path:
    """Write a template to a new file.

    Raises
    ------
    OutputError
        The file exists, or cannot be written.
    """
    write_new(path, template_text(which))
    return path
