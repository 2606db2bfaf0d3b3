"""The belt at rest as the crew reads it: forces, stages, single failures, movements, questions."""

from __future__ import annotations

from typing import Any

from splicewright.job import ClampPlace, JointPlan
from splicewright.quantities import Figure, System, show
from splicewright.sheets.drawings.worked import figure_of
from splicewright.tension import AtRest
from splicewright.tension.at_rest import Force, LetsGo, Stage


def belt_at_rest(plan: JointPlan, system: System) -> dict[str, Any]:
    """Everything the isolation sheet says of the stopped belt, as texts."""
    stopped = plan.at_rest
    behind, ahead = stopped.bounds.sides
    moved = stopped.movement
    if not plan.work.job.clamped:  # nothing is clamped or released: what it holds, no more
        return {
            "settle": [ask.say(system) for ask in plan.questions],
            "ratings": [],
            "forces": _rows(_kept(stopped), system),
            "remarks": [],
            "sides": [behind.name, ahead.name],
            "stages": [],
            "lets_go": [],
            "moves": [],
            "moves_say": [],
        }
    return {
        "settle": [ask.say(system) for ask in plan.questions],
        "ratings": _ratings(plan, system),
        "forces": _rows(_forces(stopped, drawn=plan.work.job.plated), system),
        "remarks": [s.say(system) for s in stopped.remarks if s not in moved.says],
        "sides": [behind.name, ahead.name],
        "stages": [_stage(number, s, system) for number, s in enumerate(stopped.stages, 1)],
        "lets_go": [_lets_go(row, system) for row in stopped.lets_go],
        "moves": _moves(plan, system),
        "moves_say": [s.say(system) for s in moved.says],
    }


def if_one_lets_go(plan: JointPlan, place: ClampPlace) -> Figure:
    """The most a clamp carries when one thing lets go [N]."""
    carried = [
        other.force
        for row in plan.at_rest.lets_go
        for other in row.others
        if other.key == place.key or (not place.restraining and other.key == "other_hoist")
    ]
    return max(carried, key=lambda force: force.value)


def _ratings(plan: JointPlan, system: System) -> list[dict[str, str]]:
    """Least ratings, each with the force it comes from."""
    ratings, factor = plan.at_rest.ratings, plan.work.clamp_factor.show(system)
    rated = (
        (ratings.clamps, "at_rest.clamp_force"),
        (ratings.hoists, "at_rest.hoist_force"),
        (ratings.tackle, "at_rest.weight"),
    )
    return [
        {
            "label": rating.label,
            "value": rating.show(system),
            "note": f"{factor} times {figure_of(plan, force).show(system)}",
        }
        for rating, force in rated
        if rating is not None
    ]


def _forces(stopped: AtRest, *, drawn: bool) -> tuple[Figure | None, ...]:
    bounds, stored = stopped.bounds, stopped.energies
    return (
        bounds.acting.largest,
        stopped.acting_per_width,
        bounds.released.largest,
        *(side.hold.largest for side in bounds.sides),
        bounds.draw.largest if drawn else None,
        stopped.run_back.most,
        stored.belt,
        stored.weight,
        stored.load,
    )


def _kept(stopped: AtRest) -> tuple[Figure | None, ...]:
    """What a belt holds that stays under tension."""
    stored = stopped.energies
    return (
        stopped.bounds.acting.largest,
        stopped.acting_per_width,
        stopped.run_back.most,
        stored.belt,
        stored.weight,
        stored.load,
    )


def _rows(figures: tuple[Figure | None, ...], system: System) -> list[dict[str, str]]:
    return [{"label": f.label, "value": f.show(system)} for f in figures if f is not None]


def _stage(number: int, stage: Stage, system: System) -> dict[str, str]:
    keys = {"belt": "belt", "behind": "clamp_behind", "ahead": "clamp_ahead", "hoists": "hoists"}
    return {
        "number": str(number),
        "name": stage.name,
        "says": stage.says.say(system),
        **{name: _carries(stage.force(key), system) for name, key in keys.items()},
    }


def _carries(force: Force | None, system: System) -> str:
    """Least to most; the most alone where the least is nothing; empty where nothing is there."""
    if force is None:
        return ""
    if force.largest.value == 0:
        return "slack"
    least, most = force.least.show(system), force.largest.show(system)
    if force.least.value == 0 or least == most:
        return most
    return f"{show(force.least.value, force.least.kind, system, unit=False)} to {most}"


def _lets_go(row: LetsGo, system: System) -> dict[str, Any]:
    return {
        "name": row.name,
        "when": row.when,
        "others": [{"name": o.name, "force": o.force.show(system)} for o in row.others],
        "travel": row.travel.show(system),
        "speed": row.speed.show(system),
        "energy": row.energy.show(system),
        "says": row.says.say(system),
    }


def _moves(plan: JointPlan, system: System) -> list[dict[str, str]]:
    """How far things move: what the take-up must give and can give first."""
    moved = plan.at_rest.movement
    figures = (
        ("take-up must give", moved.take_up),
        ("it can give", moved.there),
        ("take-up pulley moves", moved.lift),
        ("counterweight moves", moved.weight),
        ("hoists travel", moved.hoists if plan.work.job.plated else None),
    )
    rows = [{"name": n, "value": f.show(system)} for n, f in figures if f is not None]
    rows.insert(2, {"name": "enough", "value": "yes" if moved.enough else "NO"})
    return rows
