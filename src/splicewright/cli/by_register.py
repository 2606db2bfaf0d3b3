"""What commands share that go by the register: which one, whose facts, counted in what."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from splicewright.cli.opening import register_option

if TYPE_CHECKING:
    from splicewright.store import Register

F = TypeVar("F", bound=Callable[..., Any])

conveyor_option = click.option(
    "--conveyor", default="", help="By the register: only this conveyor, as NAME or SITE: NAME."
)
use_option = click.option(
    "--use",
    type=click.Choice(["time", "mass", "turns"]),
    help="By the register: what use is counted in. Without it: mass carried where every conveyor "
    "has such a meter, else time.",
)
today_option = click.option(
    "--today",
    type=click.DateTime(["%Y-%m-%d"]),
    help="Date that counts as today; readings after it are refused. Without it: the calendar's.",
)


def by_the_register(command: F) -> F:
    """Options of a command that may take its facts from the register in place of a file."""
    for option in (use_option, conveyor_option, register_option):
        command = option(command)
    return command


@contextmanager
def opened(where: str) -> Iterator[Register]:
    """The register at a place, or the one of the data folder; it must be there."""
    from splicewright.cli.opening import opened_register

    with opened_register(where) as register:
        yield register


def moment_of(today: datetime | None) -> datetime:
    """What counts as now: the end of the day that counts as today, or this moment."""
    if today is None:
        return datetime.now(UTC)
    return datetime.combine(date(today.year, today.month, today.day), time(23, 59), UTC)


def refuse_both(file: Path | None, what: str) -> None:
    """Refuse a file beside a register that was named with it."""
    from splicewright.errors import Fault, InputError

    source = click.get_current_context().get_parameter_source("where")
    if file is not None and source is click.core.ParameterSource.COMMANDLINE:
        said = f"is given beside {what}; give one of the two"
        raise InputError(Fault("register", said))


def register_named(where: str, conveyor: str) -> bool:
    """Whether the caller named a register, or one of its conveyors, on the command line."""
    source = click.get_current_context().get_parameter_source("where")
    return bool(conveyor) or (bool(where) and source is click.core.ParameterSource.COMMANDLINE)


def say_notes(notes: tuple[str, ...]) -> None:
    """Say what was assumed or left out on the way from facts to answer."""
    for note in notes[:12]:
        click.echo(f"  rests on: {note}")
    if len(notes) > 12:
        click.echo(f"  rests on: {len(notes) - 12} further notes, in --json")
