"""The folder of a planned job as bytes: crew pack, dossier, drawings, templates."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Literal

from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.canvas.svg_file import standing_alone

if TYPE_CHECKING:
    from splicewright.job import JointLoads, JointPlan
    from splicewright.quantities import System
    from splicewright.sheets.canvas.scene import Scene
    from splicewright.sheets.crew_pack.left_outside import LeftOutside

_A3 = (420.0, 297.0)
"""Sheet for which the single drawings are scaled [mm]."""


Only = Literal["crew", "dossier"]
"""A part of the folder: what the crew carries, or what the engineer reads."""


def pack(
    plan: JointPlan,
    system: System = "metric",
    paper: Paper = A4,
    left: Sequence[LeftOutside] = (),
    only: Only | None = None,
    witness: str = "",
) -> dict[str, bytes]:
    """Make every file of a job's folder, by name.

    Parameters
    ----------
    plan : any plan; without a joint the folder holds no joint drawings and no templates
    left : values of its joint outside their limits, for the crew pack
    only : "crew" gives the crew pack, "dossier" the dossier, each with plan.json alone; None gives
        both, every drawing and the templates
    witness : of the register's chain, NUMBER:HASH, for the foot of both PDFs

    Returns
    -------
    dict of file name to content; the same plan and values give the same bytes

    Raises
    ------
    OutputError
        A file cannot be made.
    """
    from splicewright.job import loads_of

    loads = loads_of(plan) if plan.complete else None
    # The PDF compiler lets other threads work: both PDFs and the drawings are made beside it.
    with ThreadPoolExecutor(2) as beside:
        printing = [
            beside.submit(make)
            for name, make in (
                ("dossier", lambda: {"dossier.pdf": _dossier(plan, system, paper, loads, witness)}),
                (
                    "crew",
                    lambda: {
                        "crew-pack.pdf": _crew_pack(plan, system, paper, loads, left, witness)
                    },
                ),
            )
            if only in {None, name}
        ]
        files = {"plan.json": plan.to_json().encode()}
        if only is None:
            files |= _drawn(plan, system)
            if loads is not None:
                files |= _of_joint(plan, loads, system, paper)
            if plan.step_joint is not None and plan.step_joint.lines:
                files |= _of_steps(plan, system, paper)
        for printed in printing:
            files |= printed.result()
    return files


def _drawn(plan: JointPlan, system: System) -> dict[str, bytes]:
    """The drawings one by one."""
    from splicewright.sheets.drawings.tension import tension_diagram

    files = {name: draw(plan, system) for name, draw in drawings(plan).items()}
    files["tension.svg"] = standing_alone(tension_diagram(plan, system))
    if plan.demand.reverse_cases:
        files["tension-reverse.svg"] = standing_alone(tension_diagram(plan, system, reverse=True))
    return files


def _crew_pack(
    plan: JointPlan,
    system: System,
    paper: Paper,
    loads: JointLoads | None,
    left: Sequence[LeftOutside],
    witness: str,
) -> bytes:
    from splicewright.sheets.crew_pack.pack import crew_pack

    return crew_pack(plan, system, paper, loads, left, witness=witness)


def _dossier(
    plan: JointPlan, system: System, paper: Paper, loads: JointLoads | None, witness: str
) -> bytes:
    from splicewright.sheets.crew_pack.dossier import dossier

    return dossier(plan, system, paper, loads, witness=witness)


def _of_joint(plan: JointPlan, loads: JointLoads, system: System, paper: Paper) -> dict[str, bytes]:
    """Drawings, loads and templates of a laid-out joint."""
    from splicewright.joint import End
    from splicewright.sheets.canvas.dxf import dxf
    from splicewright.sheets.canvas.pdf import tiled_pdf
    from splicewright.sheets.drawings.loads import loads_diagram
    from splicewright.sheets.drawings.template import template, template_tiles

    files = {
        "plate-loads.svg": standing_alone(loads_diagram(plan, loads, system)),
        "plate-loads.json": loads.to_json().encode(),
    }
    for which, name in ((End.LEADING, "leading"), (End.TRAILING, "trailing")):
        scene = template(plan, which, system)
        files[f"template-{name}.dxf"] = dxf(scene)
        turned, laid = template_tiles(scene, paper)
        files[f"template-{name}-tiles.pdf"] = tiled_pdf(laid, turned)
    return files


def _of_steps(plan: JointPlan, system: System, paper: Paper) -> dict[str, bytes]:
    """Lines of both ends at 1:1 as DXF, and the corner of each on paper."""
    from splicewright.joint import End
    from splicewright.sheets.canvas.dxf import dxf
    from splicewright.sheets.canvas.pdf import tiled_pdf
    from splicewright.sheets.canvas.scene import Scene
    from splicewright.sheets.drawings.step_joint import corner_template, step_end
    from splicewright.sheets.drawings.template import template_tiles

    files = {}
    biased = plan.step_joint is not None and plan.step_joint.bias.value > 0
    for which, name in ((End.LEADING, "leading"), (End.TRAILING, "trailing")):
        title = f"Lines of the {which.value}, plan {plan.id}"
        files[f"steps-{name}.dxf"] = dxf(Scene(step_end(plan, which, system), title))
        if biased:  # else the square line is all there is to set
            turned, laid = template_tiles(corner_template(plan, which, system), paper)
            files[f"corner-{name}-tiles.pdf"] = tiled_pdf(laid, turned)
    return files


def drawings(plan: JointPlan) -> dict[str, Callable[[JointPlan, System], bytes]]:
    """The drawings of a plan by file name, each with what draws it as SVG; none takes 0.2 s."""
    from splicewright.joint import End
    from splicewright.sheets.crew_pack.card import card
    from splicewright.sheets.drawings.at_rest import clamp_drawing
    from splicewright.sheets.drawings.cut import marking
    from splicewright.sheets.drawings.joint import end_drawing, joint_drawing
    from splicewright.sheets.drawings.loop import side_view
    from splicewright.sheets.drawings.step_joint import press_drawing, step_marking, step_section

    by_name: dict[str, Callable[[JointPlan, System], bytes]] = {
        "loop.svg": lambda p, s: standing_alone(side_view(p, s, p.work)),
        "clamps.svg": lambda p, s: standing_alone(clamp_drawing(p, s)),
    }
    if plan.step_joint is not None and plan.step_joint.lines:
        by_name |= {
            "step-lines.svg": lambda p, s: _sheet(step_marking(p, s)),
            "step-section.svg": lambda p, s: standing_alone(step_section(p, s)),
        }
        if not plan.step_joint.cold:
            by_name["press.svg"] = lambda p, s: _sheet(press_drawing(p, s))
    if plan.complete:
        by_name |= {
            "marking.svg": lambda p, s: _sheet(marking(p, s)),
            "marking-card.svg": lambda p, s: standing_alone(card(p, s)),
            "joint.svg": lambda p, s: _sheet(joint_drawing(p, s)),
            "plates-leading.svg": lambda p, s: _sheet(end_drawing(p, End.LEADING, s)),
            "plates-trailing.svg": lambda p, s: _sheet(end_drawing(p, End.TRAILING, s)),
        }
    return by_name


def _sheet(scene: Scene) -> bytes:
    """A true-size scene at the scale that fits an A3 sheet; the scale is told in its title."""
    from dataclasses import replace

    from splicewright.sheets.canvas.paper import BELT_REDUCTIONS, fit

    done = fit(scene, _A3[0] - 20.0, _A3[1] - 40.0, BELT_REDUCTIONS)
    return standing_alone(replace(done.scene, title=f"{scene.title}, {done.scale}"))
