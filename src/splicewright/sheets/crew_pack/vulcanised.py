"""The pages of a vulcanised joint in the crew pack: lines of both ends, section, press, dew."""

from __future__ import annotations

import math
from typing import Any

from splicewright.job import JointPlan
from splicewright.joint import End
from splicewright.joint.curing import AIR_ROWS, HUMIDITY_COLUMNS
from splicewright.plant import Side
from splicewright.quantities import Kind, System, show
from splicewright.sheets.canvas.paper import BELT_REDUCTIONS, Paper
from splicewright.sheets.drawings.belt_end import length_text, unit_note
from splicewright.sheets.drawings.step_joint import (
    face_up,
    press_drawing,
    step_marking,
    step_section,
)
from splicewright.sheets.pages.drawings import MARGIN, Drawings


def step_pages(
    plan: JointPlan, system: System, paper: Paper, drawings: Drawings
) -> dict[str, Any] | None:
    """What the two pages say; None for other joints. Their drawings are put among `drawings`."""
    best, joint = plan.fastener, plan.step_joint
    if best is None or best.steps is None or joint is None or joint.curing is None:
        return None
    wide, across = paper.width - 2 * MARGIN, paper.height - 2 * MARGIN
    drawings.add("step-lines", step_marking(plan, system), across, 112.0, BELT_REDUCTIONS)
    drawings.paste("step-section", step_section(plan, system, wide), wide)
    # The dew table stands on the same sheet, which may be lower than A4.
    high = paper.height - 170.0
    if not joint.cold:
        drawings.add("press", press_drawing(plan, system), wide, high, BELT_REDUCTIONS)
    run = next(r for r in plan.conveyor.runs() if r.name == plan.work.run)
    folded = End.TRAILING if run.side is Side.RETURN else End.LEADING
    cure = joint.curing
    tables = [
        {
            "title": f"{which.value}, {face_up(which).lower()}"
            + (": folded back here" if which is folded else ": as it lies here"),
            "rows": [
                [m.what, *(length_text(x, system) for x in (m.left, m.middle, m.right))]
                for m in joint.marks(which)
            ],
        }
        for which in (End.TRAILING, End.LEADING)
    ]
    return {
        "unit": unit_note(system),
        "bias": joint.bias.show(system),
        "offset": joint.bias_offset.show(system),
        "corner": joint.bias.value > 0,
        "tables": tables,
        "cold": joint.cold,
        "heats": [
            f"heat {n}: its middle {(abs(x) and length_text(abs(x), system)) or 0}"
            + ("" if x == 0 else " behind" if x < 0 else " ahead of")
            + (" on" if x == 0 else "")
            + " the middle of the joint"
            for n, x in enumerate(cure.places, 1)
        ]
        if len(cure.places) > 1
        else [],
        "dew": {
            "head": [f"{h} %" for h in HUMIDITY_COLUMNS],
            "rows": [
                [show(273.15 + t, Kind.TEMPERATURE, system), *(_warm(x, system) for x in row)]
                for t, row in zip(AIR_ROWS, cure.faces, strict=True)
            ],
            "planned": f"{cure.air.show(system)}, {cure.humidity.show(system)}: faces at "
            f"{cure.face.show(system)} or warmer",
        },
    }


def _warm(face: float, system: System) -> str:
    """A least temperature [K] in whole degrees, rounded to the warm side."""
    degrees = face - 273.15
    if system == "inch":
        return f"{math.ceil(1.8 * degrees + 32 - 1e-9):g} °F"
    return f"{math.ceil(degrees - 1e-9):g} °C".replace("-", "−")
