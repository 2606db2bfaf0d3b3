"""Start a new file: a commented file of any of our kinds to fill in."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from typing import Literal, get_args

from splicewright.actions.folder.writing import write_new

Template = Literal[
    "conveyor",
    "conveyor-loop",
    "conveyor-field",
    "conveyor-overland",
    "conveyor-tandem",
    "work",
    "fasteners",
    "fasteners-step",
    "inspection",
    "squaring",
    "readings",
    "lives",
    "items",
    "renewals",
    "shutdown",
    "decision",
    "measurements",
]
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
    "measurements": "compare",
}
"""Template -> the command that reads the file once it is filled in."""
BESIDE: dict[Template, str] = {"measurements": " SOURCE"}
"""What that command needs besides the file."""


def template_text(which: Template) -> str:
    """The text of a template."""
    folder = files("splicewright.actions.files") / "templates"
    template = next(f for f in folder.iterdir() if f.name.rsplit(".", 1)[0] == which)
    return template.read_text("utf-8")


_ASKED_OF = {
    "piece inserted": ("[belt]", "insert ="),
    "belt shortened": ("[belt]", "cut_out ="),
    "belt lengthened": ("[belt]", "insert ="),
    "emergency repair": ("[damage]", "[damage]", "what =", "width ="),
    "repair along the belt": ("[damage]", "[damage]", "what =", "length =", "width ="),
    "inspection round": ("[[round]]", "[[round]]", "name =", "behind ="),
}
"""Table of the work file that a kind of job asks for beyond the rest, and its lines."""


def work_text(kind: str) -> str:
    """The work template for one kind of job, with the lines that this kind asks for."""
    table, *wanted = _ASKED_OF.get(kind, ("",))
    lines, here = [], ""
    for line in template_text("work").split("\n"):
        bare = line.removeprefix("# ")
        here = bare.split()[0] if bare.startswith("[") else here
        if line.startswith('kind = "worn'):
            lines.append(f'kind = "{kind}"')
        elif here == table and bare.startswith(tuple(wanted)):
            lines.append(
                bare.replace('"pin"', '"rip"') if kind == "repair along the belt" else bare
            )
        else:
            lines.append(line)
    return "\n".join(lines)


def start_file(path: Path, which: Template, job: str = "") -> Path:
    """Write a template to a new file.

    job : kind of job of a work file, "" for a joint made anew
    Raises OutputError: the file exists, or cannot be written.
    """
    write_new(path, work_text(job) if which == "work" and job else template_text(which))
    return path
