"""loads."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from splicewright.cli.answers import (
    FILE,
    answering,
    fasteners_option,
    json_option,
    put_json,
    units_option,
)

if TYPE_CHECKING:
    from splicewright.job import JointLoads
    from splicewright.quantities import System


@click.command("loads")
@click.argument("source", type=FILE)
@click.option("--work", type=FILE, help="Work file, when SOURCE is a conveyor file.")
@fasteners_option
@units_option
@json_option
@answering
def loads_command(
    source: Path, work: Path | None, fasteners: tuple[Path, ...], units: System, as_json: bool
) -> None:
    """Say what each plate of the planned joint carries, and how accurately it must be made.

    SOURCE is a job folder, its plan.json, or a conveyor file. Loads are ranges over the belt and
    plate stiffness and the side guidance that nobody measured.
    """
    from splicewright.actions.plan.loads import plate_loads

    loads = plate_loads(source, work, fasteners)
    if as_json:
        import json

        put_json(json.loads(loads.to_json()))
        return
    for line in _load_lines(loads, units):
        click.echo(line)


def _load_lines(loads: JointLoads, units: System) -> list[str]:
    from splicewright.joint.loads.making_limits import BOTH_ENDS, DERIVED
    from splicewright.quantities import Kind, show

    def force(value: float) -> str:
        return show(value, Kind.FORCE, units)

    worst = loads.worst
    lines = [f"Plate loads of plan {loads.plan}; typical value, in brackets the range assumed"]
    lines.append(f"Worst plate: {loads.load.show(units)}, {worst.place.name}")
    lines.append(f"  {loads.verdict.say(units)}")
    lines.append(f"  over the mean {loads.factor.show(units)}")
    lines.append(
        f"  margin to the {loads.permitted.show(units)} it may carry: {loads.margin.show(units)}"
    )
    for number, row in enumerate(loads.rows, 1):
        lines.append(f"  row {number} of bolts from the cut takes {row.show(units)} of it")
    lines.append(f"\n{'plate of the leading end, from the left':<42}typical      range")
    for number, (load, low, high) in enumerate(
        zip(worst.loads, worst.low, worst.high, strict=True), 1
    ):
        lines.append(f"{number:>5}{force(load):>45}   {force(low)} to {force(high)}")
    lines.append("The trailing end carries the same, the other way round.")
    lines.append(f"\n{'worst plate at each place':<42}typical      range")
    for at in loads.places:
        low, typical, high = at.worst
        lines.append(f"{at.place.name:<38}{force(typical):>12}   {force(low)} to {force(high)}")
    lines.append("\nHow accurate: each of these errors alone uses up a tenth of the margin")
    lines += [f"  ({DERIVED};", f"  {BOTH_ENDS})"]
    for limit in loads.limits.every:
        lines.append(
            f"  {limit.what:<58}{limit.smallest.show(units):>10}   common practice: "
            f"{limit.practice.say(units)}"
        )
        lines.append(f"      typically {limit.typical.show(units)}: {limit.guidance(units)}")
    lines += _bolts(loads, units)
    lines.append("")
    lines += [f"! {sentence.say(units)}" for sentence in loads.remarks]
    lines += [f"  {sentence.say(units)}" for sentence in loads.assumptions]
    return lines


def _bolts(loads: JointLoads, units: System) -> list[str]:
    from splicewright.sheets.crew_pack.bolts import bolts_and_pulley

    texts = bolts_and_pulley(loads, units)
    lines = []
    for head, rows, remarks in (
        ("Bolts", texts["bolts"], texts["bolt_remarks"]),
        ("Plates on the smallest pulley", texts["pulley"], texts["pulley_remarks"]),
    ):
        if rows:
            lines.append(f"\n{head}")
            lines += [
                f"  {row[0]:<42}{row[1]:>12}   {'; '.join(filter(None, row[2:]))}" for row in rows
            ]
            lines += [f"  {remark}" for remark in remarks]
    return lines
