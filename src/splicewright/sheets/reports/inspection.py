"""The assessment of a joint: what it can still carry, and who must decide."""

from __future__ import annotations

from functools import partial

from splicewright.job.inspection.joint_assessment import JointAssessment, PlateLoad
from splicewright.joint import End
from splicewright.joint.inspection.verdict import Verdict
from splicewright.quantities import Kind, System, show
from splicewright.sheets.drawings.inspection import assessment_drawing
from splicewright.sheets.pages.document import (
    Diagram,
    Document,
    KeyNumber,
    Level,
    Section,
    as_sentence,
)
from splicewright.sheets.pages.report import identity_of
from splicewright.sheets.pages.worksheet import part

_SHORT = {
    Verdict.STOP: "STOP",
    Verdict.REDUCE: "ONLY WITH LESS LOAD",
    Verdict.WATCH: "NO OVERLOAD FOUND",
}


def assessment_report(assessment: JointAssessment, system: System = "metric") -> Document:
    """The verdict, why, both ends plate by plate, what was assumed, who must decide."""
    drawing = Diagram("assessment", partial(assessment_drawing, assessment, system))
    quiet = [end for end in End if _quiet(assessment, end)]
    why = tuple(sentence.say(system) for sentence in assessment.reasons)
    why += tuple(_nothing_found(assessment, end, system) for end in quiet)
    plates = (_end(assessment, end, system, at_hand=end not in quiet) for end in End)
    return Document(
        "Joint assessment",
        assessment.name,
        f"Plates from the left, {assessment.place}.",
        (as_sentence(assessment.verdict.sentence),),
        _numbers(assessment, system),
        (
            Section("", diagrams=(drawing,)),
            Section("Why, and plate by plate", why, opens=True),
            *plates,
        ),
        tuple(sentence.say(system) for sentence in assessment.assumptions),
        (assessment.decision,),
        assessment.invented,
        levels=tuple(Level(_SHORT[v], v is assessment.verdict) for v in Verdict),
        signs=("Decided by", "What", "Until, inspected every"),
        id=identity_of(assessment.to_json()),
        worksheet=lambda: part(
            assessment.worksheet, ("assess",), system, "assessment.json", _repeats
        ),
    )


def _quiet(assessment: JointAssessment, end: End) -> bool:
    """Whether this is the other end, and nothing was found on it."""
    return end is not assessment.end and not any(p.state for p in assessment.of(end))


def _nothing_found(assessment: JointAssessment, end: End, system: System) -> str:
    most = show(max(p.high or 0.0 for p in assessment.of(end)), Kind.FORCE, system)
    return f"{end.value.capitalize()}: nothing found; up to {most}."


def _end(assessment: JointAssessment, end: End, system: System, *, at_hand: bool) -> Section:
    return Section(
        end.value.capitalize(),
        head=("plate", "found", "left of it", "load", "up to", "used"),
        table=tuple(_plate(p, system) for p in assessment.of(end)),
        at_hand=at_hand,
        beside=end is not next(iter(End)),
        words=(1,),
    )


def _numbers(assessment: JointAssessment, system: System) -> tuple[KeyNumber, ...]:
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
