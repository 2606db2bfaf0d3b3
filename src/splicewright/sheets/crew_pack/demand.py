"""Loop and demand in tables: the two ways side by side, every pulley, every requirement."""

from __future__ import annotations

from typing import Any

from splicewright.job import JointPlan
from splicewright.joint import Candidate
from splicewright.quantities import Kind, System, show
from splicewright.sheets.drawings.loop import pulley_numbers
from splicewright.tension import Demand, Running


def demand(plan: JointPlan, system: System) -> dict[str, Any]:
    """What the machine asks of the joint and how each fastener stands to it, as texts."""
    asked = plan.demand
    judged = [c for c in plan.choice.candidates[:2] if plan.complete is False or c.passes]
    return {
        "ways": _ways(plan, system),
        "running": asked.running.show(system),
        "running_by": asked.running_governed_by,
        "starting": asked.starting.show(system),
        "starting_by": asked.starting_governed_by,
        "safety": asked.belt_safety.show(system),
        "exceptional": None if asked.exceptional is None else asked.exceptional.show(system),
        "exceptional_by": _exceptional_by(asked),
        "findings": [s.say(system) for s in asked.findings],
        "pulleys": _pulleys(plan, system),
        "candidates": [_candidate(c, plan, system) for c in judged],
        "others": [
            {"name": c.name, "missed": ", ".join(r.name for r in c.missed)}
            for c in plan.choice.candidates
            if c not in judged and c.missed
        ],
    }


def _exceptional_by(asked: Demand) -> str:
    """The rare cases worked: a blocked chute, an engaged holdback."""
    rare = [c.case.value for c in asked.other_cases if not (c.case.steady or c.case.transient)]
    return ", ".join(rare)


def _ways(plan: JointPlan, system: System) -> dict[str, Any]:
    """One column for the motor plate, one for each load case."""
    asked = plan.demand
    plate = asked.nameplate
    columns: list[dict[str, str]] = []
    if plate is not None:
        columns.append(
            {
                "name": "motor plate",
                "pull": plate.pull.show(system),
                "start": plate.starting_pull.show(system),
                "power": "rated",
                "behind": plate.behind_drive.show(system),
                "largest": plate.largest.show(system),
                "largest_start": plate.starting.show(system),
                "where": "-",
                "limits": "-",
            }
        )
    columns += [_way(case, case.case.value, system) for case in asked.cases]
    columns += [_way(case, f"back, {case.case.value}", system) for case in asked.reverse_cases]
    return {"columns": columns, "plate": plate is not None}


def _way(case: Running, name: str, system: System) -> dict[str, str]:
    grip = "no slip" if case.grip_kept else "SLIPS"
    sag = "within limit" if case.sag_kept else "TOO LARGE"
    return {
        "name": name,
        "pull": case.pull.show(system),
        "start": "-",
        "power": case.power.show(system),
        "behind": case.behind_drive.show(system),
        "largest": case.largest.show(system),
        "largest_start": "-",
        "where": f"end of {case.where}",
        "limits": f"{grip} / {sag}",
    }


def _pulleys(plan: JointPlan, system: System) -> list[dict[str, str]]:
    numbers = pulley_numbers(plan.conveyor)
    return [
        {
            "number": str(numbers[p.pulley]),
            "name": p.pulley,
            "diameter": p.diameter.show(system),
            "wrap": p.wrap.show(system),
            "touches": p.touches,
            "running": p.running.show(system),
            "starting": p.starting.show(system),
        }
        for p in plan.demand.passings
    ]


def _candidate(candidate: Candidate, plan: JointPlan, system: System) -> dict[str, Any]:
    role = "nearest"
    if candidate.name == plan.choice.recommended:
        role = "chosen"
    elif candidate.name == plan.choice.runner_up:
        role = "runner-up"
    return {
        "name": candidate.name,
        "role": role,
        "rows": [
            {
                "name": r.name,
                "met": r.met,
                "margin": "" if r.margin is None else show(r.margin, Kind.SHARE),
                "reason": r.reason.say(system),
            }
            for r in candidate.requirements
        ],
    }
