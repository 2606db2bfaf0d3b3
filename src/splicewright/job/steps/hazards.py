"""The hazards of a job, for the talk before it: those that this machine, place and kind have.

Common practice, no source; docs/jobs.md holds the whole list and which step meets each.
"""

from __future__ import annotations

from splicewright.job.steps.drafts import Setting
from splicewright.plant import Environment, JobKind

_LONG = 12 * 3600.0
"""Longer than this a crew is tired; assumption of this tool, no source [s]."""


def hazards(job: Setting) -> tuple[str, ...]:
    """What can hurt someone at this job, one sentence each."""
    work = job.work
    around = set(work.environment)
    sentences = [
        "Pulled tight: belt, clamps, chains, hoists and ropes hold force until it is proved gone."
        if work.job.clamped
        else "The belt stays tight, and take-up and load pull on it: nothing is loosened.",
        "Nip points at every pulley and idler when anything moves, also by hand or hoist.",
        "Height, open edges, holes in floors; tools, idlers and lumps that fall.",
        *(
            ["Hand loads: clamps, plates in boxes and rolls are for two people or a lift."]
            if work.job.clamped
            else []
        ),
        "Noise and vibration of power tools; vehicles and cranes round the place.",
    ]
    if job.weighted:
        sentences.append("The counterweight falls if what holds it lets go.")
    if job.loaded:
        sentences.append("Load on the slope runs back, and the belt with it.")
    if job.belt.roll is not None:
        sentences.append(
            "The roll of new belt rolls, tips and unrolls by itself; its mass stands on "
            "the parts list."
            if work.job is JobKind.NEW_BELT
            else "The piece of new belt springs open when untied; its mass stands on the parts "
            "list."
        )
    sentences.append("Chutes and tunnels: confined, with gas or little air. Enter only by permit.")
    sentences.append(
        "Gauges with a source and magnets: only their own authorised person shuts them."
    )
    if job.candidate is not None and job.candidate.steps is not None:
        sentences.append(
            "Cements and cleaners: vapour burns and stuns; skin and eyes. Read the sheet."
        )
    sentences.append(
        "Grinding and heat start fires: fire watch during the work and after it, as long "
        "as the site's rule says; belts and dust smoulder unseen."
    )
    if Environment.UNDERGROUND in around:
        sentences.append(
            "Underground or in dust: static and sparks ignite. Only flame-resistant, "
            "antistatic belt and parts; gas tested; tools that may be used there."
        )
    if Environment.HOT in around:
        sentences.append("Heat: water, shade, turns; a hot belt burns.")
    if Environment.WET in around:
        sentences.append(
            "Wet: slippery belt and floor; electric tools only behind a safety switch."
        )
    sentences.append(
        "Weather and dark: wind on the belt, lightning (leave the structure), cold hands."
    )
    if work.window is not None and work.window.value > _LONG:
        sentences.append(
            f"Tired people: the window is {work.window.show()} and the crew "
            f"{work.crew}; plan turns and a second crew."
        )
    if work.crew == 1:
        sentences.append(
            "Alone nobody pulls, cuts or lifts: a second person stands by within call."
        )
    if work.job in {JobKind.INSPECTION, JobKind.TRACKING}:
        sentences.append("While it runs: look from outside the guards only; nothing is touched.")
    return tuple(sentences)
