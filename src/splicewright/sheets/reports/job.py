"""The customer's report after a job: what was found, done and measured, as the register has it."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any

from splicewright.job import DEFER
from splicewright.quantities import System, show_time
from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.canvas.pdf import TEMPLATES, render
from splicewright.sheets.crew_pack.left_outside import LeftOutside, left_outside
from splicewright.sheets.pages.drawings import MARGIN


@dataclass(frozen=True, slots=True)
class StepDone:
    """A step: number, title, who said it is done ("" while nobody did), how long it took [s]."""

    number: int
    title: str
    by: str
    took: float | None


@dataclass(frozen=True, slots=True)
class PartUsed:
    """A part that was ticked off: name, how many, size in words, its lot and the date on it."""

    name: str
    count: int
    size: str
    lot: str = ""


@dataclass(frozen=True, slots=True)
class JobReport:
    """A job as its customer reads it.

    standing : how it stands, one sentence; found, recommended, signed : sentences
    measured : what, value, limit, verdict, in words
    people, planned : who worked by the plan, and the time it gave [s]; None without a plan
    photographs : as SVG, and caption, in the order they were taken
    left : values outside their limits, with what is to be done; open : what keeps the job open
    """

    conveyor: str
    job: str
    joint: str
    place: str
    standing: str
    day: date
    invented: bool
    found: tuple[str, ...]
    done: tuple[StepDone, ...]
    measured: tuple[tuple[str, str, str, str], ...]
    parts: tuple[PartUsed, ...]
    people: int | None
    planned: float | None
    photographs: tuple[tuple[str, str], ...]
    left: tuple[LeftOutside, ...]
    recommended: tuple[str, ...]
    signed: tuple[str, ...]
    open: tuple[str, ...] = ()


def customer_report(report: JobReport, system: System = "metric", paper: Paper = A4) -> bytes:
    """Return the report as PDF; the same job gives the same bytes.

    Raises
    ------
    OutputError
        The document cannot be made.
    """
    pictures = {f"photo-{n}": drawn for n, (drawn, _) in enumerate(report.photographs, 1)}
    data = report_words(report, system) | {
        "crew": True,
        "id": hashlib.sha256(repr(report).encode()).hexdigest()[:10].upper(),
        "mark": "Report",
        "title": f"Report, {report.job}",
        "paper": {"width": paper.width, "height": paper.height, "margin": MARGIN},
        "photographs": [
            {"file": f"{name}.svg", "caption": caption}
            for name, (_, caption) in zip(pictures, report.photographs, strict=True)
        ],
        "drawings": {},
    }
    return render(_template(), data, pictures, name="customer's report")


def report_words(report: JobReport, system: System) -> dict[str, Any]:
    """The report in words: the same on paper and on the page."""
    return {
        "job": report.job,
        "invented": report.invented,
        "conveyor": report.conveyor,
        "joint": report.joint,
        "place": report.place,
        "standing": report.standing,
        "found": list(report.found),
        "done": [_done(step) for step in report.done],
        "hours": _hours(report),
        "measured": [list(row) for row in report.measured],
        "parts": [[part.name, str(part.count), part.size, part.lot] for part in report.parts],
        "parts_note": "Ticked off for this job; spares that came back are not taken off.",
        "open": list(report.open),
        "recommended": [*report.recommended, *_of_deviations(report.left, system)],
        "signed": list(report.signed) or ["Nobody has signed this job in the register."],
        "rests": f"From the register as it stood on {report.day.isoformat()}.",
        "defer": DEFER,
    }


def _done(step: StepDone) -> list[str]:
    took = "" if step.took is None else show_time(step.took)
    return [str(step.number), step.title, step.by or "open", took]


def _hours(report: JobReport) -> str:
    """Time that was taken down, and what the plan gave; never one for the other."""
    timed = [step.took for step in report.done if step.took is not None]
    text = (
        f"Taken down: {show_time(sum(timed))} at {len(timed)} of {len(report.done)} steps."
        if timed
        else "No times were taken down."
    )
    if report.planned is not None and report.people is not None:
        text += f" Planned: {show_time(report.planned)} with {report.people} people."
    return text


def _of_deviations(left: Sequence[LeftOutside], system: System) -> list[str]:
    return [
        f"{one['what']} measured {one['measured']}, {one['verdict']} (limits {one['limit']}): "
        + (
            f"{one['to_do']}" + (f", by {one['until']}" if one["until"] else "")
            if one["signed_by"]
            else "nobody has signed for it; put it right before the joint runs"
        )
        + "."
        for one in left_outside(left, system)
    ]


@cache
def _template() -> str:
    return "\n".join((TEMPLATES / f"{n}.typ").read_text("utf-8") for n in ("style", "customer"))
