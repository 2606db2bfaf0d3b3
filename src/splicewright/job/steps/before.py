"""The steps before the belt is touched: brought to the place, handed over, isolated, barricaded.

Order and manner are common practice, no source: what needs the drive is done first, with nobody
at the belt; the belt never runs by its drive again until the locks are off.
"""

from __future__ import annotations

from splicewright.job.steps import cautions as care
from splicewright.job.steps.drafts import Draft, Setting
from splicewright.job.steps.hazards import hazards
from splicewright.job.steps.readings import Reading
from splicewright.plant import JobKind, Side
from splicewright.quantities import Kind, sentence
from splicewright.tension.at_rest import Move


def park(job: Setting) -> list[Draft]:
    """The belt run empty and the place on it brought to the crew, under power."""
    if job.work.job in {JobKind.INSPECTION, JobKind.TRACKING}:
        return []
    spot = {
        JobKind.ANEW: "the old joint",
        JobKind.EMERGENCY: "the damaged joint",
        JobKind.ALONG: "the damage",
        JobKind.NEW_BELT: "an old joint",
    }.get(job.work.job, "the place to be cut")
    worn = (
        sentence(
            (
                "Do not run a joint that opens, or a carcass torn behind the bolts: leave it "
                if job.work.job is JobKind.EMERGENCY
                else "Do not run damage that grows or catches as it moves: leave it "
            )
            + "where it stands and plan the job for that place."
        )
        if job.work.job in {JobKind.EMERGENCY, JobKind.ALONG}
        else sentence(
            "If it cannot be run there: stop here, and plan the job again for the place "
            "where the belt stands, with the load that is left on it."
        )
    )
    return [
        Draft(
            "park",
            "park",
            0,
            "Run empty, bring the belt to the place",
            (
                sentence(
                    "Stop the feed, run the belt empty, radio to the control room, one "
                    f"person in sight of {spot}."
                ),
                sentence(
                    f"Bring {spot} to " + job.work.run + ", {distance} from its start, at "
                    "inching speed; where inching is not possible, jog and let it coast.",
                    distance=job.work.distance,
                ),
                sentence(
                    "A good place is straight and nearly level, in reach from both sides, with "
                    "{free} free for the clamps, away from chutes and pulleys, sheltered.",
                    free=job.clamps.free,
                ),
                worn,
            ),
            (care.MOVING,),
            hold_point=f"Belt stopped with {spot} at the place of work. Nobody was at the belt "
            "while it moved.",
            running=True,
            people=2,
            tools=("radio", "marker"),
        )
    ]


def permit(job: Setting) -> list[Draft]:
    """Permit, handover and the talk before the work."""
    return [
        Draft(
            "permit",
            "permit",
            0,
            "Permit, handover, talk with the crew",
            (
                sentence(
                    "Take over the conveyor from the control room in writing: who has it, "
                    "until when, who is told at the end."
                ),
                sentence(
                    "Talk it through: who does what, who may stop the work (everyone), line "
                    "of fire, rescue from the place, first aid, fire watch, weather."
                ),
                sentence("Go through the hazards of this step; add what is missing here."),
            ),
            hazards(job),
            hold_point="Permit signed by both sides; every one of the crew has heard the plan.",
            running=True,
            tools=("radio",),
            everyone=True,
        )
    ]


def isolate(job: Setting) -> list[Draft]:
    """What can be locked, locked, tagged and tried."""
    return [
        Draft(
            "isolate",
            "isolate",
            len(job.conveyor.drives),
            "Isolate, lock, tag, try",
            (
                sentence(
                    "First every drive, then the conveyors that feed this one, then those it "
                    "feeds. "
                    + (
                        "Lines of the isolation sheet that say LATER are made safe at the step "
                        "they name."
                        if job.work.job.clamped
                        else "What holds belt, load and take-up stays as it is."
                    )
                ),
                sentence(
                    f"{job.work.crew} people: {job.work.crew} locks. Nobody works under "
                    "another person's lock."
                ),
                sentence(
                    "Try to start from every start, and from those of the feeding "
                    "conveyors; then back to stop."
                ),
            ),
            (care.ISOLATION, care.STORED),
            hold_point="Everything that can be locked is locked, tagged and tried: nothing "
            "started. Feeding conveyors included.",
            moves=(Move.LOCK_OUT,),
            tools=("locks",),
            everyone=True,
        )
    ]


def barricade(job: Setting) -> list[Draft]:
    """The place made fit to work at."""
    below = (
        sentence(
            "Idlers that swing or fall out and lumps from the carry side above come down on "
            "the place: clear or net them; nobody under it."
        )
        if job.run.side is Side.RETURN
        else sentence("Barricade below too: tools, idlers and lumps fall.")
    )
    return [
        Draft(
            "place",
            "clear",
            0,
            "Barricade, access, light; wash and dry",
            (
                sentence(
                    "Barriers on both sides and in line with the belt, beyond the clamps; "
                    "platform and edge protection where you can fall; light."
                ),
                below,
                sentence(
                    "Wash the belt on both covers where clamps stand and where it is "
                    + ("cut; dry it." if job.work.job.joins else "mended; dry it.")
                ),
            ),
            (care.FALLING,),
            hold_point="Barriers closed, platform and light in place, belt clean and dry where "
            "clamps go.",
            people=2,
            tools=("barriers", "cleaning", "light"),
        )
    ]


_UNDAMAGED = {JobKind.ANEW, JobKind.SHORTENED, JobKind.LENGTHENED, JobKind.NEW_BELT}
"""Kinds whose place shows nothing but belt or an old joint."""


def survey(job: Setting) -> list[Draft]:
    """Everything read and photographed before it moves."""
    return [
        Draft(
            "survey",
            "survey",
            2,
            "Read and photograph before anything moves",
            (
                sentence(
                    "Photographs: place, take-up"
                    + ("" if job.work.job in _UNDAMAGED else ", damage")
                    + (
                        ", old joint from both sides."
                        if job.work.job in {JobKind.ANEW, JobKind.EMERGENCY, JobKind.NEW_BELT}
                        else "."
                    )
                ),
                sentence(
                    "Take-up position, from its mark; chalk a line across belt and frame "
                    "at the place and at the take-up."
                ),
            ),
            (),
            (
                Reading(
                    "Take-up travel used, before",
                    Kind.DISTANCE,
                    0.0,
                    job.conveyor.take_up.travel.value,
                    1,
                    sentence("0 to {travel}", travel=job.conveyor.take_up.travel),
                ),
            ),
            tools=("camera", "tape"),
            after=("place",),
        )
    ]


def clear_load(job: Setting) -> list[Draft]:
    """Load that is left on a slope and could run back."""
    if not job.loaded:
        return []
    return [
        Draft(
            "clear",
            "clear",
            0,
            "Secure the load that is left",
            (
                sentence(
                    "Load left on the slope pulls {pull} downhill. Clamps first (next steps), "
                    "on both sides of the place; then unload from the top down.",
                    pull=job.stopped.run_back.most,
                ),
                sentence("Until then nobody is on, under or below the belt."),
            ),
            (care.LOADED, care.RUN_BACK),
            hold_point="Everybody is off the belt, from under it and from below the load, except "
            "who sets the clamps from the side.",
            tools=("barriers",),
        )
    ]
