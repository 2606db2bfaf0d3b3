"""The words of a damaged joint judged."""

from __future__ import annotations

from splicewright.job.inspection.joint_assessment import JointAssessment
from splicewright.joint import End
from splicewright.quantities import Kind, System, show


def assessment_lines(assessment: JointAssessment, units: System) -> list[str]:
    """The verdict, why, both ends plate by plate, what was assumed; who must decide stands last."""
    lines = [assessment.name, "", assessment.verdict.sentence.upper(), ""]
    lines += [f"- {sentence.say(units)}" for sentence in assessment.reasons]
    lines += ["", f"Plates from the left, {assessment.place}:"]
    for end in End:
        if end is not assessment.end and not any(p.state for p in assessment.of(end)):
            most = max(p.high or 0.0 for p in assessment.of(end))
            lines += ["", f"{end.value}: nothing found; up to {show(most, Kind.FORCE, units)}"]
            continue
        lines += ["", f"{end.value}:"]
        lines.append(f"{'plate':>6} {'left of it':>11} {'load':>12} {'up to':>12} {'used':>8}")
        for plate in assessment.of(end):
            load, high = (
                "-" if value is None else show(value, Kind.FORCE, units)
                for value in (plate.load, plate.high)
            )
            used = "-" if plate.used is None else show(plate.used, Kind.SHARE)
            kept = show(plate.kept, Kind.SHARE)
            line = f"{plate.number:>6} {kept:>11} {load:>12} {high:>12} {used:>8}  {plate.state}"
            lines.append(line.rstrip())
    lines += ["", "Assumed:"]
    lines += [f"- {sentence.say(units)}" for sentence in assessment.assumptions]
    return [*lines, "", assessment.decision]
