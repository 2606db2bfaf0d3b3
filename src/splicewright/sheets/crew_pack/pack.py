"""The crew's job pack: the whole plan as one PDF, from the answer to the worksheet."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

from splicewright.job import JointLoads, JointPlan, loads_of
from splicewright.quantities import System
from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.canvas.pdf import TEMPLATES, render
from splicewright.sheets.crew_pack import answer, crew, demand
from splicewright.sheets.crew_pack import bolts as crew_pack_bolts
from splicewright.sheets.crew_pack import loads as crew_pack_loads
from splicewright.sheets.crew_pack.left_outside import LeftOutside, left_outside
from splicewright.sheets.drawings.at_rest import clamp_drawing
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
    "style", "at_rest", "answer", "left", "isolation", "drawings", "loads", "bolts", "demand",
    "parts", "steps", "acceptance", "worksheet", "pack",
)  # fmt: skip


def job_pack(
    plan: JointPlan,
    system: System = "metric",
    paper: Paper = A4,
    loads: JointLoads | None = None,
    left: Sequence[LeftOutside] = (),
) -> bytes:
    """Return the job pack as PDF; the same plan and values give the same bytes.

    A vulcanised joint gives no drawings and no templates. A plan without a joint gives the pages
    that hold without one: the answer with what each nearest fastener misses, isolation, loop and
    demand, tools, steps up to measuring, worksheet.

    Parameters
    ----------
    plan : any plan
    system : "metric" or "inch"
    paper : A4 or LETTER, upright
    loads : of this plan, when they were worked already
    left : values of its joint that are outside their limits, as the register has them

    Raises
    ------
    OutputError
        The document cannot be made.
    """
    drawings = Drawings({"qr": plan_code(plan)}, {})
    wide = paper.width - 2 * MARGIN
    drawings.paste("loop", side_view(plan, system, plan.work), wide)
    drawings.paste("tension", tension_diagram(plan, system), wide)
    drawings.paste("clamps", clamp_drawing(plan, system), wide)
    reverse = bool(plan.demand.reverse_cases)
    if reverse:
        drawings.paste("tension-back", tension_diagram(plan, system, reverse=True), wide)
    marking = joint = told = bolts = worked = None
    accepted, after = crew.acceptance(plan, system), crew.follow_up(plan, system)
    if plan.complete:
        marking = draw_marking(plan, system, paper, drawings)
        joint = draw_joint(plan, system, paper, drawings)
        worked = loads or loads_of(plan)
        drawings.paste("loads", loads_diagram(plan, worked, system), wide)
        told = crew_pack_loads.plate_loads(worked, system)
        bolts = crew_pack_bolts.bolts_and_pulley(worked, system)
        if accepted is not None and after is not None:
            accepted["measured"] += crew_pack_bolts.torque_row(worked, system)
            after["due"] = crew_pack_bolts.going_over(worked, system) + after["due"]
    data: dict[str, Any] = {
        "id": plan.id,
        "mark": "Plan",
        "file": "plan.json",
        "version": plan.version,
        "title": f"Job pack, {plan.work.name}",
        "job": plan.work.name,
        "complete": plan.complete,
        "chosen": plan.fastener is not None or not plan.work.job.plated,
        "invented": answer.invented(plan),
        "paper": {"width": paper.width, "height": paper.height, "margin": MARGIN},
        "answer": answer.answer(plan, system, worked),
        "left": left_outside(left, system),
        "isolation": crew.isolation(plan, system),
        "marking": marking,
        "joint": joint,
        "loads": told,
        "bolts": bolts,
        "sides": side_notes(plan),
        "reverse": reverse,
        "demand": demand.demand(plan, system),
        "parts": crew.parts_and_tools(plan, system),
        "steps": crew.steps(plan, system),
        "acceptance": accepted,
        "follow_up": after,
        "worksheet": worksheet.worksheet(plan, system),
        "drawings": drawings.told,
    }
    return render(_template(), data, drawings.files, name="job pack")


def plan_code(plan: JointPlan) -> str:
    """The plan's id as a QR code, in SVG: `splicewright:plan:<id>`."""
    import segno

    code = segno.make(f"splicewright:plan:{plan.id}", error="m", micro=False)
    return str(code.svg_inline(scale=4, border=4, light="#ffffff"))


@cache
def _template() -> str:
    return "\n".join((TEMPLATES / f"{name}.typ").read_text("utf-8") for name in _ORDER)
