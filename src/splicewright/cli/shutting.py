"""shutdown."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from splicewright.cli.answers import (
    FILE,
    answering,
    json_option,
    paper_option,
    plain,
    put_json,
    say_invented,
)
from splicewright.cli.recorded import (
    by_the_register,
    moment_of,
    opened,
    register_named,
    say_notes,
)

if TYPE_CHECKING:
    from splicewright.actions.from_register import UseName
    from splicewright.actions.plan_joint import PaperName

_SETS = click.IntRange(1, 200)


@click.command("shutdown")
@click.argument("tasks", type=FILE, required=False)
@by_the_register
@click.option("--job", "jobs", multiple=True, help="Open planned job, or its joint; repeat it.")
@click.option("--window", default="", help='Time there is for the jobs, such as "12 h".')
@click.option("--crew", type=_SETS, help="People who work on the jobs.")
@click.option("--clamp-sets", type=_SETS, help="Sets of restraining clamps; one to each job else.")
@click.option("--presses", type=_SETS, help="Presses; one to each job without it.")
@click.option(
    "--tool", "tools", multiple=True, help='A tool there are few of, "punch=1"; repeat it.'
)
@click.option(
    "--out", type=FILE, help="Folder for the report (PDF), bars (SVG, text) and shutdown.json."
)
@paper_option
@json_option
@answering
def shutdown_command(
    tasks: Path | None,
    where: str,
    conveyor: str,
    use: UseName | None,
    jobs: tuple[str, ...],
    window: str,
    crew: int | None,
    clamp_sets: int | None,
    presses: int | None,
    tools: tuple[str, ...],
    out: Path | None,
    paper: PaperName,
    as_json: bool,
) -> None:
    """Say whether the work in TASKS (TOML) fits the window, what holds it up, what more buys.

    With --register the steps of past jobs say how long tasks take. Without TASKS the tasks are
    the steps of planned jobs of the register: all open ones, or those named by --job, side by
    side within --window by --crew.
    """
    from splicewright.actions.judge_shutdown import judge_shutdown, write_shutdown
    from splicewright.actions.plan_shutdown import Hands, jobs_called, plan_shutdown
    from splicewright.errors import Fault, InputError
    from splicewright.sheets.deciding_words import bought, holds_up, shutdown_words
    from splicewright.sheets.shutdown_sheet import shutdown_text

    of_jobs = {"job": jobs, "window": window, "crew": crew, "clamp sets": clamp_sets,
               "presses": presses, "tool": tools}  # fmt: skip
    if tasks is not None:
        said = "goes with planned jobs, without TASKS; a shutdown file holds its own"
        beside = [Fault(key, said) for key, value in of_jobs.items() if value]
        if beside:
            raise InputError(*beside)
        if register_named(where, conveyor):
            with opened(where) as register:
                study = judge_shutdown(
                    tasks, register=register, now=moment_of(None), conveyor=conveyor
                )
        else:
            study = judge_shutdown(tasks)
    elif not window or crew is None:
        said = "is not given; planned jobs of the register need it (or give a file of tasks)"
        raise InputError(*(Fault(key, said) for key in ("window", "crew") if not of_jobs[key]))
    else:
        hands = Hands(crew, clamp_sets or 0, presses or 0, _counted(tools))
        with opened(where) as register:
            chosen = jobs_called(register, jobs, conveyor)
            study = plan_shutdown(register, moment_of(None), chosen, window, hands)
    answer = plain(study)
    written = write_shutdown(study, answer, out, paper) if out is not None else ()
    if as_json:
        put_json({"shutdown": answer, "written": [str(p) for p in written]})
        return
    for line in shutdown_words(study):
        click.echo(line)
    click.echo("Holds up the finish:")
    for line in holds_up(study):
        click.echo(f"  {line}")
    for line in bought(study):
        click.echo(line)
    click.echo("Plan at likely times (# often holds up, = other, - until nine in ten, | window):")
    for line in shutdown_text(study):
        click.echo(f"  {line}")
    say_notes(study.shutdown.notes)
    say_invented(study.shutdown.invented)
    if out is not None:
        click.echo(f"Report: {out / 'shutdown.pdf'}  ({len(written)} files in {out})")


def _counted(tools: tuple[str, ...]) -> dict[str, int]:
    """Tools with their number."""
    from splicewright.errors import Fault, InputError

    found, faults = {}, []
    for typed in tools:
        name, _, number = typed.partition("=")
        if number.strip().isdecimal() and int(number) > 0:
            found[name.strip()] = int(number)
        else:
            faults.append(Fault("tool", f'"{typed}" is no tool with its number, such as "punch=1"'))
    if faults:
        raise InputError(*faults)
    return found
