"""at-rest."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from splicewright.cli.answers import FILE, answering, json_option, put_json, units_option

if TYPE_CHECKING:
    from splicewright.actions.at_rest import SagReading, Stopped
    from splicewright.quantities import System


@click.command("at-rest")
@click.argument("conveyor", type=FILE)
@click.argument("work", type=FILE, required=False)
@click.option(
    "--sag",
    help="Sag of the empty, standing belt between two idlers, as 14 mm: says "
    "what the take-up pulls.",
)
@click.option("--span", help="Distance of these two idlers, as 3 m.")
@click.option(
    "--run", default="", help="Run the sag was measured on; the longest return run without it."
)
@units_option
@json_option
@answering
def at_rest_command(
    conveyor: Path,
    work: Path | None,
    sag: str | None,
    span: str | None,
    run: str,
    units: System,
    as_json: bool,
) -> None:
    """Say what the stopped belt of CONVEYOR pulls at each stage of WORK, and what must hold.

    Stages, ratings, what happens if one thing fails, and how far things move. With --sag and
    --span: the tension of the belt from its sag, and what the take-up pulls.
    """
    from splicewright.actions.at_rest import stopped_belt, tension_of_sag
    from splicewright.errors import Fault, InputError

    if (sag is None) != (span is None):
        raise InputError(Fault("sag", "give --sag and --span together"))
    if sag is not None and span is not None:
        read = tension_of_sag(conveyor, sag, span, run)
        if as_json:
            put_json(
                {
                    "run": read.run,
                    "tension": read.tension.value,
                    "doubt": read.doubt.value,
                    "take_up": {"least": read.least.value, "largest": read.largest.value},
                }
            )
            return
        for line in _sag_lines(read, units):
            click.echo(line)
        return
    found = stopped_belt(conveyor, work)
    if as_json:
        put_json(asdict(found.at_rest.summary))
        return
    for line in _lines(found, units):
        click.echo(line)


def _sag_lines(read: SagReading, units: System) -> list[str]:
    return [
        f"Belt tension on {read.run}: {read.tension.show(units)}, give or take "
        f"{read.doubt.show(units)}",
        f"The take-up pulls {read.least.show(units)} to {read.largest.show(units)} on its pulley, "
        "friction on the way counted either way.",
        "Write it into the conveyor file: [take_up] force = "
        f'"{read.least.value / 1e3:.1f} to {read.largest.value / 1e3:.1f} kN"',
    ]


def _lines(found: Stopped, units: System) -> list[str]:
    rest = found.at_rest
    lines = [f"{found.conveyor}: {found.work}, {found.place}  [plan {found.id}]"]
    lines += [f"! {d.ask.say(units)}" for d in rest.doubts]
    lines += ["", "Stage by stage, least to largest:"]
    for number, stage in enumerate(rest.stages, 1):
        lines.append(f"{number:>3}  {stage.name}. {stage.says.say(units)}")
        lines += [
            f"       {f.name}: "
            + (f"{f.least.show(units)} to {f.largest.show(units)}" if f.largest.value else "slack")
            for f in stage.forces
        ]
    ratings = rest.ratings
    lines += ["", "Least ratings, the stated factor in them:"]
    lines.append(f"  each restraining clamp, chain, anchor: {ratings.clamps.show(units)}")
    lines.append(f"  each hoist and pulling clamp: {ratings.hoists.show(units)}")
    if ratings.tackle is not None:
        lines.append(f"  tackle of the counterweight: {ratings.tackle.show(units)}")
    lines += ["", "If this lets go:"]
    for row in rest.lets_go:
        others = "; ".join(f"{o.name} {o.force.show(units)}" for o in row.others)
        lines.append(f"  {row.name} ({row.when})")
        lines.append(
            f"       {others}; end moves {row.travel.show(units)}, up to {row.speed.show(units)}, "
            f"{row.energy.show(units)}"
        )
        lines.append(f"       {row.says.say(units)}")
    lines += ["", "Movements and what to know:"]
    lines += [f"  {s.say(units)}" for s in (*rest.holds, *rest.remarks)]
    return lines
