"""The words of the belt at rest."""

from __future__ import annotations

from splicewright.quantities import Figure, System
from splicewright.tension.at_rest import AtRest


def sag_lines(
    run: str, tension: Figure, doubt: Figure, least: Figure, largest: Figure, units: System
) -> list[str]:
    """What a measured sag says: tension of the belt there, and pull of the take-up [N]."""
    return [
        f"Belt tension on {run}: {tension.show(units)}, give or take {doubt.show(units)}",
        f"The take-up pulls {least.show(units)} to {largest.show(units)} on its pulley, "
        "friction on the way counted either way.",
        "Write it into the conveyor file: [take_up] force = "
        f'"{least.value / 1e3:.1f} to {largest.value / 1e3:.1f} kN"',
    ]


def stage_lines(rest: AtRest, units: System) -> list[str]:
    """What to settle, the stages with their forces, ratings, what lets go, and movements."""
    lines = [f"! {d.ask.say(units)}" for d in rest.doubts]
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
            f"       {others}; moves {row.travel.show(units)}, up to {row.speed.show(units)}, "
            f"{row.energy.show(units)}"
        )
        lines.append(f"       {row.says.say(units)}")
    lines += ["", "Movements and what to know:"]
    lines += [f"  {s.say(units)}" for s in (*rest.holds, *rest.remarks)]
    return lines
