"""The assessment of a joint: in words, as pages for the crew, and its folder's files."""

from __future__ import annotations

import hashlib
from dataclasses import asdict
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
from splicewright.sheets.pages.document import Document, KeyNumber, Section
from splicewright.sheets.pages.drawings import MARGIN, Drawings
from splicewright.sheets.pages.worksheet import part

FILE = "assessment.json"
_SHORT = {
    Verdict.STOP: "STOP",
    Verdict.REDUCE: "ONLY WITH LESS LOAD",
    Verdict.WATCH: "NO OVERLOAD FOUND",
}


def assessment_report(assessment: JointAssessment, system: System = "metric") -> Document:
    """The verdict, why, both ends plate by plate, what was assumed, who must decide."""
    return Document(
        "Assessment",
        assessment.name,
        f"Plates from the left, {assessment.place}.",
        (
            assessment.verdict.sentence.upper(),
            *(sentence.say(system) for sentence in assessment.reasons),
        ),
        numbers(assessment, system),
        tuple(_end(assessment, end, system) for end in End),
        tuple(sentence.say(system) for sentence in assessment.assumptions),
        (assessment.decision,),
        assessment.invented,
    )


def _end(assessment: JointAssessment, end: End, system: System) -> Section:
    plates = assessment.of(end)
    title = end.value.capitalize()
    if end is not assessment.end and not any(p.state for p in plates):
        most = show(max(p.high or 0.0 for p in plates), Kind.FORCE, system)
        return Section(title, (f"Nothing found; up to {most}.",))
    head = ("plate", "found", "left of it", "load", "up to", "used")
    return Section(title, head=head, table=tuple(_plate(p, system) for p in plates))


def assessment_files(
    assessment: JointAssessment, system: System = "metric", paper: Paper = A4
) -> dict[str, bytes]:
    """Make every file of an assessment's folder, by name; assessment.json is always SI."""
    return {
        "assessment.pdf": assessment_page(assessment, system, paper),
        FILE: assessment.to_json().encode(),
        "assessment.svg": standing_alone(assessment_drawing(assessment, system)),
    }


def assessment_page(
    assessment: JointAssessment, system: System = "metric", paper: Paper = A4
) -> bytes:
    """Return the assessment as PDF; the same assessment gives the same bytes.

    Raises
    ------
    OutputError
        The document cannot be made.
    """
    drawings = Drawings({}, {})
    drawings.paste("joint", assessment_drawing(assessment, system), paper.width - 2 * MARGIN)
    data: dict[str, Any] = {
        "id": hashlib.sha256(assessment.to_json().encode()).hexdigest()[:10].upper(),
        "mark": "Assessment",
        "file": FILE,
        "title": f"Assessment, {assessment.name}",
        "job": assessment.name,
        "invented": assessment.invented,
        "paper": {"width": paper.width, "height": paper.height, "margin": MARGIN},
        "levels": [{"words": _SHORT[v], "taken": v is assessment.verdict} for v in Verdict],
        "verdict": assessment.verdict.sentence,
        "numbers": [asdict(number) for number in numbers(assessment, system)],
        "reasons": [sentence.say(system) for sentence in assessment.reasons],
        "assumptions": [sentence.say(system) for sentence in assessment.assumptions],
        "decision": assessment.decision,
        "ends": [
            {"title": end.value, "rows": [_plate(p, system) for p in assessment.of(end)]}
            for end in End
        ],
        "place": assessment.place,
        "worksheet": part(assessment.worksheet, ("assess",), _repeats, system),
        "dropped": "plate by plate",
        "drawings": drawings.captions,
    }
    return render(_template(), data, drawings.files, name="assessment")


def numbers(assessment: JointAssessment, system: System) -> tuple[KeyNumber, ...]:
    """The key numbers, each with its name and a note."""
    low, high = (show(m, Kind.SHARE, system) for m in assessment.margin)
    sound_low, sound_high = (show(m, Kind.SHARE, system) for m in assessment.sound_margin)
    load = assessment.tonnage
    if assessment.full_rate is None:
        rate, note = "-", "no conveyor named"
    elif load is None:
        rate, note = "none", "not even the empty belt"
    else:
        rate = show(load.rate, Kind.MASS_FLOW, system)
        full = show(assessment.full_rate, Kind.MASS_FLOW, system)
        note = f"{show(load.share, Kind.SHARE)} of the full {full}"
    rows = (
        ("strength over need", low, f"worst plate, least; up to {high}"),
        ("without damage", sound_low, f"the same joint; up to {sound_high}"),
        ("may be loaded with", rate, note),
        (
            "tension it carries",
            show(assessment.largest, Kind.WIDTH_FORCE, system),
            f"pulled now: {show(assessment.running, Kind.WIDTH_FORCE, system)}",
        ),
        (
            "goes next",
            f"plate {assessment.next_plate}",
            f"{assessment.next_end.value}, from the left" if assessment.hinged else "from the left",
        ),
        ("more plates till it opens", str(assessment.losses_to_open), "worst first, largest pull"),
    )
    return tuple(KeyNumber(*row) for row in rows)


def _plate(plate: PlateLoad, system: System) -> tuple[str, ...]:
    load, high = (
        "-" if v is None else show(v, Kind.FORCE, system) for v in (plate.load, plate.high)
    )
    used = "-" if plate.used is None else show(plate.used, Kind.SHARE)
    return (
        str(plate.number),
        plate.state or "nothing found",
        show(plate.kept, Kind.SHARE),
        load,
        high,
        used,
    )


def _repeats(key: str) -> bool:
    """Lines of single plates: the table has them."""
    return ".plate_" in key and key.rsplit(".", 1)[-1] in {"kept", "load", "high", "used"}


@cache
def _template() -> str:
    names = ("style", "worksheet", "assessment")
    return "\n".join((TEMPLATES / f"{name}.typ").read_text("utf-8") for name in names)
