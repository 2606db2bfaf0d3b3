"""The crew pack: what is carried to the belt, as one PDF."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

from splicewright.job import JointLoads, JointPlan, loads_of
from splicewright.joint.loads.making_limits import DERIVED
from splicewright.plant import Damage
from splicewright.quantities import System
from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.canvas.pdf import TEMPLATES, render
from splicewright.sheets.crew_pack import answer, bolts, crew
from splicewright.sheets.crew_pack.card import card_told
from splicewright.sheets.crew_pack.left_outside import LeftOutside, left_outside
from splicewright.sheets.crew_pack.vulcanised import step_pages
from splicewright.sheets.drawings.at_rest import clamp_drawing
from splicewright.sheets.pages.drawings import MARGIN, Drawings

_ORDER = (
    "style",
    "at_rest",
    "answer",
    "left",
    "isolation",
    "card",
    "vulcanised",
    "parts",
    "steps",
    "acceptance",
    "pack",
)


def crew_pack(
    plan: JointPlan,
    system: System = "metric",
    paper: Paper = A4,
    loads: JointLoads | None = None,
    left: Sequence[LeftOutside] = (),
    *,
    witness: str = "",
) -> bytes:
    """Return the crew pack as PDF; the same plan and values give the same bytes.

    Answer, isolation and forces, where the clamps stand, marking card, parts and tools, steps,
    acceptance, follow-up. A vulcanised joint gives no card. A plan without a joint gives the pages
    that hold without one: the answer with what each nearest fastener misses, isolation, tools,
    steps up to measuring. What an engineer asks for besides is in the dossier.

    Parameters
    ----------
    loads : of this plan, when they were worked already
    left : values of its joint that are outside their limits, as the register has them
    witness : of the register's chain, for the foot of every page

    Raises
    ------
    OutputError
        The document cannot be made.
    """
    drawings = Drawings({"qr": answer.plan_code(plan)}, {})
    drawings.paste("clamps", clamp_drawing(plan, system), paper.width - 2 * MARGIN)
    worked = card = None
    accepted, after = crew.acceptance(plan, system), crew.follow_up(plan, system)
    if plan.complete:
        if plan.work.job.joins:  # a joint that is mended is not marked out
            card = card_told(plan, system, paper, drawings)
        worked = loads or loads_of(plan)
        if accepted is not None and after is not None and plan.work.damage is not Damage.PIN:
            accepted["measured"] += bolts.torque_row(worked, system)
            after["due"] = bolts.going_over(worked, system) + after["due"]
    data: dict[str, Any] = {
        **answer.heading(plan, f"Crew pack, {plan.work.name}", paper, witness),
        "crew": True,
        "chosen": plan.fastener is not None or not plan.work.job.plated,
        "answer": answer.answer(plan, system, worked),
        "left": left_outside(left, system),
        "isolation": crew.isolation(plan, system),
        "card": card,
        "vulcanised": step_pages(plan, system, paper, drawings),
        "parts": crew.parts_and_tools(plan, system),
        "steps": crew.steps(plan, system),
        "derived": DERIVED,
        "acceptance": accepted,
        "follow_up": after,
        "found": crew.room_for_findings(plan),
        "drawings": drawings.captions,
    }
    return render(_template(), data, drawings.files, name="crew pack")


@cache
def _template() -> str:
    return "\n".join((TEMPLATES / f"{name}.typ").read_text("utf-8") for name in _ORDER)
