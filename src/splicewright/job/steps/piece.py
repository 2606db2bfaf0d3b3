"""A piece of belt let in: prepared on the bench before the stop, so that the window is short."""

from __future__ import annotations

import math

from splicewright.job.steps import cautions as care
from splicewright.job.steps.drafts import Draft, Setting
from splicewright.job.steps.ends import window
from splicewright.job.steps.readings import Reading
from splicewright.joint import belt_width
from splicewright.quantities import Kind, sentence


def piece(job: Setting) -> list[Draft]:
    """The piece cut, squared, marked and, where a pin joins it, plated on both ends."""
    if job.joints < 2:
        return []
    low, high, limit = window(job)
    layout, best, insert = job.layout, job.candidate, job.work.insert
    width = belt_width(job.conveyor, job.work).value
    plates = layout.count * best.size.bolts_per_plate * 2 if best and layout and job.hinged else 0
    text = [
        sentence(
            "Lay the piece flat. Same class and plies as the belt; its thickness within the "
            "limits of the plates; carry cover up."
        ),
        sentence(
            "Centreline through five midpoints or more; stretch a string along one edge: a "
            "bowed piece is refused or turned so that the bows cancel."
        ),
        sentence(
            "Cut both ends square to the piece's own centreline, {insert} cut line to cut "
            "line, by the same template as the belt's ends. Check both diagonals, corner to "
            "corner.",
            insert=insert,
        ),
        sentence(
            "Mark it: CARRY COVER, arrow with the travel, LEFT and RIGHT on both covers. Its "
            "front end is a trailing end, its back end a leading end"
            + (
                ": the offsets of the plates are mirrored so that the loops mesh."
                if job.hinged
                else "."
            )
        ),
    ]
    if plates:
        text.append(
            sentence(
                "Build the half joints on both its ends now, as the steps for the "
                "belt's ends say."
                + (
                    " Look at every rivet again before the stop."
                    if job.riveted
                    else " Go over their nuts before the stop: they have settled by then."
                )
            )
        )
    elif job.plated:
        text.append(sentence("Punch both ends now, through the template of the plates."))
    return [
        Draft(
            "piece",
            "piece",
            plates,
            "Prepare the piece, before the stop",
            tuple(text),
            (care.CUTTING, care.LIFTING, *_cautions(job, plates)),
            (
                Reading(
                    "Length of the piece, cut line to cut line",
                    Kind.LENGTH,  # in the unit its box is filled in
                    None,
                    None,
                    2,
                    sentence(
                        "planned {insert}, left and right alike", insert=(insert.value, Kind.LENGTH)
                    ),
                ),
                Reading(
                    "Diagonals of the piece",
                    Kind.LENGTH,
                    None,
                    None,
                    2,
                    sentence(
                        "equal as a tape reads, about {across}",
                        across=(math.hypot(insert.value, width), Kind.LENGTH),
                    ),
                ),
                Reading(
                    "Bow of the piece, string to edge at its middle",
                    Kind.LENGTH,
                    None,
                    None,
                    1,
                    sentence("limit by the maker or the site; no published value"),
                ),
                Reading("Thickness of the piece", Kind.LENGTH, low, high, 5, limit),
            ),
            hold_point="Cover, arrow, LEFT and RIGHT marked on both covers of the piece; length "
            "and squareness checked by a second person.",
            running=True,
            people=2,
            outside=True,
            tools=("knife", "tape", "marker", "batten", *_tools(job)),
        )
    ]


def _cautions(job: Setting, plates: int) -> tuple[str, ...]:
    """What can hurt where the half joints are made: that of the steps for the belt's own ends."""
    if not job.plated:
        return ()
    built = (
        (care.HANDS,) if job.riveted else (care.HANDS, job.wrench_care, care.BOLT_ENDS, care.HOT)
    )
    return (job.punch_care, *(built if plates else ()))


def _tools(job: Setting) -> tuple[str, ...]:
    if not job.plated:
        return ()
    if not job.hinged:
        return ("template", "punch")
    fixing = ("rivet",) if job.riveted else ("wrench", "breaker")
    return ("template", "punch", "setting", *fixing)
