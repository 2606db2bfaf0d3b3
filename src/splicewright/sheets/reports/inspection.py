"""The assessment of a joint as pages for the crew, and its folder's files."""

from __future__ import annotations

import hashlib
from functools import cache
from typing import Any

from splicewright.job.inspection.joint_assessment import JointAssessment, PlateLoad
from splicewright.joint import End
from splicewright.joint.inspection.verdict import Verdict
from splicewright.quantities import Kind, System, show
from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.canvas.pdf import TEMPLATES, render
from splicewright.sheets.canvas.svg_file import standing_alone
from splicewright.sheets.drawings.inspection import assessment_drawing
from splicewright.sheets.pages.drawings import MARGIN, Drawings
from splicewright.sheets.pages.worksheet import part

FILE = "assessment.json"
_SHORT = {
    Verdict.STOP: "STOP",
    Verdict.REDUCE: "ONLY WITH LESS LOAD",
    Verdict.WATCH: "NO OVERLOAD FOUND",
}


def assessment_files(
    made: JointAssessment, system: System = "metric", paper: Paper = A4
) -> dict[str, bytes]:
    """Make every file of an assessment's folder, by name; assessment.json is always SI."""
    return {
        "assessment.pdf": assessment_page(made, system, paper),
        FILE: made.to_json().encode(),
        "assessment.svg": standing_alone(assessment_drawing(made, system)),
    }


def assessment_page(made: JointAssessment, system: System = "metric", paper: Paper = A4) -> bytes:
    """Return the assessment as PDF; the same assessment gives the same bytes.

    Raises
    ------
    OutputError
        The document cannot be made.
    """
    drawings = Drawings({}, {})
    drawings.paste("joint", assessment_drawing(made, system), paper.width - 2 * MARGIN)
    data: dict[str, Any] = {
        "id": hashlib.sha256(made.to_json().encode()).hexdigest()[:10].upper(),
        "mark": "Assessment",
        "file": FILE,
        "title": f"Assessment, {made.name}",
        "job": made.name,
        "invented": made.invented,
        "paper": {"width": paper.width, "height": paper.height, "margin": MARGIN},
        "levels": [{"said": _SHORT[v], "taken": v is made.verdict} for v in Verdict],
        "verdict": made.verdict.sentence,
        "numbers": numbers(made, system),
        "reasons": [said.say(system) for said in made.reasons],
        "assumptions": [said.say(system) for said in made.assumptions],
        "decision": made.decision,
        "ends": [
            {"title": end.value, "rows": [_plate(p, system) for p in made.of(end)]} for end in End
        ],
        "place": made.place,
        "worksheet": part(made.worksheet, ("assess",), _repeats, system),
        "dropped": "plate by plate",
        "drawings": drawings.told,
    }
    return render(_template(), data, drawings.files, name="assessment")


def numbers(made: JointAssessment, system: System) -> list[dict[str, str]]:
    """The key numbers, each with its name and a note."""
    low, high = (show(m, Kind.SHARE, system) for m in made.margin)
    sound_low, sound_high = (show(m, Kind.SHARE, system) for m in made.sound_margin)
    load = made.tonnage
    if made.full_rate is None:
        rate, note = "-", "no conveyor named"
    elif load is None:
        rate, note = "none", "not even the empty belt"
    else:
        rate = show(load.rate, Kind.MASS_FLOW, system)
        full = show(made.full_rate, Kind.MASS_FLOW, system)
        note = f"{show(load.share, Kind.SHARE)} of the full {full}"
    told = (
        ("strength over need", low, f"worst plate, least; up to {high}"),
        ("without damage", sound_low, f"the same joint; up to {sound_high}"),
        ("may be loaded with", rate, note),
        (
            "tension it carries",
            show(made.largest, Kind.WIDTH_FORCE, system),
            f"pulled now: {show(made.running, Kind.WIDTH_FORCE, system)}",
        ),
        (
            "goes next",
            f"plate {made.next_plate}",
            f"{made.next_end.value}, from the left" if made.hinged else "from the left",
        ),
        ("more plates till it opens", str(made.losses_to_open), "worst first, largest pull"),
    )
    return [{"name": n, "value": v, "note": t} for n, v, t in told]


def _plate(plate: PlateLoad, system: System) -> list[str]:
    load, high = (
        "-" if v is None else show(v, Kind.FORCE, system) for v in (plate.load, plate.high)
    )
    used = "-" if plate.used is None else show(plate.used, Kind.SHARE)
    return [
        str(plate.number),
        plate.state or "nothing found",
        show(plate.kept, Kind.SHARE),
        load,
        high,
        used,
    ]


def _repeats(key: str) -> bool:
    """Lines of single plates: the table has them."""
    return ".plate_" in key and key.rsplit(".", 1)[-1] in {"kept", "load", "high", "used"}


@cache
def _template() -> str:
    names = ("style", "worksheet", "assessment")
    return "\n".join((TEMPLATES / f"{name}.typ").read_text("utf-8") for name in names)
