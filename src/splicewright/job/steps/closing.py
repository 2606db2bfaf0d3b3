"""The end of every job: tension under control, locks off, inching, run-in, papers."""

from __future__ import annotations

from splicewright.job.steps import cautions as care
from splicewright.job.steps.drafts import Draft, Setting
from splicewright.job.steps.readings import Reading
from splicewright.joint import Construction
from splicewright.joint.belt_end.centreline import READING
from splicewright.plant import Damage, JobKind, TakeUpKind
from splicewright.quantities import Kind, Sentence, sentence
from splicewright.tension.at_rest import Move


def ease(job: Setting) -> list[Draft]:
    """The hoists eased until the joint carries; chains slack, clamps still on."""
    return [
        Draft(
            "ease",
            "ease",
            0,
            "Ease the hoists, slack the chains",
            (
                sentence(
                    "Everyone out of the line of fire. The hoists hold the belt and the "
                    "chains hang slack: ease the hoists a notch at a time, evenly on both "
                    "sides, until the joint carries. Take off hoists and pulling clamps."
                ),
                sentence(
                    "A chain cannot be eased: one that still bears is unloaded with the hoist "
                    "first, then let out."
                ),
                sentence(
                    "Let out both chains by {gives} or more, as far as the take-up may draw the "
                    "belt. The restraining clamps stay on.",
                    gives=job.stopped.movement.take_up,
                ),
            ),
            (care.LINE_OF_FIRE, care.CLAMP),
            hold_point="Hoists off, both chains slack, clamps still on. Nobody and nothing on the "
            "belt, at the pulleys or under the take-up: count.",
            moves=(Move.EASE_HOISTS, Move.SLACK_CHAINS),
            people=2,
            tools=("hoists",),
        )
    ]


def tension(job: Setting) -> list[Draft]:
    """The take-up pulls again, under control; clamps off."""
    belt, take_up = job.belt, job.conveyor.take_up
    noun = "joint" if job.work.job.plated else "repair"
    if job.weighted:
        back = sentence(
            "Lift the counterweight off its blocks, take them away from the side, let "
            "it down on its belt slowly, and only then unhook the tackle."
        )
    elif take_up.kind is TakeUpKind.WINCH:
        back = sentence("Unlock the take-up winch alone, by its own permit, and wind slowly.")
    else:
        # Counted turns bring a screw back to where it stood: right for a belt as long as before.
        back = (
            sentence("Turn both screws evenly, alternately, by the turns counted.")
            if abs(belt.change.value) < READING and job.work.job is not JobKind.NEW_BELT
            else sentence(
                "Turn both screws evenly, alternately, the same turns on both; not by the turns "
                "counted: the belt is not as long as it was."
            )
        )
    return [
        Draft(
            "tension",
            "tension",
            0,
            "Tension the belt, take the clamps off",
            (
                back,
                *(
                    (
                        sentence(
                            "A new belt: first tension low, as little as drives without slip; "
                            "raise it over the first turns."
                        ),
                    )
                    if job.work.job is JobKind.NEW_BELT
                    else ()
                ),
                sentence(
                    "The take-up should stop at {after} of travel; {left} is left.",
                    after=belt.position_after,
                    left=belt.left,
                ),
                *(
                    (
                        sentence(
                            "What is left must take the stretch to come and one more joint; if "
                            "it will not, say so when you hand back."
                        ),
                    )
                    if job.work.job is JobKind.SHORTENED
                    else ()
                ),
                sentence(
                    f"Watch {noun} and clamp marks from the side. When the belt is tight and "
                    f"the {noun} holds, take off the restraining clamps: if a chain comes "
                    "tight, stop and slack it by the take-up first."
                ),
            ),
            (care.LINE_OF_FIRE, care.COUNTERWEIGHT if job.weighted else care.STORED),
            (
                Reading(
                    "Take-up travel used, after",
                    Kind.DISTANCE,
                    0.0,
                    take_up.travel.value,
                    1,
                    sentence(
                        "0 to {travel}, planned {after}",
                        travel=take_up.travel,
                        after=belt.position_after,
                    ),
                ),
            ),
            hold_point=f"Take-up holds the belt, the {noun} is unchanged, all clamps are off the "
            "belt.",
            moves=(Move.RESTORE, Move.CLAMPS_OFF),
            people=2,
            tools=("tackle", "tape") if job.weighted else ("tape", "spanners"),
        )
    ]


