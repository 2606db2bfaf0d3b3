"""A whole new belt: the roll made ready, the old belt opened, the new one drawn in.

Orders are common practice, no source; pulls and brake are worked (`job.pulling_in`).
"""

from __future__ import annotations

from splicewright.job.pulling_in import pulling_in
from splicewright.job.steps import cautions as care
from splicewright.job.steps.drafts import Draft, Setting
from splicewright.job.steps.readings import Reading
from splicewright.quantities import Kind, sentence
from splicewright.tension.at_rest import Move


def roll(job: Setting) -> list[Draft]:
    """The roll on its stand, the right way round, before the stop."""
    new = job.belt.roll
    if new is None:
        return []
    return [
        Draft(
            "roll",
            "roll",
            0,
            "Set up the roll, before the stop",
            (
                sentence(
                    "{length} of belt or more, about ⌀ {diameter}, {mass} and its core. Axle "
                    "and stand rated for it, fenced; lifted by a spreader, never by a rope "
                    "through the core alone.",
                    length=new.length,
                    diameter=new.diameter,
                    mass=new.mass,
                ),
                sentence(
                    "Read marking, class, width and covers on the belt itself. See which "
                    "cover lies outside on the roll: turn the roll so that the carry cover "
                    "comes to lie as on the old belt; arrow with the travel."
                ),
                sentence(
                    "A cold belt is stiff: keep the roll warm. Brake on, chocked, nobody in "
                    "front of it or behind it."
                ),
                sentence(
                    "More rolls than one: joints on the ground, each by its own plan. Belt laid "
                    "out before the machine goes in folds, none tighter than round its smallest "
                    "pulley."
                ),
            ),
            (care.ROLL, care.LIFTING),
            (
                Reading(
                    "Diameter of the roll",
                    Kind.LENGTH,
                    None,
                    None,
                    1,
                    sentence(
                        "planned {diameter} for {length}", diameter=new.diameter, length=new.length
                    ),
                ),
            ),
            hold_point="Marking read on the belt, carry cover will lie as on the old belt (second "
            "person), brake on, fence closed.",
            running=True,
            people=2,
            outside=True,
            tools=("roll", "marker", "tape"),
        )
    ]


def pull_in(job: Setting) -> list[Draft]:
    """The new belt drawn round the loop, the old one off it."""
    worked = pulling_in(job.conveyor, job.work, job.sheet)
    length = job.belt.new_length
    return [
        Draft(
            "pull_in",
            "pull in",
            round(length.value / 10),
            "Draw the new belt in",
            (
                *worked.says,
                sentence(
                    "Drives stay locked; brakes and holdbacks that keep a drum from turning "
                    f"{worked.way} are lifted by their own permit. Take-up stays released."
                ),
                sentence(
                    "Join the new belt to one old end with the temporary joint, corners cut "
                    "back; hook the winch to the other old end. Winch takes the load, roll "
                    "brake on; only then let out both chains and take the clamps off."
                ),
                sentence(
                    "Draw {length} in, slowly; stop at every pulley. The old belt is reeled "
                    "or cut in lengths as it comes off, behind a stop. Several people: winch, "
                    "roll brake, one at each slope with its clamp, one who follows the joint; "
                    "all on the radio.",
                    length=length,
                ),
                sentence("Into an empty machine: the rope goes through the whole loop first."),
                sentence(
                    "At the end: both restraining clamps on the new belt, chains shortened "
                    "until they bear, hoists across the place snug; then unhook the winch."
                ),
            ),
            (care.RUNAWAY, care.ROLL, care.LINE_OF_FIRE),
            hold_point="New belt round the whole loop, over every pulley, carry cover and arrow as "
            "planned. Both chains bear on it, hoists snug; nothing else holds it.",
            moves=(Move.PULL_IN,),
            people=4,
            tools=("winch", "roll", "clamps", "hoists", "radio", "slings", "knife"),
        )
    ]


def stretch(job: Setting) -> list[Draft]:
    """What the new belt does in its first weeks, planned now."""
    belt = job.belt
    return [
        Draft(
            "stretch",
            "record",
            0,
            "Plan the first weeks",
            (
                sentence(
                    "The new belt grows by about {stretch}; the take-up will then have {left} "
                    "left.",
                    stretch=belt.stretch,
                    left=belt.left_after_stretch,
                )
                if belt.room_for_stretch
                else sentence(
                    "The new belt grows by about {stretch}: more than the take-up can take.",
                    stretch=belt.stretch,
                ),
                sentence(
                    "Read the take-up each day of the first week, then weekly. Plan the "
                    "shortening now, before it stands at its end."
                )
                if not belt.room_for_stretch
                else sentence("Read the take-up each day of the first week, then weekly."),
            ),
            (),
            running=True,
            tools=("tape",),
        )
    ]
