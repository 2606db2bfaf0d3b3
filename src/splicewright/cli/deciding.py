"""when, stock, shutdown and decide."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import click

from splicewright.cli.answers import (
    FILE,
    answering,
    json_option,
    plain,
    put_json,
    say_invented,
    units_option,
)

if TYPE_CHECKING:
    from splicewright.actions.choose_when import WhenToLook, WhenToRenew
    from splicewright.quantities import Kind, System

_COST = click.FloatRange(0, 1e12)
_DEFER = (
    "The tool orders, the crew decides: local law, site rules, the maker and a competent person "
    "go first."
)


@click.command("when")
@click.option("--lives", type=FILE, help="Lives of joints (CSV), for the age of renewal.")
@click.option("--shape", type=click.FloatRange(0.2, 10), help="Or the shape of their law ...")
@click.option("--scale", default="", help='... and its scale, such as "9000 h" or "800 kt".')
@click.option("--planned", type=_COST, help="Cost of a planned renewal, or of damage found.")
@click.option("--failure", type=_COST, required=True, help="Cost of a failure, its stop included.")
@click.option("--damage-every", default="", help="Use from one new damage to the next, mean.")
@click.option("--delay", default="", help="Use from damage that can be seen to failure, mean.")
@click.option("--look", type=_COST, help="Cost of one look.")
@click.option("--fixed", is_flag=True, help="All delays are alike; otherwise they are random.")
@click.option(
    "--found",
    type=click.FloatRange(0.01, 1),
    default=1.0,
    show_default=True,
    help="Chance that a look finds damage that is there.",
)
@units_option
@json_option
@answering
def when_command(
    lives: Path | None,
    shape: float | None,
    scale: str,
    planned: float | None,
    failure: float,
    damage_every: str,
    delay: str,
    look: float | None,
    fixed: bool,
    found: float,
    units: System,
    as_json: bool,
) -> None:
    """Say at what age to renew a joint, and how often to look at it, by what things cost.

    Renewal needs --planned and --lives (or --shape and --scale); looks need --damage-every,
    --delay, --look and --planned. All costs in one money.
    """
    from splicewright.actions.choose_when import when_to_look, when_to_renew
    from splicewright.errors import Fault, InputError

    if planned is None:
        raise InputError(Fault("planned", "is not given; say what a planned renewal costs"))
    renews = lives is not None or shape is not None or bool(scale)
    looks = bool(damage_every or delay or look is not None)
    if not renews and not looks:
        said = "give --lives, or --shape and --scale; or --damage-every, --delay and --look"
        raise InputError(Fault("when", said))
    if looks and (look is None or not damage_every or not delay):
        raise InputError(Fault("looks", "need --damage-every, --delay and --look, all three"))
    renewal = inspection = None
    if renews:
        renewal = when_to_renew(planned, failure, lives=lives, shape=shape, scale=scale)
    if look is not None:
        inspection = when_to_look(
            damage_every, delay, look, planned, failure, fixed=fixed, found=found
        )
    if as_json:
        put_json({"renew": plain(renewal), "look": plain(inspection)})
        return
    for line in (*_renew_lines(renewal, units), *_look_lines(inspection, units)):
        click.echo(line)


def _renew_lines(when: WhenToRenew | None, units: System) -> list[str]:
    if when is None:
        return []
    if when.rules is None:
        return [f"Renew: not enough data to say: the lives {when.why_not}"]
    kind, stated = when.measure.kind, when.rules.stated
    told = [f"Renew: {_when(stated.age, kind, units, 'at ')}; {stated.sentence}"]
    if math.isfinite(stated.age):
        low, high = (_when(v, kind, units) for v in (stated.low, stated.high))
        told.append(f"  within 5 % of the least cost: {low} to {high}")
    for name, rule in (("half", when.rules.half), ("double", when.rules.double)):
        told.append(f"  if a failure costs {name}: {_when(rule.age, kind, units, 'at ')}")
    return [*told, f"  rests on {when.known}"]


def _look_lines(when: WhenToLook | None, units: System) -> list[str]:
    if when is None:
        return []
    kind, stated = when.measure.kind, when.rules.stated
    told = [f"Look: {_when(stated.interval, kind, units, 'every ')}; {stated.sentence}"]
    if math.isfinite(stated.interval):
        low, high = (_when(v, kind, units) for v in (stated.low, stated.high))
        told.append(f"  within 5 % of the least cost: {low} to {high}")
    for name, rule in (("half", when.rules.half), ("double", when.rules.double)):
        told.append(f"  if a failure costs {name}: {_when(rule.interval, kind, units, 'every ')}")
    return told


def _when(value: float, kind: Kind, units: System, before: str = "") -> str:
    from splicewright.quantities import show

    return before + show(value, kind, units) if math.isfinite(value) else "never"


@click.command("stock")
@click.argument("items", type=FILE)
@click.option(
    "--service",
    type=click.FloatRange(0.5, 0.9999),
    default=0.95,
    show_default=True,
    help="Chance that nobody waits for the item.",
)
@click.option("--lives", type=FILE, help="Lives of the joints that use items (CSV).")
@click.option("--use-a-day", default="", help='How fast those joints age, such as "16 h".')
@json_option
@answering
def stock_command(
    items: Path, service: float, lives: Path | None, use_a_day: str, as_json: bool
) -> None:
    """Say how many of each item in ITEMS (CSV) to hold, and how many to order now."""
    from splicewright.actions.size_stock import size_stock

    advised = size_stock(items, service, lives=lives, use_a_day=use_a_day)
    if as_json:
        put_json({"stock": plain(advised)})
        return
    for one in advised:
        click.echo(f"{one.item.name}: {one.advice.sentence}")
        ahead = f"{one.expected:.2g} used on average while an order is under way"
        if one.from_joints:
            ahead += f", {one.from_joints:.2g} of them by the joints now running"
        have = f"{one.item.on_shelf} on shelf or on order"
        order = f"order {one.order_now} now" if one.order_now else "order none now"
        click.echo(f"  {ahead}; {have}: {order}")


@click.command("shutdown")
@click.argument("tasks", type=FILE)
@click.option("--out", type=FILE, help="Folder for the bars (SVG, text) and shutdown.json.")
@json_option
@answering
def shutdown_command(tasks: Path, out: Path | None, as_json: bool) -> None:
    """Say whether the work in TASKS (TOML) fits the window, what holds it up, what more buys."""
    from splicewright.actions.judge_shutdown import judge_shutdown, write_shutdown
    from splicewright.quantities import show_time
    from splicewright.sheets.shutdown_sheet import shutdown_text

    study = judge_shutdown(tasks)
    answer = plain(study)
    written = write_shutdown(study, answer, out) if out is not None else ()
    if as_json:
        put_json({"shutdown": answer, "written": [str(p) for p in written]})
        return
    asked, chance = study.shutdown, study.chance
    click.echo(
        f"{asked.name}: done within {show_time(asked.window)} with a chance of "
        f"{chance.share:.0%} (± {2 * chance.error:.1%} by {asked.runs} runs)"
    )
    click.echo(
        f"  half of all runs end by {show_time(study.half)}, nine in ten by "
        f"{show_time(study.nine_tenths)}"
    )
    click.echo(
        f"  longest path of mean times {show_time(study.path_mean)}; meeting branches add "
        f"{show_time(study.merge_bias)}, crew and tools {show_time(study.crew_wait)}"
    )
    click.echo(
        f"  times drawn by the {asked.law} law, all slowed alike by {asked.common_cause:.0%}; by "
        f"the {study.other_law} law the chance is {study.other_chance.share:.0%}"
    )
    click.echo("Holds up the finish:")
    for bar in study.critical[:6]:
        click.echo(f"  {bar.task}: in {bar.critical:.0%} of the runs")
    for one in study.bought:
        after, saved = one.gain.after.share, one.gain.saved
        click.echo(
            f"With {one.name}: {after:.0%} within the window, {show_time(saved)} saved on average"
        )
    click.echo("Plan at likely times (# often holds up, = other, - until nine in ten, | window):")
    for line in shutdown_text(study):
        click.echo(f"  {line}")
    say_invented(asked.invented)
    if out is not None:
        click.echo(f"Bars: {out / 'shutdown.svg'}  ({len(written)} files in {out})")


@click.command("decide")
@click.argument("options", type=FILE)
@units_option
@json_option
@answering
def decide_command(options: Path, units: System, as_json: bool) -> None:
    """Set the ways in OPTIONS (TOML) to put a place right beside each other, best first."""
    from splicewright.actions.decide_place import decide_place
    from splicewright.quantities import show_time

    study = decide_place(options)
    if as_json:
        put_json({"decide": plain(study)})
        return
    click.echo(study.decision.name)
    for number, verdict in enumerate(study.verdicts, 1):
        option = verdict.option
        if not verdict.possible:
            why = "; ".join(said.say(units) for said in verdict.refused)
            click.echo(f"-  {option.way}: cannot be done: {why}")
            continue
        click.echo(
            f"{number}. {option.way}: {show_time(option.time)}, expected cost "
            f"{_money(verdict.expected_cost)}, keeps {option.kept_strength:.0%} of the belt's "
            "strength"
        )
        for said in verdict.reasons:
            click.echo(f"     {said.say(units)}")
    half, double = study.if_half or "none", study.if_double or "none"
    if study.best is None:
        click.echo("None of these ways can be done.")
    elif study.steady:
        click.echo("The first stays the first if a failure costs half or double.")
    else:
        click.echo(f"If a failure costs half: {half} first; if double: {double} first.")
    say_invented(study.decision.invented)
    click.echo(_DEFER)


def _money(value: float) -> str:
    return f"{float(f'{value:.3g}'):.0f}"
