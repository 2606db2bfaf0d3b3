"""shutdown."""

from __future__ import annotations

import math
from datetime import datetime
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
from splicewright.cli.by_register import (
    by_the_register,
    moment_of,
    opened,
    refuse_both,
    register_named,
    say_notes,
    today_option,
)

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.actions.register.use import UseName

_SETS = click.IntRange(1, 200)


@click.command("shutdown")
@click.argument("tasks", type=FILE, required=False)
@by_the_register
@click.option("--job", "jobs", multiple=True, help="Open planned job, or its joint; repeat it.")
@click.option("--window", default="", help='Time available for the jobs, such as "12 h".')
@click.option("--crew", type=_SETS, help="People working on the jobs.")
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
    from splicewright.actions.shutdown.judge import judge_shutdown, write_shutdown
    from splicewright.actions.shutdown.plan import Hands, jobs_called, plan_shutdown
    from splicewright.errors import Fault, InputError
    from splicewright.sheets.drawings.shutdown import shutdown_text
    from splicewright.sheets.words.shutdown import bought, holds_up, shutdown_words

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
    click.echo("Delays the finish:")
    for line in holds_up(study):
        click.echo(f"  {line}")
    for line in bought(study):
        click.echo(line)
    click.echo(
        "Plan at likely times (# often delays the finish, = other, - until nine in ten, | window):"
    )
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


_COST = click.FloatRange(0, 1e12)


@click.command("choose")
@click.argument("joints", type=FILE, required=False)
@click.option("--window", required=True, help='Time available, such as "12 h".')
@click.option("--crew", type=click.IntRange(1, 200), required=True, help="People working.")
@click.option(
    "--gang", type=click.IntRange(1, 50), default=2, show_default=True, help="People at one joint."
)
@click.option(
    "--power-share",
    type=click.FloatRange(0.05, 1),
    default=1.0,
    show_default=True,
    help="Share of a renewal's time that it takes with power tools, to see what they buy.",
)
@click.option(
    "--chance",
    type=click.FloatRange(0.01, 0.999),
    default=0.8,
    show_default=True,
    help="Chance to finish within the window that the chosen joints must have.",
)
@click.option(
    "--overrun",
    type=_COST,
    help="Cost of an hour beyond the window; without it, what is not done saves nothing.",
)
@click.option("--one-at-a-time", is_flag=True, help="One joint of a conveyor at once.")
@by_the_register
@today_option
@click.option(
    "--until",
    type=click.DateTime(["%Y-%m-%d"]),
    help="By the register: day of the shutdown after this one.",
)
@click.option("--each", default="", help='By the register: crew hours of one renewal, "20 h".')
@click.option("--opening", default="", help="By the register: crew hours to open up a conveyor.")
@click.option("--failure", type=_COST, help="By the register: cost of a failure.")
@click.option("--renewal", type=_COST, help="By the register: cost of a renewal.")
@click.option("--out", type=FILE, help="Folder for the report (PDF), bars (SVG) and choice.json.")
@paper_option
@json_option
@answering
def choose_command(
    joints: Path | None,
    window: str,
    crew: int,
    gang: int,
    power_share: float,
    chance: float,
    overrun: float | None,
    one_at_a_time: bool,
    where: str,
    conveyor: str,
    use: UseName | None,
    today: datetime | None,
    until: datetime | None,
    each: str,
    opening: str,
    failure: float | None,
    renewal: float | None,
    out: Path | None,
    paper: PaperName,
    as_json: bool,
) -> None:
    """Choose which of JOINTS (CSV) to renew in a shutdown, for the least expected cost.

    Without JOINTS the running joints of the register; then --until, --each, --failure and
    --renewal say what a renewal takes and what a failure costs. Use one currency for all costs.
    """
    from splicewright.actions.shutdown.choose_joints import (
        WindowRules,
        choose_joints,
        choose_recorded_joints,
        write_choice,
    )
    from splicewright.errors import Fault, InputError
    from splicewright.sheets.drawings.shutdown import shutdown_text
    from splicewright.sheets.words.shutdown import bought, choice_rows, choice_words

    refuse_both(joints, "JOINTS")
    limits = WindowRules(chance, math.nan if overrun is None else overrun / 3600, one_at_a_time)
    if joints is not None:
        study = choose_joints(
            joints, window, crew, gang=gang, power_share=power_share, rules=limits
        )
    elif until is None or not each or failure is None or renewal is None:
        said = "is not given; by the register it must be (or give a table of joints)"
        missing = [
            Fault(key, said)
            for key, value in (
                ("until", until), ("each", each or None), ("failure", failure),
                ("renewal", renewal),
            )
            if value is None
        ]  # fmt: skip
        raise InputError(*missing)
    else:
        with opened(where) as register:
            study = choose_recorded_joints(
                register, moment_of(today), window, crew, until=until.date(), each=each,
                failure_cost=failure, renewal_cost=renewal, opening=opening, gang=gang,
                power_share=power_share, conveyor=conveyor, use=use or "", rules=limits,
            )  # fmt: skip
    answer = plain(study)
    written = write_choice(study, answer, out, paper) if out is not None else ()
    if as_json:
        put_json({"choose": answer, "written": [str(p) for p in written]})
        return
    for line in choice_words(study):
        click.echo(line)
    for joint, why in choice_rows(study):
        click.echo(f"{joint}: {why}")
    if study.schedule is not None:
        for line in bought(study.schedule):
            click.echo(line)
        click.echo("The chosen joints at likely times (# often delays the finish, | window):")
        for line in shutdown_text(study.schedule):
            click.echo(f"  {line}")
    say_notes(study.asked.notes)
    say_invented(study.asked.invented)
    if out is not None:
        click.echo(f"Report: {out / 'choice.pdf'}  ({len(written)} files in {out})")
