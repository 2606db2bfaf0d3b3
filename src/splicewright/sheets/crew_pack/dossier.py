"""The engineer's dossier: drawings in full, plate loads, demand, requirements, worksheet."""

from __future__ import annotations

from functools import cache
from typing import Any

from splicewright.job import JointLoads, JointPlan, loads_of
from splicewright.quantities import System
from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.canvas.pdf import TEMPLATES, render
from splicewright.sheets.crew_pack import answer, bolts, crew, demand
from splicewright.sheets.crew_pack import loads as plate_loads
from splicewright.sheets.drawings.loads import loads_diagram
from splicewright.sheets.drawings.loop import side_view
from splicewright.sheets.drawings.tension import tension_diagram
from splicewright.sheets.pages import worksheet
from splicewright.sheets.pages.drawings import (
    MARGIN,
    Drawings,
    draw_joint,
    draw_marking,
    side_notes,
)

_ORDER = (
    "style",
    "at_rest",
    "answer",
    "drawings",
    "loads",
    "bolts",
    "demand",
    "worksheet",
    "dossier",
)


def dossier(
    plan: JointPlan,
    system: System = "metric",
    paper: Paper = A4,
    loads: JointLoads | None = None,
    *,
    witness: str = "",
) -> bytes:
    """Return the dossier as PDF; the same plan gives the same bytes.

    A vulcanised joint, and a plan without a joint, give no drawings of plates and no plate loads.

    Parameters
    ----------
    loads : of this plan, when they were worked already
    witness : of the register's chain, for the foot of every page

    Raises
    ------
    OutputError
        The document cannot be made.
    """
    drawings = Drawings({"qr": answer.plan_code(plan)}, {})
    wide = paper.width - 2 * MARGIN
    drawings.paste("loop", side_view(plan, system, plan.work), wide)
    drawings.paste("tension", tension_diagram(plan, system), wide)
    reverse = bool(plan.demand.reverse_cases)
    if reverse:
        drawings.paste("tension-back", tension_diagram(plan, system, reverse=True), wide)
    marking = joint = load_texts = bolted = worked = None
    if plan.complete:
        marking = draw_marking(plan, system, paper, drawings)
        joint = draw_joint(plan, system, paper, drawings)
        worked = loads or loads_of(plan)
        drawings.paste("loads", loads_diagram(plan, worked, system), wide)
        load_texts = plate_loads.plate_loads(worked, system)
        bolted = bolts.bolts_and_pulley(worked, system)
    data: dict[str, Any] = {
        **answer.heading(plan, f"Dossier, {plan.work.name}", paper, witness),
        "answer": answer.answer(plan, system, worked),
        "isolation": crew.isolation(plan, system),
        "marking": marking,
        "joint": joint,
        "loads": load_texts,
        "bolts": bolted,
        "sides": side_notes(plan),
        "reverse": reverse,
        "demand": demand.demand(plan, system),
        "worksheet": worksheet.worksheet(plan, system, "plan.json"),
        "drawings": drawings.captions,
    }
    return render(_template(), data, drawings.files, name="dossier")


@cache
def _template() -> str:
    return "\n".join((TEMPLATES / f"{name}.typ").read_text("utf-8") for name in _ORDER)
