"""plan and explain."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from splicewright.cli.answers import (
    FILE,
    answering,
    fasteners_option,
    json_option,
    paper_option,
    put_json,
    units_option,
)

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.job import JointPlan
    from splicewright.job.steps.timing import PastShares
    from splicewright.quantities import System
    from splicewright.sheets.crew_pack.files import Only


@click.command("plan")
@click.argument("conveyor", type=FILE)
@click.argument("work", type=FILE, required=False)
@click.option("--out", type=FILE, help="Folder to write; without it nothing is written.")
@click.option(
    "--only",
    type=click.Choice(["crew", "dossier"]),
    help="Write one of the two PDFs (with plan.json); without it the whole folder.",
)
@fasteners_option
@click.option(
    "--register",
    "where",
    default="",
    help="Register whose past jobs say how long steps take (file, or postgresql:// URL); without "
    "it times are assumed.",
)
@units_option
@paper_option
@json_option
@answering
def plan_command(
    conveyor: Path,
    work: Path | None,
    out: Path | None,
    only: Only | None,
    fasteners: tuple[Path, ...],
    where: str,
    units: System,
    paper: PaperName,
    as_json: bool,
) -> None:
    """Plan a joint on CONVEYOR, for the job in WORK, and write its folder.

    The folder holds the crew pack and the engineer's dossier (PDF), drawings (SVG), 1:1 templates
    (DXF and tiled PDF) and plan.json. Without WORK a joint on the return side is planned, with
    named assumptions.
    """
    from splicewright.actions.plan.plan import plan_joint, write_pack

    plan = plan_joint(conveyor, work, fasteners, _past_of(where) if where else {})
    written = write_pack(plan, out, units, paper, only) if out is not None else ()
    if as_json:
        import json

        put_json({"plan": json.loads(plan.to_json()), "written": [str(p) for p in written]})
        return
    for line in _summary(plan, units):
        click.echo(line)
    if out is not None:
        labels = {"crew-pack.pdf": "Crew pack", "dossier.pdf": "Dossier"}
        for path in written:
            if path.name in labels:
                click.echo(f"{labels[path.name]}: {path}")
        click.echo(f"{len(written)} files in {out}")


def _past_of(where: str) -> PastShares:
    """What past jobs of a register say of the times of steps."""
    from splicewright.actions.job.step_times import past_shares
    from splicewright.cli.opening import opened_register

    with opened_register(where) as register:
        return past_shares(register)


def _summary(plan: JointPlan, units: System) -> list[str]:
    from splicewright.quantities import Kind, show

    best = plan.fastener
    margin = show(best.margin, Kind.SHARE) if best is not None else ""
    asked = plan.demand
    lines = [f"{plan.conveyor.name}: {plan.work.name}  [plan {plan.id}]"]
    lines.append(
        f"Demand: running {asked.running.show(units)} ({asked.running_governed_by}), "
        f"starting {asked.starting.show(units)}"
    )
    if best is not None and plan.layout is not None:
        lines.append(
            f"Fastener: {best.name}, {best.material}; {plan.layout.count} plates at each end, "
            f"smallest margin {margin}"
        )
    elif best is not None and plan.step_joint is not None:
        joint = plan.step_joint
        lines.append(
            f"Joint: {best.name}, {best.material}; takes {joint.belt_needed.show(units)} of belt, "
            f"{joint.press_time.show(units)} {'to bond' if joint.cold else 'in the press'}, "
            f"smallest margin {margin}"
        )
        lines += [f"  {sentence.say(units)}" for sentence in plan.choice.reasons]
    else:
        lines += [f"Fastener: {sentence.say(units)}" for sentence in plan.choice.reasons]
        for near in plan.choice.candidates[:3]:
            misses = "; ".join(f"{r.name} ({r.reason.say(units)})" for r in near.missed)
            lines.append(f"  {near.name} misses {misses}")
    belt, ratings = plan.belt, plan.at_rest.ratings
    lines.append(
        f"Take-up after the work {belt.position_after.show(units)}, left {belt.left.show(units)}; "
        f"clamps rated {ratings.clamps.show(units)} or more each, "
        f"hoists {ratings.hoists.show(units)}"
    )
    lines.append(
        f"Time: {plan.timing.likely.show(units)} likely, up to {plan.timing.high.show(units)} "
        f"({plan.timing.words}); {plan.timing.man_hours} by a crew of {plan.work.crew}"
    )
    lines += [f"SETTLE BEFORE WORK: {sentence.say(units)}" for sentence in plan.questions]
    lines += [f"! {sentence.say(units)}" for sentence in plan.warnings]
    return lines


@click.command("quote")
@click.argument("source", type=FILE)
@click.argument("work", type=FILE, required=False)
@click.option("--prices", type=FILE, required=True, help="Your prices (TOML).")
@click.option("--out", type=FILE, help="PDF to write; it must not be there yet.")
@fasteners_option
@units_option
@paper_option
@answering
def quote_command(
    source: Path,
    work: Path | None,
    prices: Path,
    out: Path | None,
    fasteners: tuple[Path, ...],
    units: System,
    paper: PaperName,
) -> None:
    """Price the plan in SOURCE (folder, plan.json, or conveyor file with WORK) by your own prices.

    Parts, hours and extras. A part that the prices file does not name is listed without a price,
    and the sum says that it is not whole.
    """
    from splicewright.actions.plan.quote import quote_job, write_quotation
    from splicewright.sheets.reports.plan import quotation_sheet

    quotation = quote_job(source, prices, work, fasteners)
    for line in quotation_sheet(quotation, units).lines():
        click.echo(line)
    if out is not None:
        write_quotation(quotation, out, units, paper)
        click.echo(f"Quotation: {out}")
