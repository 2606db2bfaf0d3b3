"""A question as a command: options and faults from its declaration, answer in words or JSON."""

from __future__ import annotations

from datetime import UTC, datetime
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from splicewright.cli.answers import (
    FILE,
    answering,
    json_option,
    paper_option,
    put_json,
    units_option,
)
from splicewright.cli.opening import opened_register, register_option

if TYPE_CHECKING:
    from splicewright.actions.question import Inquiry
    from splicewright.files.question import Asked

QUESTIONS = {
    "assess": "inspection.question:ASSESS",
    "at-rest": "at_rest:AT_REST",
    "choose": "shutdown.question:CHOOSE",
    "decide": "decision:DECIDE",
    "fleet": "fleet.question:FLEET",
    "life": "life.question:LIFE",
    "planner": "planner:PLANNER",
    "shutdown": "shutdown.question:SHUTDOWN",
    "square": "squaring:SQUARE",
    "stock": "stock.question:STOCK",
    "tension": "conveyor.question:TENSION",
    "wear": "wear.question:WEAR",
    "when": "inspection_interval.question:WHEN",
}
"""Command -> where in `actions` its inquiry is declared."""


def inquiry_of(name: str) -> Inquiry[Any, Any]:
    """The inquiry behind a command."""
    module, _, of = QUESTIONS[name].partition(":")
    inquiry: Inquiry[Any, Any] = getattr(import_module(f"splicewright.actions.{module}"), of)
    return inquiry


def question_command(name: str) -> click.Command:
    """The command that asks a question."""
    from splicewright.actions.question import OneConveyor
    from splicewright.files.question import asked_by

    inquiry = inquiry_of(name)
    model = inquiry.asked

    def run(
        units: Any = "metric",
        paper: Any = "A4",
        out: Path | None = None,
        as_json: bool = False,
        where: str = "",
        **given: Any,
    ) -> None:
        _ask(inquiry, given, where, out, units, paper, as_json)

    command: Any = answering(run)
    options = [json_option]
    options += [paper_option] if inquiry.has_folder else []
    options += [units_option] if inquiry.in_units else []
    if inquiry.has_folder:
        help_text = "Folder for the report (PDF), drawings and the answer as JSON."
        options.append(click.option("--out", type=FILE, help=help_text))
    options += [register_option] if issubclass(model, OneConveyor) else []
    for option in options:
        command = option(command)
    for field in reversed(asked_by(model, "command")):
        command = _parameter(field)(command)
    return click.command(name, help=model.__doc__)(command)


def _parameter(field: Asked) -> Any:
    """A field as an argument or an option."""
    from splicewright.files.answers import FileOf, Number, OneOf, Pairs, Several, Tick, Whole

    label, answer = field.label("command"), field.answer
    several = isinstance(answer, Several)
    if not label.startswith("-"):
        shown = label if field.required else f"[{label}]"
        return click.argument(field.name, metavar=shown, type=FILE, required=field.required)
    if isinstance(answer, Tick):
        return click.option(label, field.name, is_flag=True, help=field.ask.says)
    notes = [answer.accepted] if isinstance(answer, Number | Whole) else []
    notes += [f"default: {field.default_shown}"] if field.default_shown else []
    notes += ["required"] if field.required else []
    help_text = field.ask.says + (f"  [{'; '.join(notes)}]" if notes else "")
    kind: Any = click.STRING
    if isinstance(answer, OneOf):
        kind = click.Choice(list(answer.words))
    elif isinstance(answer.of if isinstance(answer, Several) else answer, FileOf):
        kind = FILE
    return click.option(
        label,
        field.name,
        type=kind,
        multiple=several,
        nargs=2 if isinstance(answer, Pairs) else 1,
        metavar=None if isinstance(answer, OneOf) else answer.metavar,
        help=help_text,
    )


def _ask(
    inquiry: Inquiry[Any, Any],
    given: dict[str, Any],
    where: str,
    out: Path | None,
    units: Any,
    paper: Any,
    as_json: bool,
) -> None:
    """Read, answer, write, show."""
    from splicewright.actions.question import Source
    from splicewright.files.question import answers, at_door

    named = click.get_current_context().get_parameter_source("where")
    source = Source(
        lambda: opened_register(where),
        bool(where) and named is click.core.ParameterSource.COMMANDLINE,
        lambda: datetime.now(UTC),
    )
    asked = answers(inquiry.asked, given, "command")
    with at_door(inquiry.asked, "command"):
        answer = inquiry.answer(asked, source)
    written = inquiry.write(answer, out, units, paper) if out is not None else ()
    if as_json:
        put_json({**inquiry.data(answer), "written": [str(path) for path in written]})
        return
    for line in inquiry.document(answer, units).lines():
        click.echo(line)
    if out is not None:
        click.echo(f"Report: {written[0]}  ({len(written)} files in {out})")