def inch(job: Setting) -> list[Draft]:
    """Locks off, and the joint past every pulley at inching speed."""
    moved = "joint" if job.work.job.plated else "repaired place"
    return [
        Draft(
            "inch",
            "inch",
            0,
            "Locks off, inch past every pulley",
            (
                sentence(
                    "Count people and tools. Guards and idlers back. Everyone out; each "
                    "person takes off their own lock. Hand the drive back, give the warning."
                ),
                sentence(
                    f"Inch until the {moved} has passed the first pulley: stop, look from "
                    "outside the guards. Then past each pulley, scraper and skirt in turn."
                ),
            ),
            (care.RESTART, care.MOVING),
            hold_point=f"The {moved} has passed every pulley, scraper and skirt at inching speed "
            "without knock or rub.",
            moves=(Move.LOCKS_OFF,),
            running=True,
            people=2,
            tools=("radio",),
        )
    ]


def run_in(job: Setting) -> list[Draft]:
    """Three turns empty, load in steps, re-tightening planned."""
    best = job.candidate
    # A new pin leaves nuts that have long settled.
    bolted = (
        best is not None
        and best.construction in {Construction.HINGED, Construction.SOLID}
        and job.work.damage is not Damage.PIN
    )
    limited = not job.work.job.joins
    return [
        Draft(
            "run",
            "run",
            0,
            "Run in",
            (
                sentence(
                    "Empty first, at least three full turns: watch tracking, listen at every "
                    "pulley, scraper and skirt. Then load in steps"
                    + (", no further than the limit on the tag." if limited else ".")
                ),
                *_again(job, bolted),
            ),
            (care.MOVING,),
            hold_point="The whole belt runs straight over every pulley, without knock or rub.",
            running=True,
            tools=("radio",)
            if job.candidate is None
            or job.candidate.steps is None
            or job.candidate.steps.full_load_after is None
            else ("radio", "tag"),
        )
    ]


def _again(job: Setting, bolted: bool) -> tuple[Sentence, ...]:
    if bolted and job.plated:
        return (
            sentence(
                "Re-tighten after the first shift of running (common practice, no source), "
                "isolated again as before; peen only after that, where the maker asks for "
                "it. Its time is not in this window: plan it."
            ),
        )
    if job.work.damage is Damage.RIP:
        return (
            sentence(
                "Re-tighten the plates across the rip after the first shift of running (common "
                "practice, no source), isolated again as before. Its time is not in this window: "
                "plan it."
            ),
        )
    steps = job.candidate.steps if job.candidate is not None else None
    if steps is not None and steps.full_load_after is not None:
        return (
            sentence(
                "Full load only {after} after the ends were laid together (range data): write "
                "it on a tag at the start button.",
                after=(steps.full_load_after, Kind.TIME),
            ),
            sentence(
                "Inspect the whole joint after the first shift of running (common practice, "
                "no source), isolated again as before."
            ),
        )
    if job.work.job.plated:
        return (
            sentence(
                "Inspect the whole joint after the first shift of running (common practice, "
                "no source), isolated again as before."
            ),
        )
    return ()


def record(job: Setting) -> list[Draft]:
    """What is written down and handed over."""
    return [
        Draft(
            "record",
            "record",
            0,
            "Write it down, hand back",
            (
                sentence(
                    "Place of the joint in the belt, measured values, parts used, take-up "
                    "before and after, who built and who checked, hour meter, next "
                    "inspection."
                    if job.work.job.joins
                    else "What was found and done, measured values, photographs, parts used, who "
                    "did it and who checked, hour meter, what is left open, with date and "
                    "who."
                ),
                sentence(
                    "Hand the conveyor back to the control room: limits that hold from now, "
                    "what is due and when."
                    + (" Take the barriers down." if job.work.job.clamped else "")
                ),
            ),
            running=True,
            tools=("camera",),
        )
    ]
